"""Takes the controller's loop through simulated time, tick by tick, with all that follows it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from controller.faults import DAY_S, HOUR_S
from controller.record.accounting import day_of, hour_of
from controller.rehearsal.hours import HourBook
from controller.rehearsal.journal import Journal
from controller.rehearsal.tracker import Tracker

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import timezone

    from controller.decision.driven import Lost, Pins
    from controller.equipment import OutputId
    from controller.history.writer import HistoryWriter
    from controller.loop import ControlLoop
    from controller.outputs.bank import OutputBank
    from controller.record.tick import TickRecord
    from controller.simulator.plant.clock import SimClock
    from controller.simulator.plant.plant import SimulatedPlant

Progress = Callable[[float], None]
# Often enough for the backlog to hold what a busy house writes down meanwhile.
WRITE_EVERY_S = 6.0 * HOUR_S


class Drive:
    """The output bank without a lease: nothing can hang between two simulated ticks."""

    def __init__(self, bank: OutputBank) -> None:
        self._bank = bank

    def lost(self) -> Lost | None:
        """Outputs that have failed."""
        return self._bank.lost()

    def drive(self, commands: Mapping[OutputId, bool], now_mono_s: float) -> Pins:
        """Drive as commanded."""
        return self._bank.drive(commands, now_mono_s)

    def all_off(self) -> None:
        """Everything off."""
        self._bank.all_off("a tick failed")


class LocalDay:
    """Names the day of a moment; looks it up anew only when that day is over (or the clock has gone back)."""

    def __init__(self, zone: timezone) -> None:
        self._zone = zone
        self._begins = self._ends = datetime.max.replace(tzinfo=UTC)
        self._date: str | None = None

    def __call__(self, wall_utc: datetime | None) -> str | None:
        """The ISO date at the place of the weather, None if the clock is not set."""
        if wall_utc is None:
            return None
        if not self._begins <= wall_utc < self._ends:
            local = wall_utc.astimezone(self._zone)
            midnight = local.replace(hour=0, minute=0, second=0, microsecond=0)
            self._begins = midnight.astimezone(UTC)
            self._ends = self._begins + timedelta(days=1)
            self._date = day_of(local)
        return self._date


class LocalHour:
    """Names the hour of a moment at the place of the weather, whose distance from UTC never changes."""

    def __init__(self, zone: timezone) -> None:
        self._ahead_h = zone.utcoffset(None).total_seconds() / HOUR_S

    def __call__(self, wall_utc: datetime | None) -> float | None:
        """The hour, 0 to 24, None if the clock is not set."""
        hour = hour_of(wall_utc)
        return None if hour is None else (hour + self._ahead_h) % 24.0


class Watch:
    """Everything that follows the ticks of one rehearsal."""

    def __init__(
        self, plant: SimulatedPlant, start: datetime, hourly: bool, history: HistoryWriter | None
    ) -> None:
        self.tracker = Tracker(plant)
        self.journal = Journal(start)
        self.hours = HourBook(plant, start) if hourly else None
        self.passed_s = 0.0
        self._history = history
        self._write_due_s = WRITE_EVERY_S

    def passed(self, tick: TickRecord, dt_s: float) -> None:
        """Account for a tick and the ``dt_s`` after it."""
        self.journal.note(tick, self.passed_s)
        if self._history is not None:
            self._history.observe(tick)
            if self.passed_s >= self._write_due_s:
                self._write_due_s += WRITE_EVERY_S
                self._history.write_now()
        self.passed_s += dt_s
        self.tracker.passed(tick, dt_s)
        if self.hours is not None:
            self.hours.passed(tick, dt_s, self.passed_s)

    def close(self) -> None:
        """The rehearsal is over."""
        self.journal.close(self.passed_s)
        if self.hours is not None:
            self.hours.close(self.passed_s)
        if self._history is not None:
            self._history.close()


def tick_through(
    loop: ControlLoop, clock: SimClock, watch: Watch, length_s: float, progress: Progress | None
) -> None:
    """Tick until the length has passed; no wait goes past a full hour, so that hourly rows are hours."""
    began_s = clock.monotonic_s()
    next_report_s = next_hour_s = 0.0
    passed_s = 0.0
    while passed_s < length_s - 1e-3:
        if passed_s >= next_hour_s - 1e-3:
            next_hour_s += HOUR_S
        tick = loop.tick()
        clock.wait(loop.wake, min(loop.pause_s(tick), min(next_hour_s, length_s) - passed_s))
        if loop.wake.is_set():
            loop.wake.clear()
        before_s, passed_s = passed_s, clock.monotonic_s() - began_s
        watch.passed(tick, passed_s - before_s)
        if progress is not None and next_report_s <= passed_s < length_s - 1e-3:
            next_report_s += DAY_S
            progress(passed_s / length_s)
    if progress is not None:
        progress(1.0)
