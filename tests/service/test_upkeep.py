"""The calendar chores as the daemon does them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import pytest

from controller.faults import FaultCode
from controller.history.queries import History
from controller.history.rows import At, DayRow, EventCode, EventRow, ReadingRow
from controller.history.writer import HistoryWriter
from controller.record.tally import DayTally, LoopTally
from controller.service.time_of_day import ClockProof
from controller.service.upkeep import Upkeep
from controller.settings.load import load
from tests.process.bench import ROOT

TODAY = datetime(2026, 6, 7, 2, 14, tzinfo=UTC)  # a minute before a thinning
SETTINGS = load(ROOT / "config" / "one-loop.toml")
DAY_S = 86400.0


class Tick:
    """A tick with one alarm."""

    diagnosis = SimpleNamespace(alarms=(SimpleNamespace(code=FaultCode.LINK, subject=""),))


@pytest.fixture
def history(tmp_path, clock):
    """A day of readings, one every five minutes, that ended an hour ago."""
    path = tmp_path / "history.sqlite3"
    writer = HistoryWriter(path, clock, "boot")
    for minute in range(0, 24 * 60, 5):
        at = TODAY - timedelta(hours=25) + timedelta(minutes=minute)
        row = ReadingRow(At(minute * 60_000, round(at.timestamp() * 1000)), ("roof",), f"[{minute}]")
        writer._backlog.put([row])
    assert writer.write_now()
    writer._close_connection()
    return path


def rows(path):
    """How many rows of readings there are."""
    with History(path) as opened:
        return len(list(opened.samples(TODAY - timedelta(days=9), TODAY)))


def pass_time(clock, upkeep, seconds, step_s=600.0):
    """Let both times go on together, with a look at every step."""
    for _ in range(round(seconds / step_s)):
        clock.now_mono_s += step_s
        clock.wall += timedelta(seconds=step_s)
        upkeep.observe(Tick)


@pytest.fixture
def noted():
    """What went into the history."""
    return []


@pytest.fixture
def upkeep(history, clock, monkeypatch, noted):
    """The chores, whose times never come by themselves here."""
    monkeypatch.setenv("STATE_DIRECTORY", str(history.parent))
    clock.wall = TODAY
    made = Upkeep(clock, SETTINGS, history, lambda code, text: noted.append((code, text)))
    made._chores.poll = lambda: False
    yield made
    made.close()


def test_a_clock_that_is_years_ahead_for_a_while_thins_nothing(upkeep, history, clock):
    """Readings of yesterday are not made coarser because a clock says for half a minute that it is 2028."""
    before = rows(history)
    pass_time(clock, upkeep, 3 * DAY_S)
    for ahead in (timedelta(days=730), timedelta(0)):
        clock.wall = TODAY + timedelta(days=3) + ahead
        upkeep._thin()  # at the very moment of the jump
        upkeep.observe(Tick)
        clock.now_mono_s += 30.0
        clock.wall += timedelta(seconds=30.0)
        upkeep._thin()
        assert rows(history) == before


def test_a_proven_clock_thins_what_is_old(upkeep, history, clock):
    """Once the clock has gone on for a day without a jump, old readings are thinned, not an hour earlier."""
    clock.wall = TODAY + timedelta(days=SETTINGS.history.keep_fine_days + 2)
    upkeep.observe(Tick)
    pass_time(clock, upkeep, DAY_S - 3600.0)
    upkeep._thin()
    assert rows(history) == 288
    pass_time(clock, upkeep, 3600.0)
    upkeep._thin()
    assert rows(history) < 288 / 10


def test_a_clock_that_is_lost_begins_its_proof_anew(clock):
    """The day counts from when the time of day is known; losing it, or a jump, takes the proof away."""
    proof = ClockProof(clock)
    for known in (None, TODAY, None, TODAY, TODAY - timedelta(days=400)):
        clock.wall = known
        proof.look()
        assert not proof.is_proven()
    clock.now_mono_s += DAY_S
    clock.wall += timedelta(seconds=DAY_S + 200.0)  # steered by network time
    assert proof.is_proven()


def test_each_month_gets_a_backup_in_the_state_directory(upkeep, history):
    """Once; a second look in the same month makes none."""
    upkeep._back_up()
    upkeep._back_up()
    (made,) = (history.parent / "backup").iterdir()
    assert made.name == "history-2026-06-07.sqlite3"
    assert rows(made) == rows(history)
    assert upkeep.findings() == ()


def test_a_backup_that_fails_raises_the_storage_alarm_until_one_succeeds(upkeep, history):
    """The next night tries again."""
    folder = history.parent / "backup"
    folder.write_text("in the way")
    upkeep._back_up()
    (found,) = upkeep.findings()
    assert (found.code, found.subject) == (FaultCode.STORAGE, "backup")
    assert str(folder) in found.detail
    folder.unlink()
    upkeep._back_up()
    assert upkeep.findings() == ()


def test_without_a_clock_no_backup_is_made(upkeep, history, clock):
    """Nobody knows which month it is."""
    clock.wall = None
    upkeep._back_up()
    assert not (history.parent / "backup").exists()


def write(history, clock, rows):
    """Add rows to the history."""
    writer = HistoryWriter(history, clock, "boot")
    writer._backlog.put(rows)
    assert writer.write_now()
    writer._close_connection()


def day_row(date, hours=24.0):
    """A finished day of a run, with one fan hour for each hour that was watched."""
    loop = LoopTally(hours * 3600.0, 1, 4.32e5 * hours, 3.6e6 * hours, 0.0)
    at = At(1, round(datetime.fromisoformat(f"{date}T23:59:59+00:00").timestamp() * 1000))
    return DayRow(at, DayTally(date, hours * 3600.0, 5.0, 20.0, {"north": loop}, {}), finished=True)


def test_yesterday_is_told_with_all_runs_of_the_program_in_it(upkeep, history, clock, noted):
    """Two runs of a day add up; what is wrong now is named."""
    write(history, clock, [day_row("2026-06-06", 10.0), day_row("2026-06-06", 13.5), day_row("2026-06-05")])
    upkeep.observe(Tick)
    upkeep._summarise()
    (code, text), *_ = noted
    assert code is EventCode.DAY
    assert text.startswith("Saturday 6 June 2026: 5.0 to 20.0 °C. The fans ran 23 h 30 min")
    assert text.endswith("Alarms that stand: link.")


def test_the_last_month_is_summed_up_once(upkeep, history, clock, noted):
    """Also if the program did not run on the first; a later start knows that it has been told."""
    assert upkeep.month is None
    write(history, clock, [day_row(f"2026-05-{day:02}") for day in range(1, 32)])
    upkeep._summarise()
    upkeep._summarise()
    told = [text for code, text in noted if code is EventCode.MONTH]
    assert len(told) == 1
    assert told[0].startswith("May 2026: 5.0 to 20.0 °C. The fans ran 31 d 0 h for 89 kWh")
    assert upkeep.month.sums.date == "2026-05-01"
    write(history, clock, [EventRow(At(2, round(TODAY.timestamp() * 1000)), EventCode.MONTH, told[0])])
    noted.clear()
    upkeep.month = None
    upkeep._summarise()
    assert [code for code, _ in noted] == []
    assert upkeep.month.text == told[0]


def test_nothing_is_told_of_days_nobody_watched(upkeep, clock, noted):
    """Neither a day nor a month; nor without a clock."""
    upkeep._summarise()
    clock.wall = None
    upkeep._summarise()
    assert noted == []
    assert upkeep.month is None
