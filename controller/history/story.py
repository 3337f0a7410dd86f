"""The history as sentences, oldest first: what switched and why, alarms, and what people said."""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from controller.faults import FAULTS
from controller.history.rows import EventCode

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from datetime import datetime

    from controller.history.queries import History, RecordedAlarm, RecordedChange, RecordedEvent, When

URGENCY = {1: "act now", 2: "today", 3: "this week"}
EVENTS = {
    EventCode.START.value: "the controller started",
    EventCode.STOP.value: "the controller stopped; every output is off",
    EventCode.SETTINGS.value: "the settings were read again",
    EventCode.CLOCK_SET.value: "the clock was set",
    EventCode.CLOCK_STEPPED.value: "the clock jumped by {detail}",
    EventCode.DROPPED.value: "{detail} of history were lost",
}
# What people say, told in the history's own words.
SAID = {
    code.value
    for code in (
        EventCode.SEEN,
        EventCode.HOUSE_EMPTY,
        EventCode.HOUSE_PLANTED,
        EventCode.DONE,
        EventCode.LOW,
    )
}

# What they say that is about no alarm.
NOT_OF_ALARMS = (EventCode.DONE.value, EventCode.LOW.value)


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that happened.

    Attributes:
        when: the moment.
        kind: an output that switched, an alarm, or anything else.
        code: of the reason, the alarm or the event.
        about: which output, loop, sump, probe or file; empty where there is only one.
        on: whether the output went on, or the alarm was raised; None for other events.
        urgency: of an alarm.
        sentence: what happened.
        numbers: what an output was decided on, SI.
    """

    when: When
    kind: Literal["output", "alarm", "event"]
    code: str
    about: str
    on: bool | None
    urgency: str | None
    sentence: str
    numbers: Mapping[str, float | str]


def story(
    history: History,
    from_utc: datetime,
    to_utc: datetime | None,
    *,
    alarms_only: bool = False,
    loop: str | None = None,
) -> Iterator[Entry]:
    """What happened in a half-open range of time.

    Args:
        history: open for reading.
        from_utc: first moment.
        to_utc: first moment after, None for no end.
        alarms_only: leave out outputs, and events that say nothing of alarms.
        loop: only this loop or sump, None for everything.

    Raises:
        StorageError: the file cannot be read, while rows are fetched.
    """
    parts: list[Iterable[Entry]] = [map(_alarm, history.alarms(from_utc, to_utc))]
    if loop is None:
        parts.append(_events(history.events(from_utc, to_utc), alarms_only=alarms_only))
    if not alarms_only:
        parts.append(map(_change, history.changes(from_utc, to_utc)))
    entries = heapq.merge(*parts, key=lambda entry: (entry.when.at_utc, entry.when.run_id, entry.when.mono_s))
    return entries if loop is None else (entry for entry in entries if _is_of(entry, loop))


def _is_of(entry: Entry, loop: str) -> bool:
    return entry.about == loop or entry.about.partition(" ")[2] == loop


def _change(change: RecordedChange) -> Entry:
    about = f"{change.output.kind} {change.output.name}"
    sentence = f"{about} {'on' if change.on else 'off'}: {change.sentence}"
    return Entry(change.when, "output", change.code, about, change.on, None, sentence, change.numbers)


def _alarm(alarm: RecordedAlarm) -> Entry:
    urgency = URGENCY.get(alarm.priority, "")
    name = f"{alarm.code}: {alarm.subject}" if alarm.subject else alarm.code
    words = alarm.detail or _cause(alarm.code)
    sentence = f"ALARM, {urgency}: {name}: {words}" if alarm.raised else f"alarm over: {name}"
    return Entry(alarm.when, "alarm", alarm.code, alarm.subject, alarm.raised, urgency, sentence, {})


def _cause(code: str) -> str:
    """What usually causes an alarm; one of another release has only its name."""
    return next((row.cause for known, row in FAULTS.items() if known.value == code), "no more is known")


def _events(events: Iterable[RecordedEvent], *, alarms_only: bool) -> Iterator[Entry]:
    for event in events:
        said = event.code in SAID
        if alarms_only and not (said and event.code not in NOT_OF_ALARMS):
            continue
        sentence = event.detail if said else EVENTS.get(event.code, "{detail}").format(detail=event.detail)
        yield Entry(event.when, "event", event.code, "", None, None, sentence or event.code, {})
