"""Makes old history smaller: hourly means of readings, and switchings without the sentence.

The sentence of a switching follows from its code and numbers, which stay (``queries`` makes it again).
"""

from __future__ import annotations

import contextlib
import json
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from statistics import fmean
from typing import TYPE_CHECKING

from controller.history import words
from controller.history.cells import AlteredError, values_of
from controller.history.database import in_words, open_for_writing

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from controller.history.database import Connection

HOUR_MS = 3_600_000
# One call a day has to keep up with 24 hours; two weeks at a time also catch up after a long pause.
MOST_HOURS = 336
# Free pages given back to the file system in one call: 4 MB at most.
MOST_PAGES = 1000
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Thinned:
    """What one call did: hourly means made, rows they stand for, and whether older fine rows are left."""

    means: int
    rows: int
    more: bool


def thin(path: Path, now_utc: datetime, keep_fine_days: int, most_hours: int = MOST_HOURS) -> Thinned:
    """Replace readings older than ``keep_fine_days`` by hourly means, at most ``most_hours`` of them.

    The sentences of switchings go with the readings of their hours.

    Call it only when the clock is set. The oldest rows come first, and all of a call is one transaction, so
    that a kill in the middle loses nothing.

    Raises:
        controller.history.database.StorageError: the file cannot be written now, or is damaged or newer (the
            writer sets it aside then).
    """
    limit_ms = (now_utc - timedelta(days=keep_fine_days) - _EPOCH) // timedelta(milliseconds=1)
    limit_ms -= limit_ms % HOUR_MS
    with in_words(words.for_writing, path), contextlib.closing(open_for_writing(path)) as connection:
        connection.text_factory = bytes  # a damaged text may be none
        connection.execute("BEGIN IMMEDIATE")  # undone by closing, should anything fail before the commit
        thinned = _thin_hours(connection, limit_ms, most_hours)
        connection.execute("COMMIT")
        # Each step of this statement frees one page, and only executescript() steps it to its end.
        connection.executescript(f"PRAGMA incremental_vacuum({MOST_PAGES});")
    return thinned


def mean_of(rows: Sequence[Sequence[int | str]]) -> list[int | str]:
    """The mean of each probe over the rows; a probe without any value keeps its commonest reason."""
    columns = zip(*rows, strict=True)
    return [_mean_of_one(column) for column in columns]


def _mean_of_one(column: Sequence[int | str]) -> int | str:
    """The mean of one probe in thousandths of a degree, or why it is missing."""
    values = [value for value in column if isinstance(value, int)]
    if values:
        return round(fmean(values))
    return Counter(column).most_common(1)[0][0]


def _thin_hours(connection: Connection, limit_ms: int, most_hours: int) -> Thinned:
    """Thin the oldest hours before the limit."""
    hours = connection.execute(
        "SELECT run_id, set_id, wall_ms / ?1 AS hour FROM readings WHERE wall_ms < ?2 AND span_s = 0"
        " GROUP BY hour, run_id, set_id ORDER BY hour LIMIT ?3",
        (HOUR_MS, limit_ms, most_hours + 1),
    ).fetchall()
    rows = sum(_thin_hour(connection, *hour) for hour in hours[:most_hours])
    if hours:
        *_, first = hours[0]
        *_, last = hours[:most_hours][-1]
        connection.execute(
            "UPDATE changes SET sentence = '' WHERE wall_ms >= ? AND wall_ms < ?",
            (first * HOUR_MS, (last + 1) * HOUR_MS),
        )
    return Thinned(min(len(hours), most_hours), rows, more=len(hours) > most_hours)


def _thin_hour(connection: Connection, run_id: int, set_id: int, hour: int) -> int:
    """Let the first row of an hour hold the mean of all and delete the others; return how many there were.

    A row that a failing card has altered beyond understanding is kept as it is and not looked at again.
    """
    found = connection.execute(
        "SELECT reading_id, milli_c FROM readings WHERE wall_ms >= ? AND wall_ms < ? AND run_id IS ?"
        " AND set_id IS ? AND span_s = 0 ORDER BY wall_ms",
        (hour * HOUR_MS, (hour + 1) * HOUR_MS, run_id, set_id),
    ).fetchall()
    rows = _understood(found)
    if rows:
        first, *rest = rows
        mean = json.dumps(mean_of(list(rows.values())), separators=(",", ":"))
        connection.execute("UPDATE readings SET milli_c = ? WHERE reading_id = ?", (mean, first))
        connection.executemany("DELETE FROM readings WHERE reading_id = ?", [(row,) for row in rest])
    done = [(row,) for row, _ in found]
    connection.executemany("UPDATE readings SET span_s = 3600 WHERE reading_id = ?", done)
    return len(found)


def _understood(found: Sequence[tuple[int, object]]) -> dict[int, list[int | str]]:
    """The values of the rows that hold as many as most of them do, by row."""
    rows: dict[int, list[int | str]] = {}
    for row, cell in found:
        with contextlib.suppress(AlteredError):
            rows[row] = values_of(cell)
    usual = Counter(map(len, rows.values())).most_common(1)
    return {row: values for row, values in rows.items() if len(values) == usual[0][0]}
