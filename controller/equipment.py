"""Names of what the controller switches: the fan of a loop, the pump of a sump."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple


class Kind(StrEnum):
    """What hangs on an output."""

    FAN = "fan"
    PUMP = "pump"


class OutputId(NamedTuple):
    """One output: the fan of a loop or the pump of a sump."""

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

    def __str__(self) -> str:
        return f"{self.kind}:{self.name}"
