"""How one tick puts the rules together: what is known, who comes first, who waits, and what is told."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.decision.command import Command, OutputChange
from controller.decision.decide import initial_state
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Demand, Lockout, Need, OutputState, Proof, PumpPhase
from controller.decision.wish import Wish
from controller.diagnosis.heat_share import TRUSTED_FROM_S, HeatShare
from controller.diagnosis.outlets import SETTLED_ON_S
from controller.equipment import OutputId
from controller.readings.reading import Level, Why
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World, settings_with, two_sumps

if TYPE_CHECKING:
    from controller.decision.wish import DemandRule, LoopView
    from controller.settings.schema import Settings

FANS, PUMP, POINTS = HOUSE.fans, HOUSE.pump, HOUSE.setpoints
NORTH, MIDDLE, SOUTH = map(OutputId.fan, ("north", "middle", "south"))
MAIN, LOW = OutputId.pump("main"), OutputId.pump("low")
NIMBLE = settings_with(
    fans={"minimum_run_s": 60.0, "purge_s": 60.0, "minimum_rest_s": 60.0, "starts_per_hour": 12}
)
WANTED = Reason(ReasonCode.DEMANDED, {"ceiling_c": 1.0})
OVER = Reason(ReasonCode.NOTHING_WANTED, {"air_c": 2.0})


def rested(settings: Settings = HOUSE, rule: DemandRule | None = None) -> World:
    """A house in which every motor has rested and every tube has been dry for a day."""
    world = World(settings, settle=False) if rule is None else World(settings, rule, settle=False)
    long_ago_s = world.now_s - 24 * HOUR_S
    state = world.state
    world.state = state._replace(
        outputs=dict.fromkeys(state.outputs, OutputState(on=False, since_mono_s=long_ago_s)),
        sumps={
            name: sump._replace(last_water_s=long_ago_s, unreadable_since_s=None)
            for name, sump in state.sumps.items()
        },
        last_start_s=long_ago_s,
    )
    return world


def wants(*loops: str) -> DemandRule:
    """A rule that wants banking of exactly these loops."""

    def rule(view: LoopView) -> Wish:
        return Wish(Demand.BANK, WANTED) if view.loop.name in loops else Wish(None, OVER)

    return rule


def running(world: World) -> list[str]:
    """The loops whose fans run."""
    return [loop for loop in world.settings.loops if world.fan(loop)]


@pytest.mark.parametrize(("fan_rest_s", "pump_rest_s"), [(600.0, 120.0), (60.0, 300.0)])
def test_a_start_of_unknown_history_says_how_long_motors_rest(fan_rest_s: float, pump_rest_s: float) -> None:
    """The longer of the two rests is given for every output, and nothing has run."""
    settings = settings_with(fans={"minimum_rest_s": fan_rest_s}, pump={"minimum_rest_s": pump_rest_s})
    state = initial_state(settings, 50.0)
    reason = Reason(ReasonCode.STARTED, {"rest_s": max(fan_rest_s, pump_rest_s)})
    assert [fan.reason for fan in state.fans.values()] == [reason] * 3
    assert [sump.reason for sump in state.sumps.values()] == [reason]
    assert state.outputs == dict.fromkeys(
        (NORTH, MIDDLE, SOUTH, MAIN), OutputState(on=False, since_mono_s=50.0)
    )
    assert state.last_start_s == 50.0


@pytest.mark.parametrize(
    ("bench", "ceiling", "air_c"),
    [
        (14.0, 15.0, 14.0),
        (14.0, 13.5, 14.0),
        (14.0, 10.0, 10.5),
        (Why.SILENT, 15.0, 15.0),
        (14.0, Why.SILENT, 14.0),
        (Why.SILENT, Why.SILENT, None),
    ],
)
def test_the_air_at_the_crop_is_the_colder_of_what_is_known(
    bench: float | Why, ceiling: float | Why, air_c: float | None
) -> None:
    """The bench, or half a kelvin more than the ceiling if that is colder, or the one that can be read."""
    world = rested()
    world.bench_c, world.ceiling_c = bench, ceiling
    world.tick()
    assert world.state.need == (Need() if air_c is None else Need(air_c, world.now_s))


def test_fire_is_named_before_water_and_water_of_the_own_sump_only() -> None:
    """The first cause is the one that a person must hear of."""
    world = rested(two_sumps())
    world.level = {"main": Level.WET, "low": Why.UNREADABLE}
    world.tick()
    assert world.state.fans["north"].lockouts == (Lockout.FLOOD,)
    assert world.why("south") == (
        "the float of sump low cannot be read (for 0 s); water may stand in the tubes"
    )
    world.probe_c["bench"] = world.probe_c["ceiling-west"] = 70.0
    world.tick()
    assert {fan.lockouts for fan in world.state.fans.values()} == {(Lockout.FIRE,)}


def test_a_single_start_needs_no_second_look() -> None:
    """Nobody waits for it, so the next tick comes when it comes."""
    world = rested(rule=wants("middle"))
    decision = world.tick()
    assert running(world) == ["middle"]
    assert decision.look_again_s is None
    assert decision.changes == (OutputChange(MIDDLE, on=True, reason=WANTED),)
    assert decision.commands[MIDDLE] == Command(on=True, reason=WANTED)
    assert world.state.last_start_s == world.now_s
    assert world.state.outputs[MIDDLE] == OutputState(
        on=True, since_mono_s=world.now_s, starts_mono_s=(world.now_s,)
    )
    before = world.state
    decision = world.tick()
    assert decision.changes == ()
    assert world.state.last_start_s == before.last_start_s
    assert world.state.outputs is before.outputs


def test_a_motor_that_waits_for_another_start_says_how_long() -> None:
    """The whole stagger in the tick of the other's start, then what is left of it, and a look is wanted."""
    world = rested(rule=wants("north", "south"))
    decision = world.tick()
    assert running(world) == ["north"]
    assert world.why("south") == "waits 30 s so that two motors never start together"
    assert world.state.fans["south"].proof is Proof.IDLE
    assert world.demand("south") is None
    assert decision.look_again_s == FANS.stagger_s
    decision = world.tick(FANS.stagger_s - 8.0)
    assert world.why("south") == "waits 8 s so that two motors never start together"
    assert decision.look_again_s == FANS.stagger_s
    world.tick(8.0)
    assert running(world) == ["north", "south"]


def test_two_wet_sumps_start_one_after_the_other() -> None:
    """The second keeps its phase and reason until its turn, and its fans are locked all the same."""
    world = rested(two_sumps())
    world.tick()
    before = world.state.sumps["low"]
    world.level = {"main": Level.WET, "low": Level.WET}
    decision = world.tick()
    assert (world.pump("main"), world.pump("low")) == (True, False)
    waiting = world.state.sumps["low"]
    assert (waiting.phase, waiting.reason) == (before.phase, before.reason)
    assert waiting.wet_since_s == world.now_s
    assert world.state.sumps["main"].phase is PumpPhase.EMPTYING
    assert decision.look_again_s == PUMP.exercise_run_s
    decision = world.tick(5.0)
    assert decision.look_again_s == FANS.stagger_s
    world.tick(FANS.stagger_s - 5.0)
    assert world.pump("low")


def test_a_pump_that_starts_is_looked_at_as_soon_as_its_shortest_run_may_end() -> None:
    """The exercise run or the duty run, whichever is shorter; then what its own rule asks for."""
    for settings, soon_s in ((HOUSE, 5.0), (settings_with(pump={"duty_run_s": 3.0}), 3.0)):
        world = rested(settings)
        world.level["main"] = Level.WET
        assert world.tick().look_again_s == soon_s
        assert world.tick(10.0).look_again_s == PUMP.longest_run_s - 10.0


def test_a_fan_start_asks_for_no_look_at_the_pump() -> None:
    """Only a pump's start needs an early look, and the earliest of all wishes counts."""
    world = rested(two_sumps(), rule=wants("north"))
    world.level["low"] = Level.WET
    world.tick()
    world.tick(20.0)
    assert running(world) == []
    assert world.decision is not None
    assert world.decision.look_again_s == FANS.stagger_s
    world.tick(260.0)
    assert running(world) == ["north"]
    assert world.decision.look_again_s == PUMP.longest_run_s - 280.0


def cold(settings: Settings = NIMBLE) -> World:
    """A rested house at the heating setpoint, the soil warmest in the middle and coldest in the north."""
    world = rested(settings)
    world.remember_need(2.0)
    for loop, soil_c in (("north", 11.0), ("middle", 13.0), ("south", 12.0)):
        if loop in settings.loops:
            world.soil_c[loop] = soil_c
    world.ceiling_c = world.bench_c = POINTS.heat_below_c
    return world


def test_at_the_end_of_the_deadband_loops_still_have_their_places() -> None:
    """Air exactly a deadband above the setpoint keeps the first loop on and none of those behind it."""
    world = cold()
    world.ceiling_c = world.bench_c = POINTS.heat_below_c - FANS.return_spread_k
    world.run(3 * MINUTE_S)
    assert running(world) == ["north", "middle", "south"]
    world.ceiling_c = world.bench_c = POINTS.heat_below_c + POINTS.air_deadband_k
    world.run(2 * MINUTE_S)
    assert running(world) == ["middle"]


def test_of_two_loops_the_second_follows_after_the_whole_spread() -> None:
    """The spread lies between the first and the last, however many there are."""
    loops = {name: loop for name, loop in HOUSE.loops.items() if name != "south"}
    probes = {name: probe for name, probe in HOUSE.probes.items() if probe.loop != "south"}
    two = NIMBLE.model_copy(update={"loops": loops, "probes": probes})
    assert list(two.loops) == ["north", "middle"]
    world = cold(two)
    world.ceiling_c = world.bench_c = POINTS.heat_below_c - 0.75 * FANS.return_spread_k
    world.run(2 * MINUTE_S)
    assert running(world) == ["middle"]
    world.ceiling_c = world.bench_c = POINTS.heat_below_c - FANS.return_spread_k
    world.run(2 * MINUTE_S)
    assert running(world) == ["north", "middle"]


@pytest.mark.parametrize(
    ("output", "first"),
    [
        (OutputState(on=False, since_mono_s=951.0), "south"),
        (OutputState(on=False, since_mono_s=950.0), "middle"),
        (OutputState(False, 0.0, tuple(900.0 + at for at in range(12))), "south"),
        (OutputState(False, 0.0, tuple(900.0 + at for at in range(11))), "middle"),
    ],
    ids=["resting", "rested", "starts spent", "one start left"],
)
def test_a_loop_whose_motor_may_not_start_leaves_its_place(output: OutputState, first: str) -> None:
    """Rest and starts of the hour count to the moment: nobody waits for a motor that cannot start."""
    world = cold()
    world.state = world.state._replace(outputs={**world.state.outputs, MIDDLE: output})
    world.tick(10.0)
    assert world.now_s == 1010.0
    assert running(world) == [first]


@pytest.mark.parametrize(("left_s", "first"), [(0.125, "south"), (0.0, "middle"), (-5.0, "middle")])
def test_a_loop_in_back_off_leaves_its_place_until_the_moment_it_ends(left_s: float, first: str) -> None:
    """At that moment it is the first again."""
    world = cold()
    middle = world.state.fans["middle"]._replace(back_off_until_s=world.now_s + 10.0 + left_s)
    world.state = world.state._replace(fans={**world.state.fans, "middle": middle})
    world.tick(10.0)
    assert running(world) == [first]


def test_frozen_soil_that_may_give_comes_before_soil_that_may_not() -> None:
    """In a house that is let freeze the order is the same below zero."""
    world = cold(settings_with(NIMBLE, setpoints={"frost_limit_c": -9.0, "heat_below_c": -5.0}))
    world.soil_c = {"north": -1.0, "middle": -2.0, "south": Why.SILENT}
    world.ceiling_c = world.bench_c = -5.125
    world.run(2 * MINUTE_S)
    assert running(world) == ["north"]
    world.ceiling_c = world.bench_c = -5.25
    world.run(2 * MINUTE_S)
    assert running(world) == ["north", "middle"]


def test_a_broken_order_is_no_order_among_equals() -> None:
    """Of loops that ask alike the first in the file starts first."""
    world = rested(rule=wants("north", "middle", "south"))
    world.run(2 * MINUTE_S)
    assert [output for _, output, on in world.switched if on] == [NORTH, MIDDLE, SOUTH]


def test_frost_in_the_house_makes_no_pump_wait() -> None:
    """A pump that asks in the tick of a fan goes first, and the fan says that it waits."""
    world = rested(two_sumps(), rule=wants("north"))
    world.level["low"] = Level.WET
    world.tick()
    assert (world.pump("low"), running(world)) == (True, [])
    assert world.state.fans["north"].reason.code is ReasonCode.STAGGER
    assert world.state.outputs[LOW].on


def test_among_equals_the_larger_difference_starts_first() -> None:
    """Of loops that bank alike the one with the coolest soil goes first, whatever the order in the file."""
    world = rested(rule=wants("north", "middle", "south"))
    world.ceiling_c, world.soil_c["south"] = 30.0, 10.0
    world.tick()
    assert running(world) == ["south"]


def test_the_more_urgent_demand_starts_first() -> None:
    """Before any difference counts."""

    def rule(view: LoopView) -> Wish:
        return Wish(Demand.FROST if view.loop.name == "middle" else Demand.BANK, WANTED)

    world = rested(rule=rule)
    world.ceiling_c, world.soil_c["south"] = 30.0, 10.0
    world.tick()
    assert running(world) == ["middle"]


@pytest.mark.parametrize(("known", "proof"), [(True, Proof.WEAK), (False, Proof.PROVEN)])
def test_fans_know_whether_the_outlets_of_the_house_tell(known: bool, proof: Proof) -> None:
    """An outlet that looks still is no proof where outlets have been seen to look different."""
    world = rested(rule=wants("north"))
    world.ceiling_c = world.bench_c = 34.0
    world.outlet_c["north"] = 24.0  # halfway to the soil
    shares = world.evidence.heat_shares | {"north": HeatShare(0.9, TRUSTED_FROM_S)}
    outlets = world.evidence.outlets._replace(known=known)
    world.evidence = world.evidence._replace(heat_shares=shares, outlets=outlets)
    world.tick()
    world.tick(SETTLED_ON_S)
    assert world.state.fans["north"].proof is proof
