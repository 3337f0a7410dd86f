"""Clocks of the simulated house: one that jumps from tick to tick, one that runs a real clock faster."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from controller.clock import Clock

MONOTONIC_START_S = 40_000.0  # arbitrary on purpose: nothing may rely on monotonic time starting at 0


def as_utc(moment: datetime) -> datetime:
    """A date and time in UTC; one without a zone is taken to be UTC already."""
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


class SimClock:
    """A clock that passes the time of a wait at once, and whose wall clock can be wrong on purpose.

    Args:
        start_wall: date and time at the start.
        plant_advance: called with the seconds to pass; it may return the seconds that really passed when
            something woke the waiter early (``SimulatedPlant.advance_to_edge`` does), or None for all of
            them.
        monotonic_start_s: monotonic time at the start.
    """

    def __init__(
        self,
        start_wall: datetime,
        plant_advance: Callable[[float], float | None] | None = None,
        *,
        monotonic_start_s: float = MONOTONIC_START_S,
    ) -> None:
        self._start_wall = as_utc(start_wall)
        self._plant_advance = plant_advance
        self._start_s = monotonic_start_s
        self._now_s = monotonic_start_s
        self._step_s = 0.0
        self._drift_since_s = monotonic_start_s
        self._drift = 0.0
        self._known = True

    def monotonic_s(self) -> float:
        """Seconds that only move forward."""
        return self._now_s

    def wall_utc(self) -> datetime | None:
        """The wall clock with its steps and drift, or None while it is set to be unknown."""
        if not self._known:
            return None
        passed_s = self._now_s - self._start_s
        wrong_s = self._step_s + self._drift * (self._now_s - self._drift_since_s)
        return self._start_wall + timedelta(seconds=passed_s + wrong_s)

    def wait(self, wake: threading.Event, timeout_s: float) -> bool:
        """Pass the time at once, unless ``wake`` is set already; return whether it is set afterwards."""
        if not wake.is_set():
            self.advance(max(timeout_s, 0.0))
        return wake.is_set()

    def advance(self, seconds: float) -> None:
        """Let time pass.

        Raises:
            ValueError: the time is negative; monotonic time never goes back.
        """
        if seconds < 0.0:
            raise ValueError(f"monotonic time cannot go back by {-seconds} s")
        passed_s = None if self._plant_advance is None else self._plant_advance(seconds)
        self._now_s += seconds if passed_s is None else passed_s

    def step_wall(self, seconds: float) -> None:
        """Step the wall clock, either way; monotonic time does not notice."""
        self._step_s += seconds

    def drift_wall(self, seconds_per_second: float) -> None:
        """Let the wall clock gain (or lose) this many seconds in every second from now on."""
        self._step_s += self._drift * (self._now_s - self._drift_since_s)
        self._drift_since_s = self._now_s
        self._drift = seconds_per_second

    def know_wall(self, known: bool) -> None:
        """Make the wall clock known or unknown (a board before its first time synchronisation)."""
        self._known = known


class PacedClock:
    """A real clock run ``speed`` times faster, which lets the simulated plant keep up with it.

    Several threads may wait on it; the plant is advanced by one at a time, always to the present.

    Args:
        real: the clock that sets the pace.
        speed: simulated seconds in one real second.
        start_wall: simulated date and time at the start.
        plant_advance: as for ``SimClock``; an early return only means that the plant is called again.
    """

    def __init__(
        self,
        real: Clock,
        speed: float,
        start_wall: datetime,
        plant_advance: Callable[[float], float | None] | None = None,
        *,
        monotonic_start_s: float = MONOTONIC_START_S,
    ) -> None:
        if speed <= 0.0:
            raise ValueError(f"the speed must be above 0, not {speed}")
        self._pace = real
        self._speed = speed
        self._start_wall = as_utc(start_wall)
        self._plant_advance = plant_advance
        self._start_s = monotonic_start_s
        self._pace_start_s = real.monotonic_s()
        self._plant_s = monotonic_start_s
        self._lock = threading.Lock()

    def monotonic_s(self) -> float:
        """Simulated seconds, running at ``speed``."""
        return self._start_s + (self._pace.monotonic_s() - self._pace_start_s) * self._speed

    def wall_utc(self) -> datetime | None:
        """The simulated date and time."""
        return self._start_wall + timedelta(seconds=self.monotonic_s() - self._start_s)

    def wait(self, wake: threading.Event, timeout_s: float) -> bool:
        """Wait in real time for the event or the (simulated) time, then bring the plant up to date."""
        woken = self._pace.wait(wake, max(timeout_s, 0.0) / self._speed)
        self.catch_up()
        return woken or wake.is_set()

    def catch_up(self) -> None:
        """Advance the plant to the present."""
        if self._plant_advance is None:
            return
        with self._lock:
            behind_s = self.monotonic_s() - self._plant_s
            while behind_s > 0.0:
                passed_s = self._plant_advance(behind_s)
                step_s = behind_s if passed_s is None else passed_s
                self._plant_s += step_s
                behind_s -= step_s
