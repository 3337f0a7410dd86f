"""Counts starts of the program, so that a crash loop raises an alarm."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from controller.faults import DAY_S, FaultCode, Finding

if TYPE_CHECKING:
    from controller.clock import Clock
    from controller.service.memory_file import MemoryFile

MOST_STARTS_A_DAY = 3
MOST_KEPT = 50
CONTROLLER, STARTS = "controller", "starts_mono_s"
STARTS_UTC, EARLIER_UTC = "starts_utc_s", "earlier_starts_utc_s"
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class RestartCount:
    """Starts within the last day, remembered beside the controller's own memory.

    Those of this boot are kept as monotonic times. Those of earlier boots (a failing supply, for one) are
    kept as times of day, and count only while the time of day is known.
    """

    def __init__(self, remembered: tuple[dict[str, Any], bool] | None, clock: Clock) -> None:
        """Count this start.

        Args:
            remembered: what the memory file gave, and whether it is of this boot.
            clock: time.
        """
        self._clock = clock
        now_s = clock.monotonic_s()
        self._starts_s = [now_s]
        self._earlier_utc_s: list[float] = []
        self.remembered: tuple[dict[str, Any], bool] | None = None
        if remembered is None:
            return
        data, same_boot = remembered
        controller = data.get(CONTROLLER)
        if isinstance(controller, dict):
            self.remembered = (controller, same_boot)
        self._earlier_utc_s = _numbers(data.get(EARLIER_UTC))
        if same_boot:
            starts_s = [at for at in _numbers(data.get(STARTS)) if 0.0 <= now_s - at < DAY_S]
            self._starts_s = [*starts_s[-MOST_KEPT:], now_s]
        else:
            self._earlier_utc_s += _numbers(data.get(STARTS_UTC))
        self._earlier_utc_s = self._earlier_utc_s[-MOST_KEPT:]

    def around(self, memory: MemoryFile) -> CountingMemory:
        """A memory for the loop that keeps the starts beside what the loop remembers."""
        return CountingMemory(memory, self)

    def for_the_card(self) -> dict[str, list[float]]:
        """The starts, ready to be kept; those of this boot also as times of day if that is known."""
        wall_utc_s, now_s = self._wall_utc_s(), self._clock.monotonic_s()
        starts_utc_s = [] if wall_utc_s is None else [wall_utc_s - (now_s - at) for at in self._starts_s]
        return {STARTS: self._starts_s, STARTS_UTC: starts_utc_s, EARLIER_UTC: self._earlier_utc_s}

    def _wall_utc_s(self) -> float | None:
        wall_utc = self._clock.wall_utc()
        return None if wall_utc is None else (wall_utc - EPOCH).total_seconds()

    def findings(self) -> tuple[Finding, ...]:
        """A finding while there were too many starts within a day."""
        if len(self._starts_s) + len(self._earlier_utc_s) <= MOST_STARTS_A_DAY:
            return ()
        now_s = self._clock.monotonic_s()
        recent = sum(now_s - at < DAY_S for at in self._starts_s)
        wall_utc_s = self._wall_utc_s()
        if wall_utc_s is not None:
            recent += sum(0.0 <= wall_utc_s - at < DAY_S for at in self._earlier_utc_s)
        if recent <= MOST_STARTS_A_DAY:
            return ()
        return (Finding(FaultCode.RESTARTS, "", f"started {recent} times within a day"),)


def _numbers(kept: object) -> list[float]:
    """The numbers of a kept list; whatever else it holds is passed over."""
    return [at for at in kept if isinstance(at, float)] if isinstance(kept, list) else []


class CountingMemory:
    """The memory file as the loop sees it."""

    def __init__(self, memory: MemoryFile, starts: RestartCount) -> None:
        self._memory = memory
        self._starts = starts

    def save(self, data: dict[str, Any], *, urgent: bool) -> None:
        """Keep the loop's data and the starts together."""
        self._memory.save({CONTROLLER: data, **self._starts.for_the_card()}, urgent=urgent)
