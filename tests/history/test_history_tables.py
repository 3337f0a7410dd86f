"""The history as tables: the views of the file and the tables of an export show the same."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, date, datetime

import pytest

from controller.history import database
from controller.history.queries import History
from controller.history.tables import TABLES
from controller.readings.reading import Why
from controller.record.tally import DayTally, LoopTally, PumpTally

DAY = DayTally(
    "2026-03-01",
    86_000.0,
    -1.5,
    24.0,
    {"north": LoopTally(3600.0, 2, 432_000.0, 7.2e6, 1.5)},
    {"main": PumpTally(120.0, 1, 48_000.0)},
)


@pytest.fixture
def full(path, clock, writer, tick, change, alarm):
    """A history with something in every table: every cause of a missing value, and a day of two runs."""
    causes = {why.name.lower(): why for why in Why}
    for _ in range(3):
        writer.observe(
            tick({"ceiling": 21.5, "bench": -0.062, **causes}, changes=[change()], alarms=[alarm()])
        )
        clock.advance(300)
    writer.observe(tick(finished_day=DAY, today=DAY._replace(air_min_c=None, air_max_c=None)))
    writer.observe(tick(finished_day=DAY))
    clock.wall = None
    assert writer.close()
    return path


def shown(path, name):
    """The rows of a view without its last column, which is for finding a range quickly."""
    with closing(sqlite3.connect(path)) as connection:
        cursor = connection.execute(f"SELECT * FROM {name}")  # noqa: S608 - a name from the table of tables
        columns = [column for column, *_ in cursor.description]
        rows = [dict(zip(columns, row, strict=True)) for row in cursor]
    for row in rows:
        row.pop("wall_ms", None)
    return rows


def exported(path, table):
    """The rows of a table as SQL would show them."""

    def plain(cell):
        if isinstance(cell, datetime):
            return cell.strftime("%Y-%m-%dT%H:%M:%SZ")
        return cell.isoformat() if isinstance(cell, date) else cell

    with History(path) as history:
        rows = list(table.rows(history, datetime(2026, 2, 1, tzinfo=UTC), datetime(2026, 4, 1, tzinfo=UTC)))
        assert history.damaged_rows == 0
    return [dict(zip(table.columns, map(plain, row), strict=True)) for row in rows]


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_a_view_and_the_table_of_its_name_show_the_same(full, table):
    """Same columns, same rows, same words for what is missing."""
    rows = exported(full, table)
    assert rows
    assert rows == shown(full, table.name)


def test_a_missing_value_is_empty_and_has_its_cause(full):
    """Each probe has a row of its own at each time, with a temperature or with the reason for none."""
    rows = exported(full, TABLES[0])
    assert len(rows) == 3 * (2 + len(Why)) + 1
    assert {row["probe"]: row["temperature_c"] for row in rows[:2]} == {"ceiling": 21.5, "bench": -0.062}
    assert [row["missing_because"] for row in rows[2 : 2 + len(Why)]] == [why.value for why in Why]
    assert all((row["temperature_c"] is None) != (row["missing_because"] is None) for row in rows)


def test_the_runs_of_a_day_add_up(full):
    """Two runs of one day are one row of their table."""
    (day,) = exported(full, next(table for table in TABLES if table.name == "daily"))
    assert (day["covered_s"], day["banked_j"], day["air_min_c"]) == (2 * 86_000.0, 14.4e6, -1.5)


def test_a_range_is_read_in_stretches_without_a_gap(path, clock, writer, tick):
    """Rows of forty days come once each and in order, wherever a stretch ends."""
    for _ in range(40 * 24):
        writer.observe(tick())
        clock.advance(3600)
    assert writer.close()
    rows = exported(path, TABLES[0])
    assert len(rows) == 31 * 24 - 6
    assert [row["at_utc"] for row in rows] == sorted({row["at_utc"] for row in rows})


def test_views_survive_rows_that_a_card_has_altered(full):
    """A reading that is no list any more is left out; the others are shown."""
    with closing(sqlite3.connect(full)) as connection, connection:
        connection.execute("UPDATE readings SET milli_c = '[21,' WHERE reading_id = 1")
    assert len(shown(full, "temperatures")) == 2 * (2 + len(Why)) + 1


def test_a_file_of_the_first_release_gets_the_views_and_keeps_its_rows(full, monkeypatch, tmp_path):
    """A history without views is brought up to date when the controller opens it; reading needs no views."""
    folder = tmp_path / "first"
    folder.mkdir()
    (first,) = (file for file in database.migrations() if file.name.startswith("0001"))
    (folder / first.name).write_bytes(first.read_bytes())
    old = tmp_path / "old.sqlite3"
    with monkeypatch.context() as before:
        before.setattr(database, "MIGRATIONS", folder)
        with pytest.raises(database.NewerVersionError):
            database.open_for_writing(full)  # the older release refuses the newer file, and sets it aside
        with closing(database.open_for_writing(old)) as connection:
            connection.execute("INSERT INTO runs (boot_id, started_mono_ms) VALUES ('a', 1)")
            connection.execute(
                "INSERT INTO events (run_id, mono_ms, wall_ms, code, detail)"
                " VALUES (1, 1, 1772600000000, 'start', '')"
            )
    events = next(table for table in TABLES if table.name == "event_log")
    assert len(exported(old, events)) == 1
    database.open_for_writing(old).close()
    assert shown(old, "event_log") == exported(old, events)
