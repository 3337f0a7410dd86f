"""What people at the machine have said: alarms they have seen, a house without a crop, checks done by hand.

An alarm that somebody has seen, or that is about a crop in a house without one, is still shown; it only calls
nobody. Both end by themselves, and what could hurt a person is never muted (``MAY_BE_SEEN`` beside the fault
table). Nothing of this reaches the decision.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from controller.diagnosis.alarms import AlarmEvent
from controller.faults import ABOUT_THE_CROP, DAY_S, FAULTS, HOUR_S, MAY_BE_SEEN
from controller.readings.said import Act

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import datetime

    from controller.diagnosis.alarms import Alarm, Alarms, AlarmState, Key
    from controller.readings.said import Said

# A grower looks at an empty house every fortnight at least; who wants longer says so again. [practice]
EMPTY_FOR_S = 14 * DAY_S
# After a restart an alarm takes its usual delay to come back; what somebody has seen waits this much longer.
COMES_BACK_WITHIN_S = HOUR_S


class Deadline(NamedTuple):
    """The end of something said: by whichever clock comes first, so that neither can prolong it.

    Attributes:
        mono_s: monotonic time in s.
        utc_s: seconds since 1970 in UTC, None where the time of day was not known.
    """

    mono_s: float
    utc_s: float | None

    def is_past(self, now: Now) -> bool:
        """Whether it is over."""
        over = self.utc_s is not None and now.utc_s is not None and now.utc_s >= self.utc_s
        return over or now.mono_s >= self.mono_s


class Now(NamedTuple):
    """This moment: monotonic, and in seconds since 1970 if the time of day is known."""

    mono_s: float
    utc_s: float | None

    @classmethod
    def of(cls, mono_s: float, wall_utc: datetime | None) -> Now:
        """The moment of a tick."""
        return cls(mono_s, None if wall_utc is None else wall_utc.timestamp())

    def after(self, seconds: float) -> Deadline:
        """The end of a time that begins now."""
        return Deadline(self.mono_s + seconds, None if self.utc_s is None else self.utc_s + seconds)

    def until(self, wall_utc: datetime) -> Deadline | None:
        """A time of day as a deadline, None if it is over or the time of day is not known."""
        left_s = -1.0 if self.utc_s is None else wall_utc.timestamp() - self.utc_s
        return self.after(left_s) if left_s > 0.0 else None


class Seen(NamedTuple):
    """One alarm that somebody has seen.

    Attributes:
        level: how bad it was then; a worse one calls again.
        at_s: when, monotonic.
        at_utc_s: when, in seconds since 1970; None while the time of day was not known.
        until: when it ends; None: when the alarm clears or is raised anew.
        missed_since_s: after a restart, since when the alarm has not come back; None once it has.
    """

    level: int
    at_s: float
    at_utc_s: float | None
    until: Deadline | None
    missed_since_s: float | None = None


class Attendance(NamedTuple):
    """All that was said and still counts.

    Attributes:
        seen: by fault and subject.
        empty_until: until when the house counts as empty, None while it is planted.
        done: by check, when it was last done, in seconds since 1970.
    """

    seen: Mapping[Key, Seen]
    empty_until: Deadline | None
    done: Mapping[str, float]


NOTHING_SAID = Attendance({}, None, {})


class Note(NamedTuple):
    """What came of something said, or that it has ended, for the history and the log.

    Attributes:
        act: what it is about.
        words: what happened.
        answers: what was said, None where it ended by itself.
        ends: until when it holds, None if that is not known.
    """

    act: Act
    words: str
    answers: Said | None = None
    ends: Deadline | None = None


class Attended(NamedTuple):
    """Alarms with the marks of what was said.

    Attributes:
        attendance: what counts from now on.
        alarms: the alarms of this tick, marked; events for alarms that call again are added.
        notes: what is worth writing down.
    """

    attendance: Attendance
    alarms: Alarms
    notes: tuple[Note, ...]


def attended(before: Attendance, said: Sequence[Said], alarms: Alarms, now: Now) -> Attended:
    """Take in what was said, end what is over, and mark the alarms."""
    if not said and not before.seen and before.empty_until is None:
        return Attended(before, alarms, ())
    after, over = _without_what_is_over(before, alarms.states, now)
    notes = [*over, *(_forecast(one) for one in said if one.act is Act.LOW)]
    for one in said:
        if one.act is Act.LOW:
            continue
        after, note = _taken(after, one, alarms.active, alarms.states, now)
        if note is not None:
            notes.append(note)
    return Attended(after, _marked(before, after, alarms), tuple(notes))


def _marked(before: Attendance, after: Attendance, alarms: Alarms) -> Alarms:
    """The alarms with their marks; one that no longer has its mark calls again."""
    active = tuple(_mark(alarm, after) for alarm in alarms.active)
    told = {(event.alarm.code, event.alarm.subject) for event in alarms.events}
    again = [
        AlarmEvent(alarm, raised=True)
        for alarm in active
        if not alarm.quiet and (alarm.code, alarm.subject) not in told and _mark(alarm, before).quiet
    ]
    events = tuple(replace(event, alarm=_mark(event.alarm, after)) for event in alarms.events)
    return replace(alarms, active=active, events=(*events, *again))


def _mark(alarm: Alarm, attendance: Attendance) -> Alarm:
    seen = attendance.seen.get((alarm.code, alarm.subject))
    muted = attendance.empty_until is not None and alarm.code in ABOUT_THE_CROP
    if seen is None and not muted:
        return alarm
    at_utc_s = None if seen is None else seen.at_utc_s
    return replace(alarm, seen=seen is not None, seen_utc_s=at_utc_s, muted=muted)


def _without_what_is_over(
    before: Attendance, states: Mapping[Key, AlarmState], now: Now
) -> tuple[Attendance, list[Note]]:
    notes: list[Note] = []
    kept: dict[Key, Seen] = {}
    for key, seen in before.seen.items():
        still, why = _still_seen(key, seen, states.get(key), now)
        if still is not None:
            kept[key] = still
        elif why:
            notes.append(Note(Act.SEEN, f"{_name(key)}: calls again, {why}"))
    empty_until = before.empty_until
    if empty_until is not None and empty_until.is_past(now):
        empty_until = None
        notes.append(Note(Act.PLANTED, "the house counts as planted again; the time as empty is over"))
    if kept == before.seen and empty_until is before.empty_until:
        return before, notes  # the very same, which shows the memory that there is nothing new to keep
    return before._replace(seen=kept, empty_until=empty_until), notes


def _still_seen(key: Key, seen: Seen, state: AlarmState | None, now: Now) -> tuple[Seen | None, str]:
    """What is left of one that was seen: the mark as it is now, or None with why it ended."""
    if seen.until is not None and seen.until.is_past(now):
        return None, "the time for which it was seen is over"
    if state is None or state.raised_since_s is None:
        return (seen if seen.until is not None or _may_come_back(key, seen, now) else None), ""
    if state.level > seen.level:
        return None, "it has become worse"
    if seen.until is None and seen.missed_since_s is None and state.raised_since_s > seen.at_s:
        return None, "it was raised anew"
    if seen.missed_since_s is None:
        return seen, ""
    # Back after a restart: the mark is of this alarm again.
    return seen._replace(missed_since_s=None, at_s=max(seen.at_s, state.raised_since_s)), ""


def _may_come_back(key: Key, seen: Seen, now: Now) -> bool:
    """Whether the alarm may still come back after a restart; one that has ended since took its mark along."""
    patience_s = FAULTS[key[0]].on_delay_s + COMES_BACK_WITHIN_S
    return seen.missed_since_s is not None and now.mono_s - seen.missed_since_s <= patience_s


def _taken(
    attendance: Attendance,
    said: Said,
    active: Sequence[Alarm],
    states: Mapping[Key, AlarmState],
    now: Now,
) -> tuple[Attendance, Note | None]:
    """Take one thing in; no note where there is nothing it could be about."""
    if said.act is Act.EMPTY:
        end = now.after(EMPTY_FOR_S)
        words = "somebody says that the house is empty: alarms about a crop call nobody"
        return attendance._replace(empty_until=end), Note(said.act, words, said, end)
    if said.act is Act.PLANTED:
        words = "somebody says that the house is planted: alarms about the crop call again"
        return attendance._replace(empty_until=None), Note(said.act, words, said)
    if said.act is Act.DONE:
        if now.utc_s is None:
            return attendance, None
        done = {**attendance.done, said.about: now.utc_s}
        return attendance._replace(done=done), Note(said.act, f"{said.about}: done by somebody", said)
    until = None if said.until_utc is None else now.until(said.until_utc)
    keys = list(_about(said.about, active))
    if not keys:
        return attendance, None
    fresh = {key: Seen(states[key].level, now.mono_s, now.utc_s, until) for key in keys}
    words = f"{', '.join(map(_name, keys))}: seen by somebody"
    return attendance._replace(seen={**attendance.seen, **fresh}), Note(said.act, words, said, until)


def _forecast(said: Said) -> Note:
    """A forecast low; it is the outlook's to use."""
    return Note(said.act, f"forecast low of the night: {float(said.about):.1f} °C outdoors", said)


def _about(code: str, active: Sequence[Alarm]) -> Iterator[Key]:
    """The standing alarms of a code that may be muted."""
    for alarm in active:
        if alarm.code.value == code and alarm.code in MAY_BE_SEEN:
            yield alarm.code, alarm.subject


def _name(key: Key) -> str:
    code, subject = key
    return f"{code.value} ({subject})" if subject else code.value
