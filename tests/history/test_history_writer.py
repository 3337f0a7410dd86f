"""Writing beside the control loop, whatever the card does."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing, contextmanager
from datetime import timedelta
from pathlib import Path

import pytest

from controller.diagnosis.alarms import Alarm, AlarmEvent
from controller.faults import FaultCode, Priority
from controller.history import writer as writing
from controller.history.rows import EventCode
from controller.history.writer import HANGS_AFTER_S, LONGEST_RETRY_S, HistoryWriter, pause_s
from controller.record.tally import DayTally, LoopTally


def ask(path, query):
    """All rows of a query."""
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(query).fetchall()


def detail(writer) -> str:
    """The one thing that is wrong with the storage."""
    (finding,) = writer.findings()
    assert finding.code is FaultCode.STORAGE
    return finding.detail


@contextmanager
def unprivileged():
    """Be a user who may not write everywhere, also where the tests run as root."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


def test_what_was_observed_is_in_the_file_after_writing(path, clock, writer, tick, change, alarm):
    """Readings, changes, alarms, events and the day all arrive."""
    writer.observe(tick({"ceiling": 21.5}, changes=[change()], alarms=[alarm()]))
    clock.advance(10)
    assert writer.close()
    assert writer.findings() == ()
    assert ask(path, "SELECT milli_c, wall_ms - mono_ms FROM readings") == [
        ("[21500]", 1772344800000 - 1000000)
    ]
    assert ask(path, "SELECT kind, name, is_on, code FROM changes") == [("fan", "north", 1, "cool")]
    assert ask(path, "SELECT code, raised FROM alarms") == [("frost", 1)]
    assert ask(path, "SELECT code, mono_ms FROM events") == [
        ("start", 1000000),
        ("clock-set", 1000000),
        ("stop", 1010000),
    ]
    assert ask(path, "SELECT finished FROM days") == [(0,)]


def test_readings_are_written_together_and_a_change_at_once(path, clock, writer, tick, change):
    """A quiet half an hour costs one write, the sums of the day included; a change takes along what waits."""
    counts = []
    for n in range(15):
        writer.observe(tick(changes=[change()] if n == 8 else []))
        assert writer.write_if_due()
        counts += ask(path, "SELECT count(*) FROM readings")[0]
        clock.advance(300)
    assert (
        counts == [1] * 6 + [7, 7] + [9] * 5 + [14] * 2
    )  # the sums of the hour are the fifth row that waits
    writer.close()


def test_rows_from_before_the_clock_was_set_get_their_time(path, clock, writer, tick, change):
    """Once the date is known, earlier rows of this boot get theirs, whether written or still waiting."""
    wall, clock.wall = clock.wall, None
    writer.observe(tick(changes=[change()]))
    assert writer.write_now()
    assert ask(path, "SELECT wall_ms FROM changes") == [(None,)]
    clock.advance(300)
    writer.observe(tick(changes=[change(on=False)]))
    clock.advance(300)
    clock.wall = wall
    writer.observe(tick())
    assert writer.write_now()
    offset_ms = round(wall.timestamp() * 1000) - 1_600_000
    for table in ("readings", "changes", "events"):
        query = f"SELECT DISTINCT wall_ms - mono_ms FROM {table}"  # noqa: S608 - one of three names
        assert ask(path, query) == [(offset_ms,)]


def test_an_earlier_run_of_the_same_boot_gets_its_time_too(path, clock, tick):
    """A restart before the clock was set loses nothing, and another boot is not touched."""
    wall, clock.wall = clock.wall, None
    for boot in ("boot-0", "boot-a"):
        earlier = HistoryWriter(path, clock, boot)
        earlier.observe(tick())
        assert earlier.close()
    clock.advance(60)
    clock.wall = wall
    now = HistoryWriter(path, clock, "boot-a")
    now.observe(tick())
    assert now.close()
    filled = ask(
        path, "SELECT boot_id, count(wall_ms) FROM readings JOIN runs USING (run_id) GROUP BY boot_id"
    )
    assert filled == [("boot-0", 0), ("boot-a", 2)]


def test_a_jump_of_the_clock_changes_no_earlier_row_and_no_duration(path, clock, writer, tick):
    """A year forward and back again: five minutes stay five minutes and no row is lost."""
    for step in (timedelta(), timedelta(days=365), timedelta(days=-365)):
        clock.wall += step
        writer.observe(tick())
        clock.advance(300)
        assert writer.write_now()
    assert ask(path, "SELECT mono_ms FROM readings ORDER BY reading_id") == [
        (1000000,),
        (1300000,),
        (1600000,),
    ]
    assert ask(path, "SELECT count(*) FROM events WHERE code = 'clock-stepped'") == [(2,)]


def test_the_row_of_an_unfinished_day_is_replaced(path, clock, writer, tick):
    """Hourly saves of a day leave one row, the latest; the finished day takes its place."""
    for hour in range(4):
        writer.observe(
            tick(today=DayTally("2026-03-01", 3600.0 * hour, loops={"north": LoopTally(60.0 * hour)}))
        )
        writer.write_now()
        clock.advance(3600)
    assert ask(path, "SELECT covered_s, finished FROM days") == [(10800.0, 0)]
    assert ask(path, "SELECT run_s FROM day_loops") == [(180.0,)]
    writer.observe(tick(finished_day=DayTally("2026-03-01", 14000.0), today=DayTally("2026-03-02", 0.0)))
    assert writer.close()
    assert ask(path, "SELECT date, covered_s, finished FROM days ORDER BY day_id") == [
        ("2026-03-01", 14000.0, 1),
        ("2026-03-02", 0.0, 0),
    ]
    assert ask(path, "SELECT count(*) FROM day_loops") == [(0,)]


def test_a_damaged_file_is_kept_and_a_new_one_begun(path, writer, tick):
    """The damaged file is renamed, the row is written, and the finding stays until the file is moved away."""
    path.write_bytes(b"\xa5" * 20000)
    writer.observe(tick())
    assert writer.write_now()
    aside = path.with_name("history.sqlite3.damaged-1")
    assert aside.read_bytes() == b"\xa5" * 20000
    assert "damaged-1" in detail(writer)
    assert ask(path, "SELECT count(*) FROM readings") == [(1,)]
    aside.unlink()
    writer.write_now()
    assert writer.findings() == ()


def test_damage_while_running_is_found_and_nothing_waiting_is_lost(path, clock, writer, tick, change):
    """Bytes overwritten under the running program end in a new file that holds the rows that were waiting."""
    writer.observe(tick())
    assert writer.write_now()
    with path.open("r+b") as file:
        file.write(b"\xa5" * path.stat().st_size)
    for companion in ("-wal", "-shm"):
        other = path.with_name(path.name + companion)
        other.write_bytes(b"\xa5" * other.stat().st_size)
    for _ in range(4):
        clock.advance(300)
        writer.observe(tick(changes=[change()]))
        writer.write_now()
    assert "damaged-1" in detail(writer)
    assert ask(path, "SELECT count(*) FROM changes") == [(4,)]
    writer.close()


def test_a_newer_file_is_kept_and_a_new_one_begun(path, writer, tick):
    """A file of a newer release is renamed, not deleted, and the finding says what to do."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA user_version = 99")
    writer.observe(tick())
    assert writer.write_now()
    assert ask(path.with_name("history.sqlite3.newer-1"), "PRAGMA user_version") == [(99,)]
    assert "newer release" in detail(writer)


def test_another_programs_file_is_left_alone_and_said(path, writer, tick):
    """Somebody else's database is neither written nor moved."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE theirs (x)")
    before = path.read_bytes()
    writer.observe(tick())
    assert not writer.write_now()
    assert "another program" in detail(writer)
    assert path.read_bytes() == before


def test_a_full_card_is_said_and_made_good_when_there_is_room(path, clock, writer, tick, change):
    """While nothing fits, memory holds; when there is room again, all of it is written."""
    writer.observe(tick())
    assert writer.write_now()
    pages = writer._connection.execute("PRAGMA page_count").fetchone()[0]
    writer._connection.execute(f"PRAGMA max_page_count = {pages}")
    for _ in range(200):
        clock.advance(300)
        writer.observe(tick({f"probe-{n}": 20.0 for n in range(13)}, changes=[change()]))
    assert not writer.write_now()
    assert "no room left" in detail(writer)
    # The limit went with the connection: the next attempt has room.
    assert writer.write_now()
    assert writer.findings() == ()
    assert ask(path, "SELECT count(*) FROM changes") == [(200,)]
    writer.close()


def test_memory_stays_bounded_and_the_loss_is_counted_and_written(path, clock, tick, change):
    """With no folder, readings are dropped first; later the file says how many rows are missing."""
    missing = path.parent / "not-mounted" / "history.sqlite3"
    writer = HistoryWriter(missing, clock, "boot-a", backlog_rows=30)
    for n in range(50):
        writer.observe(tick(changes=[change()] if n < 20 else []))
        clock.advance(300)
    assert not writer.write_now()
    assert "does not exist" in detail(writer)
    assert "rows of history are lost" in detail(writer)
    missing.parent.mkdir()
    assert writer.close()
    assert ask(missing, "SELECT count(*) FROM changes") == [(20,)]
    (readings,) = ask(missing, "SELECT count(*) FROM readings")[0]
    lost = ask(missing, "SELECT detail FROM events WHERE code = 'rows-dropped'")
    assert 0 < readings < 10
    assert len(lost) == 1


def test_a_folder_that_may_not_be_written_is_said_in_plain_words(tmp_path, clock, tick):
    """Without the right to write, the finding says whom the folder has to belong to, and no tick fails."""
    folder = (
        tmp_path if os.geteuid() else Path(tempfile.mkdtemp())
    )  # root's test folders are closed to others
    folder.chmod(0o555)
    writer = HistoryWriter(folder / "history.sqlite3", clock, "boot-a")
    with unprivileged():
        writer.observe(tick())
        assert not writer.write_now()
    assert "cannot be written" in detail(writer)
    assert "belong to the user" in detail(writer)
    folder.chmod(0o755)
    assert writer.close()
    shutil.rmtree(folder)


def test_a_locked_file_is_waited_for(path, clock, writer, tick, monkeypatch):
    """While another program holds the file, rows wait; afterwards they are written."""
    monkeypatch.setattr("controller.history.database.BUSY_TIMEOUT_S", 0.01)
    writer.observe(tick())
    assert writer.write_now()
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        clock.advance(300)
        writer.observe(tick())
        writer._backlog.count_dropped(7)
        assert not writer.write_now()
        assert "held by another program" in detail(writer)
        assert "7 rows of history are lost" in detail(writer)
        other.execute("ROLLBACK")
    assert writer.write_now()
    assert ask(path, "SELECT count(*) FROM readings") == [(2,)]
    assert ask(path, "SELECT detail FROM events WHERE code = 'rows-dropped'") == [("7 rows",)]
    writer.close()


def test_the_count_of_lost_rows_survives_a_write_that_fails(path, clock, writer, tick):
    """When the row that reports the loss does not fit either, it comes with the next write."""
    writer.observe(tick())
    assert writer.write_now()
    pages = writer._connection.execute("PRAGMA page_count").fetchone()[0]
    writer._connection.execute(f"PRAGMA max_page_count = {pages}")
    writer._backlog.count_dropped(7)
    for _ in range(50):
        clock.advance(300)
        writer.observe(tick({f"probe-{n}": 20.0 for n in range(13)}))
    assert not writer.write_now()
    assert writer.close()
    assert ask(path, "SELECT detail FROM events WHERE code = 'rows-dropped'") == [("7 rows",)]


def test_a_clock_that_is_lost_again_leaves_no_row_without_a_time(path, clock, writer, tick, change):
    """When the date becomes unknown for a while, those rows get theirs when it is known again."""
    for known in (True, False, True):
        wall, clock.wall = clock.wall, clock.wall if known else None
        writer.observe(tick(changes=[change()]))
        assert writer.write_now()
        clock.wall = wall
        clock.advance(60)
    writer.close()
    offsets = ask(path, "SELECT wall_ms - mono_ms FROM changes")
    assert offsets == [(1772344800000 - 1000000,)] * 3


def test_a_file_deleted_under_the_program_is_begun_anew(path, clock, writer, tick):
    """Writing does not go on into a file that nobody can see any more."""
    writer.observe(tick())
    assert writer.write_now()
    for file in path.parent.iterdir():
        file.unlink()
    clock.advance(300)
    writer.observe(tick())
    assert writer.write_now()
    writer.close()
    assert ask(path, "SELECT count(*) FROM readings") == [(1,)]
    assert ask(path, "SELECT count(*) FROM runs") == [(1,)]


def test_a_row_the_tables_refuse_does_not_hold_up_the_others(path, clock, writer, tick):
    """A value that fits no column is dropped and counted; what comes after it is written."""
    writer.observe(tick(today=DayTally("2026-03-01")))
    clock.advance(3600)
    writer.observe(tick(today=DayTally("2026-03-01", loops={"north": LoopTally(starts=2**70)})))
    clock.advance(300)
    writer.observe(tick())
    assert writer.write_now()
    assert ask(path, "SELECT count(*) FROM readings") == [(3,)]
    assert writer._backlog.dropped == 1


def test_half_a_character_ends_neither_the_thread_nor_the_row(path, writer, tick):
    """A file name with a stray byte in an alarm is written with a question mark; nothing is lost."""
    alarm = Alarm(FaultCode.SETTINGS_REJECTED, "", "house\udcff.toml:1: wrong", Priority.TODAY, 0.0)
    writer.observe(tick(alarms=[AlarmEvent(alarm, True)]))
    assert writer.write_now()
    assert ask(path, "SELECT detail FROM alarms") == [("house?.toml:1: wrong",)]


def test_a_card_that_hangs_is_a_finding_and_no_reason_to_restart(clock, writer):
    """When a write does not come back, an alarm calls a person and control is not held to be dead."""
    writer._busy_since_s = clock.mono_s
    clock.advance(HANGS_AFTER_S + 60)
    assert "has not answered for 4 min" in detail(writer)
    assert writer.alive()
    assert writer.write_now()
    clock.advance(HANGS_AFTER_S + 60)
    assert writer.findings() == ()


def test_pauses_grow_with_failures_but_stay_bounded():
    """One minute, two, four, then every five minutes; a longer setting is never made shorter."""
    assert [pause_s(60.0, n) for n in range(5)] == [60.0, 120.0, 240.0, LONGEST_RETRY_S, LONGEST_RETRY_S]
    assert pause_s(900.0, 5) == 900.0
    assert pause_s(60.0, 10**9) == LONGEST_RETRY_S


def test_the_thread_writes_and_ends_within_the_time(path, clock, tick, change):
    """With its thread the writer does the same, stops when asked, and reports that all was written."""
    writer = HistoryWriter(path, clock, "boot-a", write_every_s=60.0)
    writer.start()
    assert writer.alive()
    for _ in range(50):
        writer.observe(tick(changes=[change()]))
        clock.advance(10)
    assert writer.close(timeout_s=30.0)
    assert not writer.alive()
    assert ask(path, "SELECT count(*) FROM changes") == [(50,)]
    assert set(clock.pauses_s) == {60.0}


KILLED = """
import sys
from pathlib import Path
from types import SimpleNamespace
sys.path.insert(0, {tests!r})
from conftest import HandClock, fan_change, make_tick
from controller.history.writer import HistoryWriter
clock = HandClock()
writer = HistoryWriter(Path(sys.argv[1]), clock, "boot-a")
while True:
    for _ in range(40):
        writer.observe(make_tick(clock, {{f"p{{n}}": 20.0 for n in range(13)}}, changes=[fan_change()]))
        clock.advance(300)
    assert writer.write_now()
    print(clock.mono_s, flush=True)
"""


@pytest.mark.process
@pytest.mark.parametrize("batches", [1, 3, 7])
def test_a_kill_in_the_middle_of_writing_loses_nothing_committed(path, batches):
    """After SIGKILL the file is sound and every row of every finished batch is in it."""
    script = KILLED.format(tests=os.path.dirname(__file__))  # noqa: PTH120 - a plain string for the script
    with subprocess.Popen([sys.executable, "-c", script, path], stdout=subprocess.PIPE, text=True) as process:
        for _ in range(batches):
            committed_until_s = float(process.stdout.readline())
        process.kill()
    assert ask(path, "PRAGMA integrity_check") == [("ok",)]
    (count,) = ask(path, "SELECT count(*) FROM changes")[0]
    assert count >= round((committed_until_s - 1000) / 300)
    assert count % 40 == 0
    assert ask(path, "SELECT count(*) FROM readings") == [(count,)]


def test_a_card_that_is_nearly_full_is_told_while_rows_still_arrive(path, writer, tick, monkeypatch):
    """Below a twentieth of free space a person hears of it, and no more once there is room again."""
    free = 20_000_000
    monkeypatch.setattr(writing, "room", lambda _path: (free, 400_000_000))
    writer.observe(tick({"ceiling": 21.5}))
    assert writer.write_now()
    assert writer.findings() == ()
    free = 19_000_000
    assert writer.write_now()
    assert "only 19 MB of 400 MB are free" in detail(writer)
    assert ask(path, "SELECT count(*) FROM readings") == [(1,)]
    free = 100_000_000
    assert writer.write_now()
    assert writer.findings() == ()


def test_what_no_tick_has_brought_can_be_noted(path, clock, writer, tick):
    """Such as the summary of a day; at the time at which it is noted."""
    writer.observe(tick())
    clock.advance(100)
    writer.note(EventCode.DAY, "a mild day")
    assert writer.close()
    found = ask(path, "SELECT mono_ms, detail FROM events WHERE code = 'day'")
    assert found == [(round(clock.mono_s * 1000), "a mild day")]
