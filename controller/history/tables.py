"""The history as plain tables for other programs: one row a probe and time, SI units in the names of columns.

The views of the same names in the file (migrations/0002_views.sql) show the same rows to SQL. Here damaged
rows are left out and counted, and a range is read in short stretches, so that neither memory nor the file is
held for long, however many years it spans.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from controller.history.story import URGENCY
from controller.readings.reading import Why

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from controller.history.queries import History
    from controller.record.tally import DayTally

    Rows = Iterator[tuple["Cell", ...]]

Cell = str | float | int | bool | datetime | date | None

# Some thousand readings at a time: a second of reading on a slow board. [practice]
STRETCH = timedelta(days=7)
STRETCH_OF_DAYS = timedelta(days=100)
A_MOMENT = timedelta(milliseconds=1)
NO_AIR = "no air probe could be read"


@dataclass(frozen=True, slots=True)
class Table:
    """One table.

    Attributes:
        name: of the table, and of the view that shows the same.
        columns: kind of what each column holds, by its name; any cell may be None.
        rows: the rows of a half-open range of time, oldest first; raises StorageError while they are fetched
            if the file cannot be read.
    """

    name: str
    columns: Mapping[str, type]
    rows: Callable[[History, datetime, datetime], Rows]


def _by_time(
    within: Callable[[History, datetime, datetime], Rows],
) -> Callable[[History, datetime, datetime], Rows]:
    """A table of moments, a stretch at a time."""

    def rows(history: History, from_utc: datetime, to_utc: datetime) -> Rows:
        while from_utc < to_utc:
            until_utc = min(from_utc + STRETCH, to_utc)
            yield from list(within(history, from_utc, until_utc))
            from_utc = until_utc

    return rows


def _by_date(of_days: Callable[[Iterable[DayTally]], Rows]) -> Callable[[History, datetime, datetime], Rows]:
    """A table of days: every date of this machine of which some part lies in the range."""

    def rows(history: History, from_utc: datetime, to_utc: datetime) -> Rows:
        first, last = from_utc.astimezone().date(), (to_utc - A_MOMENT).astimezone().date()
        while first <= last:
            until = min(first + STRETCH_OF_DAYS, last)
            yield from of_days(history.days(first, until))
            first = until + timedelta(days=1)

    return rows


def _temperatures(history: History, from_utc: datetime, to_utc: datetime) -> Rows:
    for sample in history.samples(from_utc, to_utc):
        at_utc, span_s = sample.when.at_utc, sample.span_s
        for probe, value in sample.values.items():
            if isinstance(value, Why):
                yield at_utc, probe, None, value.value, span_s
            else:
                yield at_utc, probe, value, None, span_s


def _switchings(history: History, from_utc: datetime, to_utc: datetime) -> Rows:
    for change in history.changes(from_utc, to_utc):
        output = change.output
        numbers = json.dumps(dict(change.numbers), separators=(",", ":"), ensure_ascii=False)
        yield (
            change.when.at_utc,
            output.kind.value,
            output.name,
            change.on,
            change.code,
            change.sentence,
            numbers,
        )


def _alarm_log(history: History, from_utc: datetime, to_utc: datetime) -> Rows:
    for alarm in history.alarms(from_utc, to_utc):
        urgency = URGENCY.get(alarm.priority, "")
        yield alarm.when.at_utc, alarm.code, alarm.subject, urgency, alarm.raised, alarm.detail


def _event_log(history: History, from_utc: datetime, to_utc: datetime) -> Rows:
    for event in history.events(from_utc, to_utc):
        yield event.when.at_utc, event.code, event.detail


def _daily(days: Iterable[DayTally]) -> Rows:
    for day in days:
        yield (
            _date(day.date),
            round(day.covered_s, 1),
            day.air_min_c,
            day.air_max_c,
            NO_AIR if day.air_min_c is None else None,
            round(day.electricity_j, 1),
            round(day.banked_j, 1),
            round(day.returned_j, 1),
        )


def _daily_loops(days: Iterable[DayTally]) -> Rows:
    for day in days:
        for name, t in sorted(day.loops.items()):
            sums = (t.electricity_j, t.banked_j, t.returned_j)
            yield (
                _date(day.date),
                name,
                round(t.run_s, 1),
                int(t.starts),
                *(round(joules, 1) for joules in sums),
            )


def _daily_pumps(days: Iterable[DayTally]) -> Rows:
    for day in days:
        for name, t in sorted(day.pumps.items()):
            yield _date(day.date), name, round(t.run_s, 1), int(t.starts), round(t.electricity_j, 1)


def _date(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


_MOTOR = {"run_s": float, "starts": int, "electricity_j": float}
_HEAT = {"banked_j": float, "returned_j": float}
_AIR = {"covered_s": float, "air_min_c": float, "air_max_c": float, "missing_because": str}

TABLES = (
    Table(
        "temperatures",
        {
            "at_utc": datetime,
            "probe": str,
            "temperature_c": float,
            "missing_because": str,
            "averaged_over_s": int,
        },
        _by_time(_temperatures),
    ),
    Table(
        "switchings",
        {
            "at_utc": datetime,
            "kind": str,
            "name": str,
            "is_on": bool,
            "reason": str,
            "sentence": str,
            "numbers": str,
        },
        _by_time(_switchings),
    ),
    Table(
        "alarm_log",
        {"at_utc": datetime, "code": str, "subject": str, "urgency": str, "raised": bool, "detail": str},
        _by_time(_alarm_log),
    ),
    Table("event_log", {"at_utc": datetime, "code": str, "detail": str}, _by_time(_event_log)),
    Table("daily", {"date": date, **_AIR, "electricity_j": float, **_HEAT}, _by_date(_daily)),
    Table("daily_loops", {"date": date, "loop": str, **_MOTOR, **_HEAT}, _by_date(_daily_loops)),
    Table("daily_pumps", {"date": date, "sump": str, **_MOTOR}, _by_date(_daily_pumps)),
)
