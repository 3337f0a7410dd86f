"""Names of what the controller switches: the fan of a loop, the pump of a sump, the signals."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple


class Kind(StrEnum):
    """What hangs on an output."""

    FAN = "fan"
    PUMP = "pump"
    SIGNAL = "signal"


class OutputId(NamedTuple):
    """One output: the fan of a loop, the pump of a sump, or a signal."""

    kind: Kind
    name: str

    @staticmethod
    def fan(loop: str) -> OutputId:
        """The fan of a loop."""
        return OutputId(Kind.FAN, loop)

    @staticmethod
    def pump(sump: str) -> OutputId:
        """The pump of a sump."""
        return OutputId(Kind.PUMP, sump)

    @staticmethod
    def signal(name: str) -> OutputId:
        """A signal that needs no network."""
        return OutputId(Kind.SIGNAL, name)

    def __str__(self) -> str:
        return f"{self.kind}:{self.name}"


# On while nothing calls; anything that goes wrong with the program, the board or its supply switches it off.
ALL_WELL = OutputId.signal("all-well")
# On while something is to be done today.
TODAY = OutputId.signal("today")
