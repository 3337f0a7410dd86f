"""The SQL behind each kind of row."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from controller.history.rows import AlarmRow, ChangeRow, DayRow, EventRow, ReadingRow

if TYPE_CHECKING:
    from controller.history.database import Connection
    from controller.history.rows import Row

_TABLES_WITH_TIME = ("readings", "changes", "alarms", "events", "days")


def begin_run(connection: Connection, boot_id: str, mono_ms: int) -> int:
    """Write down that a run began and return its number."""
    cursor = connection.execute(
        "INSERT INTO runs (boot_id, started_mono_ms) VALUES (?, ?) RETURNING run_id", (boot_id, mono_ms)
    )
    (run_id,) = cursor.fetchone()
    return int(run_id)


def insert(connection: Connection, run_id: int, row: Row) -> None:
    """Insert one row; the caller holds the transaction."""
    when = (run_id, row.at.mono_ms, row.at.wall_ms)
    match row:
        case ReadingRow():
            _insert_reading(connection, when, row)
        case ChangeRow():
            connection.execute(
                "INSERT INTO changes (run_id, mono_ms, wall_ms, kind, name, is_on, code, numbers, sentence)"
                " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (*when, row.kind, row.name, int(row.is_on), row.code, row.numbers, row.sentence),
            )
        case AlarmRow():
            connection.execute(
                "INSERT INTO alarms (run_id, mono_ms, wall_ms, code, subject, priority, raised, detail)"
                " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                (*when, row.code, row.subject, row.priority, int(row.raised), row.detail),
            )
        case EventRow():
            connection.execute(
                "INSERT INTO events (run_id, mono_ms, wall_ms, code, detail) VALUES (?, ?, ?, ?, ?)",
                (*when, row.code.value, row.detail),
            )
        case DayRow():
            _insert_day(connection, when, row)


def fill_wall_times(connection: Connection, boot_id: str, run_id: int, wall_less_mono_ms: int) -> None:
    """Give rows from before the clock was set their wall time.

    Monotonic time is shared by all runs of one boot (clock_gettime(2), CLOCK_MONOTONIC), so earlier runs of
    the same boot are filled too; a boot without a name stands for this run only.
    """
    for table in _TABLES_WITH_TIME:
        connection.execute(
            f"UPDATE {table} SET wall_ms = mono_ms + ? WHERE wall_ms IS NULL AND run_id IN"  # noqa: S608 - fixed names
            " (SELECT run_id FROM runs WHERE run_id = ? OR (boot_id = ? AND boot_id <> ''))",
            (wall_less_mono_ms, run_id, boot_id),
        )


def _insert_reading(connection: Connection, when: tuple[int, int, int | None], row: ReadingRow) -> None:
    """All probes in one row; their names are kept once for every set of probes."""
    names = json.dumps(row.probes, separators=(",", ":"))
    connection.execute("INSERT OR IGNORE INTO probe_sets (names) VALUES (?)", (names,))
    connection.execute(
        "INSERT INTO readings (run_id, mono_ms, wall_ms, set_id, milli_c)"
        " SELECT ?, ?, ?, set_id, ? FROM probe_sets WHERE names = ?",
        (*when, row.milli_c, names),
    )


def _insert_day(connection: Connection, when: tuple[int, int, int | None], row: DayRow) -> None:
    """Replace the unfinished day of this run."""
    run_id, tally = when[0], row.tally
    connection.execute("DELETE FROM days WHERE run_id = ? AND finished = 0", (run_id,))
    cursor = connection.execute(
        "INSERT INTO days (run_id, mono_ms, wall_ms, date, finished, covered_s, air_min_c, air_max_c)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING day_id",
        (*when, tally.date, int(row.finished), tally.covered_s, tally.air_min_c, tally.air_max_c),
    )
    (day_id,) = cursor.fetchone()
    connection.executemany(
        "INSERT INTO day_loops (day_id, name, run_s, starts, electricity_j, banked_j, returned_j)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        [
            (day_id, name, loop.run_s, loop.starts, loop.electricity_j, loop.banked_j, loop.returned_j)
            for name, loop in tally.loops.items()
        ],
    )
    connection.executemany(
        "INSERT INTO day_pumps (day_id, name, run_s, starts, electricity_j) VALUES (?, ?, ?, ?, ?)",
        [(day_id, name, pump.run_s, pump.starts, pump.electricity_j) for name, pump in tally.pumps.items()],
    )
