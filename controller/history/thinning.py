"""Makes old readings coarser: hourly means instead of one row every few minutes."""

from __future__ import annotations

import contextlib
import json
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from statistics import fmean
from typing import TYPE_CHECKING

from controller.history import words
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

    Call it only when the clock is set. The oldest rows come first, and all of a call is one transaction, so
    that a kill in the middle loses nothing.

    Raises:
        controller.history.database.StorageError: the file cannot be written now, or is damaged or newer (the
            writer sets it aside then).
    """
    limit_ms = (now_utc - timedelta(days=keep_fine_days) - _EPOCH) // timedelta(milliseconds=1)
    limit_ms -= limit_ms % HOUR_MS
    with in_words(words.for_writing, path), contextlib.closing(open_for_writing(path)) as connection:
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
    """The mean of one probe in thousandths of a degree, or why there is none."""
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
    return Thinned(min(len(hours), most_hours), rows, more=len(hours) > most_hours)


def _thin_hour(connection: Connection, run_id: int, set_id: int, hour: int) -> int:
    """Replace the rows of one hour by their mean, stamped as the first of them; return how many."""
    where = "WHERE wall_ms >= ? AND wall_ms < ? AND run_id = ? AND set_id = ? AND span_s = 0"
    key = (hour * HOUR_MS, (hour + 1) * HOUR_MS, run_id, set_id)
    found = connection.execute(
        f"SELECT mono_ms, wall_ms, milli_c FROM readings {where} ORDER BY wall_ms",  # noqa: S608 - fixed text
        key,
    ).fetchall()
    mono_ms, wall_ms, _ = found[0]
    mean = json.dumps(mean_of([json.loads(milli_c) for *_, milli_c in found]), separators=(",", ":"))
    connection.execute(f"DELETE FROM readings {where}", key)  # noqa: S608 - fixed text
    connection.execute(
        "INSERT INTO readings (run_id, mono_ms, wall_ms, span_s, set_id, milli_c)"
        " VALUES (?, ?, ?, 3600, ?, ?)",
        (run_id, mono_ms, wall_ms, set_id, mean),
    )
    return len(found)
