"""Rows that a failing card has altered: SQLite has no checksums, so the file as a whole still looks sound."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from controller.history.queries import History
from controller.history.thinning import thin
from controller.history.writer import HistoryWriter
from controller.readings.reading import Why
from controller.record.tally import DayTally, LoopTally, PumpTally

DAY = timedelta(days=1)
JUNK = (
    *("", "x", "[1", "{}", "[]", "null", '["a"]', "[true]", "[1e999]", '{"a": null}', "[" * 4000, "9" * 5000),
    *("[99999999999999999999]", b"\xff\xfe", b"[1500]", b"\x00", 1.5, -1, 2**62, float("inf")),
)
# Columns of 0 and 1 are left out: the check at opening sees those, and the file is set aside.
CELLS = {
    "readings": ("run_id", "mono_ms", "wall_ms", "span_s", "set_id", "milli_c"),
    "probe_sets": ("names",),
    "changes": ("run_id", "mono_ms", "wall_ms", "kind", "name", "code", "numbers", "sentence"),
    "alarms": ("mono_ms", "wall_ms", "code", "subject", "priority", "detail"),
    "events": ("mono_ms", "wall_ms", "code", "detail"),
    "days": ("mono_ms", "wall_ms", "date", "covered_s", "air_min_c", "air_max_c"),
    "day_loops": ("name", "run_s", "starts", "electricity_j", "banked_j", "returned_j"),
    "day_pumps": ("name", "run_s", "starts", "electricity_j"),
}
ALL = [(table, column) for table, columns in CELLS.items() for column in columns]


@pytest.fixture
def filled(path, clock, writer, tick, change, alarm):
    """A file with an hour of readings and something in every other table."""
    day = DayTally("2026-03-01", 60.0, 1.0, 2.0, {"north": LoopTally()}, {"east": PumpTally()})
    probes = {"ceiling": 21.5, "soil": Why.SILENT}
    writer.observe(tick(probes, changes=[change()], alarms=[alarm()], today=day))
    for _ in range(6):
        clock.advance(300)
        writer.observe(tick(probes, today=day))
    assert writer.close()
    return path


def alter(path: Path, table: str, column: str, junk: object, which: str = "1") -> None:
    """Put something else into a cell, past every check."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute(f"UPDATE {table} SET {column} = ? WHERE {which}", (junk,))  # noqa: S608


def everything(path, clock):
    """What each query gives, and how many rows it could not understand."""
    begin, end = clock.wall - 9 * DAY, clock.wall + 9 * DAY
    with History(path) as history:
        found = [list(ask(begin, end)) for ask in (history.samples, history.changes, history.alarms)]
        found += [list(history.events(begin, end)), list(history.days(begin.date(), end.date()))]
        return found, history.damaged_rows


@given(cell=st.sampled_from(ALL), junk=st.sampled_from(JUNK))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_a_cell_holds_is_read_thinned_and_written_to(filled_copy, cell, junk):
    """No altered cell ends a query, the thinning or the writing in an error."""
    path, clock = filled_copy()
    alter(path, *cell, junk)
    everything(path, clock)
    thin(path, clock.wall + 30 * DAY, keep_fine_days=1)
    assert not thin(path, clock.wall + 30 * DAY, keep_fine_days=1).rows
    everything(path, clock)
    writer = HistoryWriter(path, clock, "boot-b")
    assert writer.write_now()
    assert writer.findings() == ()
    assert writer.close()


@pytest.fixture
def filled_copy(filled, clock):
    """Gives a fresh copy of the filled file each time."""

    def copy():
        beside = Path(tempfile.mkdtemp(dir=filled.parent)) / "h.sqlite3"
        shutil.copy(filled, beside)
        return beside, clock

    return copy


@pytest.mark.parametrize(
    "junk", ["[1", b"\xff\xfe", "[]", "[1500]", '[1500,{"a":1}]', "[true,1500]", "[1e9,1]"]
)
def test_an_altered_reading_is_left_out_and_counted(filled, clock, junk):
    """The row that cannot be understood is missing, it is counted, and all others come."""
    (before, *_), none = everything(filled, clock)
    alter(filled, "readings", "milli_c", junk, "reading_id = 2")
    (after, *_), damaged = everything(filled, clock)
    assert (none, damaged) == (0, 1)
    assert after == [before[0], *before[2:]]


def test_values_of_a_set_that_nobody_knows_any_more_are_left_out(filled, clock):
    """Without the names of its probes no row of a set can be read; each is counted, and so is the set."""
    (before, *_), _ = everything(filled, clock)
    alter(filled, "probe_sets", "names", "[1")
    (after, *_), damaged = everything(filled, clock)
    assert (after, damaged) == ([], len(before) + 1)


def test_an_hour_with_an_altered_row_becomes_the_mean_of_the_others(filled, clock):
    """What cannot be understood counts for nothing, stays as it is, and is not thinned again."""
    (before, *_), _ = everything(filled, clock)
    alter(filled, "readings", "milli_c", "[9", "reading_id = 2")
    done = thin(filled, clock.wall + 30 * DAY, keep_fine_days=1)
    (after, *_), damaged = everything(filled, clock)
    assert (done.means, done.rows, damaged) == (1, len(before), 1)
    assert [sample.span_s for sample in after] == [3600]
    assert after[0].when == before[0].when
    with closing(sqlite3.connect(filled)) as connection:
        assert connection.execute("SELECT milli_c FROM readings WHERE reading_id = 2").fetchall() == [("[9",)]


def test_a_row_of_a_run_that_never_was_does_not_stop_the_thinning(filled, clock):
    """The hour keeps its run, whatever it is called, and later weeks are thinned as before."""
    alter(filled, "readings", "run_id", 77, "reading_id = 1")
    assert thin(filled, clock.wall + 30 * DAY, keep_fine_days=1).means == 2
    assert thin(filled, clock.wall + 30 * DAY, keep_fine_days=1).rows == 0
