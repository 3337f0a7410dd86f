"""What outlives a restart: motors, water, latches and needs, in a house that is stopped and started again."""

from __future__ import annotations

import pytest

from controller.decision.state import Lockout
from controller.readings.reading import Level, Why
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World
from tests.record.kept import lively, on_the_card

FANS, PUMP = HOUSE.fans, HOUSE.pump


@pytest.mark.parametrize("same_boot", [True, False])
def test_a_motor_that_ran_rests_after_the_restart(same_boot: bool) -> None:
    """A fan that the stop has cut gets its full rest before it starts again; after a reboot tubes drain."""
    world = World()
    world.remember_need(2.0)
    world.sunny()
    world.run(HOUR_S)  # so that the starts an hour are not what holds it back
    stopped_s = world.now_s
    world.restart(2.0, same_boot=same_boot)
    waits_s = FANS.minimum_rest_s if same_boot else PUMP.drain_down_s
    world.run(waits_s + 5 * MINUTE_S)
    again_s = min(world.starts(loop)[1] for loop in HOUSE.loops)
    assert again_s - stopped_s >= waits_s
    assert again_s - stopped_s <= waits_s + 20.0
    assert world.broken == []


@pytest.mark.parametrize("same_boot", [True, False])
def test_a_crash_loop_does_not_give_new_starts(same_boot: bool) -> None:
    """Restarting soon after every start still leaves every fan its starts an hour."""
    world = World()
    world.remember_need(2.0)
    world.sunny()
    every_s = (FANS.minimum_rest_s if same_boot else PUMP.drain_down_s) + 2 * MINUTE_S
    for _ in range(int(4 * HOUR_S / every_s)):
        world.run(every_s)
        world.restart(1.0, same_boot=same_boot)
    for loop in HOUSE.loops:
        starts = world.starts(loop)
        later = starts[FANS.starts_per_hour :]
        assert len(later) >= FANS.starts_per_hour
        assert all(next_s - first_s >= HOUR_S for first_s, next_s in zip(starts, later, strict=False))
    assert world.broken == []


def test_the_stagger_holds_across_a_restart() -> None:
    """A motor that started just before the stop keeps the next one waiting."""
    world = World()
    world.remember_need(2.0)
    world.sunny()
    world.tick()
    first_s = world.now_s
    world.restart(1.0)
    world.tick(1.0)
    assert world.fans_on() == 0
    world.run(2 * MINUTE_S, 1.0)
    at_s = sorted(at for at, _, on in world.switched if on and at > first_s)
    assert at_s[0] - first_s >= FANS.stagger_s
    assert world.broken == []


@pytest.mark.parametrize("same_boot", [True, False])
def test_drain_down_holds_across_a_restart(same_boot: bool) -> None:
    """Water ten minutes before the stop keeps fans off for the other twenty; a reboot begins anew."""
    world = World()
    world.remember_need(2.0)
    world.sunny()
    world.level["main"] = Level.WET
    world.run(MINUTE_S)
    world.level["main"] = Level.DRY
    last_water_s = world.now_s
    world.run(10 * MINUTE_S)
    world.restart(5.0, same_boot=same_boot)
    drains_from_s = last_water_s if same_boot else world.now_s
    world.run(35 * MINUTE_S)
    first_s = min(at for at, output, on in world.switched if on and output.kind == "fan")
    assert first_s - drains_from_s >= PUMP.drain_down_s
    assert first_s - drains_from_s <= PUMP.drain_down_s + 2 * MINUTE_S
    assert world.broken == []


@pytest.mark.parametrize("seen", [Level.WET, Why.UNREADABLE])
@pytest.mark.parametrize("same_boot", [True, False])
def test_water_that_stood_until_the_stop_drains_from_the_restart(seen: Level | Why, same_boot: bool) -> None:
    """Nobody has seen the water fall, so drain-down begins when the program is back."""
    world = World()
    world.remember_need(2.0)
    world.sunny()
    world.level["main"] = seen
    world.run(2 * HOUR_S + 35.0)
    world.level["main"] = Level.DRY
    world.restart(20 * MINUTE_S, same_boot=same_boot)
    back_s = world.now_s
    world.run(40 * MINUTE_S)
    first_s = min(at for at, output, on in world.switched if on and output.kind == "fan")
    assert first_s - back_s >= PUMP.drain_down_s
    assert world.broken == []


@pytest.mark.parametrize(
    ("down_s", "same_boot", "drains"), [(20.0, True, False), (10 * MINUTE_S, True, True), (20.0, False, True)]
)
def test_a_start_is_no_flood(down_s: float, same_boot: bool, drains: bool) -> None:
    """After a short stop within a boot dry tubes are dry; else the start is the reason given for the wait."""
    world = World()
    world.run(2 * MINUTE_S)
    world.restart(down_s, same_boot=same_boot)
    world.frosty()
    world.level["main"] = Why.NEVER_READ
    world.tick(5.0)
    world.level["main"] = Level.DRY
    world.tick(5.0)
    assert (Lockout.JUST_STARTED in world.state.fans["north"].lockouts) is drains
    world.run(11 * MINUTE_S)
    assert (world.fans_on() > 0) is not drains
    details = [alarm.detail for alarm in world.alarms_now]
    assert [detail.split(";")[0] for detail in details] == ["air 1.0 °C, not announced"]
    assert ("just started, the tubes may be wet" in details[0]) is drains
    world.run(30 * MINUTE_S)
    assert world.fans_on() > 0
    assert world.broken == []


def test_a_crash_before_the_float_was_read_forgets_nothing_of_what_was_known() -> None:
    """Two starts close together are one silence, not a flood."""
    world = World()
    world.frosty()
    world.run(20.0)
    world.restart(20.0)
    world.level["main"] = Why.NEVER_READ
    world.tick(1.0)
    world.restart(20.0)
    world.tick(5.0)
    world.level["main"] = Level.DRY
    world.run(11 * MINUTE_S)
    assert world.fans_on() > 0
    assert world.broken == []


@pytest.mark.parametrize("same_boot", [True, False])
def test_the_rest_after_a_long_run_holds_across_a_restart(same_boot: bool) -> None:
    """A pump that has just had its longest run does not get out of its rest by a restart."""
    world = World()
    world.level["main"] = Level.WET
    world.run(PUMP.longest_run_s + 30.0)
    stopped_s = world.pump_stops()[0]
    world.restart(1.0, same_boot=same_boot)
    world.run(40 * MINUTE_S)
    assert world.pump_starts()[1] - stopped_s >= PUMP.rest_s
    assert world.broken == []


@pytest.mark.parametrize("same_boot", [True, False])
def test_a_pump_that_the_stop_has_cut_rests_as_after_a_longest_run(same_boot: bool) -> None:
    """How long it had run is not known, so it may have been for as long as it may."""
    world = World()
    world.level["main"] = Level.WET
    world.run(PUMP.longest_run_s - 5.0)
    stopped_s = world.now_s
    world.restart(1.0, same_boot=same_boot)
    world.run(40 * MINUTE_S)
    assert world.pump_starts()[1] - stopped_s >= PUMP.rest_s
    assert world.broken == []


def test_a_card_that_failed_long_ago_gives_no_start_after_a_power_cut() -> None:
    """A copy from before the last start says that the motor has rested for hours; it rests all the same."""
    world = World()
    old = on_the_card(world.state, world.evidence, world.now_s)
    world.level["main"] = Level.WET
    world.run(MINUTE_S)
    world.saved = old
    stopped_s = world.now_s
    world.restart(1.0, same_boot=False)
    world.run(5 * MINUTE_S)
    assert world.pump_starts()[1] - stopped_s >= PUMP.minimum_rest_s
    assert world.broken == []


def test_the_need_for_heat_is_remembered() -> None:
    """A restart on a sunny noon after a cold night banks all the same."""
    world = World()
    world.remember_need(2.0)
    world.run(2 * MINUTE_S)
    world.restart(5.0)
    world.sunny()
    world.run(10 * MINUTE_S)
    assert world.demand() == "bank"


def test_a_back_off_is_remembered() -> None:
    """A loop that moved no heat is not tried again because of a restart."""
    world = lively()
    while world.state.fans["north"].failed_runs < 2:  # by then the others may start again
        world.tick()
    until_s = world.state.fans["north"].back_off_until_s
    assert until_s is not None
    world.restart(5.0)
    world.switched.clear()
    world.run(15 * MINUTE_S)
    assert not world.fan("north")
    assert world.fan("middle")
    world.run(HOUR_S)
    assert world.starts("north")[0] == pytest.approx(until_s, abs=20.0)
