"""Asking the history."""

from __future__ import annotations

import tempfile
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.equipment import OutputId
from controller.history.database import StorageError
from controller.history.queries import History
from controller.history.writer import HistoryWriter
from controller.readings.reading import Why
from controller.record.tally import DayTally, LoopTally, PumpTally

DAY = timedelta(days=1)

names = st.from_regex(r"[a-z][a-z0-9-]{0,8}", fullmatch=True)
values = st.one_of(st.floats(-55, 125).map(lambda value_c: round(value_c, 3)), st.sampled_from(list(Why)))


@given(st.lists(st.dictionaries(names, values, min_size=1, max_size=6), min_size=1, max_size=8))
@settings(max_examples=40, deadline=None)
def test_every_reading_comes_back_as_it_was(house, rounds):
    """Whatever probes there are, now and later, values return to the thousandth and gaps with their cause."""
    new_clock, make_tick = house
    clock = new_clock()
    begin = clock.wall
    with tempfile.TemporaryDirectory() as folder:
        writer = HistoryWriter(Path(folder) / "h.sqlite3", clock, "boot-a")
        for probes in rounds:
            writer.observe(make_tick(clock, probes))
            clock.advance(300)
        assert writer.close()
        with History(Path(folder) / "h.sqlite3") as history:
            found = list(history.samples(begin, clock.wall))
            one = next(iter(rounds[0]))
            of_one = [point.value for point in history.readings(one, begin, clock.wall)]
    assert [sample.values for sample in found] == rounds
    assert [(sample.when.at_utc - begin).total_seconds() for sample in found] == [
        300.0 * n for n in range(len(rounds))
    ]
    assert of_one == [probes[one] for probes in rounds if one in probes]


def test_changes_and_alarms_come_back_whole(path, clock, writer, tick, change, alarm):
    """A change returns with numbers and sentence, an alarm with its detail, an event with its name."""
    begin = clock.wall
    writer.observe(tick(changes=[change()], alarms=[alarm()]))
    writer.close()
    with History(path) as history:
        (got,) = history.changes(begin, begin + DAY)
        (rung,) = history.alarms(begin, begin + DAY)
        events = [event.code for event in history.events(begin, begin + DAY)]
    assert (got.output, got.on, got.code) == (OutputId.fan("north"), True, "cool")
    assert got.numbers == change().reason.numbers
    assert got.when.at_utc == begin
    assert (rung.code, rung.detail, rung.priority, rung.raised) == ("frost", "air 1.2 °C", 1, True)
    assert events == ["start", "clock-set", "stop"]


def test_a_range_holds_its_beginning_and_not_its_end(path, clock, writer, tick):
    """Ranges that touch neither miss a row nor give it twice."""
    begin = clock.wall
    for _ in range(4):
        writer.observe(tick())
        clock.advance(300)
    writer.close()
    middle = begin + timedelta(seconds=600)
    with History(path) as history:
        first = [point.when.at_utc for point in history.readings("ceiling", begin, middle)]
        second = [point.when.at_utc for point in history.readings("ceiling", middle, clock.wall)]
    assert (len(first), len(second)) == (2, 2)
    assert second[0] == middle


def test_a_day_with_a_restart_in_it_is_added_up(path, clock, tick):
    """Two runs of one day give one day: sums added, the lowest and the highest of both."""
    morning = LoopTally(600.0, 2, 72e3, 1e6, 0.0)
    evening = LoopTally(60.0, 1, 7e3, 0.0, 5e5)
    morning = LoopTally(600.0, 2, 72e3, 1e6, 0.0)
    evening = LoopTally(60.0, 1, 7e3, 0.0, 5e5)
    parts = [
        DayTally("2026-03-01", 20000.0, 3.0, 21.0, {"north": morning}, {}),
        DayTally("2026-03-01", 60000.0, None, 25.0, {"north": evening}, {"east": PumpTally(30.0, 1, 12e3)}),
    ]
    for part in parts:
        writer = HistoryWriter(path, clock, "boot-a")
        writer.observe(tick(today=part))
        writer.close()
        clock.advance(60)
    with History(path) as history:
        (day,) = history.days(date(2026, 3, 1), date(2026, 3, 1))
        assert history.days(date(2026, 3, 2), date(2026, 3, 9)) == ()
    assert day == DayTally(
        "2026-03-01",
        80000.0,
        3.0,
        25.0,
        {"north": LoopTally(660.0, 3, 79e3, 1e6, 5e5)},
        {"east": PumpTally(30.0, 1, 12e3)},
    )


def test_a_day_whose_clock_was_set_late_gets_its_date(path, clock, writer, tick):
    """Sums without a date count for the day on which they were written once that is known."""
    wall, clock.wall = clock.wall, None
    writer.observe(tick(finished_day=DayTally(None, 500.0)))
    clock.advance(60)
    clock.wall = wall
    writer.observe(tick(today=DayTally("2026-03-01", 60.0)))
    writer.close()
    with History(path) as history:
        (day,) = history.days(date(2026, 3, 1), date(2026, 3, 1))
    assert day.covered_s == 560.0


def test_a_missing_file_is_an_error_and_is_not_made(path):
    """Asking never creates a file."""
    with pytest.raises(StorageError, match="there is no history"):
        History(path)
    assert not path.exists()


@pytest.mark.parametrize(
    ("content", "words"), [(b"\xa5" * 9000, "is damaged"), (b"", "does not have the tables of this release")]
)
def test_a_file_that_is_no_history_is_said_in_words(path, clock, content, words):
    """What cannot be read ends in a sentence that says what to do."""
    path.write_bytes(content)
    with pytest.raises(StorageError, match=words), History(path) as history:
        list(history.samples(clock.wall, clock.wall + DAY))
