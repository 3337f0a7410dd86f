"""What outlives a restart, and what happens when it cannot be read."""

from __future__ import annotations

import json
from copy import deepcopy
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from controller.decision.decide import decide, initial_state
from controller.decision.state import EmptyingTrend, FireState, Lockout, Need
from controller.diagnosis.evidence import no_evidence
from controller.equipment import OutputId
from controller.faults import FaultCode
from controller.readings.judge import RANGE_C
from controller.readings.reading import Level, Why
from controller.record.memory import to_memory, worth_saving
from controller.record.restoring import restored, restored_evidence
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World

FANS, PUMP = HOUSE.fans, HOUSE.pump
NORTH = OutputId.fan("north")
MAIN = OutputId.pump("main")


def lively() -> World:
    """A house with something to remember: fans on, a back-off, a learned trend."""
    world = World()
    world.remember_need(2.0)
    for _ in range(6):
        world.level["main"] = Level.WET
        world.run(MINUTE_S)
        world.level["main"] = Level.DRY
        world.run(10 * MINUTE_S)
    world.run(PUMP.drain_down_s)
    world.sunny()
    world.outlet_c["north"] = 27.0
    world.run(FANS.minimum_run_s + 5 * MINUTE_S)
    return world


LIVELY = lively()


def as_written(world: World) -> dict[str, Any]:
    """The memory as it comes back from a JSON file."""
    memory: dict[str, Any] = json.loads(json.dumps(to_memory(world.state, world.evidence, world.now_s).data))
    return memory


def test_a_round_trip_keeps_what_counts() -> None:
    """Within one boot everything with a time comes back at its time, all motors off."""
    state, now_s = LIVELY.state, LIVELY.now_s
    later_s = now_s + 30.0
    back = restored(initial_state(HOUSE, later_s), as_written(LIVELY), True, later_s)
    for output, old in state.outputs.items():
        new = back.outputs[output]
        assert not new.on
        assert new.since_mono_s == pytest.approx(later_s if old.on else old.since_mono_s)
        assert new.starts_mono_s == pytest.approx(old.starts_mono_s)
    north = state.fans["north"]
    assert north.failed_runs == back.fans["north"].failed_runs == 1
    assert back.fans["north"].back_off_until_s == pytest.approx(north.back_off_until_s)
    dry_before = back.sumps["main"].dry_before
    assert dry_before is not None
    assert dry_before.last_water_s == pytest.approx(state.sumps["main"].last_water_s)
    trend = state.sumps["main"].trend
    assert back.sumps["main"].trend == EmptyingTrend(trend.usual_s, trend.last_s, trend.cycles)
    assert back.need.coldest_c == state.need.coldest_c
    assert back.last_start_s == pytest.approx(state.last_start_s)


def test_within_one_boot_ages_grow_by_the_time_in_between() -> None:
    """A rest that was half over at the stop is over when the other half has passed outside."""
    memory = as_written(LIVELY)
    later_s = LIVELY.now_s + 500.0
    back = restored(initial_state(HOUSE, later_s), memory, True, later_s)
    age_s = memory["outputs"]["pump:main"]["age_s"]
    assert later_s - back.outputs[MAIN].since_mono_s == pytest.approx(age_s + 500.0)


@pytest.mark.parametrize("now_s", [5.0, 9.0e6])
def test_after_a_reboot_counts_stand_still_and_rests_begin_anew(now_s: float) -> None:
    """Another boot's time means nothing and a failed card has old news: every rest begins again."""
    memory = as_written(LIVELY)
    back = restored(initial_state(HOUSE, now_s), memory, False, now_s)
    pump = memory["outputs"]["pump:main"]
    assert {output.since_mono_s for output in back.outputs.values()} == {now_s}
    assert [now_s - at for at in back.outputs[MAIN].starts_mono_s] == pytest.approx(pump["start_ages_s"])
    assert back.sumps["main"].last_water_s == now_s
    assert back.last_start_s == now_s


JSON_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)


@given(JSON_VALUES)
def test_any_json_in_place_of_the_memory_gives_a_fresh_state(data: Any) -> None:
    """A memory file that holds something else never stops a start."""
    fresh = initial_state(HOUSE, 100.0)
    assert restored(fresh, data, True, 100.0) is fresh


def places(value: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Where every single value of a memory stands."""
    if isinstance(value, dict):
        return [place for key, inner in value.items() for place in places(inner, (*path, key))]
    if isinstance(value, list):
        return [place for index, inner in enumerate(value) for place in places(inner, (*path, index))]
    return [path]


GOOD_MEMORY = as_written(LIVELY)


@given(st.sampled_from(places(GOOD_MEMORY)), JSON_VALUES, st.booleans())
def test_a_memory_with_one_damaged_value_neither_stops_a_start_nor_locks_an_output_for_ever(
    path: tuple[str | int, ...], value: Any, same_boot: bool
) -> None:
    """One flipped value gives a state that decides and whose times do not lie ahead, or a fresh one."""
    data = deepcopy(GOOD_MEMORY)
    inner: Any = data
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = value
    now_s = LIVELY.now_s + 60.0
    state = restored(initial_state(HOUSE, now_s), data, same_boot, now_s)
    decide(LIVELY.snapshot(), state, HOUSE, now_s)
    times_s = [output.since_mono_s for output in state.outputs.values()]
    times_s += [at for output in state.outputs.values() for at in output.starts_mono_s]
    times_s += [sump.last_water_s for sump in state.sumps.values()] + [state.last_start_s]
    assert max(times_s) <= now_s
    for fan in state.fans.values():
        assert fan.failed_runs >= 0
        if fan.back_off_until_s is not None:
            assert fan.back_off_until_s - now_s <= FANS.longest_back_off_s


def test_a_memory_of_another_version_is_not_used() -> None:
    """Data that a later program wrote is not guessed at."""
    fresh = initial_state(HOUSE, 100.0)
    assert restored(fresh, GOOD_MEMORY | {"version": 2}, False, 100.0) is fresh


def test_loops_and_sumps_that_are_new_start_fresh_and_lost_ones_are_forgotten() -> None:
    """After rewiring, what was remembered of an unknown output is left out."""
    data = deepcopy(GOOD_MEMORY)
    data["outputs"]["fan:east"] = data["outputs"].pop("fan:north")
    data["fans"]["east"] = data["fans"].pop("north")
    back = restored(initial_state(HOUSE, 50.0), data, False, 50.0)
    assert set(back.outputs) == set(initial_state(HOUSE, 50.0).outputs)
    assert back.outputs[NORTH].since_mono_s == 50.0
    assert back.fans["north"].failed_runs == 0


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
    locked = ", fans locked: just started, the tubes may be wet" if drains else ""
    assert details == [f"air 1.0 °C{locked}"]
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
    old = as_written(world)
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


def test_switching_water_and_latches_are_written_at_once() -> None:
    """A motor start, water and a fire are worth a write; a quiet tick is not."""
    world = World()
    quiet = world.state
    world.tick()
    assert not worth_saving(quiet, world.state)
    world.level["main"] = Level.WET
    before = world.state
    world.tick()
    assert worth_saving(before, world.state)
    assert worth_saving(quiet, quiet._replace(fire=FireState("x reads 70.0 °C", 1.0)))


@pytest.mark.parametrize("seen", [Level.WET, Why.UNREADABLE])
def test_the_end_of_water_is_written_at_once(seen: Level | Why) -> None:
    """The moment from which the tubes drain is known after any stop."""
    world = World()
    world.level["main"] = seen
    world.run(10 * MINUTE_S)
    world.level["main"] = Level.DRY
    before = world.state
    world.tick()
    assert worth_saving(before, world.state)


def seen_c(place: str) -> st.SearchStrategy[float | Why]:
    """Everything that can be judged good at a place, its limits and what is near a fire above all."""
    low_c, high_c = RANGE_C[place]
    edges = st.sampled_from([low_c, high_c, 64.9, 65.0] if high_c > 65.0 else [low_c, high_c])
    return edges | st.floats(low_c, high_c) | st.sampled_from([Why.SILENT, Why.NEVER_READ, Why.STALE])


LOOKS = st.fixed_dictionaries(
    {
        "after_s": st.sampled_from([0.05, 10.0, 300.0, 900.0, 3600.0, 86400.0]),
        "ceiling_c": seen_c("ceiling"),
        "bench_c": seen_c("bench"),
        "soil_c": seen_c("soil"),
        "root_c": seen_c("root-zone"),
        "outlet_c": seen_c("outlet"),
        "level": st.sampled_from([*Level, Why.NEVER_READ, Why.UNREADABLE]),
        "cleared": st.booleans(),
    }
)


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(LOOKS, min_size=1, max_size=25), st.lists(st.integers(1, 40), min_size=25, max_size=25))
def test_every_state_that_can_be_reached_is_kept_and_restored(
    looks: list[dict[str, Any]], times: list[int]
) -> None:
    """Whatever has been seen, a fire in the first look or a month of odd probes, nothing of it is refused."""
    world = World(settle=False)
    for look, ticks in zip(looks, times, strict=False):
        world.ceiling_c, world.bench_c = look["ceiling_c"], look["bench_c"]
        world.soil_c = dict.fromkeys(HOUSE.loops, look["soil_c"])
        world.root_c = dict.fromkeys(HOUSE.loops, look["root_c"])
        world.outlet_c = dict.fromkeys(HOUSE.loops, look["outlet_c"])
        world.soil_c["south"] = world.outlet_c["north"] = 14.0
        world.level["main"] = look["level"]
        world.cleared = frozenset({FaultCode.FIRE}) if look["cleared"] else frozenset()
        for _ in range(ticks):
            world.tick(look["after_s"])
        kept = to_memory(world.state, world.evidence, world.now_s)
        assert kept.refused == ()
        fresh = initial_state(HOUSE, world.now_s)
        data = json.loads(json.dumps(kept.data))
        back = restored(fresh, data, True, world.now_s)
        assert back is not fresh
        lessons = restored_evidence(no_evidence(HOUSE.loops, world.now_s), data)
        again = to_memory(back, lessons, world.now_s).data
        for name in ("fire", "coldest_c", "outlets", "probes", "shares"):
            assert again[name] == kept.data[name]
        assert again["last_start_age_s"] == pytest.approx(kept.data["last_start_age_s"], abs=1e-6)
        for output, one in kept.data["outputs"].items():
            assert again["outputs"][output]["start_ages_s"] == pytest.approx(one["start_ages_s"], abs=1e-6)


@given(st.floats(0.0, 1.0e7), st.floats(-40.0, 60.0) | st.none(), st.integers(0, 50))
def test_a_state_with_any_numbers_survives_the_way_through_json(
    now_s: float, coldest_c: float | None, cycles: int
) -> None:
    """What is written can always be read back, exactly where no time is involved."""
    state = initial_state(HOUSE, now_s)._replace(need=Need(coldest_c, now_s))
    trend = EmptyingTrend(30.0, 31.5, cycles)
    state = state._replace(sumps={"main": state.sumps["main"]._replace(trend=trend)})
    kept = to_memory(state, no_evidence(HOUSE.loops, now_s), now_s)
    back = restored(initial_state(HOUSE, now_s), json.loads(json.dumps(kept.data)), True, now_s)
    assert back.need.coldest_c == coldest_c
    assert back.sumps["main"].trend == trend


def test_a_memory_of_the_version_before_keeps_all_that_still_counts() -> None:
    """A count of tries that is no longer kept refuses neither the latch beside it nor what was learned."""
    state = LIVELY.state._replace(fire=FireState("bench reads 70.0 °C", LIVELY.now_s - 5.0))
    memory = json.loads(json.dumps(to_memory(state, LIVELY.evidence, LIVELY.now_s).data))
    assert "tries" not in memory["sumps"]["main"]
    memory["sumps"]["main"]["tries"] = 3
    back = restored(initial_state(HOUSE, LIVELY.now_s), memory, True, LIVELY.now_s)
    assert back.fire.latched_detail == "bench reads 70.0 °C"
    assert back.sumps["main"].trend.usual_s == state.sumps["main"].trend.usual_s is not None
