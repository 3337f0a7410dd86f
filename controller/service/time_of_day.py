"""Tells somebody when the board does not get to know the time of day."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.faults import FaultCode, Finding

if TYPE_CHECKING:
    from controller.clock import Clock

NOT_KNOWN = Finding(FaultCode.CLOCK, "", "the time of day is not known")


class TimeOfDay:
    """Watches whether the clock is set; the alarm itself waits for a day, as the fault table says."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock

    def findings(self) -> tuple[Finding, ...]:
        """A finding while the time of day is not known."""
        return (NOT_KNOWN,) if self._clock.wall_utc() is None else ()
