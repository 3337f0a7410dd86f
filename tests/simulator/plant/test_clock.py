"""Simulated time: jumps at once, never goes back, and may show people a wrong wall clock."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta

import pytest

from controller.simulator.plant.clock import MONOTONIC_START_S, PacedClock, SimClock

START = datetime(2026, 3, 1, 6, 0, tzinfo=UTC)


def test_a_wait_passes_its_time_at_once() -> None:
    """An hour's wait moves both clocks by an hour, and nothing was set."""
    clock = SimClock(START)
    assert clock.wait(threading.Event(), 3600.0) is False
    assert clock.monotonic_s() == MONOTONIC_START_S + 3600.0
    assert clock.wall_utc() == START + timedelta(hours=1)


def test_a_set_event_costs_no_time() -> None:
    """Who has been woken already does not wait."""
    clock = SimClock(START)
    wake = threading.Event()
    wake.set()
    assert clock.wait(wake, 60.0) is True
    assert clock.monotonic_s() == MONOTONIC_START_S


def test_the_plant_may_end_a_wait_early() -> None:
    """When the plant stops after 12 s and sets the event, only 12 s have passed."""
    wake = threading.Event()

    def plant(seconds: float) -> float:
        wake.set()
        return min(seconds, 12.0)

    clock = SimClock(START, plant)
    assert clock.wait(wake, 60.0) is True
    assert clock.monotonic_s() == MONOTONIC_START_S + 12.0


def test_monotonic_time_refuses_to_go_back() -> None:
    """A negative advance is an error, not a shorter time."""
    with pytest.raises(ValueError, match="cannot go back"):
        SimClock(START).advance(-1.0)


def test_steps_and_drift_show_on_the_wall_clock_only() -> None:
    """A step of minus three days and a drift of 100 ppm leave monotonic time alone."""
    clock = SimClock(START)
    clock.step_wall(-3 * 86_400.0)
    clock.drift_wall(1e-4)
    clock.advance(10_000.0)
    assert clock.monotonic_s() == MONOTONIC_START_S + 10_000.0
    assert clock.wall_utc() == START - timedelta(days=3) + timedelta(seconds=10_001)
    clock.drift_wall(0.0)
    clock.advance(10_000.0)
    assert clock.wall_utc() == START - timedelta(days=3) + timedelta(seconds=20_001)


def test_the_wall_clock_can_be_unknown() -> None:
    """A board before its first time synchronisation has no date."""
    clock = SimClock(START)
    clock.know_wall(False)
    assert clock.wall_utc() is None


class Hands:
    """A real clock turned by hand."""

    def __init__(self) -> None:
        self.now_s = 500.0

    def monotonic_s(self) -> float:
        """Where the hands are."""
        return self.now_s

    def wall_utc(self) -> datetime | None:
        """Never known."""
        return None

    def wait(self, wake: threading.Event, timeout_s: float) -> bool:
        """Turn the hands."""
        self.now_s += timeout_s
        return wake.is_set()


def test_a_paced_clock_runs_faster_and_takes_the_plant_along() -> None:
    """At sixty times the speed a wait of an hour takes a real minute and advances the plant by the hour."""
    hands = Hands()
    passed: list[float] = []

    def plant(seconds: float) -> float:
        passed.append(min(seconds, 1000.0))
        return passed[-1]

    clock = PacedClock(hands, 60.0, START, plant, monotonic_start_s=7.0)
    clock.wait(threading.Event(), 3600.0)
    assert hands.now_s == 560.0
    assert clock.monotonic_s() == pytest.approx(3607.0)
    assert clock.wall_utc() == START + timedelta(hours=1)
    assert sum(passed) == pytest.approx(3600.0)
    assert len(passed) == 4


def test_a_paced_clock_needs_a_speed() -> None:
    """Nought or less is refused."""
    with pytest.raises(ValueError, match="above 0"):
        PacedClock(Hands(), 0.0, START)
