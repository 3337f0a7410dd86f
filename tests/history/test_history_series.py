"""The history on a regular grid."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from controller.history.queries import History
from controller.history.series import read_series
from controller.history.thinning import thin
from controller.history.writer import HistoryWriter
from controller.readings.reading import Why
from controller.settings.load import load

HOUSE = load(Path(__file__).parents[2] / "config" / "house.toml")


def _read(path, clock, begin, step_s=600):
    with History(path) as history:
        return read_series(history, HOUSE, begin, clock.wall, step_s)


def test_a_step_holds_means_and_shares(path, clock, writer, tick, change):
    """A probe's mean leaves out what was not read, and a fan that ran for four minutes of ten has 0.4."""
    begin = clock.wall
    writer.observe(tick({"bench": 4.0, "outdoor": Why.SILENT}))
    clock.advance(300)
    writer.observe(tick({"bench": 5.0, "outdoor": 1.0}, changes=[change()]))
    clock.advance(240)
    writer.observe(tick({"bench": 9.0}, changes=[change(on=False)]))
    clock.advance(660)
    writer.close()
    series = _read(path, clock, begin)
    assert len(series) == 2
    assert series.temps["bench"] == [4.5, None]
    assert series.temps["outdoor"] == [1.0, None]
    assert series.fans["north"] == pytest.approx([0.4, 0.0])
    assert series.fans["south"] == [0.0, 0.0]
    assert (series.coverage, series.from_utc, series.to_utc) == (0.5, begin, clock.wall)


def test_a_fan_that_was_on_before_runs_on(path, clock, writer, tick, change):
    """What switched before the range still runs in it."""
    writer.observe(tick({"bench": 4.0}, changes=[change()]))
    clock.advance(3600)
    begin = clock.wall
    for _ in range(4):
        writer.observe(tick({"bench": 4.0}))
        clock.advance(300)
    writer.observe(tick({"bench": 4.0}, changes=[change(on=False)]))
    writer.close()
    assert _read(path, clock, begin).fans["north"] == pytest.approx([1.0, 1.0])


def test_a_crash_ends_every_run(path, clock, writer, tick, change):
    """A run that broke off ends with its last reading, not with the next start of the program."""
    begin = clock.wall
    writer.observe(tick({"bench": 4.0}, changes=[change()]))
    clock.advance(600)
    writer.observe(tick({"bench": 4.0}))
    writer.write_now()
    clock.advance(7200)
    later = HistoryWriter(path, clock, "boot-b")
    later.observe(tick({"bench": 4.0}, changes=[change(on=False)]))
    later.close()
    clock.advance(600)
    assert sum(_read(path, clock, begin).fans["north"]) == pytest.approx(1.0)


def test_an_hourly_mean_fills_its_hour(path, clock, writer, tick):
    """After thinning each step of the hour has its mean, and says that it is one."""
    begin = clock.wall
    for value_c in (2.0, 4.0, 6.0, 8.0):
        writer.observe(tick({"bench": value_c}))
        clock.advance(900)
    writer.close()
    thin(path, clock.wall + timedelta(days=2), 1)
    series = _read(path, clock, begin)
    assert series.temps["bench"] == [5.0] * 6
    assert series.hourly == [True] * 6
