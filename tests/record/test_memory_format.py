"""The memory as a file: whatever stands in it starts a controller, and what cannot be true is not used."""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from controller.decision.decide import decide, initial_state
from controller.decision.state import FireState, Need, OutputState
from controller.diagnosis.attendance import NOTHING_SAID
from controller.diagnosis.evidence import no_evidence
from controller.diagnosis.house_shut import NO_NIGHTS
from controller.diagnosis.tonight import Night, PastNight
from controller.faults import FaultCode
from controller.readings.judge import RANGE_C
from controller.readings.reading import Level, Why
from controller.record.memory import (
    COLDEST_C,
    HOTTEST_C,
    TEN_YEARS_S,
    WIDEST_K,
    to_memory,
    worth_saving,
    worth_the_card,
)
from controller.record.restoring import restored, restored_evidence
from tests.decision.world import HOUSE, MINUTE_S, World
from tests.record.kept import FRESH, MAIN, NORTH, SAVED_S, full, learned, lively, on_the_card, written

if TYPE_CHECKING:
    from controller.decision.state import ControllerState

FANS = HOUSE.fans
VERSION_1 = json.loads((Path(__file__).parent / "memory-1.json").read_text(encoding="utf-8"))
LIVELY = lively()
GOOD_MEMORY = on_the_card(LIVELY.state, LIVELY.evidence, LIVELY.now_s)


def test_the_file_that_version_1_left_is_read_as_it_was_meant() -> None:
    """A card written by any release of this version gives the state and the lessons it was written from."""
    fresh, nothing = initial_state(HOUSE, SAVED_S), no_evidence(HOUSE.loops, SAVED_S)
    for same_boot in (True, False):
        assert restored(fresh, VERSION_1, same_boot, SAVED_S) == restored(
            fresh, written(), same_boot, SAVED_S
        )
        older = {name: part for name, part in written().items() if name in VERSION_1}
        assert restored_evidence(nothing, VERSION_1, same_boot, SAVED_S) == restored_evidence(
            nothing, older, same_boot, SAVED_S
        )
    assert older.keys() == VERSION_1.keys()


@pytest.mark.parametrize("version", [0, 2])
def test_a_memory_of_another_version_is_not_used(version: int) -> None:
    """Data that a later program wrote is not guessed at."""
    fresh = initial_state(HOUSE, 100.0)
    assert restored(fresh, GOOD_MEMORY | {"version": version}, False, 100.0) is fresh


def test_a_memory_of_an_older_program_lacks_what_that_did_not_learn() -> None:
    """What it did not learn starts unknown, a count that is kept no more is passed over, the rest counts."""
    later = {"passed_k", "outlets", "probes", "shares", "seen", "empty_until", "done", "warmths", "house"}
    data = {name: one for name, one in written().items() if name not in later}
    north, main = data["fans"]["north"], data["sumps"]["main"]
    del north["heat_share"], north["heat_share_judged_s"], main["doubt"], main["dry_before"]
    main["tries"] = 3
    again = restored(initial_state(HOUSE, SAVED_S), data, True, SAVED_S)
    assert again.fans["north"].failed_runs == 2
    assert again.fire == full().fire
    assert again.sumps["main"].trend.usual_s == 30.0
    unknown = no_evidence(HOUSE.loops, SAVED_S)
    taught = restored_evidence(unknown, data, True, SAVED_S)
    assert (taught.heat_shares, taught.outlets) == (unknown.heat_shares, unknown.outlets)
    assert (taught.comparisons.records, taught.comparisons.shares) == ({}, {})
    assert (taught.attendance, taught.house) == (NOTHING_SAID, NO_NIGHTS)
    assert "tries" not in written()["sumps"]["main"]


def test_loops_and_sumps_that_are_new_start_fresh_and_lost_ones_are_forgotten() -> None:
    """After rewiring, what was remembered of an unknown output is left out."""
    data = deepcopy(GOOD_MEMORY)
    data["outputs"]["fan:east"] = data["outputs"].pop("fan:north")
    data["fans"]["east"] = data["fans"].pop("north")
    back = restored(initial_state(HOUSE, 50.0), data, False, 50.0)
    assert set(back.outputs) == set(initial_state(HOUSE, 50.0).outputs)
    assert back.outputs[NORTH].since_mono_s == 50.0
    assert back.fans["north"].failed_runs == 0


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
        lessons = restored_evidence(no_evidence(HOUSE.loops, world.now_s), data, True, world.now_s)
        again = to_memory(back, lessons, world.now_s).data
        for name in ("fire", "coldest_c", "outlets", "probes", "shares", "nights"):
            assert again[name] == kept.data[name]
        assert again["last_start_age_s"] == pytest.approx(kept.data["last_start_age_s"], abs=1e-6)
        for output, one in kept.data["outputs"].items():
            assert again["outputs"][output]["start_ages_s"] == pytest.approx(one["start_ages_s"], abs=1e-6)


A_LITTLE = 1e-6
LIMITS: list[tuple[tuple[str, ...], Any, Any]] = [  # where, a value that is possible, one that is not
    (("outputs", "fan:north", "age_s"), 0.0, -A_LITTLE),
    (("outputs", "fan:north", "age_s"), TEN_YEARS_S, TEN_YEARS_S + 1.0),
    (("outputs", "fan:north", "age_s"), 5.0, float("nan")),
    (("outputs", "fan:north", "on"), False, 0),
    (("outputs", "fan:north", "start_ages_s"), [1.0] * 100, [1.0] * 101),
    (("outputs", "fan:north", "start_ages_s"), [0.0], [-A_LITTLE]),
    (("fans", "north", "failed_runs"), 0, -1),
    (("fans", "north", "failed_runs"), 1_000_000, 1_000_001),
    (("fans", "north", "failed_runs"), 3, 3.0),
    (("fans", "north", "back_off_left_s"), 2 * 86400.0, 2 * 86400.0 + A_LITTLE),
    (("fans", "north", "back_off_left_s"), -TEN_YEARS_S, -TEN_YEARS_S - 1.0),
    (("fans", "north", "heat_share"), 0.3, 0.3 - A_LITTLE),
    (("fans", "north", "heat_share"), 1.5, 1.5 + A_LITTLE),
    (("sumps", "main", "cycles"), 0, -1),
    (("outlets", "south", "other_loop"), "x" * 100, "x" * 101),
    (("probes", "bench", "usual"), WIDEST_K, WIDEST_K + A_LITTLE),
    (("probes", "bench", "usual"), -WIDEST_K, -WIDEST_K - A_LITTLE),
    (("probes", "bench", "lately"), WIDEST_K, WIDEST_K + A_LITTLE),
    (("probes", "bench", "lately"), -WIDEST_K, -WIDEST_K - A_LITTLE),
    (("probes", "bench", "sunny_days"), 100.0, 100.0 + A_LITTLE),
    (("probes", "bench", "sunny_days"), 0.0, -A_LITTLE),
    (("version",), 1, 2),
    (("saved_mono_s",), 7.0, float("inf")),
    (("fire",), "x", ""),
    (("fire",), "x" * 300, "x" * 301),
    (("coldest_c",), HOTTEST_C, HOTTEST_C + A_LITTLE),
    (("coldest_c",), COLDEST_C, COLDEST_C - A_LITTLE),
    (("passed_k",), 0.0, -A_LITTLE),
    (("passed_k",), WIDEST_K, WIDEST_K + A_LITTLE),
]


@pytest.mark.parametrize(("place", "possible", "impossible"), LIMITS)
def test_a_number_that_cannot_be_refuses_the_whole_memory(
    place: tuple[str, ...], possible: Any, impossible: Any
) -> None:
    """At its limit a number is taken, a little beyond it nothing of the memory is."""
    fresh = initial_state(HOUSE, SAVED_S)
    for value, taken in ((possible, True), (impossible, False)):
        data = written()
        inner = data
        for key in place[:-1]:
            inner = inner[key]
        inner[place[-1]] = value
        assert (restored(fresh, data, True, SAVED_S) is not fresh) is taken


@pytest.mark.parametrize("place", [(), ("outputs", "fan:north"), ("fans", "north"), ("sumps", "main")])
def test_a_memory_with_more_in_it_than_is_known_is_not_used(place: tuple[str, ...]) -> None:
    """Somebody else has written it."""
    data = written()
    inner = data
    for key in place:
        inner = inner[key]
    inner["more"] = 1.0
    fresh = initial_state(HOUSE, SAVED_S)
    assert restored(fresh, data, True, SAVED_S) is fresh


def test_of_a_new_state_no_fire_is_written_as_if_it_had_been() -> None:
    """What has not been has no age, and nobody has read the float."""
    data = to_memory(FRESH, no_evidence(HOUSE.loops, 0.0), SAVED_S).data
    assert (data["fire"], data["fire_age_s"]) == (None, None)
    main = data["sumps"]["main"]
    assert main["wet_or_unknown"]
    assert (main["water_age_s"], main["unreadable_age_s"], main["doubt"]) == (SAVED_S, SAVED_S, "start")


BEFORE = full()


def odd_fan(state: ControllerState) -> ControllerState:
    """A count that cannot be."""
    return state._replace(fans={**state.fans, "north": state.fans["north"]._replace(failed_runs=-1)})


@pytest.mark.parametrize(
    ("state", "refused", "left"),
    [
        (full(), (), {"coldest_c": 2.0}),
        (full()._replace(need=Need(HOTTEST_C + 1.0, 1.0)), ("coldest_c",), {"coldest_c": None}),
        (full()._replace(last_start_s=SAVED_S + 1.0), ("last_start_age_s",), {"last_start_age_s": 0.0}),
        (
            full()._replace(fire=FireState("bench reads 70.0 °C", SAVED_S + 1.0)),
            ("fire_age_s",),
            {"fire_age_s": None, "fire": "bench reads 70.0 °C"},
        ),
        (odd_fan(full()), ("fans north",), {"coldest_c": 2.0}),
        (
            odd_fan(full())._replace(need=Need(HOTTEST_C + 1.0, 1.0)),
            ("coldest_c", "fans north"),
            {"coldest_c": None},
        ),
    ],
)
def test_what_cannot_be_kept_is_named_and_the_rest_is_kept(
    state: ControllerState, refused: tuple[str, ...], left: dict[str, Any]
) -> None:
    """One number that cannot be true costs neither the latch beside it nor any other output."""
    kept = to_memory(state, learned(), SAVED_S)
    assert kept.refused == refused
    assert left.items() <= kept.data.items()
    assert ("north" in kept.data["fans"]) is ("fans north" not in refused)
    assert kept.data["outputs"] == written()["outputs"]
    assert restored(FRESH, kept.data, True, SAVED_S) is not FRESH


def test_nights_come_back_as_they_were_and_what_cannot_be_true_of_them_is_put_aside() -> None:
    """The night in progress keeps its announcement within a boot; a low that no probe can read goes."""
    night = Night(SAVED_S - 500.0, -2.0, 9.0, 1.5, SAVED_S - 60.0, 3.5, -7.0, 0.0, 120.0, 0.5, 1.25)
    nights = (PastNight(1.0, -1.5, 6.0, 0.5), PastNight(3.0))
    tonight = no_evidence(HOUSE.loops, SAVED_S).tonight._replace(nights=nights, night=night)
    data = on_the_card(full(), learned()._replace(tonight=tonight), SAVED_S)
    for same_boot in (True, False):
        again = restored_evidence(no_evidence(HOUSE.loops, SAVED_S), data, same_boot, SAVED_S).tonight
        assert again.nights == nights
        assert again.night == (night if same_boot else None)
    odd = tonight._replace(nights=(PastNight(HOTTEST_C + 1.0),))
    kept = to_memory(full(), learned()._replace(tonight=odd), SAVED_S)
    assert (kept.refused, kept.data["nights"]) == (("nights",), [])


@pytest.mark.parametrize("table", ["outputs", "fans", "sumps", "outlets", "probes", "shares"])
def test_of_every_table_one_line_alone_is_put_aside(table: str) -> None:
    """The name that is refused is that of the line, and the other lines of the table stay."""
    state, evidence = full(), learned()
    far_s = SAVED_S - 2.0 * TEN_YEARS_S
    match table:
        case "outputs":
            state = state._replace(outputs={**state.outputs, NORTH: OutputState(False, far_s)})
        case "fans":
            state = odd_fan(state)
        case "sumps":
            state = wet(state, last_water_s=far_s)
        case "outlets":
            records = evidence.outlets.records
            odd = {**records, "north": records["north"]._replace(other_moved_s=-1.0)}
            evidence = evidence._replace(outlets=evidence.outlets._replace(records=odd))
        case _:
            one = evidence.comparisons.records["bench"]._replace(days=-1)
            field = "records" if table == "probes" else "shares"
            there = getattr(evidence.comparisons, field)
            changed = evidence.comparisons._replace(**{field: {**there, "north": one}})
            evidence = evidence._replace(comparisons=changed)
    kept = to_memory(state, evidence, SAVED_S)
    name = {"outputs": "fan:north", "sumps": "main"}.get(table, "north")
    assert kept.refused == (f"{table} {name}",)
    assert kept.data[table].keys() == written()[table].keys() - {name}


def switched(state: ControllerState, **outputs: bool) -> ControllerState:
    """That state with north's fan or the pump on or off since just now."""
    names = {"north": NORTH, "main": MAIN}
    turned = {names[name]: OutputState(on, 9.0) for name, on in outputs.items()}
    return state._replace(outputs={**state.outputs, **turned})


def wet(state: ControllerState, **changed: Any) -> ControllerState:
    """That state with something else known of the sump."""
    return state._replace(sumps={"main": state.sumps["main"]._replace(**changed)})


@pytest.mark.parametrize(
    ("after", "at_once", "on_the_card_too"),
    [
        (BEFORE, False, False),
        (BEFORE._replace(need=Need(-5.0, 1.0), fans=FRESH.fans, last_start_s=1.0), False, False),
        (BEFORE._replace(fire=FireState()), False, True),
        (BEFORE._replace(fire=FireState("x reads 70.0 °C", 1.0)), False, True),
        (BEFORE._replace(fire=BEFORE.fire._replace(latched_since_s=1.0)), False, False),
        (switched(BEFORE, north=True), True, True),
        (switched(BEFORE, north=False), True, False),  # its stop alone may be lost by a power cut
        (switched(BEFORE, main=True), True, True),
        (switched(BEFORE, main=False), True, True),
        (wet(BEFORE, wet_since_s=1.0), False, True),
        (wet(BEFORE, unreadable_since_s=None), False, True),
        (wet(BEFORE, unreadable_since_s=2.0, last_water_s=3.0, crowded=0), False, False),
    ],
)
def test_motors_water_and_latches_are_worth_a_write_at_once(
    after: ControllerState, at_once: bool, on_the_card_too: bool
) -> None:
    """What a power cut must not lose goes on the card, every switch is written, the rest waits a minute."""
    assert worth_saving(BEFORE, after) is (at_once or on_the_card_too)
    assert worth_the_card(BEFORE, after) is on_the_card_too


@pytest.mark.parametrize("seen", [Level.WET, Why.UNREADABLE])
def test_the_beginning_and_the_end_of_water_are_written_at_once(seen: Level | Why) -> None:
    """The moment from which the tubes drain is known after any stop; quiet ticks write nothing."""
    world = World()
    writes = []
    for level in (Level.DRY, seen, seen, Level.DRY):
        before = world.state
        world.level["main"] = level
        world.tick(0.1)
        writes.append(worth_saving(before, world.state))
        world.run(10 * MINUTE_S)
    assert writes == [False, True, False, True]
