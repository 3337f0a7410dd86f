"""A sump's pump in its house: before the fans, for twelve hours of water, by the clock, and whom it calls."""

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
    assert world.state.sumps["main"].reason.code is ReasonCode.PUMP_WET


def test_the_pump_goes_before_fans_that_ask_at_the_same_time() -> None:
    """When a pump and the fans of another sump ask in one tick the pump starts first."""
    world = World(settle=False)
    world.run(PUMP.drain_down_s - 10.0)
    world.remember_need(2.0)
    world.sunny()
    world.level["main"] = Level.WET
    world.tick()
    assert [output.kind for _, output, on in world.switched if on] == ["pump"]


def share_on(world: World, begin_s: float, end_s: float) -> float:
    """The share of a time that the pump was on."""
    ends = [*world.pump_stops(), *([world.now_s] if world.pump() else [])]
    runs = zip(world.pump_starts(), ends, strict=True)
    return sum(max(min(off, end_s) - max(on, begin_s), 0.0) for on, off in runs) / (end_s - begin_s)


@pytest.mark.parametrize("changes", [{}, {"longest_run_s": 900.0, "rest_s": 90.0, "starts_per_hour": 4}])
def test_a_float_that_stays_wet_is_believed_for_twelve_hours(changes: dict[str, float]) -> None:
    """The pump runs nine tenths of that time, then rests three times as long as it runs, and says why."""
    world = World(settings_with(pump={"minimum_rest_s": 60.0, **changes}))
    world.level["main"] = Level.WET
    world.run(0.2)
    rose_s = world.now_s
    world.run(40 * HOUR_S, MINUTE_S)
    believed_s = rose_s + 12 * HOUR_S
    assert share_on(world, rose_s, believed_s) >= 0.9
    assert share_on(world, believed_s + HOUR_S, world.now_s) == pytest.approx(0.25, abs=0.02)
    assert ReasonCode.PUMP_DOUBTED in {change.reason.code for change in world.changes}
    world.level["main"] = Level.DRY
    world.run(10 * MINUTE_S)
    world.level["main"] = Level.WET
    world.run(HOUR_S)
    assert share_on(world, world.now_s - HOUR_S, world.now_s) >= 0.9


def test_a_float_that_stays_wet_calls_a_person_within_the_hour() -> None:
    """A cut wire looks like a flood: somebody is called after 45 min, and once more after twelve hours."""
    world = World()
    world.level["main"] = Level.WET
    world.run(45 * MINUTE_S)
    assert "sump-not-emptying" not in world.alarms()
    world.run(MINUTE_S)
    assert "sump-not-emptying" in world.alarms()
    world.events.clear()
    world.run(12 * HOUR_S, MINUTE_S)
    assert world.events == [("sump-not-emptying", "main", True)]
    world.level["main"] = Level.DRY
    world.run(MINUTE_S)
    assert "sump-not-emptying" in world.alarms()
    world.run(10 * MINUTE_S)
    assert "sump-not-emptying" not in world.alarms()


def fill_and_empty(world: World, wet_s: float, dry_s: float) -> None:
    """One cycle: water for a while, then none for a while."""
    world.level["main"] = Level.WET
    world.run(wet_s)
    world.level["main"] = Level.DRY
    world.run(dry_s)


def test_starts_are_spaced_so_that_water_never_waits_for_the_end_of_the_hour() -> None:
    """A pit that fills at once gets a start every quarter of an hour where four are allowed, and is told."""
    world = World(settings_with(pump={"starts_per_hour": 4}))
    for _ in range(4):
        assert "pump-cycling" not in world.alarms()
        fill_and_empty(world, 2 * MINUTE_S, MINUTE_S)
        world.level["main"] = Level.WET
        world.run(10.0)
        assert world.state.sumps["main"].lockouts == (Lockout.STARTS_SPACED,)
        world.run(12 * MINUTE_S - 10.0)
    starts = world.pump_starts()
    assert [b - a for a, b in pairwise(starts)] == pytest.approx([HOUR_S / 4.0] * 3)
    assert "pump-cycling" in world.alarms()
    world.level["main"] = Level.DRY
    world.run(HOUR_S)
    fill_and_empty(world, MINUTE_S, 3 * HOUR_S)
    assert "pump-cycling" not in world.alarms()


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


def test_an_idle_pump_is_exercised_once_a_week() -> None:
    """After seven days at rest the pump turns for five seconds on a dry float."""
    world = World()
    world.run(15 * DAY_S, 600.0)
    starts, stops = world.pump_starts(), world.pump_stops()
    assert len(starts) == 2
    assert starts[1] - stops[0] == pytest.approx(PUMP.exercise_every_s, abs=600.0)
    assert [off - on for on, off in zip(starts, stops, strict=True)] == pytest.approx([5.0, 5.0])
    assert world.changes[0].reason.code is ReasonCode.PUMP_EXERCISE
    assert world.broken == []


@pytest.mark.parametrize(("comes_after_s", "cycles"), [(DAY_S, 1), (HOUR_S, 0)], ids=["slow", "brisk"])
def test_an_exercise_run_spoils_no_cycle_of_a_pit_that_fills_slowly(
    comes_after_s: float, cycles: int
) -> None:
    """The little water that it takes is nothing in days, but it would show within hours."""
    world = World()
    fill_and_empty(world, MINUTE_S, MINUTE_S)
    world.run(PUMP.exercise_every_s, 600.0)
    assert len(world.pump_starts()) == 2
    world.run(comes_after_s, 600.0)
    world.level["main"] = Level.WET
    world.tick()
    assert world.state.sumps["main"].trend.cycles == cycles


def test_a_start_of_unknown_history_rests_first() -> None:
    """After a start that remembers nothing even a wet sump waits for the motor's rest."""
    world = World(settle=False)
    begun_s = world.now_s
    world.level["main"] = Level.WET
    world.run(10 * MINUTE_S)
    assert world.pump_starts()[0] - begun_s == pytest.approx(PUMP.minimum_rest_s)


def test_a_sump_without_water_for_a_month_asks_for_its_float_to_be_lifted() -> None:
    """A dry season and a float that hangs look the same; lifting it shows which, and ends the alarm."""
    world = World()
    world.run(29 * DAY_S, HOUR_S)
    assert world.alarms() == set()
    world.run(2 * DAY_S, HOUR_S)
    assert world.alarms() == {"sump-quiet"}
    world.level["main"] = Level.WET
    world.run(10.0)
    assert world.alarms() == set()


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


@pytest.mark.parametrize(
    ("level", "most_s"), [(Level.WET, PUMP.longest_run_s), (Level.DRY, PUMP.run_on_s)], ids=["wet", "dry"]
)
def test_runs_end_to_the_second_whatever_the_tick(level: Level, most_s: float) -> None:
    """The loop looks again when the rule asks it to, not when the next tick would come."""
    world = World()
    world.level["main"] = Level.WET
    world.tick()
    world.level["main"] = level
    world.tick()
    begun_s = world.now_s if level is Level.DRY else world.pump_starts()[0]
    world.run(31 * MINUTE_S, tick_s=7.0)
    assert world.pump_stops()[0] - begun_s == pytest.approx(most_s)
