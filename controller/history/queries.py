"""Reading the history: what reports and people ask of it. Nothing here can change the file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Any, Self, TypeVar

from controller.decision.reasons import Reason, ReasonCode
from controller.equipment import Kind, OutputId
from controller.history import words
from controller.history.cells import names_of, number, number_or_none, numbers_of, text, values_of
from controller.history.database import in_words, open_for_reading
from controller.readings.reading import Why
from controller.record.tally import DayTally, LoopTally, PumpTally, added
from controller.units import TemperatureUnit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping
    from pathlib import Path

Row = TypeVar("Row")

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_LATEST_MS = 2**62  # later than any row
_YEAR_9999_MS = 253_370_764_800_000  # what lies beyond is no time that a clock has shown
_TIMED = ("changes", "alarms", "events", "readings")
# What a row raises whose cells were changed since: a word for a number, an unknown set of probes.
_DAMAGE = (TypeError, ValueError, KeyError, OverflowError)
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
    """One probe at one time: a temperature in °C, or why it is missing."""

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
    """One event; ``code`` is a value of ``controller.history.rows.EventCode``."""

    when: When
    code: str
    detail: str


class History:
    """A history file open for reading, also while the controller writes to it. Use it with ``with``.

    Every range is half open: from and including the first time, up to but not including the second; None for
    the second, where it may be given, is no end. Rows of a run whose clock was never set have no place in it
    and are left out. So are rows that a failing card has altered beyond understanding; they are counted.

    Args:
        path: the SQLite file.

    Attributes:
        damaged_rows: how many rows could not be understood so far.

    Raises:
        controller.history.database.StorageError: the file does not exist or cannot be read; also while rows
            are fetched.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self.damaged_rows = 0
        with in_words(words.for_reading, path):
            self._connection = open_for_reading(path)
        self._connection.text_factory = _text

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()

    def samples(self, from_utc: datetime, to_utc: datetime) -> Iterator[Sample]:
        """All probes, oldest first."""
        sets = self._ask("SELECT set_id, names FROM probe_sets")
        names = dict(self._understood(lambda set_id, cell: (set_id, names_of(cell)), sets))

        def sample(
            run_id: int, mono_ms: int, wall_ms: int, span_s: int, set_id: int, milli_c: object
        ) -> Sample:
            cells = zip(names[set_id], values_of(milli_c), strict=True)
            values = {name: cell / 1000 if isinstance(cell, int) else _why(cell) for name, cell in cells}
            return Sample(_when(run_id, mono_ms, wall_ms), int(number(span_s)), values)

        return self._understood(sample, self._between(_READINGS, from_utc, to_utc))

    def readings(self, probe: str, from_utc: datetime, to_utc: datetime) -> Iterator[ProbeValue]:
        """One probe, oldest first; nothing for times at which it was not in the settings."""
        for sample in self.samples(from_utc, to_utc):
            if probe in sample.values:
                yield ProbeValue(sample.when, sample.span_s, sample.values[probe])

    def changes(self, from_utc: datetime, to_utc: datetime | None) -> Iterator[RecordedChange]:
        """Output changes, oldest first."""
        return self._understood(_change, self._between(_CHANGES, from_utc, to_utc))

    def alarms(self, from_utc: datetime, to_utc: datetime | None) -> Iterator[RecordedAlarm]:
        """Alarms raised and cleared, oldest first."""
        return self._understood(_alarm, self._between(_ALARMS, from_utc, to_utc))

    def events(self, from_utc: datetime, to_utc: datetime | None) -> Iterator[RecordedEvent]:
        """Events, oldest first."""
        return self._understood(_event, self._between(_EVENTS, from_utc, to_utc))

    def days(self, first: date, last: date) -> tuple[DayTally, ...]:
        """Sums of each day from ``first`` to ``last`` inclusive, oldest first; runs of one day add up."""
        # A day whose clock was set only later counts for the date on which it was written down.
        day = "coalesce(date, date(wall_ms / 1000, 'unixepoch'))"
        query = (
            f"SELECT day_id, {day} AS day, covered_s, air_min_c, air_max_c FROM days"  # noqa: S608 - fixed text
            " WHERE day BETWEEN ? AND ? ORDER BY day, day_id"
        )
        found: dict[str, DayTally] = {}
        rows = tuple(self._ask(query, (first.isoformat(), last.isoformat())))
        for part in self._understood(self._day_part, rows):
            name = str(part.date)
            found[name] = added(found[name], part) if name in found else part
        return tuple(found.values())

    def day_ends(self) -> Iterator[tuple[date, datetime]]:
        """Each day that was seen to its end, and when it was over: the first tick after local midnight."""
        query = (
            "SELECT date, wall_ms FROM days WHERE finished = 1 AND wall_ms IS NOT NULL AND date IS NOT NULL"
        )
        return self._understood(
            lambda day, ms: (date.fromisoformat(text(day)), _moment(ms)), self._ask(query)
        )

    def _day_part(
        self, day_id: int, name: object, covered_s: object, low_c: object, high_c: object
    ) -> DayTally:
        """One row of days with its loops and pumps."""
        loops = "SELECT name, run_s, starts, electricity_j, banked_j, returned_j FROM day_loops"
        pumps = "SELECT name, run_s, starts, electricity_j FROM day_pumps"
        return DayTally(
            text(name),
            number(covered_s),
            number_or_none(low_c),
            number_or_none(high_c),
            {text(loop): LoopTally(*sums) for loop, sums in self._sums(loops, day_id)},
            {text(pump): PumpTally(*sums) for pump, sums in self._sums(pumps, day_id)},
        )

    def _sums(self, query: str, day_id: int) -> Iterator[tuple[object, tuple[Any, ...]]]:
        """Name and sums of each motor on one row of days."""
        for name, *sums in self._ask(f"{query} WHERE day_id = ?", (day_id,)):
            yield name, tuple(map(number, sums))

    def _understood(self, make: Callable[..., Row], rows: Iterable[tuple[Any, ...]]) -> Iterator[Row]:
        """What is made of each row; a row of which nothing can be made is counted and left out."""
        for row in rows:
            try:
                made = make(*row)
            except _DAMAGE:
                self.damaged_rows += 1
            else:
                yield made

    def newest_utc(self) -> datetime | None:
        """When the newest row was written, None if there is none with a time."""
        return max(self._ends("max"), default=None)

    def oldest_utc(self) -> datetime | None:
        """When the oldest row was written, None if there is none with a time."""
        return min(self._ends("min"), default=None)

    def rows_without_time(self) -> int:
        """How many rows have no place in any range, because the clock of their run was never set."""
        counts = [self._ask(f"SELECT count(*) FROM {table} WHERE wall_ms IS NULL") for table in _TIMED]  # noqa: S608 - fixed text
        return sum(count for rows in counts for (count,) in rows)

    def _ends(self, which: str) -> Iterator[datetime]:
        """The first or the last time in each table that has any."""
        for table in _TIMED:
            query = f"SELECT {which}(wall_ms) FROM {table} WHERE wall_ms BETWEEN 0 AND ?"  # noqa: S608 - fixed text
            yield from (_moment(ms) for (ms,) in self._ask(query, (_YEAR_9999_MS,)) if isinstance(ms, int))

    def _between(
        self, columns: str, from_utc: datetime, to_utc: datetime | None
    ) -> Iterator[tuple[Any, ...]]:
        """Rows of a half-open time range, oldest first."""
        query = f"SELECT {columns} WHERE wall_ms >= ? AND wall_ms < ? ORDER BY wall_ms, run_id, mono_ms"
        times = (_milliseconds(from_utc), _LATEST_MS if to_utc is None else _milliseconds(to_utc))
        return self._ask(query, times)

    def _ask(self, query: str, values: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
        """Rows of any query."""
        with in_words(words.for_reading, self._path):
            yield from self._connection.execute(query, values)


def _text(stored: bytes) -> str:
    """A stored text, also if it no longer is UTF-8."""
    return stored.decode("utf-8", "replace")


def _change(*row: Any) -> RecordedChange:
    *when, kind, name, is_on, code, numbers, sentence = row
    output = OutputId(Kind(text(kind)), text(name))
    known = numbers_of(numbers)
    words_of_it = text(sentence) or _made_again(text(code), known)
    return RecordedChange(_when(*when), output, bool(is_on), text(code), known, words_of_it)


def _made_again(code: str, numbers: Mapping[str, float | str]) -> str:
    """The sentence of an old switching, in °C; the code alone if this release words it in another way."""
    try:
        return Reason(ReasonCode(code), numbers).sentence(TemperatureUnit.CELSIUS)
    except (ValueError, KeyError):
        return code


def _alarm(*row: Any) -> RecordedAlarm:
    *when, code, subject, priority, raised, detail = row
    known = int(number(priority))
    return RecordedAlarm(_when(*when), text(code), text(subject), known, bool(raised), text(detail))


def _event(*row: Any) -> RecordedEvent:
    *when, code, detail = row
    return RecordedEvent(_when(*when), text(code), text(detail))


def _milliseconds(at_utc: datetime) -> int:
    """Milliseconds since 1970, rounded down."""
    return (at_utc - _EPOCH) // timedelta(milliseconds=1)


def _when(run_id: int, mono_ms: int, wall_ms: int) -> When:
    """The three columns every row has."""
    return When(run_id, mono_ms / 1000, _moment(wall_ms))


def _moment(wall_ms: int) -> datetime:
    """Milliseconds since 1970 as a time."""
    return _EPOCH + timedelta(milliseconds=wall_ms)


def _why(word: str) -> Why:
    """Why there is no value; a word this release does not know still says that nothing was read."""
    return Why.__members__.get(word, Why.UNREADABLE)
