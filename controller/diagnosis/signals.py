"""The signals that need no network: one that is on while all is well, and a lamp for alarms of today.

``ALL_WELL`` is off whenever a person must act now and nobody has said that they know, and whenever nobody can
say that none must: after a start, until roof and floats have been read; when the alarms could not be worked
out; when no decision comes. ``TODAY`` is on while there is an alarm of today or one to act on now, seen or
not, but not one that is muted. Neither turns back within ``HOLD_S``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from controller.decision.command import Command, OutputChange
from controller.decision.reasons import Reason, ReasonCode
from controller.diagnosis.alarms import unanswered
from controller.equipment import ALL_WELL
from controller.faults import MINUTE_S, Priority
from controller.readings.reading import Good

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from controller.decision.driven import Lost
    from controller.diagnosis.alarms import Alarm
    from controller.equipment import OutputId
    from controller.readings.snapshot import Snapshot

# A siren that stops after seconds is taken for a mistake, and a dialler may miss so short a call. [practice]
HOLD_S: Final = MINUTE_S


class Signals(NamedTuple):
    """What the signals show after a tick.

    Attributes:
        commands: for every signal that is fitted, with why it is now what it is.
        changes: those that differ from the tick before, with reasons.
        free_from_s: by signal, when it may turn again.
        seen: whether roof and floats have all been read since the start.
    """

    commands: Mapping[OutputId, Command]
    changes: tuple[OutputChange, ...]
    free_from_s: Mapping[OutputId, float]
    seen: bool = False


NO_SIGNALS: Final = Signals({}, (), {})


class Known(NamedTuple):
    """What a tick can know before it decides about the signals.

    Attributes:
        alarms: active after the tick before, most urgent first; None where they could not be worked out.
        snapshot: what is seen now.
        lost: what went off without a decision since the tick before, or None.
        now_mono_s: now.
    """

    alarms: Sequence[Alarm] | None
    snapshot: Snapshot
    lost: Lost | None
    now_mono_s: float


def decided_signals(before: Signals, fitted: tuple[OutputId, ...], known: Known) -> Signals:
    """Decide every signal for this tick.

    Args:
        before: what the tick before has left, ``NO_SIGNALS`` at the start.
        fitted: the signals of the settings.
        known: alarms, readings, losses and time.
    """
    if not fitted:
        return NO_SIGNALS
    now_s = known.now_mono_s
    seen = before.seen or _all_read(known.snapshot)
    commands: dict[OutputId, Command] = {}
    changes: list[OutputChange] = []
    free_from_s: dict[OutputId, float] = {}
    for output in fitted:
        command = before.commands.get(output)
        free_s = before.free_from_s.get(output, now_s + HOLD_S)
        if command is None:
            command = Command(on=False, reason=Reason(ReasonCode.STARTED, {"rest_s": HOLD_S}))
        elif known.lost is not None and _went_off(output, known.lost):
            free_s = now_s + HOLD_S
            if command.on:
                command = Command(on=False, reason=_loss(known.lost))
                changes.append(OutputChange(output, command.on, command.reason))
        calls, reason = _all_well(known, seen) if output is ALL_WELL else _today(known)
        wanted = calls is (output is not ALL_WELL)
        if output is ALL_WELL and calls:
            free_s = now_s + HOLD_S
        if wanted != command.on and (now_s >= free_s or (output is ALL_WELL and calls)):
            command = Command(wanted, reason)
            changes.append(OutputChange(output, wanted, reason))
            free_s = now_s + HOLD_S
        elif wanted == command.on:
            command = Command(wanted, reason)
        commands[output], free_from_s[output] = command, free_s
    return Signals(commands, tuple(changes), free_from_s, seen)


def _all_read(snapshot: Snapshot) -> bool:
    return all(isinstance(reading, Good) for reading in (snapshot.ceiling, *snapshot.sumps.values()))


def _went_off(output: OutputId, lost: Lost) -> bool:
    return lost.lease_s is not None or output in lost.cut


def _loss(lost: Lost) -> Reason:
    if lost.lease_s is None:
        return Reason(ReasonCode.OUTPUT_FAILED, {"rest_s": HOLD_S})
    return Reason(ReasonCode.NO_DECISION, {"for_s": lost.lease_s, "rest_s": HOLD_S})


def _all_well(known: Known, seen: bool) -> tuple[bool, Reason]:
    """Whether the signal must be off, and why it is what it is."""
    alarms = known.alarms
    if alarms is None or not seen:
        return True, Reason(ReasonCode.SIGNAL_BLIND, {"hold_s": HOLD_S})
    urgent = unanswered(alarms)
    if urgent:
        return True, Reason(ReasonCode.SIGNAL_CALLS, _named(urgent))
    return False, Reason(ReasonCode.SIGNAL_WELL, {"hold_s": HOLD_S, "alarms": float(len(alarms))})


def _today(known: Known) -> tuple[bool, Reason]:
    """Whether the lamp must be on, and why it is what it is."""
    due = [alarm for alarm in known.alarms or () if alarm.priority <= Priority.TODAY and not alarm.muted]
    if due:
        return True, Reason(ReasonCode.SIGNAL_TODAY, _named(due))
    return False, Reason(ReasonCode.SIGNAL_NOTHING_DUE, {"alarms": 0.0})


def _named(alarms: Sequence[Alarm]) -> dict[str, float | str]:
    first = alarms[0]
    return {"alarms": float(len(alarms)), "first": f"{first.code.value} {first.subject}".strip()}
