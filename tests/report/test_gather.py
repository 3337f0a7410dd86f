"""What a report holds, from histories that are short, thin, damaged or of a small house."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from controller.history.rows import EventCode
from controller.history.thinning import thin
from tests.report.houses import HEAT, START, House, gathered

if TYPE_CHECKING:
    from pathlib import Path

    from controller.settings.schema import Settings


def test_a_few_days_give_no_figures_but_what_is_missing(tmp_path: Path, settings: Settings) -> None:
    """Heat for electricity is there at once; what the store did needs nights."""
    data, _ = gathered(House(settings, days=3).write(tmp_path / "h"), settings)
    figures = {figure.code: figure for figure in data.figures}
    assert len(figures) == 5
    assert data.more == []
    assert figures["heat-per-electricity"].interval is not None
    assert figures["night-raise"].interval is None
    assert "more nights" in figures["night-raise"].missing
    assert [day.date for day in data.days] == [START + timedelta(days=n) for n in range(3)]


def test_a_fortnight_gives_every_figure_within_its_interval(tmp_path: Path, settings: Settings) -> None:
    """Value, low and high are in order, and the heat of the months adds up to the whole."""
    data, _ = gathered(House(settings, days=16).write(tmp_path / "h"), settings, price_per_kwh=0.25)
    found = [figure.interval for figure in (*data.figures, *data.more)]
    assert len(found) == 7
    assert all(one is not None and one.low <= one.value <= one.high for one in found)
    assert data.heated_nights >= 10
    heater = next(figure.interval for figure in data.figures if figure.code == "heater-heat")
    assert heater is not None
    assert data.money is not None
    assert data.money.value == pytest.approx(0.25 * (heater.value - data.electricity_kwh), rel=0.02)
    assert sum(month.banked_kwh.value for month in data.months) == pytest.approx(data.banked_kwh.value)
    assert sum(day.banked_kwh for day in data.days) == pytest.approx(data.banked_kwh.value)
    assert sum(day.fan_h for day in data.days) == pytest.approx(3 * (16 * 14 - 6), rel=0.02)


def test_days_are_those_of_the_house(tmp_path: Path, settings: Settings) -> None:
    """A house five hours behind UTC is coldest at its own 4 o'clock, on its own date."""
    data, reader = gathered(House(settings, days=4, zone_h=-5).write(tmp_path / "h"), settings)
    assert data.zone == "UTC-05:00"
    assert (data.first, data.last) == (START, START + timedelta(days=3))
    worst = next(picture for picture in data.pictures if picture.kind == "worst")
    assert reader.clock(worst.ended) == "12:00"
    outdoors = [day.outdoors for day in data.days]
    assert all(one is not None and one.high_c == pytest.approx(2.0, abs=0.5) for one in outdoors)


def test_the_pictures_are_of_three_kinds_and_the_coldest_night_is_the_coldest(
    tmp_path: Path, settings: Settings
) -> None:
    """Each night is a little colder than the last, each day a little less hot."""
    data, _ = gathered(House(settings, days=5).write(tmp_path / "h"), settings)
    chosen = {picture.kind: picture for picture in data.pictures}
    assert set(chosen) == {"best", "worst", "hottest"}
    assert chosen["worst"].date == START + timedelta(days=4)
    assert chosen["hottest"].date == START
    assert chosen["best"].date != chosen["worst"].date
    reasons = {run.code for run in chosen["best"].runs}
    assert reasons == {"bank", "heat"}
    assert all(len(line.celsius) == len(chosen["worst"].lines[0].celsius) for line in chosen["worst"].lines)


def test_a_small_house_has_fewer_lines_and_says_so(tmp_path: Path, one_loop: Settings) -> None:
    """Without outdoor, bench and outlet probes there is a report all the same."""
    data, _ = gathered(House(one_loop).write(tmp_path / "h"), one_loop)
    assert not data.outdoor_probe
    assert data.house_from == "ceiling"
    assert {line.place for line in data.pictures[0].lines} == {"soil", "house"}
    assert all(day.outdoors is None and day.house is not None for day in data.days)


def test_a_gap_is_named_and_nothing_is_made_up_for_it(tmp_path: Path, settings: Settings) -> None:
    """A day and a half without readings leaves a day blank; a restart of minutes is no gap."""
    house = House(settings, days=5, silent=(24.0, 60.0))
    data, _ = gathered(house.write(tmp_path / "h"), settings)
    (pause,) = data.pauses
    assert (pause.ended - pause.began) / timedelta(hours=1) == pytest.approx(36.0, abs=0.5)
    assert data.days[1].house is None
    assert data.days[2].house is not None


def test_thinned_readings_are_hourly_and_still_make_days(tmp_path: Path, settings: Settings) -> None:
    """The share of them is on record."""
    house = House(settings, days=4)
    path = house.write(tmp_path / "h")
    thin(path, house.began + timedelta(days=5), keep_fine_days=3)
    data, _ = gathered(path, settings)
    assert data.hourly == pytest.approx(0.5, abs=0.05)
    assert all(day.house is not None for day in data.days)
    assert data.pauses == []


def test_damaged_rows_are_counted_and_left_out(tmp_path: Path, settings: Settings) -> None:
    """In every table that the report reads."""
    house = House(settings, days=3)
    house.alarm(5.0, "frost")
    path = house.write(tmp_path / "h")
    with closing(sqlite3.connect(path)) as broken, broken:
        broken.execute("UPDATE readings SET milli_c = '[1, tru' WHERE reading_id = 7")
        broken.execute("UPDATE changes SET numbers = '?' WHERE change_id = 2")
        broken.execute("UPDATE alarms SET priority = 'x'")
        broken.execute("UPDATE days SET date = 7 WHERE day_id = 2")
    data, _ = gathered(path, settings)
    assert data.damaged_rows >= 3
    assert data.alarms == []
    assert len(data.days) == 3


def test_water_shows_in_the_pump_s_runs(tmp_path: Path, settings: Settings) -> None:
    """Runs on a wet float apart from exercise, and the fans that water stopped."""
    house = House(settings, days=3)
    house.change(30.0, "main", on=True, code="pump-wet", kind="pump")
    house.change(30.1, "main", on=False, code="pump-emptied", kind="pump")
    house.change(50.0, "main", on=True, code="pump-exercise", kind="pump")
    house.change(50.01, "main", on=False, code="pump-exercise-done", kind="pump")
    house.change(36.0, "north", on=False, code="flood")
    data, _ = gathered(house.write(tmp_path / "h"), settings)
    assert [day.pump_wet_runs for day in data.days] == [0, 1, 0]
    assert [day.pump_other_runs for day in data.days] == [0, 0, 1]
    assert data.days[1].pump_wet_s == pytest.approx(360.0)
    assert [day.fans_stopped_by_water for day in data.days] == [0, 1, 0]


def test_reasons_are_in_the_unit_that_is_wanted_now(tmp_path: Path, settings: Settings) -> None:
    """Made anew from their numbers; one of a release to come stays as it was written."""
    site = settings.site.model_copy(update={"show": type(settings.site.show).FAHRENHEIT})
    fahrenheit = settings.model_copy(update={"site": site})
    house = House(settings, days=2, fans=False)
    house.change(20.0, "north", on=True, code="heat", numbers=HEAT)
    house.change(21.0, "north", on=False, code="nothing-wanted")
    house.change(22.0, "south", on=True, code="not-invented-yet")
    house.change(23.0, "south", on=False, code="nothing-wanted")
    data, _ = gathered(house.write(tmp_path / "h"), fahrenheit)
    runs = {run.name: run for picture in data.pictures for run in picture.runs}
    assert "40.1 °F" in runs["north"].why
    assert "°C" not in runs["north"].why
    assert runs["south"].why == "not-invented-yet as it was written"


def test_an_alarm_is_one_from_its_first_call_to_its_end(tmp_path: Path, settings: Settings) -> None:
    """However often it calls; what was said while it stood belongs to it, and what ran is counted."""
    house = House(settings, days=3)
    house.alarm(20.0, "frost", detail="air 1.9 °C")
    house.event(21.0, EventCode.SEEN, "frost, probe (bench): seen by somebody")
    house.alarm(22.0, "frost", detail="air -1.0 °C")
    house.alarm(24.0, "frost", raised=False)
    house.alarm(23.0, "probe", subject="bench")
    house.event(40.0, EventCode.SEEN, "frost: seen by somebody")
    house.event(41.0, EventCode.DONE, "floats: done by somebody")
    data, _ = gathered(house.write(tmp_path / "h"), settings)
    frost, probe = data.alarms
    assert (frost.calls, frost.detail, len(frost.said)) == (2, "air 1.9 °C", 1)
    assert frost.over is not None
    assert frost.fan_h == pytest.approx(3 * 4.0)
    assert (probe.over, probe.said) == (None, [])
    assert [one.words for one in data.done] == ["floats: done by somebody"]
