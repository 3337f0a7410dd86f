"""Reading the history: what reports and people ask of it. Nothing here can change the file."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any, Self

from controller.decision.command import OutputId
from controller.decision.tally import DayTally, LoopTally, PumpTally
from controller.history import words
from controller.history.database import in_words, open_for_reading
from controller.readings.reading import Why

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import date
    from pathlib import Path

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_READINGS = "run_id, mono_ms, wall_ms, span_s, set_id, milli_c FROM readings"
_CHANGES = "run_id, mono_ms, wall_ms, kind, name, is_on, code, numbers, sentence FROM changes"
_ALARMS = "run_id, mono_ms, wall_ms, code, subject, priority, raised, detail FROM alarms"
_EVENTS = "run_id, mono_ms, wall_ms, code, detail FROM events"


@dataclass(frozen=True, slots=True)
class When:
    """A moment: the run it belongs to, seconds since that boot, and the time for people."""

    run_id: int
    mono_s: float
    at_utc: datetime


@dataclass(frozen=True, slots=True)
class Sample:
    """All probes at one time, in °C or why not; ``span_s`` is 0, or 3600 for an hourly mean."""

    when: When
    span_s: int
    values: Mapping[str, float | Why]


@dataclass(frozen=True, slots=True)
class ProbeValue:
    """One probe at one time: a temperature in °C, or why there is none."""

    when: When
    span_s: int
    value: float | Why


@dataclass(frozen=True, slots=True)
class RecordedChange:
    """One output change with its reason."""

    when: When
    output: OutputId
    on: bool
    code: str
    numbers: Mapping[str, float | str]
    sentence: str


@dataclass(frozen=True, slots=True)
class RecordedAlarm:
    """One alarm raised or cleared; ``priority`` is 1 (act now) to 3 (this week)."""

    when: When
    code: str
    subject: str
    priority: int
    raised: bool
    detail: str


@dataclass(frozen=True, slots=True)
class RecordedEvent:
    """One event: start, stop, settings-reload, clock-set, clock-stepped, rows-dropped."""

    when: When
    code: str
    detail: str


class History:
    """A history file open for reading, also while the controller writes to it. Use it with ``with``.

    Every range is half open: from and including the first time, up to but not including the second. Rows of a
    run whose clock was never set have no place in it and are left out.

    Args:
        path: the SQLite file.

    Raises:
        controller.history.database.StorageError: the file does not exist or cannot be read; also while rows
            are fetched.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        with in_words(words.for_reading, path):
            self._connection = open_for_reading(path)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()

    def samples(self, from_utc: datetime, to_utc: datetime) -> Iterator[Sample]:
        """All probes, oldest first."""
        names: dict[int, list[str]] = {
            set_id: json.loads(text) for set_id, text in self._ask("SELECT set_id, names FROM probe_sets")
        }
        for run_id, mono_ms, wall_ms, span_s, set_id, milli_c in self._between(_READINGS, from_utc, to_utc):
            values = zip(names[set_id], map(_value, json.loads(milli_c)), strict=True)
            yield Sample(_when(run_id, mono_ms, wall_ms), span_s, dict(values))

    def readings(self, probe: str, from_utc: datetime, to_utc: datetime) -> Iterator[ProbeValue]:
        """One probe, oldest first; nothing for times at which it was not in the settings."""
        for sample in self.samples(from_utc, to_utc):
            if probe in sample.values:
                yield ProbeValue(sample.when, sample.span_s, sample.values[probe])

    def changes(self, from_utc: datetime, to_utc: datetime) -> Iterator[RecordedChange]:
        """Output changes, oldest first."""
        for *when, kind, name, is_on, code, numbers, sentence in self._between(_CHANGES, from_utc, to_utc):
            output = OutputId(kind, name)
            yield RecordedChange(_when(*when), output, bool(is_on), code, json.loads(numbers), sentence)

    def alarms(self, from_utc: datetime, to_utc: datetime) -> Iterator[RecordedAlarm]:
        """Alarms raised and cleared, oldest first."""
        for *when, code, subject, priority, raised, detail in self._between(_ALARMS, from_utc, to_utc):
            yield RecordedAlarm(_when(*when), code, subject, priority, bool(raised), detail)

    def events(self, from_utc: datetime, to_utc: datetime) -> Iterator[RecordedEvent]:
        """Events, oldest first."""
        for *when, code, detail in self._between(_EVENTS, from_utc, to_utc):
            yield RecordedEvent(_when(*when), code, detail)

    def days(self, first: date, last: date) -> tuple[DayTally, ...]:
        """Sums of each day from ``first`` to ``last`` inclusive, oldest first; runs of one day add up."""
        # A day whose clock was set only later counts for the date on which it was written down.
        day = "coalesce(date, date(wall_ms / 1000, 'unixepoch'))"
        query = (
            f"SELECT day_id, {day} AS day, covered_s, air_min_c, air_max_c FROM days"  # noqa: S608 - fixed text
            " WHERE day BETWEEN ? AND ? ORDER BY day, day_id"
        )
        found: dict[str, DayTally] = {}
        for day_id, name, covered_s, low_c, high_c in tuple(
            self._ask(query, (first.isoformat(), last.isoformat()))
        ):
            part = DayTally(name, covered_s, low_c, high_c, self._day_loops(day_id), self._day_pumps(day_id))
            found[name] = _sum_of(found[name], part) if name in found else part
        return tuple(found.values())

    def _day_loops(self, day_id: int) -> dict[str, LoopTally]:
        """The loops of one row of days."""
        query = (
            "SELECT name, run_s, starts, electricity_j, banked_j, returned_j FROM day_loops WHERE day_id = ?"
        )
        return {name: LoopTally(*sums) for name, *sums in self._ask(query, (day_id,))}

    def _day_pumps(self, day_id: int) -> dict[str, PumpTally]:
        """The pumps of one row of days."""
        query = "SELECT name, run_s, starts, electricity_j FROM day_pumps WHERE day_id = ?"
        return {name: PumpTally(*sums) for name, *sums in self._ask(query, (day_id,))}

    def _between(self, columns: str, from_utc: datetime, to_utc: datetime) -> Iterator[tuple[Any, ...]]:
        """Rows of a half-open time range, oldest first."""
        query = f"SELECT {columns} WHERE wall_ms >= ? AND wall_ms < ? ORDER BY wall_ms, run_id, mono_ms"
        times = (_milliseconds(from_utc), _milliseconds(to_utc))
        return self._ask(query, times)

    def _ask(self, query: str, values: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
        """Rows of any query."""
        with in_words(words.for_reading, self._path):
            yield from self._connection.execute(query, values)


def _milliseconds(at_utc: datetime) -> int:
    """Milliseconds since 1970, rounded down."""
    return (at_utc - _EPOCH) // timedelta(milliseconds=1)


def _when(run_id: int, mono_ms: int, wall_ms: int) -> When:
    """The three columns every row has."""
    return When(run_id, mono_ms / 1000, _EPOCH + timedelta(milliseconds=wall_ms))


def _value(stored: int | str) -> float | Why:
    """A stored value; a word this release does not know still says that nothing was read."""
    if isinstance(stored, str):
        return Why.__members__.get(stored, Why.UNREADABLE)
    return stored / 1000


def _sum_of(one: DayTally, other: DayTally) -> DayTally:
    """Two parts of one day together."""
    lows = [low for low in (one.air_min_c, other.air_min_c) if low is not None]
    highs = [high for high in (one.air_max_c, other.air_max_c) if high is not None]
    return DayTally(
        date=one.date,
        covered_s=one.covered_s + other.covered_s,
        air_min_c=min(lows, default=None),
        air_max_c=max(highs, default=None),
        loops={
            name: _loop_sum(one.loops.get(name, LoopTally()), other.loops.get(name, LoopTally()))
            for name in {**one.loops, **other.loops}
        },
        pumps={
            name: _pump_sum(one.pumps.get(name, PumpTally()), other.pumps.get(name, PumpTally()))
            for name in {**one.pumps, **other.pumps}
        },
    )


def _loop_sum(one: LoopTally, other: LoopTally) -> LoopTally:
    """Two parts of a day of one loop together."""
    return LoopTally(
        one.run_s + other.run_s,
        one.starts + other.starts,
        one.electricity_j + other.electricity_j,
        one.banked_j + other.banked_j,
        one.returned_j + other.returned_j,
    )


def _pump_sum(one: PumpTally, other: PumpTally) -> PumpTally:
    """Two parts of a day of one pump together."""
    return PumpTally(
        one.run_s + other.run_s, one.starts + other.starts, one.electricity_j + other.electricity_j
    )
