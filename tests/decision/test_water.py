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


def test_a_wet_float_stops_every_fan_of_its_sump_in_the_same_tick() -> None:
    """Water ends every run at once, minimum run or not, and the sentence names the sump."""
    world = banking()
    world.level["main"] = Level.WET
    world.tick(0.2)
    assert world.fans_on() == 0
    assert world.why() == "water in sump main for 0 s; no fan blows into wet tubes"


@pytest.mark.parametrize("why", [Why.UNREADABLE, Why.STALE, Why.NEVER_READ])
def test_a_float_that_cannot_be_read_stops_every_fan_at_once(why: Why) -> None:
    """Not knowing about water counts like water."""
    world = banking()
    world.level["main"] = why
    world.tick(0.2)
    assert world.fans_on() == 0
    assert {world.state.fans[loop].lockouts for loop in HOUSE.loops} == {(Lockout.FLOAT_UNREADABLE,)}
    assert why.value in world.why()


@pytest.mark.parametrize(
    ("seen", "says"),
    [
        (Level.WET, "the tubes drain for another 30 min after water in sump main"),
        (
            Why.UNREADABLE,
            (
                "the float of sump main could not be read until lately, and water may have come unseen; "
                "the tubes get another 30 min to drain"
            ),
        ),
    ],
)
def test_tubes_drain_down_before_a_fan_runs_again(seen: Level | Why, says: str) -> None:
    """Half an hour must pass after the last sign of water, and the wait says what it is for."""
    world = banking()
    world.level["main"] = seen
    world.run(SHORT_BLIND_S + MINUTE_S)
    world.level["main"] = Level.DRY
    last_water_s = world.now_s
    world.tick()
    assert world.why() == says
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
    assert world.why() == (
        "the controller has just started, and water may have come to sump main unseen before; "
        "the tubes get another 30 min to drain"
    )
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


def test_without_the_setting_an_unreadable_float_locks_the_fans_even_in_frost() -> None:
    """By default nobody runs a fan on a float that cannot be read."""
    world = freezing(HOUSE, Why.UNREADABLE)
    world.run(HOUR_S)
    assert world.starts() == []


def test_with_the_setting_frost_runs_are_allowed_on_an_unreadable_float() -> None:
    """Where the grower has chosen so, an outlet that proves air keeps the crop from freezing."""
    world = freezing(ALLOWED, Why.UNREADABLE)
    world.run(HOUR_S)
    assert world.fans_on() == 3
    assert world.demand() == "frost"
    assert world.state.fans["north"].proof is Proof.PROVEN
    assert world.broken == []


def test_the_setting_never_lets_a_fan_run_on_a_float_that_is_wet() -> None:
    """The exception is for a float that says nothing, not for one that reads wet."""
    world = freezing(ALLOWED, Level.WET)
    world.run(HOUR_S)
    assert world.starts() == []


def test_the_setting_does_nothing_without_frost() -> None:
    """Above the frost limit an unreadable float locks the fans, setting or not."""
    world = World(ALLOWED)
    world.ceiling_c = world.bench_c = 3.0
    world.level["main"] = Why.UNREADABLE
    world.run(HOUR_S)
    assert world.starts() == []


def test_a_cold_roof_over_a_bench_above_the_limit_is_no_frost_to_the_setting() -> None:
    """With water possible in the tubes, only frost at the crop itself may run a fan."""
    world = World(ALLOWED)
    world.frosty()
    world.bench_c = ALLOWED.setpoints.frost_limit_c + 0.1
    world.level["main"] = Why.UNREADABLE
    world.run(HOUR_S)
    assert world.starts() == []


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
    ("seen", "lock"), [(Level.WET, "water in the sump"), (Why.UNREADABLE, "float cannot be read")]
)
def test_frost_in_a_flood_is_told_at_top_priority_and_replaces_the_frost_alarm(
    seen: Level | Why, lock: str
) -> None:
    """Five minutes of frost behind water, or behind a float that may hide it, call a person in one alarm."""
    world = freezing(HOUSE, seen)
    assert world.alarms() & {"frost", "frost-in-flood"} == set()
    world.run(3 * MINUTE_S)
    assert world.decision is not None
    first = world.alarms_now[0]
    assert (first.code.value, first.priority) == ("frost-in-flood", Priority.ACT_NOW)
    assert first.detail == f"air 1.0 °C, fans locked: {lock}"
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
