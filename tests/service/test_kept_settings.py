"""Which settings are kept for a start at which the file is refused, and what a person is told."""

from __future__ import annotations

from datetime import UTC, datetime
from threading import Event
from typing import TYPE_CHECKING

import pytest

from controller.faults import FAULTS, Priority
from controller.service.kept_settings import TRY_AGAIN_S, KeptSettings
from controller.service.live_settings import LOOK_EVERY_S, LiveSettings
from controller.settings.begin import begin
from controller.settings.last_good import FILE_NAME, read_copy
from controller.settings.watch import SettingsWatch
from controller.simulator.plant.clock import SimClock
from tests.decision.world import FILE

if TYPE_CHECKING:
    from pathlib import Path

HOUSE = FILE.read_text(encoding="utf-8")
WARMER = HOUSE.replace('heat_below = "4.5 °C"', 'heat_below = "4.8 °C"')
REWIRED = HOUSE.replace("fan_pin = ", "fan_pin = 2 # ", 1)
TYPO = HOUSE.replace('heat_below = "4.5 °C"', 'heat_below = "4.5"')


class Desk:
    """A settings file, what is in force of it, and the copy that is kept."""

    def __init__(self, directory: Path) -> None:
        self.path = directory / "house.toml"
        self.copy = directory / FILE_NAME
        self.clock = SimClock(datetime(2026, 3, 1, tzinfo=UTC))
        self.path.write_text(HOUSE, encoding="utf-8")
        self.start()

    def start(self) -> None:
        """Start as the program does."""
        start = begin(self.path)
        watch = SettingsWatch(self.path, start.settings, rejected=start.rejected is not None)
        self.live = LiveSettings(start, watch, self.clock, lambda _: None)
        self.kept = KeptSettings(self.path, self.copy.parent)

    def save(self, text: str) -> None:
        """Save the file and let ticks pass until it has been read."""
        self.path.write_text(text, encoding="utf-8")
        for _ in range(3):
            self.clock.wait(Event(), LOOK_EVERY_S)
            self.tick()

    def tick(self) -> None:
        """One tick that is finished with the settings in force."""
        self.live()
        self.kept.prove(self.live.proven_text(), self.clock.monotonic_s())
        self.kept.close()

    def kept_text(self) -> str | None:
        """What is kept."""
        return read_copy(self.copy, self.path)


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """A good file before the first tick."""
    monkeypatch.setenv("STATE_DIRECTORY", str(tmp_path))
    return Desk(tmp_path)


def test_settings_are_kept_once_a_tick_has_proven_them(desk: Desk) -> None:
    """Not before it, and a change that is taken over replaces them."""
    assert desk.kept_text() is None
    desk.tick()
    assert desk.kept_text() == HOUSE
    assert desk.live.in_force() == str(desk.path)
    desk.save(WARMER)
    assert desk.kept_text() == WARMER


def test_what_is_refused_or_waits_for_a_restart_is_not_kept(desk: Desk) -> None:
    """The copy is always what runs: a typo or new wiring leaves it alone, and the status says so."""
    desk.tick()
    desk.save(TYPO)
    assert desk.kept_text() == HOUSE
    assert desk.live.in_force() == f"{desk.path} as it was before its last change"
    assert [finding.level for finding in desk.live.findings()] == [0]
    desk.save(REWIRED)
    assert desk.kept_text() == HOUSE
    assert desk.live.in_force() == f"{desk.path} (its new wiring waits for a restart)"
    desk.start()
    desk.tick()
    assert desk.kept_text() == REWIRED


def test_a_start_on_the_copy_calls_a_person_now_until_the_file_is_good(desk: Desk) -> None:
    """The alarm names what is wrong and what is in force; mending the file ends it, even unchanged."""
    desk.tick()
    desk.save(TYPO)
    desk.start()
    desk.tick()
    (finding,) = desk.live.findings()
    assert FAULTS[finding.code].priority_at(finding.level) is Priority.ACT_NOW
    assert "heat_below" in finding.detail
    assert finding.detail.endswith(f"in force: the last good copy {desk.copy} of {desk.path}")
    desk.save(HOUSE)
    assert desk.live.findings() == ()
    assert desk.live.in_force() == str(desk.path)
    desk.save(TYPO)
    assert [finding.level for finding in desk.live.findings()] == [0]


def test_new_wiring_in_a_mended_file_waits_for_a_restart(desk: Desk) -> None:
    """The setpoints count, the wiring is that of the copy, and the status says both."""
    desk.tick()
    desk.save(TYPO)
    desk.start()
    desk.save(REWIRED)
    assert desk.live.in_force().startswith(f"{desk.path}, wired as in the last good copy")
    assert desk.live.findings() == ()
    assert desk.kept_text() == HOUSE


def test_a_copy_that_cannot_be_written_is_told_and_tried_again(desk: Desk) -> None:
    """A full card costs the copy, and only until there is room."""
    blocked = desk.copy.with_suffix(".new")
    blocked.mkdir()
    desk.tick()
    (finding,) = desk.kept.findings()
    assert finding.code.value == "storage"
    blocked.rmdir()
    desk.tick()
    assert desk.kept_text() is None
    desk.clock.wait(Event(), TRY_AGAIN_S)
    desk.tick()
    assert desk.kept_text() == HOUSE
    assert desk.kept.findings() == ()
