"""What people write on the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.cli.arguments import STRATEGY_NAMES, names
from controller.rehearsal.strategies import STRATEGIES

if TYPE_CHECKING:
    from pathlib import Path

    import pytest


def test_strategies_are_those_of_the_simulator() -> None:
    """The command line knows the names without loading the simulator; they are the same."""
    assert tuple(STRATEGIES) == STRATEGY_NAMES


def test_commas_part_names_unless_a_file_is_called_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file with a comma in its name can be given, too."""
    monkeypatch.chdir(tmp_path)
    assert names("a, b,,c") == ["a", "b", "c"]
    assert names(",") == [","]
    (tmp_path / "Tromsø, airport.epw").write_text("")
    assert names("Tromsø, airport.epw") == ["Tromsø, airport.epw"]
