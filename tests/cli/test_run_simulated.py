"""``hypocaust run --simulated``: what cannot be simulated is said in words."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from controller.cli import run
from controller.cli.status_place import status_file
from controller.service.directories import StartError
from controller.settings.load import load
from controller.settings.places import desk_directory, runtime_directory, state_directory
from controller.simulator.house.grid import ModelError
from controller.startup import Simulation

if TYPE_CHECKING:
    from controller.settings.schema import Settings
    from controller.startup import Hardware

HOUSE = Path(__file__).parents[2] / "config" / "house.toml"
SIMULATION = Simulation("atlantis", None, 1.0, 0)


def test_tests_keep_apart_from_a_controller_beside_them() -> None:
    """Neither a demo left open nor a service on this machine shares a directory with a test."""
    settings = load(HOUSE)
    taken = [runtime_directory(settings), state_directory(settings), desk_directory(settings.site.name)]
    taken.append(status_file(None))
    own = Path(os.environ["TMPDIR"]).parent
    assert own.name.startswith("hypocaust-tests-")
    assert all(own in place.parents for place in taken)


def fails(problem: Exception, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ask for simulated hardware that cannot be had."""

    def broken(_settings: Settings, _simulation: Simulation) -> Hardware:
        raise problem

    monkeypatch.setattr(run, "simulated_hardware", broken)
    run._hardware(load(HOUSE), SIMULATION)


def test_weather_nobody_knows_names_its_option() -> None:
    """The message begins with the option it is about, as that of a rehearsal does."""
    with pytest.raises(StartError, match="--weather: atlantis: no such file"):
        run._hardware(load(HOUSE), SIMULATION)


def test_a_house_that_cannot_be_modelled_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the model says about the tubes is the message."""
    with pytest.raises(StartError, match="too deep"):
        fails(ModelError("too deep"), monkeypatch)


def test_a_defect_is_not_taken_for_bad_input(monkeypatch: pytest.MonkeyPatch) -> None:
    """Any other error keeps its traceback."""
    with pytest.raises(ValueError, match="a slip"):
        fails(ValueError("a slip"), monkeypatch)
