"""When a loop's fan runs, when it does not, and what it says about it."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

from controller.decision.command import OutputId
from controller.decision.demand import Wish
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Demand, Lockout, Proof
from controller.readings.reading import Why
from controller.units import TemperatureUnit
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World, settings_with

if TYPE_CHECKING:
    from controller.decision.demand import LoopView
    from controller.settings.schema import Settings

COLD_NIGHT_C = 2.0
WARM_NIGHT_C = 18.0
FANS = HOUSE.fans
# Motors that may switch often, so that a test sees the rule and not the motor's limits.
NIMBLE = settings_with(
    fans={"minimum_run_s": 60.0, "purge_s": 60.0, "minimum_rest_s": 60.0, "starts_per_hour": 12}
)


def winter(settings: Settings = HOUSE) -> World:
    """A house that has just had a cold night."""
    world = World(settings)
    world.remember_need(COLD_NIGHT_C)
    return world


def summer(settings: Settings = HOUSE) -> World:
    """A house whose nights are warm."""
    world = World(settings)
    world.remember_need(WARM_NIGHT_C)
    world.ceiling_c = world.bench_c = 20.0
    return world


def test_heat_under_the_roof_is_banked_after_a_cold_night() -> None:
    """With the roof warm, the soil cool and cold nights behind it, every loop banks heat."""
    world = winter()
    world.sunny()
    world.run(2 * MINUTE_S)
    assert [world.demand(loop) for loop in HOUSE.loops] == ["bank", "bank", "bank"]
    assert world.fans_on() == 3


def test_a_hot_house_is_cooled_whether_or_not_the_heat_is_wanted() -> None:
    """Above the cooling setpoint the fans run although no night has been cold."""
    world = summer()
    world.ceiling_c, world.bench_c = 28.0, 26.0
    world.run(MINUTE_S)
    assert world.demand() == "cool"


def test_a_cold_house_is_warmed() -> None:
    """Below the heating setpoint the soil gives its warmth back."""
    world = winter()
    world.ceiling_c, world.bench_c = 5.0, 5.0
    world.run(MINUTE_S)
    assert world.demand() == "heat"


def test_at_the_frost_limit_a_smaller_difference_is_enough() -> None:
    """A difference that is not worth a fan in the cold is used up in frost."""
    world = winter()
    world.soil_c["north"] = 7.0
    world.ceiling_c = world.bench_c = 3.0
    world.run(MINUTE_S)
    assert not world.fan()
    world.ceiling_c, world.bench_c = 4.0, 2.0
    world.run(MINUTE_S)
    assert world.demand() == "frost"


@pytest.mark.parametrize(("difference_k", "runs"), [(2.9, False), (3.0, True)])
def test_even_frost_needs_some_difference(difference_k: float, runs: bool) -> None:
    """Below the frost difference the store is empty and no fan runs for nothing."""
    world = winter()
    world.ceiling_c = world.bench_c = 2.0
    world.soil_c["north"] = 2.0 + difference_k
    world.root_c["north"] = 8.0
    world.run(2 * MINUTE_S)
    assert world.fan() is runs


def test_a_frost_run_goes_on_until_the_air_has_come_back_past_its_limit() -> None:
    """Frost ends a deadband above its limit, and heating takes over there."""
    world = winter(NIMBLE)
    world.ceiling_c = world.bench_c = 2.0
    world.run(5 * MINUTE_S)
    world.ceiling_c = world.bench_c = 3.0
    world.run(MINUTE_S)
    assert world.demand() == "frost"
    world.ceiling_c = world.bench_c = 3.1
    world.run(MINUTE_S)
    assert world.demand() == "heat"
    assert world.stops() == []


def test_a_house_between_its_setpoints_wants_nothing() -> None:
    """Air that is neither cold nor hot leaves every fan off and says so."""
    world = winter()
    world.run(HOUR_S)
    assert world.fans_on() == 0
    assert world.state.fans["north"].reason.code is ReasonCode.NOTHING_WANTED


def test_a_warm_house_is_never_cooled_by_giving_out_warmth() -> None:
    """Just above the heating setpoint nothing is given back, however warm the soil."""
    world = winter()
    world.soil_c = dict.fromkeys(HOUSE.loops, 20.0)
    world.ceiling_c = world.bench_c = 5.1
    world.run(HOUR_S)
    assert world.changes == []


def test_cold_soil_is_not_asked_to_heat() -> None:
    """A soil colder than the air gives no warmth, so a cold house leaves the fan off."""
    world = winter()
    world.soil_c = dict.fromkeys(HOUSE.loops, 3.0)
    world.ceiling_c = world.bench_c = 4.5
    world.run(HOUR_S)
    assert world.changes == []


@pytest.mark.parametrize(
    ("ceiling_c", "bench_c", "soil_c", "need_c"),
    [
        ((28.1, 27.9), (25.0, 25.0), 15.0, WARM_NIGHT_C),
        ((5.0, 5.0), (5.1, 4.9), 14.0, COLD_NIGHT_C),
        ((20.1, 19.9), (15.0, 15.0), 10.0, COLD_NIGHT_C),
        ((25.0, 25.0), (13.05, 12.95), 10.0, COLD_NIGHT_C),
        ((20.1, 19.9), (15.0, 15.0), 15.0, COLD_NIGHT_C),
        ((2.1, 1.9), (2.1, 1.9), 5.0, COLD_NIGHT_C),
    ],
    ids=["cool", "heat", "bank", "comfort floor", "useful difference", "frost"],
)
def test_noise_round_a_setpoint_causes_one_start_and_no_stop(
    ceiling_c: tuple[float, float], bench_c: tuple[float, float], soil_c: float, need_c: float
) -> None:
    """A value that wavers by a tenth round any threshold never makes a fan short-cycle."""
    world = World(NIMBLE)
    world.remember_need(need_c)
    world.soil_c["north"] = soil_c
    world.root_c["north"] = 14.0
    for turn in range(360):
        world.ceiling_c, world.bench_c = ceiling_c[turn % 2], bench_c[turn % 2]
        world.tick()
    assert len(world.starts()) == 1
    assert world.stops() == []
    assert world.broken == []


def test_the_root_zone_limit_has_a_deadband() -> None:
    """A root zone that wavers round its limit stops the fan once and does not start it again."""
    world = winter(NIMBLE)
    world.sunny()
    world.root_c["north"] = 25.0
    world.run(5 * MINUTE_S)
    assert world.fan()
    for turn in range(360):
        world.root_c["north"] = 25.9 if turn % 2 else 26.1
        world.tick()
    assert len(world.starts()) == 1
    assert len(world.stops()) == 1
    world.root_c["north"] = 25.4
    world.run(MINUTE_S)
    assert world.fan()


@pytest.mark.parametrize(("difference_k", "runs"), [(4.9, False), (5.0, True)])
def test_a_fan_starts_from_the_useful_difference(difference_k: float, runs: bool) -> None:
    """A start needs the whole useful difference between ceiling and soil."""
    world = winter()
    world.ceiling_c, world.bench_c = 21.0, 18.0
    world.soil_c["north"] = 21.0 - difference_k
    world.run(2 * MINUTE_S)
    assert world.fan() is runs


def test_a_running_fan_stops_below_the_difference_less_its_deadband() -> None:
    """Started at 5 K, the fan still runs at 3.1 K and stops at 2.9 K."""
    world = winter(NIMBLE)
    world.ceiling_c, world.bench_c = 21.0, 18.0
    world.soil_c["north"] = 15.0
    world.run(5 * MINUTE_S)
    world.soil_c["north"] = 17.9
    world.run(10 * MINUTE_S)
    assert world.fan()
    world.soil_c["north"] = 18.1
    world.tick()
    assert not world.fan()
    assert world.state.fans["north"].reason.code is ReasonCode.DIFFERENCE_SMALL


@pytest.mark.parametrize(("difference_k", "runs"), [(7.0, False), (7.3, True)])
def test_a_fan_waits_until_the_heat_is_worth_its_electricity(difference_k: float, runs: bool) -> None:
    """At 338 W of heat a kelvin, twenty times 120 W need a little more than 7.1 K."""
    world = winter(settings_with(fans={"heat_per_watt": 20.0}))
    world.ceiling_c, world.bench_c = 22.0, 18.0
    world.soil_c["north"] = 22.0 - difference_k
    world.run(2 * MINUTE_S)
    assert world.fan() is runs
    if not runs:
        assert world.state.fans["north"].reason.code is ReasonCode.HEAT_TOO_DEAR


def test_heat_that_became_a_little_too_dear_does_not_stop_a_running_fan() -> None:
    """The price of heat has the same deadband as the difference: 3/5 of 7.1 K."""
    world = winter(
        settings_with(NIMBLE, fans={**NIMBLE.fans.model_dump(), "heat_per_watt": 20.0}),
    )
    world.ceiling_c, world.bench_c = 24.0, 18.0
    world.run(5 * MINUTE_S)
    world.soil_c["north"] = 24.0 - 4.5
    world.run(5 * MINUTE_S)
    assert world.fan()
    world.soil_c["north"] = 24.0 - 4.1
    world.run(MINUTE_S)
    assert not world.fan()


@pytest.mark.parametrize(("bench_c", "runs"), [(12.9, False), (13.0, True)])
def test_banking_starts_only_above_the_comfort_floor(bench_c: float, runs: bool) -> None:
    """A house that is still cool at the bench keeps the warmth under its roof."""
    world = winter()
    world.ceiling_c, world.bench_c = 25.0, bench_c
    world.run(2 * MINUTE_S)
    assert world.fan() is runs


def test_banking_ends_at_the_comfort_floor() -> None:
    """Banking that has cooled the bench to its floor stops."""
    world = winter(NIMBLE)
    world.ceiling_c, world.bench_c = 25.0, 15.0
    world.run(5 * MINUTE_S)
    world.bench_c = 12.0
    world.run(MINUTE_S)
    assert world.fan()
    world.bench_c = 11.9
    world.tick()
    assert not world.fan()


def test_nothing_is_banked_in_summer() -> None:
    """After warm nights a warm roof below the cooling setpoint moves no fan."""
    world = summer()
    world.sunny()
    world.run(HOUR_S)
    assert world.changes == []
    assert world.state.fans["north"].reason.code is ReasonCode.STORE_NOT_WANTED


def test_one_cold_night_makes_banking_wanted_again() -> None:
    """A single look at cold air is remembered through the next day."""
    world = summer()
    world.ceiling_c = world.bench_c = 8.0
    world.run(MINUTE_S)
    world.sunny()
    world.run(10 * MINUTE_S)
    assert world.demand() == "bank"


def test_a_cold_night_is_forgotten_within_three_weeks() -> None:
    """Half a kelvin a day: a night of 2 °C asks for banked heat for 16 days and not for 17."""
    world = winter()
    world.sunny()
    for _ in range(24 * 16 - 1):
        world.tick(HOUR_S)
    assert world.demand() == "bank"
    for _ in range(24):
        world.tick(HOUR_S)
    assert world.demand() is None


def test_the_season_needs_no_switch() -> None:
    """The same settings bank in winter, cool without banking in summer, and bank again after frost."""
    world = winter()
    seen = []
    for night_c, noon_c in ((1.0, 25.0), (16.0, 25.0), (16.0, 32.0), (1.0, 25.0)):
        if night_c > 10.0:
            world.remember_need(night_c)
        world.ceiling_c = world.bench_c = night_c
        world.run(2 * HOUR_S, 60.0)
        night = world.demand()
        world.ceiling_c, world.bench_c = noon_c, noon_c - 4.0
        world.run(2 * HOUR_S, 60.0)
        seen.append((night, world.demand()))
    assert seen == [("frost", "bank"), (None, None), (None, "cool"), ("frost", "bank")]
    assert world.broken == []


def test_minimum_run_outlasts_the_demand() -> None:
    """A fan whose demand is over after a minute still runs its minimum run, and no longer."""
    world = winter()
    world.sunny()
    world.tick()
    world.run(MINUTE_S)
    world.ceiling_c, world.bench_c = 15.0, 14.0
    world.run(HOUR_S)
    assert world.stops()[0] - world.starts()[0] == pytest.approx(FANS.minimum_run_s)


def test_minimum_rest_delays_the_next_demand() -> None:
    """A fan that is wanted again at once rests first and counts the rest down."""
    world = winter()
    world.sunny()
    world.run(FANS.minimum_run_s + MINUTE_S)
    world.ceiling_c, world.bench_c = 15.0, 14.0
    world.run(MINUTE_S)
    world.sunny()
    world.tick()
    assert world.state.fans["north"].lockouts == (Lockout.RESTING,)
    world.run(FANS.minimum_rest_s)
    assert world.starts()[1] - world.stops()[0] == pytest.approx(FANS.minimum_rest_s)


def test_starts_per_hour_are_not_exceeded() -> None:
    """A demand that comes and goes gets three starts, then waits until the first is an hour old."""
    settings = settings_with(fans={"minimum_run_s": 60.0, "purge_s": 60.0, "minimum_rest_s": 60.0})
    world = winter(settings)
    for turn in range(360):
        if turn % 2:
            world.ceiling_c, world.bench_c = 15.0, 14.0
        else:
            world.sunny()
        world.run(2 * MINUTE_S)
        if turn == 10:
            assert world.why() == "3 starts in the last hour are the most allowed"
    starts = world.starts()
    assert len(starts) > 9
    assert all(later - first >= HOUR_S for first, later in zip(starts, starts[3:], strict=False))
    assert world.broken == []


def test_fans_start_one_after_the_other() -> None:
    """Three fans wanted at once start a stagger apart, and the waiting ones say so."""
    world = winter()
    world.sunny()
    world.tick()
    assert world.fans_on() == 1
    assert world.decision is not None
    assert world.decision.look_again_s == FANS.stagger_s
    waiting = next(loop for loop in HOUSE.loops if not world.fan(loop))
    assert "two motors never start together" in world.why(waiting)
    world.run(2 * MINUTE_S)
    at_s = sorted(at for at, _, on in world.switched if on)
    assert [later - first for first, later in pairwise(at_s)] == [FANS.stagger_s] * 2


def test_a_fan_that_waits_for_its_turn_is_shown_as_idle() -> None:
    """A loop that waits for the stagger moves no air, so it is not purging."""
    world = winter()
    world.sunny()
    world.tick()
    waiting = [world.state.fans[loop] for loop in HOUSE.loops if not world.fan(loop)]
    assert [fan.proof for fan in waiting] == [Proof.IDLE, Proof.IDLE]


def test_the_most_urgent_loop_starts_first() -> None:
    """Frost goes before heat and heat before banking, whatever the order in the file."""
    wanted = {"north": Demand.BANK, "middle": Demand.FROST, "south": Demand.HEAT}

    def rule(view: LoopView) -> Wish:
        return Wish(wanted[view.plan.name], Reason(ReasonCode.DEMANDED, {"ceiling_c": 1.0, "soil_c": 9.0}))

    world = World(rule=rule, settle=False)
    world.run(HOUR_S)
    order = [output.name for _, output, on in world.switched if on and output.kind == "fan"]
    assert order[:3] == ["middle", "south", "north"]


def test_among_equals_the_largest_difference_starts_first() -> None:
    """Of several loops that would bank, the one with the coolest soil starts first."""
    world = winter()
    world.soil_c |= {"north": 15.0, "middle": 12.0, "south": 13.0}
    world.sunny()
    world.run(2 * MINUTE_S)
    assert [output.name for _, output, on in world.switched if on] == ["middle", "south", "north"]


def no_heat(world: World) -> None:
    """The north outlet reads like the ceiling: no heat stays in the soil."""
    assert isinstance(world.ceiling_c, float)
    world.outlet_c["north"] = world.ceiling_c


def test_a_loop_that_moves_heat_is_proven_after_the_purge_time() -> None:
    """The outlet is not judged during the purge time and proves the run right after it."""
    world = winter()
    world.sunny()
    world.tick()
    loop = next(loop for loop in HOUSE.loops if world.fan(loop))
    world.run(FANS.purge_s - 10.0)
    assert world.state.fans[loop].proof is Proof.PURGING
    world.tick()
    assert world.state.fans[loop].proof is Proof.PROVEN


def test_a_loop_that_moves_no_heat_is_stopped_and_backs_off() -> None:
    """An outlet as warm as the ceiling ends the run after its minimum and pauses the loop."""
    world = winter()
    world.sunny()
    no_heat(world)
    world.run(FANS.minimum_run_s + 2 * MINUTE_S)
    assert world.stops()[0] - world.starts()[0] == pytest.approx(FANS.minimum_run_s)
    assert world.state.fans["north"].lockouts == (Lockout.BACK_OFF,)
    assert world.fan("middle")
    stop = next(change for change in world.changes if not change.on)
    assert stop.reason.sentence(TemperatureUnit.CELSIUS) == (
        "outlet 27.0 °C shows only 0 W for 120 W; next try in 30 min"
    )


def test_discharge_is_confirmed_with_the_sign_of_discharge() -> None:
    """While warmth is given back an outlet warmer than the ceiling is the proof, a colder one is none."""
    world = winter()
    world.frosty()
    world.outlet_c["middle"] = 0.5
    world.run(FANS.minimum_run_s + 2 * MINUTE_S)
    assert world.state.fans["north"].proof is Proof.PROVEN
    assert world.state.fans["middle"].failed_runs == 1


def test_a_short_weakness_does_not_end_a_run() -> None:
    """An outlet that looks weak for two minutes and recovers costs nothing."""
    world = winter()
    world.sunny()
    world.run(20 * MINUTE_S)
    no_heat(world)
    world.run(2 * MINUTE_S)
    world.outlet_c.clear()
    world.run(20 * MINUTE_S)
    assert world.stops() == []


def test_a_small_difference_proves_nothing_either_way() -> None:
    """Below 5 K two probes cannot tell moving air from still air, so the run is not given up."""
    world = winter()
    world.ceiling_c, world.bench_c = 21.0, 18.0
    world.run(20 * MINUTE_S)
    world.soil_c["north"] = 21.0 - 4.0
    no_heat(world)
    world.run(HOUR_S)
    assert world.fan()
    assert world.state.fans["north"].proof is Proof.NOT_TESTABLE


def test_the_back_off_doubles_up_to_its_longest() -> None:
    """Each failed run doubles the pause from half an hour until eight hours are reached."""
    world = winter()
    world.sunny()
    no_heat(world)
    world.run(34 * HOUR_S, 60.0)
    pauses_s = [start - stop for stop, start in zip(world.stops(), world.starts()[1:], strict=False)]
    assert pauses_s == [0.5 * HOUR_S, HOUR_S, 2 * HOUR_S, 4 * HOUR_S, 8 * HOUR_S, 8 * HOUR_S, 8 * HOUR_S]


def test_three_failed_runs_call_a_person_and_a_good_one_clears_it() -> None:
    """The alarm comes with the third failed run and goes with the first run that proves heat."""
    world = winter()
    world.sunny()
    no_heat(world)
    world.run(2 * HOUR_S, 30.0)
    assert world.state.fans["north"].failed_runs == 2
    assert "fan-no-effect" not in world.alarms()
    world.run(HOUR_S, 30.0)
    assert "fan-no-effect" in world.alarms()
    world.outlet_c.clear()
    world.run(5 * HOUR_S, 30.0)
    assert world.state.fans["north"].failed_runs == 0
    assert "fan-no-effect" not in world.alarms()


def test_a_proven_run_resets_the_back_off() -> None:
    """After a run that moved heat the next failure starts again with the shortest pause."""
    world = winter()
    world.sunny()
    no_heat(world)
    world.run(1.5 * HOUR_S, 30.0)
    assert world.state.fans["north"].failed_runs == 2
    world.outlet_c.clear()
    world.run(2 * HOUR_S, 30.0)
    assert world.fan()
    no_heat(world)
    world.run(HOUR_S, 10.0)
    assert world.starts()[-1] - world.stops()[2] == pytest.approx(FANS.back_off_s)


def test_frost_is_retried_after_the_shortest_back_off_however_often_it_failed() -> None:
    """A loop that is eight hours in back-off is tried again in frost half an hour after its last run."""
    world = winter()
    world.sunny()
    no_heat(world)
    world.run(17 * HOUR_S, 60.0)
    assert world.state.fans["north"].failed_runs >= 5
    failed_at_s = world.stops()[-1]
    world.frosty()
    world.run(HOUR_S, 30.0)
    assert world.starts()[-1] - failed_at_s == pytest.approx(FANS.back_off_s, abs=30.0)
    assert world.demand() == "frost"


def test_a_missing_outlet_only_degrades_the_confirmation() -> None:
    """With its outlet probe gone a loop goes on working, unproven."""
    world = winter()
    world.outlet_c["north"] = Why.SILENT
    world.sunny()
    world.run(3 * HOUR_S)
    assert world.fan()
    assert world.stops() == []
    assert world.state.fans["north"].proof is Proof.NOT_TESTABLE


@pytest.mark.parametrize("why", [Why.SILENT, Why.STALE, Why.NOT_FITTED])
def test_a_missing_soil_stops_its_own_fan_at_once(why: Why) -> None:
    """A soil that cannot be believed stops its loop within the minimum run and leaves the others alone."""
    world = winter()
    world.sunny()
    world.run(2 * MINUTE_S)
    world.soil_c["north"] = why
    world.tick()
    assert [world.fan(loop) for loop in HOUSE.loops] == [False, True, True]
    assert world.state.fans["north"].lockouts == (Lockout.SOIL_UNKNOWN,)
    assert world.why() == f"the soil probe {why.value} (for 0 s)"


def test_a_missing_ceiling_stops_every_fan_at_once() -> None:
    """Without a ceiling temperature no fan can be judged useful."""
    world = winter()
    world.sunny()
    world.run(2 * MINUTE_S)
    world.ceiling_c = Why.SILENT
    world.tick()
    assert world.fans_on() == 0
    assert world.why() == "no ceiling probe can be believed: it does not answer (for 0 s)"


def test_the_ceiling_stands_in_for_a_missing_bench() -> None:
    """With the bench probe gone the air under the roof decides about frost and heat."""
    world = winter()
    world.bench_c = Why.SILENT
    world.ceiling_c = 4.0
    world.run(2 * MINUTE_S)
    assert world.demand() == "heat"


def test_a_warm_root_zone_stops_charging_at_once() -> None:
    """At its upper limit the root zone ends banking and cooling, minimum run or not."""
    world = winter()
    world.sunny()
    world.run(MINUTE_S)
    world.root_c["north"] = 26.0
    world.tick()
    assert not world.fan()
    assert world.why() == "root zone 26.0 °C has reached its upper limit of 26.0 °C"


def test_a_cold_root_zone_stops_discharging_at_once() -> None:
    """At its lower limit the root zone keeps the rest of its warmth, even in frost."""
    world = winter()
    world.frosty()
    world.run(MINUTE_S)
    world.root_c["north"] = 6.0
    world.tick()
    assert not world.fan()
    assert world.why() == "root zone 6.0 °C has reached its lower limit of 6.0 °C"


def test_root_zone_limits_hold_only_in_their_own_direction() -> None:
    """A warm root zone may give warmth, a cold one may take it."""
    warm = winter()
    warm.root_c = dict.fromkeys(HOUSE.loops, 30.0)
    warm.frosty()
    warm.run(MINUTE_S)
    assert warm.fan()
    cold = winter()
    cold.root_c = dict.fromkeys(HOUSE.loops, 2.0)
    cold.sunny()
    cold.run(MINUTE_S)
    assert cold.fan()


def test_the_soil_stands_in_for_a_missing_root_zone() -> None:
    """Without a root-zone probe the limits are held at tube depth."""
    world = summer()
    world.root_c["north"] = Why.NOT_FITTED
    world.soil_c["north"] = 26.0
    world.ceiling_c = 35.0
    world.run(MINUTE_S)
    assert not world.fan()
    assert world.fan("middle")
    assert world.state.fans["north"].lockouts == (Lockout.ROOT_ZONE_WARM,)


def test_reasons_carry_their_numbers_in_both_units() -> None:
    """The same reason reads in °C with K or in °F, with the right figures in each."""
    world = winter()
    world.ceiling_c, world.bench_c = 27.3, 22.0
    world.run(2 * MINUTE_S)
    reason = world.state.fans["north"].reason
    assert reason.sentence(TemperatureUnit.CELSIUS) == (
        "ceiling 27.3 °C, soil 14.0 °C, 13.3 K to bank; about 4.5 kW for 120 W"
    )
    assert reason.sentence(TemperatureUnit.FAHRENHEIT) == (
        "ceiling 81.1 °F, soil 57.2 °F, 23.9 °F to bank; about 4.5 kW for 120 W"
    )


def test_a_reason_for_a_small_difference_says_what_would_be_enough() -> None:
    """The sentence gives both temperatures, their difference and the one that is worth a fan."""
    world = winter()
    world.ceiling_c, world.bench_c, world.soil_c["north"] = 21.0, 18.0, 17.0
    world.run(MINUTE_S)
    reason = world.state.fans["north"].reason
    assert reason.sentence(TemperatureUnit.CELSIUS) == (
        "ceiling 21.0 °C and soil 17.0 °C differ by only 4.0 K; 5.0 K are worth a fan"
    )
    assert reason.sentence(TemperatureUnit.FAHRENHEIT) == (
        "ceiling 69.8 °F and soil 62.6 °F differ by only 7.2 °F; 9.0 °F are worth a fan"
    )


@pytest.mark.parametrize("code", list(ReasonCode))
def test_every_reason_has_a_sentence(code: ReasonCode) -> None:
    """No reason is left without words: its sentence can be written with numbers of every name."""

    class Numbers(dict[str, float | str]):
        """Numbers that have any name."""

        def __missing__(self, name: str) -> float:
            return 1.0

    names = "rest_s ceiling_c soil_c difference_k heat_w power_w setpoint_c air_c needed_k coldest_c"
    names += " root_zone_c limit_c outlet_c back_off_s purge_s left_s starts for_s sump why detail most"
    names += " run_s run_on_s tries every_s"
    sentence = Reason(code, Numbers.fromkeys(names.split(), 1.0)).sentence(TemperatureUnit.CELSIUS)
    assert sentence
    assert "{" not in sentence


def test_every_switching_carries_its_reason() -> None:
    """Each change of a fan names the numbers it was decided on, and the command repeats the reason."""
    world = winter()
    world.sunny()
    world.tick()
    assert world.decision is not None
    (change,) = world.decision.changes
    assert change.reason == world.decision.commands[OutputId.fan(change.output.name)].reason
    assert change.reason.numbers["ceiling_c"] == 27.0
