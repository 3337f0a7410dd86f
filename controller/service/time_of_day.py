"""What the time of day is worth: whether the board knows it, and whether it has proven itself."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from controller.faults import DAY_S, FaultCode, Finding

if TYPE_CHECKING:
    from datetime import datetime

    from controller.clock import Clock

# Network time steers clocks by seconds; a larger change is a jump.
JUMP = timedelta(minutes=5)
# A wrong clock is usually put right within minutes, once a network or a person is there. [practice]
PROVEN_AFTER_S = DAY_S

NOT_KNOWN = Finding(FaultCode.CLOCK, "", "the time of day is not known")


class TimeOfDay:
    """Watches whether the clock is set; the alarm itself waits for a day, as the fault table says."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock

    def findings(self) -> tuple[Finding, ...]:
        """A finding while the time of day is not known."""
        return (NOT_KNOWN,) if self._clock.wall_utc() is None else ()


class ClockProof:
    """Follows the time of day beside monotonic time: only a clock that has not jumped for a day is trusted.

    Work that destroys something by its date (thinning) asks here first.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._steady: tuple[datetime, float] | None = None

    def look(self) -> None:
        """Follow the clock; cheap enough for every tick."""
        zero, now_s = self._wall_at_zero(), self._clock.monotonic_s()
        if zero is None:
            self._steady = None
        elif self._steady is None or abs(zero - self._steady[0]) > JUMP:
            self._steady = (zero, now_s)

    def is_proven(self) -> bool:
        """Whether the time of day has kept pace with monotonic time for a day until now."""
        zero, steady = self._wall_at_zero(), self._steady
        if zero is None or steady is None or abs(zero - steady[0]) > JUMP:
            return False
        return self._clock.monotonic_s() - steady[1] >= PROVEN_AFTER_S

    def _wall_at_zero(self) -> datetime | None:
        """The time of day at monotonic zero, None while it is not known."""
        wall_utc = self._clock.wall_utc()
        return None if wall_utc is None else wall_utc - timedelta(seconds=self._clock.monotonic_s())
