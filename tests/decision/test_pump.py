"""How a sump pump empties its sump and how its motor is looked after."""

from __future__ import annotations

from itertools import pairwise

import pytest

from controller.decision.reasons import ReasonCode
from controller.decision.state import Lockout
from controller.readings.reading import Level, Why
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World, settings_with

PUMP = HOUSE.pump
DAY_S = 24 * HOUR_S


def test_water_starts_the_pump_in_the_same_tick() -> None:
    """A wet float is pumped at once and the reason counts the start."""
    world = World()
    world.level["main"] = Level.WET
    world.tick(0.2)
    assert world.pump()
    assert world.why_pump() == "water in the sump; start 1 of at most 10 this hour"


def test_the_pump_goes_before_fans_that_ask_at_the_same_time() -> None:
    """When a pump and the fans of another sump ask in one tick the pump starts first."""
    world = World(settle=False)
    world.run(PUMP.drain_down_s - 10.0)
    world.remember_need(2.0)
    world.sunny()
    world.level["main"] = Level.WET
    world.tick()
    assert [output.kind for _, output, on in world.switched if on] == ["pump"]


def test_the_pump_runs_on_after_the_float_has_fallen() -> None:
    """Twenty seconds after dry the pump stops, to the second, and says how long it took."""
    world = World()
    world.level["main"] = Level.WET
    world.run(MINUTE_S)
    world.level["main"] = Level.DRY
    world.tick()
    dry_at_s = world.now_s
    world.run(MINUTE_S, tick_s=7.0)
    assert world.pump_stops() == [pytest.approx(dry_at_s + PUMP.run_on_s)]
    assert world.why_pump() == "sump dry; emptied in 80 s, run-on 20 s included"


def test_water_during_the_run_on_goes_on_with_the_same_run() -> None:
    """A float that rises again during the run-on keeps the pump on, and the next run-on is a whole one."""
    world = World()
    world.level["main"] = Level.WET
    world.run(MINUTE_S)
    world.level["main"] = Level.DRY
    world.run(15.0, 5.0)
    world.level["main"] = Level.WET
    world.run(MINUTE_S)
    assert world.pump()
    world.level["main"] = Level.DRY
    world.tick()
    dry_at_s = world.now_s
    world.run(MINUTE_S)
    assert world.pump_stops() == [pytest.approx(dry_at_s + PUMP.run_on_s)]
    assert len(world.pump_starts()) == 1


def test_the_longest_run_is_never_exceeded() -> None:
    """A float that stays wet ends the run after five minutes, to the second, whatever the tick."""
    world = World()
    world.level["main"] = Level.WET
    world.run(6 * MINUTE_S, tick_s=7.0)
    assert world.pump_stops()[0] - world.pump_starts()[0] == pytest.approx(PUMP.longest_run_s)
    stop = next(change for change in world.changes if not change.on)
    assert stop.reason.code is ReasonCode.PUMP_LONGEST_RUN
    assert world.why_pump().startswith("water in the sump; motor rests for another ")


def test_a_long_run_is_followed_by_the_rest() -> None:
    """After a longest run the pump rests ten minutes before it tries again."""
    world = World()
    world.level["main"] = Level.WET
    world.run(20 * MINUTE_S)
    assert world.pump_starts()[1] - world.pump_stops()[0] == pytest.approx(PUMP.rest_s)


def test_after_the_last_try_the_pump_tries_once_an_hour_and_calls_a_person() -> None:
    """Three long runs without success raise the alarm; from then on an hour lies between two tries."""
    world = World()
    world.level["main"] = Level.WET
    world.run(10 * MINUTE_S)
    assert "sump-not-emptying" not in world.alarms()
    world.run(50 * MINUTE_S)
    assert "sump-not-emptying" in world.alarms()
    world.run(4 * HOUR_S)
    rests_s = [start - stop for stop, start in zip(world.pump_stops(), world.pump_starts()[1:], strict=False)]
    assert rests_s[:5] == pytest.approx([600.0, 600.0, 3600.0, 3600.0, 3600.0])
    assert world.broken == []


def test_an_emptied_sump_ends_the_alarm_and_gives_all_tries_back() -> None:
    """Once the float has fallen the failed tries are forgotten and the alarm goes after its delay."""
    world = World()
    world.level["main"] = Level.WET
    world.run(HOUR_S)
    assert world.state.sumps["main"].tries == PUMP.tries
    world.level["main"] = Level.DRY
    world.run(MINUTE_S)
    assert world.state.sumps["main"].tries == 0
    assert "sump-not-emptying" in world.alarms()
    world.run(10 * MINUTE_S)
    assert "sump-not-emptying" not in world.alarms()


@pytest.mark.parametrize("dry_s", [5.0, 60.0])
def test_a_rest_after_a_long_run_is_not_cut_by_a_float_that_falls_for_a_moment(dry_s: float) -> None:
    """The rest after a longest run is for the motor: a float that dips for a moment changes nothing."""
    world = World()
    world.level["main"] = Level.WET
    world.run(PUMP.longest_run_s + 30.0)
    assert not world.pump()
    world.level["main"] = Level.DRY
    world.run(dry_s)
    world.level["main"] = Level.WET
    world.run(20 * MINUTE_S)
    assert world.pump_starts()[1] - world.pump_stops()[0] >= PUMP.rest_s


def test_a_rest_after_a_long_run_is_not_cut_by_a_float_that_fails() -> None:
    """Running by the clock begins only when the rest of the last long run is over."""
    world = World()
    world.level["main"] = Level.WET
    world.run(37 * MINUTE_S)
    assert len(world.pump_stops()) == PUMP.tries
    world.level["main"] = Why.UNREADABLE
    world.run(3 * HOUR_S)
    assert world.pump_starts()[3] - world.pump_stops()[2] >= HOUR_S
    assert world.broken == []


def test_a_short_run_is_followed_by_the_minimum_rest() -> None:
    """Water back at once waits two minutes for the motor and says so."""
    world = World()
    world.level["main"] = Level.WET
    world.run(MINUTE_S)
    world.level["main"] = Level.DRY
    world.run(40.0)
    world.level["main"] = Level.WET
    world.run(10 * MINUTE_S)
    assert world.pump_starts()[1] - world.pump_stops()[0] == pytest.approx(PUMP.minimum_rest_s)


def fill_and_empty(world: World, wet_s: float, dry_s: float) -> None:
    """One cycle: water for a while, then none for a while."""
    world.level["main"] = Level.WET
    world.run(wet_s)
    world.level["main"] = Level.DRY
    world.run(dry_s)


def test_starts_per_hour_are_not_exceeded_and_water_that_waits_calls_a_person() -> None:
    """With the starts of the hour used up the pump waits although it is wet, and the alarm says why."""
    world = World(settings_with(pump={"starts_per_hour": 4}))
    for _ in range(5):
        fill_and_empty(world, 3 * MINUTE_S, 3 * MINUTE_S)
    assert len(world.pump_starts()) == 4
    world.level["main"] = Level.WET
    world.run(11 * MINUTE_S)
    assert not world.pump()
    assert world.why_pump() == "starts in the last hour: 4, the most allowed"
    assert "pump-cycling" in world.alarms()
    world.run(30 * MINUTE_S)
    assert world.pump_starts()[4] - world.pump_starts()[0] >= HOUR_S


def test_an_unreadable_float_is_pumped_by_the_clock_after_a_minute() -> None:
    """A float that cannot be read gets a minute to come back, then a minute of pumping every fifteen."""
    world = World()
    world.level["main"] = Why.UNREADABLE
    world.tick()
    lost_at_s = world.now_s
    world.run(2 * HOUR_S)
    starts, stops = world.pump_starts(), world.pump_stops()
    assert starts[0] == pytest.approx(lost_at_s + MINUTE_S)
    assert [stop - start for start, stop in zip(starts, stops, strict=True)] == pytest.approx([60.0] * 8)
    rests_s = [start - stop for stop, start in zip(stops, starts[1:], strict=False)]
    assert rests_s == pytest.approx([PUMP.duty_rest_s] * 7)
    assert "runs 60 s every 15 min" in next(c for c in world.changes if c.on).reason.sentence(HOUSE.site.show)


def test_a_float_that_comes_back_within_a_minute_starts_nothing() -> None:
    """A short silence of the float is not worth a run."""
    world = World()
    world.level["main"] = Why.UNREADABLE
    world.run(50.0)
    world.level["main"] = Level.DRY
    world.run(HOUR_S)
    assert world.pump_starts() == []


def test_after_a_day_the_clock_slows_to_once_an_hour() -> None:
    """From the second day on an unreadable float is pumped for a minute an hour."""
    world = World()
    world.level["main"] = Why.UNREADABLE
    world.run(DAY_S, 60.0)
    before = len(world.pump_starts())
    world.run(10 * HOUR_S, 60.0)
    assert before == pytest.approx(96, abs=1)
    assert len(world.pump_starts()) - before == pytest.approx(10, abs=1)


def test_a_float_that_fails_during_a_run_ends_it_within_the_duty_run() -> None:
    """A running pump whose float goes silent has run long enough after a minute in all."""
    world = World()
    world.level["main"] = Level.WET
    world.tick()
    world.run(20.0)
    world.level["main"] = Why.UNREADABLE
    world.run(5 * MINUTE_S, 7.0)
    assert world.pump_stops()[0] - world.pump_starts()[0] == pytest.approx(PUMP.duty_run_s)


def test_a_float_that_reads_wet_again_turns_duty_into_emptying() -> None:
    """As soon as the float is back the pump follows it again."""
    world = World()
    world.level["main"] = Why.UNREADABLE
    world.run(80.0)
    assert world.pump()
    world.level["main"] = Level.WET
    world.run(2 * MINUTE_S)
    assert world.pump()
    world.level["main"] = Level.DRY
    world.run(PUMP.run_on_s + 10.0)
    assert not world.pump()


def test_an_idle_pump_is_exercised_once_a_week() -> None:
    """After seven days at rest the pump turns for five seconds on a dry float."""
    world = World()
    world.run(15 * DAY_S, 600.0)
    starts, stops = world.pump_starts(), world.pump_stops()
    assert len(starts) == 2
    assert starts[1] - stops[0] == pytest.approx(PUMP.exercise_every_s, abs=600.0)
    assert [off - on for on, off in zip(starts, stops, strict=True)] == pytest.approx([5.0, 5.0])
    sentence = world.changes[0].reason.sentence(HOUSE.site.show)
    assert sentence == "has not run for 7 d 0 h; runs 5 s so that it does not seize"
    assert world.broken == []


def test_water_during_an_exercise_run_is_pumped_out() -> None:
    """An exercise run that meets water goes on until the sump is empty."""
    world = World()
    for _ in range(8 * 24 * 6):
        world.tick(600.0)
        if world.pump():
            break
    world.level["main"] = Level.WET
    world.run(MINUTE_S)
    assert world.pump()
    assert len(world.pump_starts()) == 1


def test_a_start_of_unknown_history_rests_first() -> None:
    """After a start that remembers nothing even a wet sump waits for the motor's rest."""
    world = World(settle=False)
    begun_s = world.now_s
    world.level["main"] = Level.WET
    world.run(10 * MINUTE_S)
    assert world.pump_starts()[0] - begun_s == pytest.approx(PUMP.minimum_rest_s)


def usual(world: World) -> None:
    """Six unremarkable cycles, so that the usual time to empty is known: half a minute."""
    for _ in range(6):
        fill_and_empty(world, 30.0, 30 * MINUTE_S)


def test_three_slow_emptyings_in_a_row_warn_before_the_pump_fails() -> None:
    """Emptyings of more than three times the usual length are reported with both times, one alone is rain."""
    world = World()
    usual(world)
    for _ in range(2):
        fill_and_empty(world, 100.0, 10 * MINUTE_S)
    assert world.alarms() == set()
    fill_and_empty(world, 100.0, 10 * MINUTE_S)
    assert world.decision is not None
    assert [(alarm.code.value, alarm.detail) for alarm in world.alarms_now] == [
        ("pump-slow", "took 100 s to empty, usual are 30 s")
    ]


def test_a_usual_emptying_among_slow_ones_starts_the_count_anew() -> None:
    """Two slow emptyings, a usual one and two slow ones again are no failing pump."""
    world = World()
    usual(world)
    for wet_s in (100.0, 100.0, 30.0, 100.0, 100.0):
        fill_and_empty(world, wet_s, 10 * MINUTE_S)
    assert world.alarms() == set()


def test_an_ordinary_variation_is_no_slow_pump() -> None:
    """Emptyings of nearly twice the usual length are weather, not wear."""
    world = World()
    usual(world)
    for _ in range(4):
        fill_and_empty(world, 55.0, 10 * MINUTE_S)
    assert "pump-slow" not in world.alarms()


def test_water_that_is_back_at_once_points_at_the_check_valve() -> None:
    """Three short emptyings in a row, each followed by water at once, are reported."""
    world = World(settings_with(pump={"minimum_rest_s": 30.0}))
    for _ in range(6):
        fill_and_empty(world, 100.0, 10 * MINUTE_S)
    for _ in range(3):
        assert "water-returns" not in world.alarms()
        fill_and_empty(world, 35.0, MINUTE_S)
    world.level["main"] = Level.WET
    world.run(MINUTE_S)
    assert "water-returns" in world.alarms()


def test_water_that_comes_back_at_once_after_emptyings_of_the_usual_length_is_much_water() -> None:
    """Only a short emptying points at the check valve; a whole sump that fills again is inflow."""
    world = World(settings_with(pump={"minimum_rest_s": 30.0}))
    for _ in range(6):
        fill_and_empty(world, 100.0, 10 * MINUTE_S)
    for _ in range(3):
        fill_and_empty(world, 100.0, MINUTE_S)
    world.level["main"] = Level.WET
    world.run(10.0)
    assert world.state.sumps["main"].trend.quick_returns == 0


def test_water_that_comes_back_slowly_clears_the_suspicion() -> None:
    """One return after a long time starts the count anew."""
    world = World(settings_with(pump={"minimum_rest_s": 30.0}))
    for _ in range(6):
        fill_and_empty(world, 100.0, 10 * MINUTE_S)
    for _ in range(2):
        fill_and_empty(world, 35.0, MINUTE_S)
    world.run(HOUR_S)
    world.level["main"] = Level.WET
    world.run(10.0)
    assert world.state.sumps["main"].trend.quick_returns == 0


def test_a_pump_that_lost_a_third_of_its_flow_is_told_in_calm_weather() -> None:
    """After long dry pauses even one and a half times the usual length is the pump; three must agree."""
    world = World()
    for _ in range(8):
        fill_and_empty(world, 40.0, HOUR_S)
    for _ in range(3):
        assert "pump-slow" not in world.alarms()
        fill_and_empty(world, 65.0, HOUR_S)
    assert "pump-slow" in world.alarms()


def test_water_that_is_back_after_the_same_minutes_time_and_again_points_at_the_check_valve() -> None:
    """Twenty equal returns are no rain; the alarm names the minutes and hides the starts that are spent."""
    world = World()
    for _ in range(19):
        fill_and_empty(world, 35.0, 6 * MINUTE_S)
    assert "water-returns" not in world.alarms()
    for _ in range(4):
        fill_and_empty(world, 35.0, 6 * MINUTE_S)
    assert world.decision is not None
    (alarm,) = (one for one in world.alarms_now if one.code.value == "water-returns")
    assert "min after each of" in alarm.detail
    assert "pump-cycling" not in world.alarms()


def test_water_that_comes_after_changing_times_is_weather() -> None:
    """Rain that grows and fades never brings the same pause twenty times."""
    world = World()
    for count in range(40):
        fill_and_empty(world, 35.0, (4.0 + 2.5 * abs(count % 8 - 4)) * MINUTE_S)
    assert "water-returns" not in world.alarms()


def test_a_sump_without_water_for_a_month_asks_for_its_float_to_be_lifted() -> None:
    """A dry season and a float that hangs look the same; lifting it tells, and ends the alarm."""
    world = World()
    world.run(29 * DAY_S, HOUR_S)
    assert world.alarms() == set()
    world.run(2 * DAY_S, HOUR_S)
    assert world.alarms() == {"sump-quiet"}
    world.level["main"] = Level.WET
    world.run(10.0)
    assert world.alarms() == set()


def test_the_pump_shows_what_holds_it_back() -> None:
    """A wet sump whose motor rests lists that as its lockout."""
    world = World()
    world.level["main"] = Level.WET
    world.run(PUMP.longest_run_s + 30.0)
    assert world.state.sumps["main"].lockouts == (Lockout.RESTING,)


def test_two_pumps_never_start_together() -> None:
    """With every motor at rest a second start waits for the stagger."""
    world = World()
    world.remember_need(2.0)
    world.sunny()
    world.run(80.0)
    world.level["main"] = Level.WET
    world.run(2 * MINUTE_S, 1.0)
    at_s = sorted(at for at, _, on in world.switched if on)
    assert len(at_s) == 4
    assert all(b - a >= HOUSE.fans.stagger_s for a, b in pairwise(at_s))
