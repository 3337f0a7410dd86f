"""Counts starts of the program, so that a crash loop is told to somebody."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from controller.faults import DAY_S, FaultCode, Finding

if TYPE_CHECKING:
    from controller.clock import Clock
    from controller.service.memory_file import MemoryFile

MOST_STARTS_A_DAY = 3
CONTROLLER, STARTS = "controller", "starts_mono_s"


class RestartCount:
    """Starts within the last day of this boot, remembered beside the controller's own memory."""

    def __init__(self, remembered: tuple[dict[str, Any], bool] | None, clock: Clock) -> None:
        """Count this start.

        Args:
            remembered: what the memory file gave, and whether it is of this boot.
            clock: time.
        """
        self._clock = clock
        now_s = clock.monotonic_s()
        self._starts_s = [now_s]
        self.remembered: tuple[dict[str, Any], bool] | None = None
        if remembered is None:
            return
        data, same_boot = remembered
        controller = data.get(CONTROLLER)
        if isinstance(controller, dict):
            self.remembered = (controller, same_boot)
        earlier = data.get(STARTS)
        if same_boot and isinstance(earlier, list):
            self._starts_s = [at for at in earlier if isinstance(at, float) and 0.0 <= now_s - at < DAY_S]
            self._starts_s.append(now_s)

    def around(self, memory: MemoryFile) -> CountingMemory:
        """A memory for the loop that keeps the starts beside what the loop remembers."""
        return CountingMemory(memory, self._starts_s)

    def findings(self) -> tuple[Finding, ...]:
        """A finding while there were too many starts within a day."""
        now_s = self._clock.monotonic_s()
        recent = sum(now_s - at < DAY_S for at in self._starts_s)
        if recent <= MOST_STARTS_A_DAY:
            return ()
        return (Finding(FaultCode.RESTARTS, "", f"started {recent} times within a day"),)


class CountingMemory:
    """The memory file as the loop sees it."""

    def __init__(self, memory: MemoryFile, starts_s: list[float]) -> None:
        self._memory = memory
        self._starts_s = starts_s[-50:]

    def save(self, data: dict[str, Any], *, urgent: bool) -> None:
        """Keep the loop's data and the starts together."""
        self._memory.save({CONTROLLER: data, STARTS: self._starts_s}, urgent=urgent)
