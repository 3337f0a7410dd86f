"""Alarms in the manner of ISA-18.2 / IEC 62682 in small: delays, latches, and parents that hide children."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from controller.decision.command import Alarm, AlarmEvent
from controller.decision.state import AlarmState
from controller.faults import FAULTS, FaultCode

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from controller.faults import Finding

Key = tuple[FaultCode, str]


@dataclass(frozen=True, slots=True)
class Alarms:
    """Alarms after a tick: what is remembered, what a person sees, what changed."""

    states: Mapping[Key, AlarmState]
    active: tuple[Alarm, ...]
    events: tuple[AlarmEvent, ...]


NONE = Alarms({}, (), ())


def update_alarms(before: Mapping[Key, AlarmState], findings: Sequence[Finding], now_s: float) -> Alarms:
    """Bring all alarms up to date with what is wrong now."""
    if not findings and not before:
        return NONE
    states = _advanced(before, findings, now_s)
    raised = {key for key, state in states.items() if state.raised_since_s is not None}
    active: list[Alarm] = []
    events: list[AlarmEvent] = []
    for key, state in states.items():
        hidden = any(
            (parent, key[1]) in raised or (parent, "") in raised for parent in FAULTS[key[0]].hidden_by
        )
        show = state.raised_since_s is not None and not hidden
        if show:
            active.append(_alarm(key, state))
        if show != state.shown:
            events.append(AlarmEvent(_alarm(key, state), raised=show))
            states[key] = state._replace(shown=show)
    for key, state in before.items():
        if key not in states and state.shown:
            events.append(AlarmEvent(_alarm(key, state), raised=False))
    active.sort(key=lambda alarm: (alarm.priority, alarm.since_mono_s))
    return Alarms(states, tuple(active), tuple(events))


def _advanced(
    before: Mapping[Key, AlarmState], findings: Sequence[Finding], now_s: float
) -> dict[Key, AlarmState]:
    states: dict[Key, AlarmState] = {}
    for finding in findings:
        key = (finding.code, finding.subject)
        state = before.get(key)
        if state is None:
            state = AlarmState(finding.detail, present_since_s=now_s)
        elif state.gone_since_s is not None or state.detail != finding.detail:
            state = state._replace(gone_since_s=None, detail=finding.detail)
        if state.raised_since_s is None and now_s - state.present_since_s >= FAULTS[finding.code].on_delay_s:
            state = state._replace(raised_since_s=now_s)
        states[key] = state
    for key, state in before.items():
        if key not in states and state.raised_since_s is not None:
            gone_s = state.gone_since_s if state.gone_since_s is not None else now_s
            if now_s - gone_s < FAULTS[key[0]].off_delay_s:
                states[key] = state._replace(gone_since_s=gone_s)
    return states


def _alarm(key: Key, state: AlarmState) -> Alarm:
    code, subject = key
    since_s = state.raised_since_s if state.raised_since_s is not None else state.present_since_s
    return Alarm(code, subject, state.detail, FAULTS[code].priority, since_s)
