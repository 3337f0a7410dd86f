"""The calendar chores as the daemon does them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from controller.faults import FaultCode
from controller.history.queries import History
from controller.history.rows import At, ReadingRow
from controller.history.writer import HistoryWriter
from controller.service.time_of_day import ClockProof
from controller.service.upkeep import Upkeep
from controller.settings.load import load
from tests.process.bench import ROOT

TODAY = datetime(2026, 6, 7, 2, 14, tzinfo=UTC)  # a minute before a thinning
SETTINGS = load(ROOT / "config" / "one-loop.toml")
DAY_S = 86400.0


class Tick:
    """A tick in which no day has ended."""

    finished_day = None


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
def upkeep(history, clock, monkeypatch):
    """The chores, whose times never come by themselves here."""
    monkeypatch.setenv("STATE_DIRECTORY", str(history.parent))
    clock.wall = TODAY
    made = Upkeep(clock, SETTINGS, history)
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
