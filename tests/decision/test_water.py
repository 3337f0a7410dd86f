"""What water, and not knowing about water, does to the fans."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.decision.lockouts import SHORT_BLIND_S
from controller.decision.reasons import ReasonCode
from controller.decision.state import Lockout, Proof
from controller.equipment import OutputId
from controller.faults import Priority
from controller.readings.reading import Level, Why
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World, settings_with, two_sumps

if TYPE_CHECKING:
    from controller.settings.schema import Settings

DRAIN_DOWN_S = HOUSE.pump.drain_down_s
ALLOWED = settings_with(fans={"run_in_frost_with_float_unreadable": True})


def banking(settings: Settings = HOUSE) -> World:
    """A house whose fans all bank heat."""
    world = World(settings)
    world.remember_need(2.0)
    world.sunny()
    world.run(HOUR_S + 3 * MINUTE_S)  # starts an hour old leave nothing but water to hold a fan back
    assert world.fans_on() == 3
    return world


def freezing(settings: Settings, level: Level | Why) -> World:
    """A frosty night with warm soil and this to be seen of the float."""
    world = World(settings)
    world.frosty()
    world.level["main"] = level
    world.run(3 * MINUTE_S)
    return world


@pytest.mark.parametrize(
    ("seen", "lockout"),
    [
        (Level.WET, Lockout.FLOOD),
        (Why.UNREADABLE, Lockout.FLOAT_UNREADABLE),
        (Why.STALE, Lockout.FLOAT_UNREADABLE),
        (Why.NEVER_READ, Lockout.FLOAT_UNREADABLE),
    ],
)
def test_water_or_not_knowing_stops_every_fan_of_the_sump_in_the_same_tick(
    seen: Level | Why, lockout: Lockout
) -> None:
    """Every run ends at once, minimum run or not, and the reason names sump and cause."""
    world = banking()
    world.level["main"] = seen
    world.tick(0.2)
    assert world.fans_on() == 0
    assert {world.state.fans[loop].lockouts for loop in HOUSE.loops} == {(lockout,)}
    assert world.state.fans["north"].reason.numbers["sump"] == "main"
    assert seen is Level.WET or seen.value in world.why()


@pytest.mark.parametrize("now", [Level.WET, Level.DRY, Why.UNREADABLE])
@pytest.mark.parametrize(
    ("ceiling_c", "soil_c", "said"), [(40.0, 25.0, True), (31.0, 25.0, False), (33.0, 34.0, False)]
)
def test_fans_that_water_stops_under_a_hot_roof_say_what_they_could_take(
    now: Level | Why, ceiling_c: float, soil_c: float, said: bool
) -> None:
    """Not under a roof that needs no cooling, nor where the soil is the warmer one."""
    world = banking()
    world.ceiling_c, world.bench_c, world.soil_c = ceiling_c, ceiling_c, dict.fromkeys(HOUSE.loops, soil_c)
    world.level["main"] = Level.WET
    world.run(SHORT_BLIND_S + MINUTE_S)
    world.level["main"] = now
    world.tick()
    assert world.fans_on() == 0
    assert ("could go into the soil, for 120 W" in world.why()) is said
    if said:
        loop = HOUSE.derived.loops[0]
        expected_w = loop.expected_w_per_k * (ceiling_c - soil_c)
        assert world.state.fans[loop.name].reason.numbers["heat_w"] == pytest.approx(expected_w)


@pytest.mark.parametrize(
    ("seen", "code"), [(Level.WET, ReasonCode.DRAIN_DOWN), (Why.UNREADABLE, ReasonCode.FLOAT_BACK)]
)
def test_tubes_drain_down_before_a_fan_runs_again(seen: Level | Why, code: ReasonCode) -> None:
    """Half an hour must pass after the last sign of water, and the wait says what it is for."""
    world = banking()
    world.level["main"] = seen
    world.run(SHORT_BLIND_S + MINUTE_S)
    world.level["main"] = Level.DRY
    last_water_s = world.now_s
    world.tick()
    reason = world.state.fans["north"].reason
    assert reason.code is code
    assert reason.numbers["left_s"] == pytest.approx(DRAIN_DOWN_S, abs=10.0)
    world.run(DRAIN_DOWN_S + MINUTE_S)
    first_s = min(
        at for at, output, on in world.switched if on and at > last_water_s and output.kind == "fan"
    )
    assert DRAIN_DOWN_S <= first_s - last_water_s <= DRAIN_DOWN_S + 10.0
    assert world.broken == []


def test_a_float_silent_for_a_moment_is_no_flood() -> None:
    """One tick without a reading stops the fans, and then only their rest and stagger keep them."""
    world = banking()
    world.level["main"] = Why.UNREADABLE
    world.tick()
    assert world.fans_on() == 0
    world.level["main"] = Level.DRY
    world.run(HOUSE.fans.minimum_rest_s + 2 * MINUTE_S)
    assert world.fans_on() > 0
    assert world.broken == []


@pytest.mark.parametrize("silent_s", [50.0, SHORT_BLIND_S])
@pytest.mark.parametrize("before", [Level.DRY, Level.WET])
def test_only_a_short_silence_between_two_dry_looks_is_excused(before: Level, silent_s: float) -> None:
    """Water before the silence may have stood in it; in a longer one the pump runs by the clock."""
    world = banking()
    world.level["main"] = before
    world.tick()
    world.level["main"] = Why.UNREADABLE
    world.run(silent_s)
    world.level["main"] = Level.DRY
    world.tick()
    excused = before is Level.DRY and silent_s < MINUTE_S
    draining = {Lockout.DRAIN_DOWN, Lockout.FLOAT_BACK}
    locked = {lockout for fan in world.state.fans.values() for lockout in fan.lockouts}
    assert bool(locked & draining) is not excused
    world.run(HOUR_S)
    assert world.broken == []


def test_a_silence_in_which_the_pump_ran_is_never_excused() -> None:
    """What the pump has emptied unseen may have stood in the tubes."""
    world = banking()
    world.level["main"] = Level.WET
    world.run(MINUTE_S)
    world.level["main"] = Level.DRY
    world.tick()
    assert world.pump()
    world.run(DRAIN_DOWN_S - 5 * MINUTE_S)
    exercised = world.state.outputs[OutputId.pump("main")]._replace(on=True, since_mono_s=world.now_s)
    world.state = world.state._replace(outputs={**world.state.outputs, OutputId.pump("main"): exercised})
    world.level["main"] = Why.UNREADABLE
    world.tick()
    world.level["main"] = Level.DRY
    world.tick()
    sump = world.state.sumps["main"]
    assert world.now_s - sump.last_water_s <= 10.0
    assert sump.dry_before is None


def test_a_drop_of_water_during_drain_down_starts_it_anew() -> None:
    """Every wet look counts, however short."""
    world = banking()
    world.level["main"] = Level.WET
    world.tick()
    world.level["main"] = Level.DRY
    world.run(DRAIN_DOWN_S - MINUTE_S)
    world.level["main"] = Level.WET
    world.tick(0.3)
    wet_s = world.now_s
    world.level["main"] = Level.DRY
    world.run(DRAIN_DOWN_S - 10.0)
    assert world.fans_on() == 0
    world.run(2 * MINUTE_S)
    assert world.fans_on() == 3
    assert (
        min(at for at, o, on in world.switched if on and at > wet_s and o.kind == "fan")
        >= wet_s + DRAIN_DOWN_S
    )


def test_at_start_no_fan_runs_before_the_float_has_been_read_and_the_tubes_have_drained() -> None:
    """An unread float locks the fans without an alarm; the wait after it names the start as its cause."""
    world = World(settle=False)
    world.remember_need(2.0)
    world.sunny()
    begun_s = world.now_s
    world.level["main"] = Why.NEVER_READ
    world.run(20.0)
    assert world.state.fans["north"].reason.code is ReasonCode.FLOAT_UNREADABLE
    assert world.alarms() == set()
    world.level["main"] = Level.DRY
    world.tick()
    assert world.state.fans["north"].reason.code is ReasonCode.JUST_STARTED
    world.run(DRAIN_DOWN_S + 3 * MINUTE_S)
    waited_s = min(world.starts(loop)[0] for loop in HOUSE.loops) - begun_s
    assert DRAIN_DOWN_S <= waited_s <= DRAIN_DOWN_S + 30.0


@pytest.mark.parametrize("seen", [Level.WET, Why.UNREADABLE, Why.STALE])
def test_a_sump_locks_only_the_loops_that_drain_to_it(seen: Level | Why) -> None:
    """Water in the low sump stops the south loop and leaves the two others running."""
    world = banking(two_sumps())
    world.level["low"] = seen
    world.run(MINUTE_S)
    assert [world.fan(loop) for loop in ("north", "middle", "south")] == [True, True, False]
    world.level["low"] = Level.DRY
    world.level["main"] = seen
    world.run(DRAIN_DOWN_S + 2 * MINUTE_S)
    assert [world.fan(loop) for loop in ("north", "middle", "south")] == [False, False, True]
    assert world.broken == []


def test_each_sump_has_its_own_pump() -> None:
    """Water in one sump runs the pump of that sump only."""
    world = World(two_sumps())
    world.level["low"] = Level.WET
    world.run(MINUTE_S)
    assert (world.pump("main"), world.pump("low")) == (False, True)


LIMIT_C = ALLOWED.setpoints.frost_limit_c


@pytest.mark.parametrize(
    ("house", "level", "ceiling_c", "bench_c", "runs"),
    [
        (ALLOWED, Why.UNREADABLE, 1.5, 1.0, True),
        (ALLOWED, Why.STALE, 1.5, LIMIT_C, True),
        (HOUSE, Why.UNREADABLE, 1.5, 1.0, False),  # only where the grower has chosen so
        (ALLOWED, Level.WET, 1.5, 1.0, False),  # never on a float that says wet
        (ALLOWED, Why.UNREADABLE, 3.0, 3.0, False),  # no frost
        (ALLOWED, Why.UNREADABLE, 1.5, LIMIT_C + 0.1, False),  # frost at the roof only
    ],
)
def test_frost_runs_fans_on_an_unreadable_float_only_by_choice_and_for_the_crop(
    house: Settings, level: Level | Why, ceiling_c: float, bench_c: float, runs: bool
) -> None:
    """Where the grower allows it an outlet that proves air keeps the crop from freezing, and only there."""
    world = World(house)
    world.ceiling_c, world.bench_c = ceiling_c, bench_c
    world.level["main"] = level
    world.run(HOUR_S)
    assert world.broken == []
    if not runs:
        assert world.starts() == []
        return
    assert world.fans_on() == 3
    assert world.demand() == "frost"
    assert world.state.fans["north"].proof is Proof.PROVEN


def test_a_frost_run_ends_when_the_frost_does() -> None:
    """Once the air is a deadband above the frost limit the exception is over, minimum run or not."""
    world = freezing(ALLOWED, Why.UNREADABLE)
    world.ceiling_c = world.bench_c = 3.1
    world.tick()
    assert world.fans_on() == 0
    assert world.state.fans["north"].lockouts == (Lockout.FLOAT_UNREADABLE,)


@pytest.mark.parametrize("outlet", [0.5, Why.SILENT])
def test_a_frost_run_without_proven_air_is_stopped_after_the_purge_time(outlet: float | Why) -> None:
    """A cold or silent outlet proves nothing: the loop stops when the purge time is over and backs off."""
    world = World(ALLOWED)
    world.frosty()
    world.level["main"] = Why.UNREADABLE
    world.outlet_c["north"] = outlet
    world.run(10 * MINUTE_S)
    ran_s = world.stops()[0] - world.starts()[0]
    assert ran_s == pytest.approx(HOUSE.fans.purge_s)
    stop = next(change for change in world.changes if not change.on and change.output.kind == "fan")
    assert stop.reason.code is ReasonCode.AIR_NOT_PROVEN
    assert world.fan("middle")
    assert world.broken == []


def test_a_frost_run_that_loses_its_proof_is_stopped() -> None:
    """Air proven once does not carry a run on when the outlet goes cold."""
    world = freezing(ALLOWED, Why.UNREADABLE)
    world.run(20 * MINUTE_S)
    assert world.fan()
    world.outlet_c["north"] = 1.0
    world.tick()
    assert not world.fan()


def test_a_frost_run_does_not_turn_into_charging() -> None:
    """Sun on the roof over a frosty bench ends the exception: it is there to give warmth, not to take it."""
    world = freezing(ALLOWED, Why.UNREADABLE)
    world.run(HOUSE.fans.purge_s - 2 * MINUTE_S)
    world.ceiling_c = 22.0
    world.run(MINUTE_S)
    assert world.fans_on() == 0
    assert world.broken == []


@pytest.mark.parametrize(
    ("seen", "lock"), [(Level.WET, Lockout.FLOOD), (Why.UNREADABLE, Lockout.FLOAT_UNREADABLE)]
)
def test_frost_in_a_flood_has_top_priority_and_replaces_the_frost_alarm(
    seen: Level | Why, lock: Lockout
) -> None:
    """Five minutes of frost behind water, or behind a float that may hide it, call a person in one alarm."""
    world = freezing(HOUSE, seen)
    assert world.alarms() & {"frost", "frost-in-flood"} == set()
    world.run(3 * MINUTE_S)
    assert world.decision is not None
    first = world.alarms_now[0]
    assert (first.code.value, first.priority) == ("frost-in-flood", Priority.ACT_NOW)
    assert lock.value in first.detail
    world.run(HOUR_S)
    assert "frost" not in world.alarms()
    assert world.fans_on() == 0


def test_frost_without_water_is_a_plain_frost_alarm() -> None:
    """With dry tubes the frost alarm comes after ten minutes and never mentions water."""
    world = freezing(HOUSE, Level.DRY)
    world.run(10 * MINUTE_S)
    assert world.alarms() == {"frost"}


def test_tubes_that_only_drain_are_no_flood_to_a_person() -> None:
    """Frost while the tubes drain is a plain frost alarm, for the fans are free again soon."""
    world = World()
    world.frosty()
    world.level["main"] = Level.WET
    world.run(MINUTE_S)
    world.level["main"] = Level.DRY
    world.run(DRAIN_DOWN_S / 2.0)
    assert {world.state.fans[loop].lockouts for loop in HOUSE.loops} == {(Lockout.DRAIN_DOWN,)}
    assert world.alarms() == {"frost"}
