"""Whole rehearsals of a few days."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

import pytest
import structlog

from controller.record.promises import Broken, PromiseWatch
from controller.rehearsal.journal import Doing
from controller.rehearsal.run import Rehearsal, rehearse
from controller.rehearsal.twin import Twin
from controller.simulator.plant.fault_kinds import FaultKind
from controller.simulator.plant.faults import ScriptedFault
from controller.simulator.weather.formats import WeatherError
from tests.decision.world import HOUSE

pytestmark = pytest.mark.rehearsal

FROSTY = datetime(2026, 1, 7)  # noqa: DTZ001 - the rehearsal takes it for local time of the weather
SPRING = datetime(2026, 3, 1)  # noqa: DTZ001


def plan(days=1.0, first_day=FROSTY, **parts):
    """A rehearsal of the shipped house."""
    return Rehearsal(HOUSE, "carolina", first_day, days, **parts)


@pytest.fixture(scope="module")
def frosty():
    """Two frosty days, hour by hour."""
    return rehearse(plan(2.0, hourly=True))


def figures(outcome):
    """The summary without the time it took."""
    return outcome.summary.model_dump(exclude={"wall_s"})


def test_a_healthy_house_keeps_every_promise(frosty):
    """At least one tick a minute is checked, none breaks a promise, and energy is neither made nor lost."""
    assert frosty.summary.promises.checked_ticks >= 2 * 24 * 60
    assert frosty.summary.promises.broken == []
    assert abs(frosty.summary.ground.energy_closure_error) < 1e-6


def test_fans_keep_the_house_warmer_in_frost(frosty):
    """On frosty days the soil gives heat, and the house is warmer than with fans off on the same days."""
    assert frosty.summary.ground.discharged_kwh > 10.0
    assert frosty.summary.house.outdoor_min_c < -3.0
    without = rehearse(plan(2.0, strategy="fans-off")).summary
    assert without.fans.run_hours == 0.0
    assert without.ground.discharged_kwh == 0.0
    assert without.house.outdoor_min_c == frosty.summary.house.outdoor_min_c
    assert frosty.summary.house.air_min_c > without.house.air_min_c + 1.0


def test_the_house_has_settled_before_it_starts():
    """The air at a frosty midnight is the same whether the rehearsal starts there or a day before."""
    day_before = rehearse(plan(1.1, FROSTY - timedelta(days=1), strategy="fans-off", hourly=True)).rows
    that_day = rehearse(plan(0.1, strategy="fans-off", hourly=True)).rows
    assert day_before[24].ended == that_day[0].ended
    assert that_day[0].bench_min_c == pytest.approx(day_before[24].bench_min_c, abs=0.7)


def test_rows_are_full_hours_and_add_up_to_the_summary(frosty):
    """Every hour has its row; runs, heat and electricity of all rows are those of the whole."""
    rows, summary = frosty.rows, frosty.summary
    start = datetime.fromisoformat(summary.start)
    for hour, row in enumerate(rows, start=1):
        assert abs(row.ended - start - timedelta(hours=hour)) < timedelta(seconds=1)
    assert len(rows) == 48
    assert sum(row.discharged_kwh for row in rows) == pytest.approx(summary.ground.discharged_kwh)
    assert sum(row.electricity_kwh for row in rows) == pytest.approx(summary.fans.energy_kwh, rel=1e-6)
    assert sum(sum(row.fan_s.values()) for row in rows) / 3600.0 == pytest.approx(summary.fans.run_hours)
    assert sum(sum(row.pump_s.values()) for row in rows) / 3600.0 == pytest.approx(summary.pump.run_hours)
    assert min(row.bench_min_c for row in rows) == summary.house.air_min_c


def test_spans_agree_with_the_sums(frosty):
    """The runs that pictures show are the runs that are counted."""
    for doing, hours in (
        (Doing.FAN, frosty.summary.fans.run_hours),
        (Doing.PUMP, frosty.summary.pump.run_hours),
    ):
        lasted = sum((s.ended - s.began for s in frosty.spans if s.doing is doing), timedelta())
        assert lasted / timedelta(hours=1) == pytest.approx(hours)


def test_heat_by_loop_and_purpose_is_the_heat_of_the_soil(frosty):
    """What is summed tick by tick comes within a hundredth of what the soil really gave."""
    by_loop = sum(loop.discharged_kwh for loop in frosty.summary.fans.by_loop.values())
    by_demand = -sum(sums.heat_kwh for sums in frosty.summary.ground.by_demand.values())
    ground = frosty.summary.ground
    assert by_loop == pytest.approx(ground.discharged_kwh, rel=0.01)
    assert by_demand == pytest.approx(ground.discharged_kwh - ground.charged_kwh, rel=0.01)


def test_time_is_local_standard_time_of_the_weather(frosty):
    """A date is midnight at the weather's place; without one the first of January is meant."""
    assert frosty.summary.start == "2026-01-07T00:00:00-05:00"
    assert rehearse(plan(0.01, first_day=None)).summary.start == "2026-01-01T00:00:00-05:00"


def test_same_seed_same_outcome():
    """A rehearsal can be repeated to the last digit; another seed is another noise on the probes."""
    first, second, other = (rehearse(plan(0.6, SPRING, seed=seed)) for seed in (7, 7, 8))
    assert figures(first) == figures(second)
    assert first.examples == second.examples
    assert first.summary.fans.run_hours > 1.0
    assert first.summary.ground.charged_kwh != other.summary.ground.charged_kwh


@pytest.mark.timeout(300)
def test_a_fortnight_at_five_minutes_is_the_fortnight_at_one():
    """Ticking a fifth as often leaves frost, electricity and heat within 1 %, and every promise kept."""
    often, seldom = (rehearse(plan(14.0, FROSTY, pace_s=pace_s)).summary for pace_s in (60.0, 300.0))
    assert (often.pace_s, seldom.pace_s) == (60.0, 300.0)
    assert often.promises.checked_ticks > 4 * seldom.promises.checked_ticks
    assert seldom.promises.broken == []
    assert seldom.house.degree_hours_below_4c == pytest.approx(often.house.degree_hours_below_4c, rel=0.01)
    assert seldom.fans.energy_kwh == pytest.approx(often.fans.energy_kwh, rel=0.01)
    assert seldom.ground.discharged_kwh == pytest.approx(often.ground.discharged_kwh, rel=0.01)


@pytest.mark.parametrize(
    ("days", "pace_s", "expected_s"), [(31.0, None, 60.0), (31.5, None, 300.0), (365.0, 60.0, 60.0)]
)
def test_only_long_rehearsals_tick_seldom(days, pace_s, expected_s):
    """More than 31 days tick every five minutes; a pace that is asked for counts."""
    assert plan(days, pace_s=pace_s).tick_s == expected_s


def test_hourly_rows_change_nothing():
    """Keeping tables does not disturb the rehearsal."""
    assert figures(rehearse(plan(0.5))) == figures(rehearse(plan(0.5, hourly=True)))


def test_spring_sun_is_banked():
    """On warm spring days the fans put heat into the soil, and part of it is moisture."""
    summary = rehearse(plan(2.0, first_day=SPRING)).summary
    assert summary.ground.charged_kwh > 10.0
    assert 0.0 < summary.ground.latent_share < 1.0
    assert any(loop.soil_end_c > loop.soil_start_c + 0.1 for loop in summary.fans.by_loop.values())


@pytest.mark.parametrize("strategy", ["fans-always", "plain-thermostat", "simple-difference"])
def test_other_strategies_stay_within_the_promises(strategy):
    """A bad rule is still held by the safety rules."""
    summary = rehearse(plan(1.0, strategy=strategy)).summary
    assert summary.fans.run_hours > 1.0
    assert set(summary.ground.by_demand) == {"plain"}
    assert summary.promises.broken == []


def test_scripted_fault_raises_its_alarm_in_local_time():
    """An unreadable float six hours after midnight is an alarm a little after six."""
    fault = ScriptedFault(FaultKind.FLOAT_UNREADABLE, "main", 6 * 3600.0)
    summary = rehearse(plan(0.5, faults=(fault,))).summary
    assert summary.alarms["float"].raised == 1
    assert summary.alarms["float"].first_at.startswith("2026-01-07T06:0")
    assert summary.alarms["float"].first_at.endswith("-05:00")
    assert "main" in summary.alarms["float"].first
    assert summary.promises.broken == []


def test_broken_promise_is_told_with_its_local_time(monkeypatch, capsys):
    """What the watch finds broken gets into the summary, not into the output of the program."""
    check = PromiseWatch.observe

    def observe(watch, tick):
        found = check(watch, tick)
        return [*found, Broken("P1", tick.now_mono_s, "P1: made up")] if watch.checked_ticks > 30 else found

    monkeypatch.setattr(PromiseWatch, "observe", observe)
    before = structlog.get_config()
    summary = rehearse(plan(0.1)).summary
    (broken,) = summary.promises.broken
    assert broken.startswith("P1: made up (2026-01-07T00:")
    assert capsys.readouterr().out == ""
    assert structlog.get_config() == before


def test_progress_goes_from_begin_to_end():
    """It is told first when all is ready, then about once a day, and at last that all is done."""
    shares = []
    rehearse(plan(2.0), shares.append)
    assert shares == sorted(shares)
    assert shares[0] < 0.01
    assert shares[-1] == 1.0
    assert len(shares) == 3


def test_bad_weather_is_refused():
    """An unknown name is an error with the names there are."""
    with pytest.raises(WeatherError, match="carolina"):
        rehearse(Rehearsal(HOUSE, "atlantis", None, 1.0))


def test_twin_is_the_same_days_without_fans():
    """The other process comes to exactly what this one would have."""
    twin = Twin(plan(0.5))
    try:
        summary = twin.summary()
    finally:
        twin.stop()
    here = rehearse(plan(0.5, strategy="fans-off")).summary
    assert summary.model_dump(exclude={"wall_s"}) == here.model_dump(exclude={"wall_s"})
    assert math.isfinite(summary.wall_s)


def test_twin_can_be_stopped_at_any_moment():
    """Stopping a long one takes no longer than ending a process, and leaves none behind."""
    twin = Twin(plan(3650.0))
    assert twin._worker._process.is_alive()
    twin.stop()
    assert not twin._worker._process.is_alive()


def test_twin_that_cannot_work_has_no_summary():
    """Bad weather is reported by the first rehearsal; the second ends quietly."""
    twin = Twin(Rehearsal(HOUSE, "atlantis", None, 1.0))
    assert twin.summary() is None
    twin.stop()
