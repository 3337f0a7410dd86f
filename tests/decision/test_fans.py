"""When a loop's fan runs, when it does not, and what it says about it."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

from controller.decision.command import OutputId
from controller.decision.decide import LAYERING_K
from controller.decision.demand import (
    NEED_MARGIN_K,
    STORE_BAND_K,
    STORE_FULL_K,
    Wish,
    heat_rule,
    nights_are_cold,
)
from controller.decision.heat import plan_for
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Demand, Lockout, Need, Proof
from controller.faults import FAULTS, FaultCode
from controller.readings.reading import Level, Why
from controller.settings.load import load
from controller.units import TemperatureUnit
from tests.decision.world import FILE, HOUR_S, HOUSE, MINUTE_S, World, settings_with, two_sumps

if TYPE_CHECKING:
    from collections.abc import Callable

    from controller.decision.demand import LoopView
    from controller.settings.schema import Settings

COLD_NIGHT_C = 2.0
WARM_NIGHT_C = 18.0
FANS, POINTS = HOUSE.fans, HOUSE.setpoints
COLD_NIGHTS_C = (
    POINTS.heat_below_c + NEED_MARGIN_K
)  # nights down to this make heat worth banking in warm soil
FULL_C = POINTS.heat_below_c + STORE_FULL_K  # soil from which a store is full for mild nights
LITTLE_K = 0.05
PAST_FULL_C = FULL_C + STORE_BAND_K + LITTLE_K  # soil in which even a running fan stops banking
# Motors that may switch often, so that a test sees the rule and not the motor's limits.
NIMBLE_FANS = {"minimum_run_s": 60.0, "purge_s": 60.0, "minimum_rest_s": 60.0, "starts_per_hour": 12}
NIMBLE = settings_with(fans=NIMBLE_FANS)
COOLED = settings_with(setpoints={"cooling": True})
NIMBLE_COOLED = settings_with(NIMBLE, setpoints={"cooling": True})


def winter(settings: Settings = HOUSE) -> World:
    """A house that has just had a cold night."""
    world = World(settings)
    world.remember_need(COLD_NIGHT_C)
    return world


def summer(settings: Settings = HOUSE) -> World:
    """A house whose nights are warm and whose store is full."""
    world = World(settings)
    world.remember_need(WARM_NIGHT_C)
    world.soil_c = dict.fromkeys(settings.loops, PAST_FULL_C)
    world.ceiling_c = world.bench_c = 20.0
    return world


def dull(world: World) -> None:
    """The sun goes: no difference between roof and soil is left."""
    world.ceiling_c = world.bench_c = 14.0


def on(world: World) -> list[str]:
    """The loops whose fans run."""
    return [loop for loop in world.settings.loops if world.fan(loop)]


def test_heat_under_the_roof_is_banked_after_a_cold_night() -> None:
    """With the roof warm, the soil cool and cold nights behind it, every loop banks heat."""
    world = winter()
    world.sunny()
    world.run(2 * MINUTE_S)
    assert [world.demand(loop) for loop in HOUSE.loops] == ["bank", "bank", "bank"]
    assert world.fans_on() == 3


def test_a_hot_house_is_cooled_where_that_is_asked_for() -> None:
    """With cooling on the fans run above its setpoint although the store is full, and not below it."""
    world = summer(COOLED)
    world.ceiling_c = world.bench_c = POINTS.cool_above_c - LITTLE_K
    world.run(2 * MINUTE_S)
    assert on(world) == []
    world.ceiling_c = POINTS.cool_above_c
    world.run(2 * MINUTE_S)
    assert [world.demand(loop) for loop in HOUSE.loops] == ["cool"] * 3


def test_a_hot_house_is_left_alone_unless_cooling_is_asked_for() -> None:
    """By default no fan runs for heat that nobody will want in a full store, however hot the house."""
    assert not POINTS.cooling
    world = summer()
    world.ceiling_c, world.bench_c = POINTS.cool_above_c + 10.0, POINTS.cool_above_c + 5.0
    world.run(HOUR_S)
    assert world.changes == []
    assert world.state.fans["north"].reason.code is ReasonCode.STORE_NOT_WANTED


def test_a_hot_house_banks_its_heat_while_nights_are_cold() -> None:
    """The heat of a hot noon is banked for cold nights whether or not the house is cooled."""
    world = winter()
    world.ceiling_c, world.bench_c = POINTS.cool_above_c + 5.0, POINTS.cool_above_c
    world.run(MINUTE_S)
    assert world.demand() == "bank"


def test_a_cold_house_is_warmed() -> None:
    """Below the heating setpoint the soil gives its warmth back."""
    world = winter()
    world.ceiling_c = world.bench_c = POINTS.heat_below_c
    world.run(MINUTE_S)
    assert world.demand() == "heat"


# Air at which warmth is returned, for the first loop and for all of them.
COLD_C = {"heat": POINTS.heat_below_c, "frost": POINTS.frost_limit_c}


@pytest.mark.parametrize("demand", COLD_C)
@pytest.mark.parametrize(("more_k", "runs"), [(-LITTLE_K, False), (LITTLE_K, True)])
def test_warmth_is_returned_from_the_return_difference(demand: str, more_k: float, runs: bool) -> None:
    """In the cold and in frost alike, below the return difference the store is as good as empty."""
    world = winter()
    world.ceiling_c = world.bench_c = COLD_C[demand]
    world.soil_c = dict.fromkeys(HOUSE.loops, COLD_C[demand] + FANS.return_difference_k + more_k)
    world.run(2 * MINUTE_S)
    assert world.demand() == (demand if runs else None)
    if not runs:
        assert world.changes == []
        assert world.state.fans["north"].reason.code is ReasonCode.LITTLE_TO_RETURN


@pytest.mark.parametrize("demand", COLD_C)
def test_a_fan_that_returns_warmth_runs_on_until_half_the_difference_is_left(demand: str) -> None:
    """Started from the return difference it stops below half of it, and not before."""
    world = winter(NIMBLE)
    world.ceiling_c = world.bench_c = COLD_C[demand]
    world.soil_c = dict.fromkeys(HOUSE.loops, COLD_C[demand] + FANS.return_difference_k + LITTLE_K)
    world.run(5 * MINUTE_S)
    assert world.demand() == demand
    half_c = COLD_C[demand] + FANS.return_difference_k / 2.0
    world.soil_c["north"] = half_c + LITTLE_K
    world.run(10 * MINUTE_S)
    assert world.demand() == demand
    world.soil_c["north"] = half_c - LITTLE_K
    world.tick()
    assert world.demand() is None
    assert world.state.fans["north"].reason.code is ReasonCode.LITTLE_TO_RETURN


@pytest.mark.parametrize("demand", COLD_C)
def test_a_ceiling_probe_that_reads_too_warm_keeps_no_warmth_from_the_crop(demand: str) -> None:
    """The soil is compared with the colder of roof and bench: the roof may seem warmer than the soil."""
    world = winter()
    world.bench_c = COLD_C[demand]
    world.ceiling_c = world.bench_c + 3.0
    world.soil_c = dict.fromkeys(HOUSE.loops, COLD_C[demand] + FANS.return_difference_k + LITTLE_K)
    world.run(2 * MINUTE_S)
    assert world.demand() == demand


def test_a_bench_probe_that_reads_too_warm_keeps_no_warmth_from_the_crop() -> None:
    """A cold roof counts as much as a cold bench, give or take the layering."""
    world = winter()
    world.ceiling_c = POINTS.heat_below_c - 1.0
    world.bench_c = world.ceiling_c + 3.0
    world.soil_c = dict.fromkeys(HOUSE.loops, world.ceiling_c + FANS.return_difference_k + LITTLE_K)
    world.run(2 * MINUTE_S)
    assert world.demand() == "heat"


def test_warmth_for_a_cold_house_is_returned_however_dear() -> None:
    """The price of heat holds back what is stored for later, not what the crop needs now."""
    world = winter(settings_with(fans={"heat_per_watt": 50.0}))
    world.ceiling_c = world.bench_c = POINTS.heat_below_c
    world.soil_c["north"] = POINTS.heat_below_c + FANS.return_difference_k + 12.0
    world.run(MINUTE_S)
    assert world.demand() == "heat"


def test_a_frost_run_goes_on_until_the_air_has_come_back_past_its_limit() -> None:
    """Frost ends a deadband above its limit, and heating takes over there."""
    world = winter(NIMBLE)
    world.ceiling_c = world.bench_c = POINTS.frost_limit_c
    world.run(5 * MINUTE_S)
    world.ceiling_c = world.bench_c = POINTS.frost_limit_c + POINTS.air_deadband_k
    world.run(MINUTE_S)
    assert world.demand() == "frost"
    world.ceiling_c = world.bench_c = POINTS.frost_limit_c + POINTS.air_deadband_k + LITTLE_K
    world.run(MINUTE_S)
    assert world.demand() == "heat"
    assert world.stops() == []


def graded(settings: Settings = NIMBLE) -> World:
    """A winter house in which the middle loop has the warmest soil and the north loop the coldest."""
    world = winter(settings)
    world.soil_c |= {"north": 11.0, "middle": 13.0, "south": 12.0}
    return world


def colder_by(world: World, below_k: float) -> list[str]:
    """The loops that return warmth with the air this far below the heating setpoint."""
    world.ceiling_c = world.bench_c = POINTS.heat_below_c - below_k
    world.run(5 * MINUTE_S)
    assert all(world.demand(loop) == "heat" for loop in on(world))
    return on(world)


def test_loops_return_warmth_one_after_the_other_the_warmest_soil_first() -> None:
    """The first loop starts at the heating setpoint, the last where it is colder by the whole spread."""
    world, spread_k = graded(), FANS.return_spread_k
    assert 0.0 < spread_k < POINTS.heat_below_c - POINTS.frost_limit_c
    assert colder_by(world, -LITTLE_K) == []
    assert colder_by(world, 0.0) == ["middle"]
    assert colder_by(world, spread_k / 2.0 - LITTLE_K) == ["middle"]
    assert colder_by(world, spread_k / 2.0 + LITTLE_K) == ["middle", "south"]
    assert colder_by(world, spread_k - LITTLE_K) == ["middle", "south"]
    assert colder_by(world, spread_k + LITTLE_K) == ["north", "middle", "south"]
    assert world.stops("middle") == world.stops("south") == world.stops("north") == []


def test_the_loop_with_the_coldest_soil_is_the_first_to_rest_again() -> None:
    """As the air warms up the loops stop one after the other, each a deadband above where it started."""
    world, spread_k = graded(), FANS.return_spread_k
    colder_by(world, spread_k + LITTLE_K)
    assert colder_by(world, spread_k - POINTS.air_deadband_k + LITTLE_K) == ["north", "middle", "south"]
    assert colder_by(world, spread_k - POINTS.air_deadband_k - LITTLE_K) == ["middle", "south"]
    assert colder_by(world, spread_k / 2.0 - POINTS.air_deadband_k - LITTLE_K) == ["middle"]
    assert colder_by(world, -POINTS.air_deadband_k - LITTLE_K) == []


def test_a_loop_that_returns_warmth_goes_on_although_another_soil_is_warmer_by_now() -> None:
    """The order is that of the starts: a loop keeps its place while it runs."""
    world = graded()
    assert colder_by(world, 0.0) == ["middle"]
    world.soil_c |= {"north": 13.5, "middle": 10.0, "south": 14.0}
    assert colder_by(world, 0.0) == ["middle"]
    assert colder_by(world, FANS.return_spread_k / 2.0 + LITTLE_K) == ["middle", "south"]
    assert world.stops("middle") == []


def test_without_a_spread_all_loops_return_warmth_together() -> None:
    """A spread of nothing lets every loop start at the heating setpoint."""
    world = graded(settings_with(NIMBLE, fans={"return_spread_k": 0.0}))
    assert colder_by(world, -LITTLE_K) == []
    assert colder_by(world, 0.0) == ["north", "middle", "south"]


def test_a_larger_spread_keeps_the_other_loops_back_for_longer() -> None:
    """The spread is what is set, not a habit of the program."""
    world = graded(settings_with(NIMBLE, fans={"return_spread_k": 2.0}))
    assert colder_by(world, 0.9) == ["middle"]
    assert colder_by(world, 1.1) == ["middle", "south"]
    assert colder_by(world, 1.9) == ["middle", "south"]
    assert colder_by(world, 2.1) == ["north", "middle", "south"]


def test_in_frost_no_loop_waits_for_another() -> None:
    """At the frost limit every loop gives what it has, however wide the spread."""
    world = graded(settings_with(NIMBLE, fans={"return_spread_k": 5.0}))
    world.ceiling_c = world.bench_c = POINTS.frost_limit_c
    world.run(2 * MINUTE_S)
    assert [world.demand(loop) for loop in HOUSE.loops] == ["frost"] * 3


def test_a_loop_whose_turn_has_not_come_says_so() -> None:
    """With the air cold enough for the first loop only, the others name the air at which they follow."""
    world, half_k = graded(), FANS.return_spread_k / 2.0
    assert colder_by(world, 0.0) == ["middle"]
    for loop, behind_k in (("south", half_k), ("north", 2.0 * half_k)):
        reason = world.state.fans[loop].reason
        assert reason.code is ReasonCode.OTHERS_ENOUGH
        assert reason.numbers["below_c"] == pytest.approx(POINTS.heat_below_c - behind_k)
    assert colder_by(world, -LITTLE_K) == ["middle"]
    assert world.state.fans["south"].reason.code is not ReasonCode.OTHERS_ENOUGH


def backing_off(world: World, for_s: float) -> None:
    """The south loop has failed and is not tried again for this long."""
    fans = world.state.fans
    until_s = world.now_s + for_s
    south = fans["south"]._replace(failed_runs=1, back_off_until_s=until_s)
    world.state = world.state._replace(fans={**fans, "south": south})


def draining(world: World) -> None:
    """The tubes of the south loop have just been under water."""
    world.level["low"] = Level.WET
    world.tick()
    world.level["low"] = Level.DRY


BLOCKS: dict[str, Callable[[World], None]] = {
    "flood": lambda world: world.level.update(low=Level.WET),
    "float unreadable": lambda world: world.level.update(low=Why.UNREADABLE),
    "draining": draining,
    "root zone cold": lambda world: world.root_c.update(south=POINTS.root_zone_min_c),
    "soil unknown": lambda world: world.soil_c.update(south=Why.SILENT),
    "back-off": lambda world: backing_off(world, HOUR_S),
}


def warmest_south() -> World:
    """A winter house whose south loop has the warmest soil and a sump of its own."""
    world = winter(settings_with(two_sumps(), fans=NIMBLE_FANS))
    world.soil_c |= {"north": 11.0, "middle": 12.0, "south": 13.0}
    return world


@pytest.mark.parametrize("block", BLOCKS.values(), ids=BLOCKS)
def test_a_loop_that_cannot_start_leaves_its_place_to_the_others(block: Callable[[World], None]) -> None:
    """Whatever keeps the warmest soil from giving, the next warmest is the first and the third the second."""
    world = warmest_south()
    block(world)
    assert colder_by(world, 0.0) == ["middle"]
    assert colder_by(world, FANS.return_spread_k / 2.0 + LITTLE_K) == ["north", "middle"]


def test_a_loop_whose_back_off_is_over_has_its_place_again() -> None:
    """A failed run of long ago costs the warmest soil nothing."""
    world = warmest_south()
    backing_off(world, -1.0)
    assert colder_by(world, 0.0) == ["south"]


def test_a_single_loop_is_always_the_first() -> None:
    """A house with one loop returns warmth at the heating setpoint."""
    settings = load(FILE.with_name("one-loop.toml"))
    world = winter(settings)
    world.ceiling_c = world.bench_c = settings.setpoints.heat_below_c
    world.run(MINUTE_S)
    assert on(world) == list(settings.loops)


def test_a_house_between_its_setpoints_wants_nothing() -> None:
    """Air that is neither cold nor above the comfort floor leaves every fan off and says so."""
    world = winter()
    world.sunny()
    world.bench_c = POINTS.comfort_floor_c + POINTS.air_deadband_k - LITTLE_K
    assert world.bench_c > POINTS.heat_below_c
    world.run(HOUR_S)
    assert world.fans_on() == 0
    assert world.state.fans["north"].reason.code is ReasonCode.NOTHING_WANTED


def test_a_warm_house_is_never_cooled_by_giving_out_warmth() -> None:
    """Just above the heating setpoint nothing is given back, however warm the soil."""
    world = winter()
    world.soil_c = dict.fromkeys(HOUSE.loops, 20.0)
    world.ceiling_c = world.bench_c = POINTS.heat_below_c + LITTLE_K
    world.run(HOUR_S)
    assert world.changes == []


@pytest.mark.parametrize("demand", COLD_C)
def test_cold_soil_is_not_asked_to_heat(demand: str) -> None:
    """A soil colder than the air gives no warmth, so a cold house leaves the fan off."""
    world = winter()
    world.ceiling_c = world.bench_c = COLD_C[demand]
    world.soil_c = dict.fromkeys(HOUSE.loops, COLD_C[demand] - FANS.return_difference_k)
    world.run(HOUR_S)
    assert world.changes == []
    assert world.state.fans["north"].reason.code is ReasonCode.NOTHING_TO_RETURN


def test_a_roof_no_warmer_than_the_soil_has_nothing_to_bank() -> None:
    """A difference that points out of the soil is called that, and not a small difference."""
    world = winter()
    world.bench_c = POINTS.comfort_floor_c + POINTS.air_deadband_k + LITTLE_K
    world.ceiling_c, world.soil_c["north"] = 13.0, 14.0
    world.run(MINUTE_S)
    assert world.demand() is None
    assert world.state.fans["north"].reason.code is ReasonCode.NOTHING_TO_BANK
    assert world.why() == "ceiling 13.0 °C is no warmer than soil 14.0 °C: nothing to bank"


def steady(value_c: float) -> tuple[float, float]:
    """Air that does not waver."""
    return value_c, value_c


def wavering(value_c: float, by_k: float = 0.1) -> tuple[float, float]:
    """Air a little above and a little below, in turn."""
    return value_c + by_k, value_c - by_k


COLD_AND_CALM_C = POINTS.heat_below_c - FANS.return_spread_k - 0.5  # every loop may return warmth


@pytest.mark.parametrize(
    ("ceiling_c", "bench_c", "soil_c", "need_c"),
    [
        (wavering(POINTS.cool_above_c), steady(25.0), PAST_FULL_C, WARM_NIGHT_C),
        (steady(POINTS.heat_below_c), wavering(POINTS.heat_below_c), 14.0, COLD_NIGHT_C),
        (steady(4.0), wavering(POINTS.heat_below_c - FANS.return_spread_k), 10.0, COLD_NIGHT_C),
        (
            wavering(10.0 - FANS.return_difference_k),
            steady(COLD_AND_CALM_C),
            10.0,
            COLD_NIGHT_C,
        ),
        (
            steady(25.0),
            wavering(POINTS.comfort_floor_c + POINTS.air_deadband_k, LITTLE_K),
            10.0,
            COLD_NIGHT_C,
        ),
        (wavering(15.0 + FANS.useful_difference_k), steady(15.0), 15.0, COLD_NIGHT_C),
        (wavering(POINTS.frost_limit_c), wavering(POINTS.frost_limit_c), 5.0, COLD_NIGHT_C),
    ],
    ids=["cool", "heat", "spread", "return difference", "comfort floor", "useful difference", "frost"],
)
def test_noise_round_a_setpoint_causes_one_start_and_no_stop(
    ceiling_c: tuple[float, float], bench_c: tuple[float, float], soil_c: float, need_c: float
) -> None:
    """A value that wavers by a tenth round any threshold never makes a fan short-cycle."""
    world = World(NIMBLE_COOLED)
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
    world.root_c["north"] = POINTS.root_zone_max_c - 1.0
    world.run(5 * MINUTE_S)
    assert world.fan()
    for turn in range(360):
        world.root_c["north"] = POINTS.root_zone_max_c + (-0.1 if turn % 2 else 0.1)
        world.tick()
    assert len(world.starts()) == 1
    assert len(world.stops()) == 1
    world.root_c["north"] = POINTS.root_zone_max_c - POINTS.root_zone_deadband_k - 0.1
    world.run(MINUTE_S)
    assert world.fan()


@pytest.mark.parametrize(("more_k", "runs"), [(-LITTLE_K, False), (LITTLE_K, True)])
def test_a_fan_starts_to_bank_from_the_useful_difference(more_k: float, runs: bool) -> None:
    """A start needs the whole useful difference between ceiling and soil."""
    world = winter()
    world.ceiling_c, world.bench_c = 21.0, 18.0
    world.soil_c["north"] = 21.0 - FANS.useful_difference_k - more_k
    world.run(2 * MINUTE_S)
    assert world.fan() is runs


def test_a_running_fan_stops_below_the_difference_less_its_deadband() -> None:
    """A fan that banks runs on through the deadband below the useful difference and stops at its end."""
    world = winter(NIMBLE)
    world.ceiling_c, world.bench_c = 21.0, 18.0
    world.soil_c["north"] = 21.0 - FANS.useful_difference_k - LITTLE_K
    world.run(5 * MINUTE_S)
    end_c = 21.0 - (FANS.useful_difference_k - FANS.difference_deadband_k)
    world.soil_c["north"] = end_c - LITTLE_K
    world.run(10 * MINUTE_S)
    assert world.fan()
    world.soil_c["north"] = end_c + LITTLE_K
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
    """The price of heat has a deadband that is the same share of it as that of the difference."""
    settings = settings_with(NIMBLE, fans={"heat_per_watt": 20.0})
    plan = plan_for(settings).loops[0]
    worth_k = 20.0 * plan.power_w / plan.expected_w_per_k
    share = 1.0 - FANS.difference_deadband_k / FANS.useful_difference_k
    world = winter(settings)
    world.ceiling_c, world.bench_c = 24.0, 18.0
    world.run(5 * MINUTE_S)
    world.soil_c["north"] = 24.0 - share * worth_k - LITTLE_K
    world.run(5 * MINUTE_S)
    assert world.fan()
    world.soil_c["north"] = 24.0 - share * worth_k + LITTLE_K
    world.run(MINUTE_S)
    assert not world.fan()


@pytest.mark.parametrize(("more_k", "runs"), [(-LITTLE_K, False), (LITTLE_K, True)])
def test_banking_starts_only_above_the_comfort_floor(more_k: float, runs: bool) -> None:
    """A house that is still cool at the bench keeps the warmth under its roof."""
    world = winter()
    world.ceiling_c = 25.0
    world.bench_c = POINTS.comfort_floor_c + POINTS.air_deadband_k + more_k
    world.run(2 * MINUTE_S)
    assert world.fan() is runs


def test_banking_ends_at_the_comfort_floor() -> None:
    """Banking that has cooled the bench to its floor stops."""
    world = winter(NIMBLE)
    world.ceiling_c, world.bench_c = 25.0, 15.0
    world.run(5 * MINUTE_S)
    world.bench_c = POINTS.comfort_floor_c
    world.run(MINUTE_S)
    assert world.fan()
    world.bench_c = POINTS.comfort_floor_c - LITTLE_K
    world.tick()
    assert not world.fan()


def test_nothing_is_banked_into_a_full_store_in_summer() -> None:
    """After warm nights a warm roof over warm soil moves no fan, and the soil and the nights are named."""
    world = summer()
    world.soil_c["north"] = 20.0
    world.sunny()
    world.run(HOUR_S)
    assert world.changes == []
    reason = world.state.fans["north"].reason
    assert reason.code is ReasonCode.STORE_NOT_WANTED
    assert reason.numbers["coldest_c"] == pytest.approx(WARM_NIGHT_C, abs=LITTLE_K)
    assert world.why().startswith(
        "soil 20.0 °C is warm enough for nights that have not been colder than 18.0 °C"
    )


@pytest.mark.parametrize(("more_k", "wanted"), [(-LITTLE_K, "bank"), (LITTLE_K, None)])
def test_a_store_that_is_not_full_is_filled_after_warm_nights_too(more_k: float, wanted: str | None) -> None:
    """Soil short of the full store is charged however mild the season, soil beyond it is not."""
    world = summer()
    world.soil_c["north"] = FULL_C + more_k
    world.sunny()
    world.run(2 * MINUTE_S)
    assert world.demand() == wanted


def test_a_fan_that_banks_goes_on_a_band_past_a_full_store() -> None:
    """Soil that wavers round the full store causes one start and no stop; past the band the fan stops."""
    world = summer(NIMBLE)
    world.sunny()
    for turn in range(180):
        world.soil_c["north"] = FULL_C + (LITTLE_K if turn % 2 else -LITTLE_K)
        world.tick()
    assert len(world.starts()) == 1
    assert world.stops() == []
    world.soil_c["north"] = FULL_C + STORE_BAND_K - LITTLE_K
    world.run(5 * MINUTE_S)
    assert world.demand() == "bank"
    world.soil_c["north"] = PAST_FULL_C
    world.tick()
    assert world.demand() is None
    assert world.state.fans["north"].reason.code is ReasonCode.STORE_NOT_WANTED


@pytest.mark.parametrize(
    ("coldest_c", "cold"), [(None, True), (COLD_NIGHTS_C, True), (COLD_NIGHTS_C + LITTLE_K, False)]
)
def test_unknown_nights_count_as_cold(coldest_c: float | None, cold: bool) -> None:
    """Nights near the heating setpoint are cold, and so are nights of which nothing is known yet."""
    assert nights_are_cold(Need(coldest_c, 0.0), HOUSE) is cold


def test_a_full_store_is_charged_while_nothing_is_known_of_the_nights() -> None:
    """The shipped rule without a memory of nights banks into soil that mild nights would leave alone."""
    worlds = {
        "unknown": World(rule=lambda view: heat_rule(view._replace(need=Need()))),
        "mild": World(),
    }
    for world in worlds.values():
        world.remember_need(WARM_NIGHT_C)
        world.soil_c["north"] = PAST_FULL_C
        world.sunny()
        world.run(2 * MINUTE_S)
    assert {name: world.demand() for name, world in worlds.items()} == {"unknown": "bank", "mild": None}


@pytest.mark.parametrize(("more_k", "wanted"), [(-0.1, "bank"), (0.1, None)])
def test_one_cold_night_makes_banking_into_a_full_store_wanted_again(
    more_k: float, wanted: str | None
) -> None:
    """A single look at air near the heating setpoint has even a full store charged; milder air has not."""
    world = summer()
    world.ceiling_c = world.bench_c = COLD_NIGHTS_C + more_k
    world.run(MINUTE_S)
    world.sunny()
    world.run(10 * MINUTE_S)
    assert world.demand() == wanted


def test_a_cold_night_is_forgotten_by_half_a_kelvin_a_day() -> None:
    """A night of 2 °C has a full store charged until it has faded to a mild one, and no day longer."""
    hours = int((COLD_NIGHTS_C - COLD_NIGHT_C) / 0.5 * 24)
    assert hours > 3 * 24
    world = summer()
    world.remember_need(COLD_NIGHT_C)
    world.sunny()
    for _ in range(hours - 1):
        world.tick(HOUR_S)
    assert world.demand() == "bank"
    for _ in range(24):
        world.tick(HOUR_S)
    assert world.demand() is None


@pytest.mark.parametrize(
    ("settings", "heat_wave"), [(COOLED, "cool"), (HOUSE, None)], ids=["cooled", "as is"]
)
def test_the_season_needs_no_switch(settings: Settings, heat_wave: str | None) -> None:
    """Over warm soil the same settings bank in winter, at most cool in summer, and bank again."""
    world = summer(settings)
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
    assert seen == [("frost", "bank"), (None, None), (None, heat_wave), ("frost", "bank")]
    assert world.broken == []


def test_minimum_run_outlasts_the_demand() -> None:
    """A fan whose demand is over after a minute still runs its minimum run, and no longer."""
    world = winter()
    world.sunny()
    world.tick()
    world.run(MINUTE_S)
    dull(world)
    world.run(FANS.minimum_run_s + HOUR_S)
    assert world.stops()[0] - world.starts()[0] == pytest.approx(FANS.minimum_run_s)


def test_minimum_rest_delays_the_next_demand() -> None:
    """A fan that is wanted again at once rests first and counts the rest down."""
    world = winter(settings_with(fans={"starts_per_hour": 12}))
    world.sunny()
    world.run(FANS.minimum_run_s + MINUTE_S)
    dull(world)
    world.run(MINUTE_S)
    world.sunny()
    world.tick()
    assert world.state.fans["north"].lockouts == (Lockout.RESTING,)
    world.run(FANS.minimum_rest_s)
    assert world.starts()[1] - world.stops()[0] == pytest.approx(FANS.minimum_rest_s)


def test_starts_per_hour_are_not_exceeded() -> None:
    """A demand that comes and goes gets its starts, then waits until the first is an hour old."""
    settings = settings_with(fans={"minimum_run_s": 60.0, "purge_s": 60.0, "minimum_rest_s": 60.0})
    world = winter(settings)
    for turn in range(360):
        if turn % 2:
            dull(world)
        else:
            world.sunny()
        world.run(2 * MINUTE_S)
        if turn == 10:
            assert world.why() == f"starts in the last hour: {FANS.starts_per_hour}, the most allowed"
    starts = world.starts()
    assert len(starts) > 9
    later = starts[FANS.starts_per_hour :]
    assert all(next_s - first_s >= HOUR_S for first_s, next_s in zip(starts, later, strict=False))
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


def fail(world: World, times: int) -> None:
    """Let the north loop run without heat until it has failed this often."""
    no_heat(world)
    while world.state.fans["north"].failed_runs < times:
        world.tick(30.0)


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
    expected_s = [0.5 * HOUR_S, HOUR_S, 2 * HOUR_S, 4 * HOUR_S, 8 * HOUR_S, 8 * HOUR_S, 8 * HOUR_S]
    world.run(sum(expected_s) + (len(expected_s) + 1) * FANS.minimum_run_s, 60.0)
    pauses_s = [start - stop for stop, start in zip(world.stops(), world.starts()[1:], strict=False)]
    assert pauses_s == expected_s


def test_three_failed_runs_call_a_person_and_a_good_one_clears_it() -> None:
    """The alarm comes with the third failed run and goes with the first run that proves heat."""
    world = winter()
    world.sunny()
    row = FAULTS[FaultCode.FAN_NO_EFFECT]
    fail(world, 2)
    world.run(row.on_delay_s + MINUTE_S, 30.0)
    assert "fan-no-effect" not in world.alarms()
    fail(world, 3)
    world.run(row.on_delay_s + MINUTE_S, 30.0)
    assert "fan-no-effect" in world.alarms()
    world.outlet_c.clear()
    world.run(5 * HOUR_S, 30.0)
    assert world.state.fans["north"].failed_runs == 0
    assert "fan-no-effect" not in world.alarms()


def test_a_proven_run_resets_the_back_off() -> None:
    """After a run that moved heat the next failure starts again with the shortest pause."""
    world = winter()
    world.sunny()
    fail(world, 2)
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
    fail(world, 5)
    failed_at_s = world.stops()[-1]
    until_s = world.state.fans["north"].back_off_until_s
    assert until_s is not None
    assert until_s - failed_at_s > 7 * HOUR_S
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
    world.ceiling_c = POINTS.heat_below_c
    world.run(2 * MINUTE_S)
    assert world.demand() == "heat"


@pytest.mark.parametrize(("more_k", "runs"), [(-LITTLE_K, True), (LITTLE_K, False)])
def test_a_bench_probe_that_reads_too_warm_does_not_let_the_crop_freeze(more_k: float, runs: bool) -> None:
    """The air is as cold as the ceiling says, give or take the layering of a cold house."""
    world = winter()
    world.bench_c = POINTS.heat_below_c + 1.0
    world.ceiling_c = POINTS.heat_below_c - LAYERING_K + more_k
    world.run(MINUTE_S)
    assert world.demand() == ("heat" if runs else None)


def test_a_warm_root_zone_stops_charging_at_once() -> None:
    """At its upper limit the root zone ends banking and cooling, minimum run or not."""
    world = winter()
    world.sunny()
    world.run(MINUTE_S)
    world.root_c["north"] = limit_c = POINTS.root_zone_max_c
    world.tick()
    assert not world.fan()
    assert world.why() == f"root zone {limit_c:.1f} °C has reached its upper limit of {limit_c:.1f} °C"


def test_a_cold_root_zone_stops_discharging_at_once() -> None:
    """At its lower limit the root zone keeps the rest of its warmth, even in frost."""
    world = winter()
    world.frosty()
    world.run(MINUTE_S)
    world.root_c["north"] = limit_c = POINTS.root_zone_min_c
    world.tick()
    assert not world.fan()
    assert world.why() == f"root zone {limit_c:.1f} °C has reached its lower limit of {limit_c:.1f} °C"


def test_root_zone_limits_hold_only_in_their_own_direction() -> None:
    """A warm root zone may give warmth, a cold one may take it."""
    warm = winter()
    warm.root_c = dict.fromkeys(HOUSE.loops, POINTS.root_zone_max_c + 4.0)
    warm.frosty()
    warm.run(MINUTE_S)
    assert warm.fan()
    cold = winter()
    cold.root_c = dict.fromkeys(HOUSE.loops, POINTS.root_zone_min_c - 4.0)
    cold.sunny()
    cold.run(MINUTE_S)
    assert cold.fan()


def test_the_soil_stands_in_for_a_missing_root_zone() -> None:
    """Without a root-zone probe the limits are held at tube depth."""
    world = winter()
    world.root_c["north"] = Why.NOT_FITTED
    world.soil_c["north"] = POINTS.root_zone_max_c
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
    world = winter(settings_with(fans={"useful_difference_k": 5.0}))
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
    names += " run_s run_on_s every_s below_c wet_for_s"
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
