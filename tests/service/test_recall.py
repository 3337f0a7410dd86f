"""Reading back what phones want to see of the past."""

from __future__ import annotations

from datetime import timedelta
from types import SimpleNamespace

from controller.history.writer import HistoryWriter
from controller.record.tally import DayTally, LoopTally
from controller.service.recall import Recall
from controller.telemetry.publisher import Publisher
from tests.history.conftest import HandClock, make_tick
from tests.telemetry import ticks


def tick_at(now_s, *, clock=True, date="2026-03-07", hour=12.0):
    """A tick of the house, so many seconds after the start."""
    wall = ticks.NOON + timedelta(seconds=now_s) if clock else None
    seen = ticks.snapshot(now_s)._replace(wall_utc=wall, hour=hour if clock else None)
    return ticks.tick(now_mono_s=now_s, snapshot=seen, today=ticks.TODAY._replace(date=date))


def house(path):
    """A publisher with its recall, and the letters it sends."""
    letters = []
    post = SimpleNamespace(put=letters.append, connections=lambda: 1)
    publisher = Publisher(post, ticks.PROGRAM, lambda: 0)
    recall = Recall(path, publisher)

    def ending_with(word, tick):
        letters.clear()
        publisher.observe(tick)
        recall.observe(tick)
        recall.wait(60.0)
        return [letter for letter in letters if letter.topic.endswith(f"/{word}")]

    return ending_with


def recorded(path):
    """A history of the half hour before, and of a day in February."""
    clock = HandClock(wall=ticks.NOON - timedelta(minutes=30))
    writer = HistoryWriter(path, clock, "boot-before")
    february = DayTally("2026-02-03", 86_400.0, 1.0, 20.0, {"north": LoopTally(60.0, 1, 10.0, 20.0, 5.0)})
    for _ in range(6):
        writer.observe(make_tick(clock, {"bench": 7.5}, finished_day=february))
        february = None
        clock.advance(300)
    writer.close()


def test_after_a_restart_phones_see_what_was_before_it(tmp_path):
    """Half a minute after the start, once the clock is set: curves of the run before, and the months."""
    path = tmp_path / "history.sqlite3"
    recorded(path)
    sent = house(path)
    assert not sent("curves", tick_at(0.0, clock=False))
    assert not sent("curves", tick_at(10.0))
    assert not sent("curves", tick_at(40.0))
    (curves,) = sent("curves", tick_at(50.0))
    assert b'"what":"bench","loop":null,"mean_c":[' in curves.payload
    assert curves.payload.count(b"7.5,7.5]") == 1
    assert not sent("curves", tick_at(60.0))


def test_the_months_are_read_anew_an_hour_after_midnight(tmp_path):
    """Not before, because the finished day is not on the card yet, and once."""
    path = tmp_path / "history.sqlite3"
    recorded(path)
    sent = house(path)
    sent("year", tick_at(0.0))
    sent("year", tick_at(40.0))
    (year,) = sent("year", tick_at(50.0))
    assert b'"month":"2026-02","days":1' in year.payload
    next_day = {"date": "2026-03-08"}
    assert not sent("year", tick_at(60.0, hour=0.5, **next_day))
    assert not sent("year", tick_at(70.0, hour=0.6, **next_day))
    assert not sent("year", tick_at(80.0, hour=1.1, **next_day))
    assert sent("year", tick_at(90.0, hour=1.1, **next_day))
    assert not sent("year", tick_at(100.0, hour=1.2, **next_day))


def test_without_a_history_phones_see_less_and_that_is_all(tmp_path):
    """A file that does not exist or is no history costs the curves of before, and nothing else."""
    path = tmp_path / "history.sqlite3"
    for content in (None, b"no history at all" * 100):
        if content:
            path.write_bytes(content)
        sent = house(path)
        sent("curves", tick_at(0.0))
        sent("curves", tick_at(40.0))
        assert not sent("curves", tick_at(50.0))
        assert sent("curves", tick_at(900.0))
