"""Starts are counted over restarts and over boots, and a clock that is never set is told."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from controller.faults import DAY_S, HOUR_S, FaultCode
from controller.service.restarts import MOST_STARTS_A_DAY, RestartCount
from controller.service.time_of_day import TimeOfDay

if TYPE_CHECKING:
    import threading

NOON = datetime(2026, 5, 1, 12, tzinfo=UTC)


class Board:
    """A board that is switched on and off: monotonic time begins anew with each boot."""

    def __init__(self) -> None:
        self.booted_at = NOON
        self.now = NOON
        self.time_known = True
        self.count: RestartCount | None = None

    def monotonic_s(self) -> float:
        """Seconds since this boot."""
        return (self.now - self.booted_at).total_seconds()

    def wall_utc(self) -> datetime | None:
        """The time of day, if it is known."""
        return self.now if self.time_known else None

    def wait(self, wake: threading.Event, timeout_s: float) -> bool:
        """Nobody waits here."""
        raise NotImplementedError

    def start(self, after_s: float, *, boot: bool) -> bool:
        """Start the program after a while, in a new boot or the same; return whether it complains."""
        kept = None if self.count is None else (self.count.for_the_card(), not boot)
        self.now += timedelta(seconds=after_s)
        if boot:
            self.booted_at = self.now - timedelta(seconds=20)
        self.count = RestartCount(kept, self)
        return bool(self.count.findings())


def test_a_supply_that_fails_again_and_again_is_told() -> None:
    """Every boot begins a new count of seconds; the starts of the boots before still count."""
    board = Board()
    told = [board.start(HOUR_S, boot=True) for _ in range(MOST_STARTS_A_DAY + 1)]
    assert told == [False] * MOST_STARTS_A_DAY + [True]


def test_starts_within_a_boot_and_over_boots_add_up_once_each() -> None:
    """No start is counted twice, and none of yesterday."""
    board = Board()
    told = [board.start(HOUR_S, boot=boot) for boot in (True, False, True)]
    assert told == [False, False, False]
    assert board.start(HOUR_S, boot=False)
    assert board.count is not None
    assert board.count.findings()[0].detail == "started 4 times within a day"
    assert not board.start(DAY_S, boot=True)


def test_without_the_time_of_day_only_this_boot_counts() -> None:
    """Nobody knows how long the power was off, so nothing is claimed."""
    board = Board()
    for _ in range(MOST_STARTS_A_DAY):
        board.start(HOUR_S, boot=True)
    board.time_known = False
    assert not board.start(HOUR_S, boot=True)


def test_an_unknown_time_of_day_is_found_until_it_is_known() -> None:
    """The alarm table makes an alarm of it after a day."""
    board = Board()
    watch = TimeOfDay(board)
    assert watch.findings() == ()
    board.time_known = False
    assert [found.code for found in watch.findings()] == [FaultCode.CLOCK]
