"""The last two days as one small message."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest

from controller.readings.reading import Good, Missing, Why
from controller.telemetry.curves import STEP_S, STEPS, Line, TwoDays
from controller.telemetry.past import MonthSums
from controller.telemetry.publisher import Publisher
from tests.telemetry import ticks
from tests.telemetry.test_publisher import Bag


def tick_with(now_s, bench_c, *, wet=False, clock=True):
    """A tick with this air among the crop, None for a probe that is silent."""
    snapshot = ticks.snapshot(now_s, wet=wet)
    bench = Missing(Why.SILENT, now_s) if bench_c is None else Good(bench_c, now_s)
    wall = ticks.NOON + timedelta(seconds=now_s) if clock else None
    return ticks.tick(now_mono_s=now_s, wet=wet, snapshot=snapshot._replace(bench=bench, wall_utc=wall))


def curves_after(*noted):
    """The message after these ticks; what was asked of the last one."""
    two_days = TwoDays()
    for tick in noted:
        two_days.note(tick)
    return two_days.message(noted[-1])


def of(message, what, name=None):
    """One line of the message."""
    for line in (*message.temperatures, *message.motors):
        if line.what == what and getattr(line, "loop", None) == name:
            return line.mean_c
        if line.what == what and getattr(line, "name", None) == name:
            return line.on_percent
    return None


def test_a_step_holds_means_weighed_by_time():
    """A value that stood for two thirds of a step counts twice as much as one of a third."""
    third = STEP_S / 3
    noted = [tick_with(0, 6.0), tick_with(third, 12.0), tick_with(2 * third, 12.0, wet=True)]
    message = curves_after(*noted, tick_with(3 * third, 18.0))
    assert of(message, "bench") == [pytest.approx(10.0)]
    assert of(message, "fan", "north") == [100]
    assert of(message, "fan", "south") == [0]
    assert of(message, "pump", "low-corner") == [33]


def test_what_cannot_be_believed_is_a_gap():
    """A silent probe leaves null; a probe that is not fitted too; a loop without a probe has no line."""
    message = curves_after(tick_with(0, None), tick_with(STEP_S / 2, None), tick_with(STEP_S, 4.0))
    assert of(message, "bench") == of(message, "outdoor") == [None]
    assert of(message, "ceiling") == [31.2]
    assert of(message, "soil", "north") == [14.2]


def test_a_pause_of_the_board_leaves_as_many_gaps_as_it_lasted():
    """The curves stay in time: no step is lost or added when ticks stay away for hours."""
    message = curves_after(tick_with(0, 5.0), tick_with(10, 5.0), tick_with(4 * STEP_S + 30, 5.0))
    assert of(message, "bench") == [5.0, None, None, None]
    assert message.since_last_step_s == 30.0


def test_there_are_never_more_than_two_days():
    """192 quarters of an hour; the oldest go."""
    two_days = TwoDays()
    for step in range(STEPS + 9):
        last = tick_with(step * STEP_S, float(step))
        two_days.note(last)
    assert len(of(two_days.message(last), "bench")) == STEPS
    assert of(two_days.message(last), "bench")[-1] == STEPS + 7.0


def test_without_a_clock_the_curves_come_without_a_time():
    """The steps are counted by the board's own counter, so that a phone can say how long ago."""
    message = curves_after(tick_with(0, 5.0, clock=False), tick_with(STEP_S, 5.0, clock=False))
    assert message.at is None
    assert of(message, "bench") == [5.0]


def test_what_the_history_remembers_stands_in_front():
    """From the first step of which anything is known; all lines end together, whatever each one remembers."""
    two_days = TwoDays()
    two_days.note(tick_with(0, 5.0))
    two_days.note(tick_with(STEP_S, 5.0))
    two_days.remember({Line("bench"): [None, 1.0, None, 3.0], Line("fan", "north"): [0.5, 1.0, None]})
    last = tick_with(STEP_S + 10, 5.0)
    assert two_days.note(last)
    message = two_days.message(last)
    assert of(message, "bench") == [1.0, None, 3.0, 5.0]
    assert of(message, "fan", "north") == [50, 100, None, 100]
    assert of(message, "ceiling") == [None, None, None, 31.2]


def test_the_curves_of_the_example_house_are_small():
    """Two days of a house with three loops, every value known, stay below 12 kB of JSON."""
    house = ticks.settings()
    two_days = TwoDays()
    for step in range(STEPS + 1):
        last = tick_with(step * STEP_S, -12.3 + step % 7)._replace(settings=house)
        two_days.note(last)
    text = two_days.message(last).model_dump_json()
    lines = len(json.loads(text)["temperatures"]) + len(json.loads(text)["motors"])
    assert len(text) / lines * 10 < 12_000  # three loops have ten lines


def test_curves_and_year_are_sent_when_they_are_new_and_to_a_new_broker():
    """Once a step and once a day; after a new connection again, because that broker may know nothing."""
    bag = Bag()
    publisher = Publisher(bag, ticks.PROGRAM, lambda: 0)
    sent = []

    def at(now_s):
        publisher.observe(tick_with(now_s, 5.0))
        sent.append(sorted({"curves", "year"} & set(bag.empty())))

    at(0.0)
    at(STEP_S)
    at(STEP_S + 10)
    publisher.remember_year((MonthSums.model_validate(MONTH),))
    at(STEP_S + 20)
    at(STEP_S + 30)
    bag.connected_times += 1
    at(STEP_S + 40)
    assert sent == [[], ["curves"], [], ["year"], [], ["curves", "year"]]


MONTH = {
    "month": "2026-10",
    "days": 31,
    "air_min_c": 2.0,
    "air_max_c": 31.0,
    "electricity_j": 10**8,
    "banked_j": 10**9,
    "returned_j": 10**8,
}
