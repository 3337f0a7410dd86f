"""What the history holds of a stretch of time, in the form in which a replay needs it."""

from __future__ import annotations

from bisect import bisect_right
from collections import deque
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from controller.decision.reasons import ReasonCode
from controller.equipment import Kind
from controller.faults import FaultCode
from controller.history.queries import Sample
from controller.history.rows import EventCode
from controller.readings.reading import Level

if TYPE_CHECKING:
    from collections.abc import Iterator

    from controller.history.queries import History, RecordedChange
    from controller.readings.reading import Why
    from controller.settings.schema import Settings

STRETCH = timedelta(days=1)
# The rule that runs a pump by the clock waits this long for a float that cannot be read. [practice]
PATIENCE_S = 60.0
_FLOAT_IS_BACK = frozenset({ReasonCode.PUMP_WET.value, ReasonCode.PUMP_EXERCISE.value})
_EARLIEST = datetime(1971, 1, 1, tzinfo=UTC)


@dataclass(slots=True)
class Timeline:
    """What something was, and since when: states by the time (in s since 1970) at which each began.

    Attributes:
        times_s: in order.
        states: as many.
    """

    times_s: list[float] = field(default_factory=list)
    states: list[object] = field(default_factory=list)

    def note(self, at_s: float, state: object) -> None:
        """The state from a time on; a time before the last one counts as that one."""
        at_s = max(at_s, self.times_s[-1]) if self.times_s else at_s
        if not self.states or self.states[-1] != state:
            self.times_s.append(at_s)
            self.states.append(state)

    def at(self, at_s: float, otherwise: object) -> object:
        """The state at a time."""
        position = bisect_right(self.times_s, at_s)
        return self.states[position - 1] if position else otherwise

    def next_after(self, at_s: float) -> float | None:
        """When the state changes next."""
        position = bisect_right(self.times_s, at_s)
        return self.times_s[position] if position < len(self.times_s) else None


@dataclass(frozen=True, slots=True)
class Recorded:
    """What was switched, and what is known of the water.

    Attributes:
        changes: every switching, oldest first.
        outputs: on (True) or off, by output as in ``fan:north``.
        floats: ``Level``, or None where the float could not be read, by sump.
        stops: how often the program stopped or started anew.
    """

    changes: list[RecordedChange]
    outputs: dict[str, Timeline]
    floats: dict[str, Timeline]
    stops: int


def recorded(history: History, from_utc: datetime, to_utc: datetime) -> Recorded:
    """Outputs and floats of a stretch of time.

    Floats are not kept as such. A float counts as wet from the start of its pump for water, or since it has
    locked out a fan, until its pump ends a run because the sump is dry, less the run-on; as one that cannot
    be read while its pump runs by the clock; else as dry.

    Raises:
        StorageError: the file cannot be read.
    """
    changes: list[RecordedChange] = []
    begin_utc = max(from_utc - STRETCH, _EARLIEST)  # what ran when the stretch began was switched on before
    while begin_utc < to_utc:
        changes += history.changes(begin_utc, min(begin_utc + STRETCH, to_utc))
        begin_utc += STRETCH
    known = Recorded(changes, {}, {}, 0)
    moments: list[tuple[float, int, RecordedChange | None]]
    moments = [(change.when.at_utc.timestamp(), 1, change) for change in changes]
    ends = {EventCode.START.value, EventCode.STOP.value}
    starts = [event for event in history.events(from_utc - STRETCH, to_utc) if event.code in ends]
    moments += [(event.when.at_utc.timestamp(), 0, None) for event in starts]
    alarms = history.alarms(from_utc - STRETCH, to_utc)
    back = [alarm for alarm in alarms if alarm.code == FaultCode.FLOAT.value and not alarm.raised]
    for at_s, _, change in sorted(moments, key=lambda moment: moment[:2]):
        if change is None:
            for timeline in known.outputs.values():
                timeline.note(at_s, state=False)
        else:
            known.outputs.setdefault(str(change.output), Timeline()).note(at_s, change.on)
            _note_water(known.floats, at_s, change)
    for alarm in back:
        line = known.floats.get(alarm.subject)
        at_s = alarm.when.at_utc.timestamp()
        if line is not None and line.at(at_s, Level.DRY) is None and line.next_after(at_s) is None:
            line.note(at_s, Level.DRY)
    return Recorded(
        changes, known.outputs, known.floats, sum(event.code == EventCode.START.value for event in starts)
    )


def _note_water(floats: dict[str, Timeline], at_s: float, change: RecordedChange) -> None:
    """What a switching says of a float."""
    code, numbers = change.code, change.numbers
    if change.output.kind is Kind.FAN:
        if code == ReasonCode.FLOOD.value:
            water = floats.setdefault(str(numbers.get("sump", "")), Timeline())
            water.note(at_s - _number(numbers.get("for_s")), Level.WET)
        return
    if change.output.kind is not Kind.PUMP:
        return
    water = floats.setdefault(change.output.name, Timeline())
    if code == ReasonCode.PUMP_EMPTIED.value:
        water.note(at_s - _number(numbers.get("run_on_s")), Level.DRY)
    elif code == ReasonCode.PUMP_DUTY.value:
        water.note(at_s - PATIENCE_S, None)
    elif code in _FLOAT_IS_BACK:
        water.note(at_s, Level.WET if code == ReasonCode.PUMP_WET.value else Level.DRY)


def _number(cell: float | str | None) -> float:
    return cell if isinstance(cell, int | float) else 0.0


def samples(history: History, from_utc: datetime, to_utc: datetime) -> Iterator[Sample]:
    """Readings a day at a time, so that neither memory nor the file is held for long.

    Raises:
        StorageError: the file cannot be read, while samples are fetched.
    """
    while from_utc < to_utc:
        yield from list(history.samples(from_utc, min(from_utc + STRETCH, to_utc)))
        from_utc += STRETCH


def with_switchings(
    found: Iterator[Sample], changes: list[RecordedChange], settings: Settings
) -> Iterator[Sample]:
    """Readings, and between them what a fan's reason says the probes read when it was switched.

    Readings are kept every few minutes; a fan is switched by the one that passes its setpoint, which is
    hardly ever one of those. Air, roof and the loop's soil are known again at that very moment.

    Args:
        found: readings, oldest first.
        changes: switchings, oldest first.
        settings: which probes hang where.
    """
    waiting = deque(change for change in changes if change.output.kind is Kind.FAN)
    before = None
    for after in found:
        while waiting and waiting[0].when.at_utc < after.when.at_utc:
            change = waiting.popleft()
            if before is not None and before.when.at_utc < change.when.at_utc:
                before = _switched(before, after, change, settings)
                yield before
        yield after
        before = after


def _switched(before: Sample, after: Sample, change: RecordedChange, settings: Settings) -> Sample:
    """A sample at the moment of a switching."""
    values = between(before, after, change.when.at_utc.timestamp())
    air_c, roof_c = change.numbers.get("air_c"), change.numbers.get("ceiling_c")
    known = (
        (
            settings.probe_names("bench"),
            None if air_c == roof_c else air_c,
        ),  # the colder of both is named as air
        (settings.probe_names("ceiling"), roof_c),
        (settings.probe_names("soil", change.output.name), change.numbers.get("soil_c")),
    )
    for names, read_c in known:
        for name in names:
            if isinstance(read_c, float) and isinstance(values.get(name), float):
                values[name] = read_c
    return Sample(change.when, max(before.span_s, after.span_s), values)


def between(before: Sample, after: Sample, at_s: float) -> dict[str, float | Why]:
    """The values of a sample on their way to those of the next, in a straight line."""
    began_s, ends_s = before.when.at_utc.timestamp(), after.when.at_utc.timestamp()
    share = (at_s - began_s) / (ends_s - began_s)
    values = dict(before.values)
    for name, value in values.items():
        later = after.values.get(name)
        if isinstance(value, float) and isinstance(later, float):
            values[name] = value + share * (later - value)
    return values
