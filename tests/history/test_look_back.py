"""What the messages about the past find in the history."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from controller.history.look_back import curves, months
from controller.history.queries import History
from controller.history.writer import HistoryWriter
from controller.readings.reading import Why
from controller.record.tally import DayTally, LoopTally, PumpTally
from tests.telemetry.ticks import settings as made_settings

STEP_S = 900.0
HOUSE = made_settings()


def found(path, until, count):
    """The last ``count`` steps of the history."""
    with History(path) as history:
        return curves(history, HOUSE, until, STEP_S, count)


def test_curves_are_means_of_what_was_recorded(path, clock, writer, tick):
    """Three rows a step; none counts that cannot be believed, and without any there is a gap."""
    rows = [(10.0, 6.0), (11.0, Why.STUCK), (12.0, 6.6), (Why.SILENT, 7.0), (Why.SILENT, 7.0)]
    for bench, soil in rows:
        writer.observe(tick({"bench": bench, "north-soil": soil}))
        clock.advance(300)
    writer.close()
    lines = found(path, clock.wall + timedelta(seconds=300), 3)
    assert lines["bench", ""] == [None, 11.0, None]
    assert lines["soil", "north"] == [None, pytest.approx(6.3), 7.0]
    assert lines["outdoor", ""] == [None] * 3


def test_a_motor_is_on_from_its_start_to_its_stop(path, clock, writer, tick, change):
    """Shares of each step; while nothing is recorded nobody knows."""
    begin = clock.wall
    for at_s in range(0, 2701, 300):
        turns = {600: [change()], 2100: [change(on=False)]}.get(at_s, ())
        writer.observe(tick({"bench": 10.0}, changes=turns))
        clock.advance(300)
    writer.close()
    lines = found(path, begin + timedelta(seconds=4 * STEP_S), 6)
    assert lines["fan", "north"] == [None, None, pytest.approx(1 / 3), 1.0, pytest.approx(1 / 3), 0.0]
    assert lines["fan", "south"] == [None, None, 0.0, 0.0, 0.0, 0.0]


def test_a_motor_that_has_run_since_before_the_first_step_is_on(path, clock, writer, tick, change):
    """Its start lies further back than the curves do."""
    writer.observe(tick({"bench": 10.0}, changes=[change()]))
    for _ in range(12):
        clock.advance(300)
        writer.observe(tick({"bench": 10.0}))
    writer.close()
    lines = found(path, clock.wall, 2)
    assert lines["fan", "north"] == [pytest.approx(1.0), pytest.approx(2 / 3)]


def test_with_its_run_a_motor_is_off(path, clock, tick, change):
    """A program that was killed has stopped its fans, although no stop is recorded."""
    begin = clock.wall
    first = HistoryWriter(path, clock, "boot-a")
    first.observe(tick({"bench": 10.0}, changes=[change()]))
    clock.advance(450)
    first.observe(tick({"bench": 10.0}))
    first.close()
    clock.advance(450)
    second = HistoryWriter(path, clock, "boot-b")
    second.observe(tick({"bench": 10.0}))
    second.close()
    lines = found(path, begin + timedelta(seconds=2 * STEP_S), 2)
    assert lines["fan", "north"] == [pytest.approx(0.5, abs=0.01), 0.0]


def test_months_add_up_days_of_the_last_year(path, writer, tick):
    """Each month with its coldest and warmest air and its sums; today and what is older are left out."""
    loops, pumps = {"north": LoopTally(60.0, 1, 100.0, 2000.0, 30.0)}, {"main": PumpTally(5.0, 1, 7.0)}
    for day, low in (("2025-02-28", -9.0), ("2025-12-31", None), ("2026-02-27", 1.5), ("2026-02-28", 0.5)):
        writer.observe(tick(finished_day=DayTally(day, 86_400.0, low, 30.0, loops, pumps)))
    writer.observe(tick(finished_day=DayTally("2026-03-01", 100.0, -20.0, 30.0, loops, pumps)))
    writer.close()
    with History(path) as history:
        sums = months(history, date(2026, 3, 1))
    assert [(month.month, month.days, month.air_min_c) for month in sums] == [
        ("2025-12", 1, None),
        ("2026-02", 2, 0.5),
    ]
    assert sums[1][4:] == (214.0, 4000.0, 60.0)
