"""What a decision is made of: commands, their reasons, alarms."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.reasons import Reason
    from controller.faults import FaultCode, Priority


class Kind(Enum):
    """What hangs on an output."""

    FAN = "fan"
    PUMP = "pump"


FAN, PUMP = Kind.FAN.value, Kind.PUMP.value


class OutputId(NamedTuple):
    """One output: the fan of a loop or the pump of a sump."""

    kind: str
    name: str

    @staticmethod
    def fan(loop: str) -> OutputId:
        """The fan of a loop."""
        return OutputId(FAN, loop)

    @staticmethod
    def pump(sump: str) -> OutputId:
        """The pump of a sump."""
        return OutputId(PUMP, sump)

    def __str__(self) -> str:
        return f"{self.kind}:{self.name}"


class Command(NamedTuple):
    """What an output shall be, and why."""

    on: bool
    reason: Reason


@dataclass(frozen=True, slots=True)
class OutputChange:
    """An output that is commanded differently from the tick before."""

    output: OutputId
    on: bool
    reason: Reason


@dataclass(frozen=True, slots=True)
class Alarm:
    """An alarm that is active now."""

    code: FaultCode
    subject: str
    detail: str
    priority: Priority
    since_mono_s: float


@dataclass(frozen=True, slots=True)
class AlarmEvent:
    """An alarm that was raised or cleared in this tick."""

    alarm: Alarm
    raised: bool


class Decision(NamedTuple):
    """Everything one tick decided.

    Attributes:
        commands: for every output of the settings.
        changes: those that differ from the tick before, with reasons.
        alarms: active alarms, most urgent first.
        alarm_events: alarms raised or cleared in this tick.
        look_again_s: a tick is needed this soon even if nothing happens, or None.
    """

    commands: Mapping[OutputId, Command]
    changes: tuple[OutputChange, ...]
    alarms: tuple[Alarm, ...]
    alarm_events: tuple[AlarmEvent, ...]
    look_again_s: float | None = None
