"""Alarms in the manner of ISA-18.2 / IEC 62682 in small: delays, latches, and parents that hide children."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from controller.faults import FAULTS, MINUTE_S, FaultCode, Priority

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from collections.abc import Set as AbstractSet

    from controller.faults import Finding

Key = tuple[FaultCode, str]
# A fault that comes and goes is not over; one that is gone for longer needs nobody at once. [practice]
OVER_AFTER_S = 10 * MINUTE_S


@dataclass(frozen=True, slots=True)
class Alarm:
    """An alarm that is active now.

    Attributes:
        code: which fault.
        subject: which probe, loop, sump or file; empty where there is only one.
        detail: the numbers or words behind it.
        priority: how soon a person must act.
        since_mono_s: since when.
        seen: whether somebody at the machine has said that they have seen it.
        seen_utc_s: when that was, in seconds since 1970; None while the time of day was not known.
        muted: whether it is about a crop, in a house that somebody says is empty.
        over: whether its fault is gone; the detail then says what it was.
    """

    code: FaultCode
    subject: str
    detail: str
    priority: Priority
    since_mono_s: float
    seen: bool = False
    seen_utc_s: float | None = None
    muted: bool = False
    over: bool = False

    @property
    def quiet(self) -> bool:
        """Whether it calls nobody for now; it is shown all the same."""
        return self.seen or self.muted


@dataclass(frozen=True, slots=True)
class AlarmEvent:
    """An alarm that was raised or cleared in this tick."""

    alarm: Alarm
    raised: bool


class AlarmState(NamedTuple):
    """One possible alarm.

    Attributes:
        detail: its words.
        present_since_s: since when the fault is there.
        raised_since_s: since when a person is called, None while it waits.
        gone_since_s: since when the fault is gone, None while it is there.
        shown: whether a person is shown it.
        level: how bad it has been.
        past: whether its words say what it was, because a finding says that it is over.
    """

    detail: str
    present_since_s: float
    raised_since_s: float | None = None
    gone_since_s: float | None = None
    shown: bool = False
    level: int = 0
    past: bool = False


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
        show = key in raised and not _hidden(key, raised)
        if show:
            active.append(_alarm(key, state, now_s))
        if show != state.shown:
            events.append(AlarmEvent(_alarm(key, state, now_s), raised=show))
            states[key] = state._replace(shown=show)
    for key, state in before.items():
        if key not in states and state.shown:
            events.append(AlarmEvent(_alarm(key, state, now_s), raised=False))
    active.sort(key=lambda alarm: (alarm.priority, alarm.since_mono_s))
    return Alarms(states, tuple(active), tuple(events))


def unanswered(active: Sequence[Alarm]) -> tuple[Alarm, ...]:
    """The alarms on which a person must act now and nobody has said anything yet."""
    return tuple(alarm for alarm in active if alarm.priority is Priority.ACT_NOW and not alarm.quiet)


def _hidden(key: Key, raised: AbstractSet[Key]) -> bool:
    """Whether an alarm that explains this one is raised, for the same subject or for the house."""
    code, subject = key
    return any((parent, subject) in raised or (parent, "") in raised for parent in FAULTS[code].hidden_by)


def _advanced(
    before: Mapping[Key, AlarmState], findings: Sequence[Finding], now_s: float
) -> dict[Key, AlarmState]:
    states: dict[Key, AlarmState] = {}
    for finding in findings:
        key = (finding.code, finding.subject)
        state = before.get(key)
        if finding.over:
            if state is not None and state.raised_since_s is not None:
                gone_s = now_s if state.gone_since_s is None else state.gone_since_s
                states[key] = state._replace(detail=finding.detail, gone_since_s=gone_s, past=True)
            continue
        if state is None or state.past:  # what was over for good is a new fault when it is back
            shown = state is not None and state.shown
            state = AlarmState(finding.detail, present_since_s=now_s, shown=shown)
        elif state.gone_since_s is not None or state.detail != finding.detail:
            state = state._replace(gone_since_s=None, detail=finding.detail)
        states[key] = _called(state, finding, now_s)
    for key, state in before.items():
        if key not in states and state.raised_since_s is not None:
            gone_s = now_s if state.gone_since_s is None else state.gone_since_s
            if now_s - gone_s < FAULTS[key[0]].off_delay_s:
                states[key] = state._replace(gone_since_s=gone_s) if state.gone_since_s is None else state
    return states


def _called(state: AlarmState, finding: Finding, now_s: float) -> AlarmState:
    """The state of a present fault: raised when its delay is over, and again when it has become worse."""
    if state.raised_since_s is None:
        if now_s - state.present_since_s < FAULTS[finding.code].on_delay_s:
            return state
        # Not shown yet, even if what was over stood here a tick ago: it calls.
        return state._replace(raised_since_s=now_s, level=finding.level, shown=False)
    if finding.level > state.level:
        return state._replace(raised_since_s=now_s, level=finding.level, shown=False)
    return state


def _alarm(key: Key, state: AlarmState, now_s: float) -> Alarm:
    code, subject = key
    since_s = state.raised_since_s if state.raised_since_s is not None else state.present_since_s
    priority, detail = FAULTS[code].priority_at(state.level), state.detail
    over = state.past or (state.gone_since_s is not None and now_s - state.gone_since_s >= OVER_AFTER_S)
    if over:
        priority = max(priority, Priority.TODAY)
        if not state.past:
            detail = f"gone for now; it was: {detail}" if detail else "gone for now"
    return Alarm(code, subject, detail, priority, since_s, over=over)
