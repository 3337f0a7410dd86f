"""What of a tick is worth keeping."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest

from controller.decision.command import OutputChange
from controller.decision.reasons import Reason, ReasonCode
from controller.equipment import OutputId
from controller.history.encoder import TickEncoder, numbers_text
from controller.history.rows import AlarmRow, ChangeRow, DayRow, EventCode, EventRow, ReadingRow
from controller.readings.reading import Why
from controller.record.tally import DayTally
from controller.units import TemperatureUnit


def kinds(rows, kind):
    """Those rows that are of one kind."""
    return [row for row in rows if isinstance(row, kind)]


def test_readings_are_kept_every_five_minutes_whatever_the_tick(clock, tick):
    """Of two hours of ten-second ticks, one row every five minutes is kept."""
    encoder = TickEncoder(300.0)
    at_s = []
    for _ in range(720):
        at_s += [row.at.mono_ms / 1000 for row in kinds(encoder.rows(tick()), ReadingRow)]
        clock.advance(10)
    assert at_s == [1000.0 + 300.0 * n for n in range(24)]


def test_a_long_pause_gives_one_row_and_not_one_for_each_missed_step(clock, tick):
    """After an hour without ticks the next tick gives one row, and the one after it none."""
    encoder = TickEncoder(300.0)
    encoder.rows(tick())
    clock.advance(3600)
    assert len(kinds(encoder.rows(tick()), ReadingRow)) == 1
    clock.advance(10)
    assert kinds(encoder.rows(tick()), ReadingRow) == []


def test_a_missing_probe_is_kept_as_the_word_that_says_why(tick):
    """Values become thousandths of a degree, a missing one the name of its cause; no number stands for it."""
    rows = TickEncoder(300.0).rows(tick({"ceiling": 21.5625, "soil": Why.ALL_ZERO, "bench": -3.0}))
    (reading,) = kinds(rows, ReadingRow)
    assert reading.probes == ("ceiling", "soil", "bench")
    assert json.loads(reading.milli_c) == [21562, "ALL_ZERO", -3000]


def test_every_output_change_is_kept_with_numbers_and_sentence(tick, change):
    """Each change gives one row that holds its code, its numbers and the sentence a grower reads."""
    (row,) = kinds(TickEncoder(300.0).rows(tick(changes=[change()])), ChangeRow)
    assert (row.kind, row.name, row.is_on, row.code) == ("fan", "north", True, "cool")
    assert json.loads(row.numbers)["ceiling_c"] == 31.25
    assert row.sentence == change().reason.sentence(TemperatureUnit.CELSIUS)
    assert "31.2 °C" in row.sentence


def test_a_number_that_is_not_finite_is_kept_as_a_word():
    """JSON knows no infinity, so it is written as a word and the row stays readable."""
    assert json.loads(numbers_text({"heat_w": float("inf"), "cause": "x"})) == {"heat_w": "inf", "cause": "x"}


def test_alarms_are_kept_when_raised_and_when_cleared(tick, alarm):
    """Both edges of an alarm give a row."""
    rows = kinds(TickEncoder(300.0).rows(tick(alarms=[alarm(), alarm(raised=False)])), AlarmRow)
    assert [(row.code, row.raised, row.priority) for row in rows] == [("frost", True, 1), ("frost", False, 1)]


def test_today_is_saved_hourly_and_a_finished_day_at_once(clock, tick):
    """A crash costs at most an hour of the day's sums, and a finished day is written when it ends."""
    encoder = TickEncoder(300.0)
    saved = []
    for _ in range(24):
        saved += kinds(encoder.rows(tick(today=DayTally("2026-03-01", clock.mono_s))), DayRow)
        clock.advance(300)
    assert [(row.finished, row.at.mono_ms) for row in saved] == [(False, 4_600_000)]
    (row,) = kinds(encoder.rows(tick(finished_day=DayTally("2026-03-01"))), DayRow)[:1]
    assert row.finished


@pytest.mark.parametrize("step_s", [86400 * 30, -86400 * 30, 6])
def test_a_step_of_the_clock_is_an_event_and_moves_no_reading(clock, tick, step_s):
    """When somebody sets the clock, an event says by how much, and readings keep their five minutes."""
    encoder = TickEncoder(300.0)
    encoder.rows(tick())
    clock.advance(10)
    clock.wall += timedelta(seconds=step_s)
    rows = encoder.rows(tick())
    assert [(row.code, row.detail) for row in kinds(rows, EventRow)] == [
        (EventCode.CLOCK_STEPPED, f"{step_s:+d} s")
    ]
    assert kinds(rows, ReadingRow) == []
    clock.advance(290)
    assert len(kinds(encoder.rows(tick()), ReadingRow)) == 1


def test_start_clock_and_reload_are_events(clock, tick):
    """The first tick is the start, the first with a date sets the clock, other settings are a reload."""
    encoder = TickEncoder(300.0)
    wall, clock.wall = clock.wall, None
    codes = [row.code for row in kinds(encoder.rows(tick()), EventRow)]
    clock.wall = wall
    codes += [row.code for row in kinds(encoder.rows(tick()), EventRow)]
    other = type(tick().settings)(site=tick().settings.site)
    codes += [row.code for row in kinds(encoder.rows(tick(settings=other)), EventRow)]
    assert codes == [EventCode.START, EventCode.CLOCK_SET, EventCode.SETTINGS]


def test_a_pump_is_kept_by_the_name_of_its_sump(tick):
    """A pump's change is kept like a fan's, with the sump's name."""
    change = OutputChange(OutputId.pump("east"), False, Reason(ReasonCode.STARTED, {"rest_s": 300.0}))
    (row,) = kinds(TickEncoder(300.0).rows(tick(changes=[change])), ChangeRow)
    assert (row.kind, row.name, row.is_on) == ("pump", "east", False)
