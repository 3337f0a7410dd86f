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
    assert world.why_pump() == "sump dry after a run of 80 s, the run-on of 20 s included"


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
    """A float that stays wet ends the run after half an hour, to the second, whatever the tick."""
    world = World()
    world.level["main"] = Level.WET
    world.run(31 * MINUTE_S, tick_s=7.0)
    assert world.pump_stops()[0] - world.pump_starts()[0] == pytest.approx(PUMP.longest_run_s)
    stop = next(change for change in world.changes if not change.on)
    assert stop.reason.code is ReasonCode.PUMP_LONGEST_RUN
    assert world.why_pump().startswith("water in the sump; the motor rests for another ")


def test_a_long_run_is_followed_by_the_rest() -> None:
    """After a longest run the pump rests two minutes before it goes on."""
    world = World()
    world.level["main"] = Level.WET
    world.run(HOUR_S)
    assert world.pump_starts()[1] - world.pump_stops()[0] == pytest.approx(PUMP.rest_s)


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
    doubts = [change.reason for change in world.changes if change.reason.code is ReasonCode.PUMP_DOUBTED]
    assert "as a stuck float or a cut wire would" in doubts[0].sentence(HOUSE.site.show)
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


@pytest.mark.parametrize("level", [Level.DRY, Level.WET, Why.UNREADABLE])
def test_a_run_that_a_late_tick_has_made_the_longest_owes_its_rest(level: Level | Why) -> None:
    """However a run was meant to end, exercise or duty, what it owes depends on how long it was."""
    world = World(settings_with(pump={"rest_s": 180.0, "minimum_rest_s": 30.0, "starts_per_hour": 20}))
    world.level["main"] = level
    while not world.pump():
        world.tick()
    world.tick(PUMP.longest_run_s)
    assert not world.pump()
    stopped_s = world.now_s
    world.level["main"] = Level.WET
    world.run(10 * MINUTE_S)
    assert world.pump_starts()[1] - stopped_s == pytest.approx(180.0)


def test_a_short_run_is_followed_by_the_minimum_rest() -> None:
    """Water back at once waits two minutes for the motor and says so."""
    world = World(settings_with(pump={"starts_per_hour": 20}))
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


def test_starts_are_spaced_so_that_water_never_waits_for_the_end_of_the_hour() -> None:
    """A pit that fills at once gets a start every quarter of an hour where four are allowed, and is told."""
    world = World(settings_with(pump={"starts_per_hour": 4}))
    for _ in range(4):
        assert "pump-cycling" not in world.alarms()
        fill_and_empty(world, 2 * MINUTE_S, MINUTE_S)
        world.level["main"] = Level.WET
        world.run(10.0)
        assert world.why_pump().startswith("water in the sump; at most 4 starts an hour, the next in ")
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


def test_the_pump_shows_what_holds_it_back() -> None:
    """A wet sump whose motor rests lists that as its lockout."""
    world = World()
    world.level["main"] = Level.WET
    world.run(10.0 + PUMP.longest_run_s + 30.0)
    assert world.state.sumps["main"].lockouts == (Lockout.RESTING,)
    assert world.why_pump() == "water in the sump; the motor rests for another 90 s"


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
