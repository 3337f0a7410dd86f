"""Every number of the memory: how it is written down, and what it means within a boot and after a reboot."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from controller.decision.decide import initial_state
from controller.decision.state import (
    ControllerState,
    Doubt,
    DryBefore,
    Emptied,
    EmptyingTrend,
    FireState,
    Need,
    OutputState,
    PumpPhase,
)
from controller.diagnosis.evidence import Evidence, no_evidence
from controller.diagnosis.heat_share import HeatShare
from controller.diagnosis.outlet_records import OutletRecord
from controller.diagnosis.probe_records import Record
from controller.equipment import Kind, OutputId
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
from tests.decision.world import HOUSE

NOW_S = 1000.0
NORTH, MAIN = OutputId.fan("north"), OutputId.pump("main")
FRESH = initial_state(HOUSE, 0.0)


def full() -> ControllerState:
    """A state with something to remember in every place."""
    north = FRESH.fans["north"]._replace(failed_runs=2, back_off_until_s=1500.0)
    main = FRESH.sumps["main"]._replace(
        phase=PumpPhase.RESTING,
        last_water_s=990.0,
        unreadable_since_s=700.0,
        doubt=Doubt.BLIND,
        dry_before=DryBefore(700.0, -4000.0, None),
        crowded=2,
        trend=EmptyingTrend(
            30.0, 31.5, 7, 2, Emptied(32.0, 33.0, 20.0, 600.0), 700.0, 0.1, 300.0, returns=3, leaks=1
        ),
    )
    return FRESH._replace(
        outputs={
            **FRESH.outputs,
            NORTH: OutputState(on=True, since_mono_s=900.0, starts_mono_s=(100.0, 900.0)),
            MAIN: OutputState(on=False, since_mono_s=500.0, starts_mono_s=(400.0,)),
        },
        fans={**FRESH.fans, "north": north},
        sumps={"main": main},
        fire=FireState("bench reads 70.0 °C", 600.0),
        need=Need(2.0, 990.0),
        last_start_s=900.0,
    )


def learned() -> Evidence:
    """Evidence with something to remember in every place."""
    nothing = no_evidence(HOUSE.loops, 0.0)
    record = OutletRecord(1800.0, 1700.0, 10.0, 20.0, "south")
    return nothing._replace(
        heat_shares={**nothing.heat_shares, "north": HeatShare(0.8, 4000.0, 950.0)},
        outlets=nothing.outlets._replace(records={**nothing.outlets.records, "north": record}),
        comparisons=nothing.comparisons._replace(
            records={"bench": Record(0.1, 0.2, 5, 1, 2.5)}, shares={"south": Record(0.3, 0.4, 6, 2)}
        ),
    )


REST: dict[str, Any] = {"on": False, "age_s": NOW_S, "start_ages_s": []}
NEW_FAN = {
    "failed_runs": 0, "back_off_left_s": None, "heat_share": 1.0, "heat_share_judged_s": 0.0
}  # fmt: skip
NO_OUTLET_RECORD = {
    "moving_while_on_s": 0.0,
    "still_while_off_s": 0.0,
    "moving_while_off_s": 0.0,
    "other_moved_s": 0.0,
    "other_loop": "",
}
WRITTEN: dict[str, Any] = {
    "version": 1,
    "saved_mono_s": NOW_S,
    "outputs": {
        "fan:north": {"on": True, "age_s": 100.0, "start_ages_s": [900.0, 100.0]},
        "fan:middle": REST,
        "fan:south": REST,
        "pump:main": {"on": False, "age_s": 500.0, "start_ages_s": [600.0]},
    },
    "fans": {
        "north": {
            "failed_runs": 2, "back_off_left_s": 500.0, "heat_share": 0.8, "heat_share_judged_s": 4000.0
        },
        "middle": NEW_FAN,
        "south": NEW_FAN,
    },
    "sumps": {
        "main": {
            "wet_or_unknown": True, "resting": True, "water_age_s": 10.0, "unreadable_age_s": 300.0,
            "usual_s": 30.0, "last_s": 31.5, "cycles": 7, "doubt": "blind",
            "dry_before": {"age_s": 300.0, "water_age_s": 5000.0, "doubt": None},
        }
    },
    "fire": "bench reads 70.0 °C",
    "fire_age_s": 400.0,
    "coldest_c": 2.0,
    "last_start_age_s": 100.0,
    "outlets": {
        "north": {
            "moving_while_on_s": 1800.0, "still_while_off_s": 1700.0, "moving_while_off_s": 10.0,
            "other_moved_s": 20.0, "other_loop": "south",
        },
        "middle": NO_OUTLET_RECORD,
        "south": NO_OUTLET_RECORD,
    },
    "probes": {"bench": {"usual": 0.1, "lately": 0.2, "days": 5, "off_days": 1, "sunny_days": 2.5}},
    "shares": {"south": {"usual": 0.3, "lately": 0.4, "days": 6, "off_days": 2, "sunny_days": 0.0}},
}  # fmt: skip


def back(now_s: float, same_boot: bool = True, **changed: Any) -> ControllerState:
    """What comes of that memory, with some of it changed, at this time."""
    return restored(initial_state(HOUSE, now_s), deepcopy(WRITTEN) | changed, same_boot, now_s)


def lessons(now_s: float, **changed: Any) -> Evidence:
    """What is known again after a start at this time."""
    return restored_evidence(no_evidence(HOUSE.loops, now_s), deepcopy(WRITTEN) | changed)


def test_every_age_is_written_down() -> None:
    """Ages instead of times, the water as it was, and all that was learned."""
    assert to_memory(full(), learned(), NOW_S) == (WRITTEN, ())


@pytest.mark.parametrize("gap_s", [0.0, 50.0])
def test_within_one_boot_every_time_comes_back(gap_s: float) -> None:
    """Times are what they were, however long the stop; what ran has been off since it."""
    now_s, state = NOW_S + gap_s, full()
    again = back(now_s)
    assert again.outputs[NORTH] == OutputState(on=False, since_mono_s=now_s, starts_mono_s=(100.0, 900.0))
    assert again.outputs[MAIN] == state.outputs[MAIN]
    north = again.fans["north"]
    assert (north.failed_runs, north.back_off_until_s) == (2, 1500.0)
    assert again.sumps["main"] == initial_state(HOUSE, now_s).sumps["main"]._replace(
        phase=PumpPhase.RESTING,
        last_water_s=now_s,
        unreadable_since_s=700.0,
        trend=EmptyingTrend(30.0, 31.5, 7),
        dry_before=state.sumps["main"].dry_before,
    )
    assert again.fire == FireState("bench reads 70.0 °C", 600.0)
    assert again.need == Need(2.0, now_s)
    assert again.last_start_s == 900.0


def test_what_was_learned_comes_back_but_for_the_stretch_that_the_stop_has_cut() -> None:
    """Shares, outlets and probes; what may be worth reporting is looked at again."""
    before, again = learned(), lessons(NOW_S)
    assert again.heat_shares["north"] == HeatShare(0.8, 4000.0)
    assert again.outlets == before.outlets._replace(looked_s=NOW_S)
    assert again.comparisons.records == before.comparisons.records
    assert again.comparisons.shares == before.comparisons.shares
    assert again.comparisons.suspicious


def test_after_a_reboot_ages_stand_still_and_rests_begin_anew() -> None:
    """Nobody knows how long the power was off: what counts down goes on, what must be waited for begins."""
    again = back(20.0, same_boot=False)
    assert again.outputs[NORTH] == OutputState(False, 20.0, (-880.0, -80.0))
    assert again.outputs[MAIN] == OutputState(False, 20.0, (-580.0,))
    assert again.fans["north"].back_off_until_s == 520.0
    sump = again.sumps["main"]
    assert (sump.last_water_s, sump.unreadable_since_s) == (20.0, -280.0)
    assert again.fire.latched_since_s == -380.0
    assert again.last_start_s == 20.0


def test_after_a_reboot_the_new_clock_tells_nothing_of_the_time_in_between() -> None:
    """Not even where it is already past the time of the save."""
    again = back(NOW_S + 50.0, same_boot=False)
    assert again.fans["north"].back_off_until_s == NOW_S + 550.0
    assert again.outputs[NORTH].starts_mono_s == (150.0, 950.0)
    assert again.sumps["main"].unreadable_since_s == 750.0
    assert again.fire.latched_since_s == 650.0


def test_a_time_before_the_memory_was_saved_counts_as_no_gap() -> None:
    """The clock cannot have run backwards within a boot; ages are taken as they are."""
    again = back(NOW_S - 10.0)
    assert again.outputs[MAIN].since_mono_s == 490.0
    assert again.last_start_s == 890.0


def test_what_was_known_of_a_dry_sump_is_known_within_the_boot_and_not_after_a_reboot() -> None:
    """The stop is a silence that began with the save; tubes count as wet until the float has been read."""
    dry = WRITTEN["sumps"]["main"] | {
        "wet_or_unknown": False, "resting": False, "unreadable_age_s": None, "doubt": None, "dry_before": None
    }  # fmt: skip
    now_s = NOW_S + 50.0
    sump = back(now_s, sumps={"main": dry}).sumps["main"]
    assert (sump.last_water_s, sump.unreadable_since_s, sump.doubt) == (now_s, now_s, Doubt.STARTED)
    assert (sump.dry_before, sump.phase) == (DryBefore(NOW_S, 990.0, None), PumpPhase.IDLE)
    sump = back(20.0, same_boot=False, sumps={"main": dry}).sumps["main"]
    assert (sump.last_water_s, sump.doubt, sump.dry_before) == (20.0, Doubt.STARTED, None)
    wet = dry | {"wet_or_unknown": True}
    sump = back(now_s, sumps={"main": wet}).sumps["main"]
    assert (sump.last_water_s, sump.doubt, sump.dry_before) == (now_s, None, None)
    pumping = WRITTEN["outputs"] | {"pump:main": {"on": True, "age_s": 5.0, "start_ages_s": [5.0]}}
    again = back(NOW_S, sumps={"main": dry}, outputs=pumping)
    assert again.sumps["main"].phase is PumpPhase.RESTING
    unknown = {name: one for name, one in WRITTEN["outputs"].items() if name != "pump:main"}
    assert back(NOW_S, sumps={"main": dry}, outputs=unknown).sumps["main"].phase is PumpPhase.IDLE


def test_what_the_memory_does_not_name_starts_fresh() -> None:
    """Each part by itself: outputs, fans, sumps and fire, and whatever was learned."""
    now_s = NOW_S + 5.0
    fresh = initial_state(HOUSE, now_s)
    nothing: dict[str, Any] = {
        name: {} for name in ("outputs", "fans", "sumps", "outlets", "probes", "shares")
    }
    again = back(now_s, fire=None, fire_age_s=None, coldest_c=None, **nothing)
    assert again == fresh._replace(need=Need(None, now_s), last_start_s=900.0)
    unknown = no_evidence(HOUSE.loops, now_s)
    assert lessons(now_s, **nothing)._replace(comparisons=unknown.comparisons) == unknown
    assert back(now_s, fire_age_s=None).fire == FireState("bench reads 70.0 °C", NOW_S)


def test_a_share_of_a_loop_that_is_gone_is_forgotten() -> None:
    """Shares belong to loops of the settings in force; probes are kept for the next day to judge."""
    gone = WRITTEN["shares"]["south"]
    again = lessons(NOW_S, shares={"old": gone, "south": gone}, probes={"old": gone})
    assert set(again.comparisons.shares) == {"south"}
    assert set(again.comparisons.records) == {"old"}


def test_an_outlet_that_was_seen_both_ways_tells_again() -> None:
    """One is enough, whichever it is."""
    both = NO_OUTLET_RECORD | {"moving_while_on_s": 1800.0, "still_while_off_s": 1800.0}
    assert lessons(NOW_S, outlets=WRITTEN["outlets"] | {"south": both}).outlets.known


def test_only_motors_water_and_latches_are_worth_a_write_at_once() -> None:
    """Whatever else changes can wait for the minute; the stop of a fan alone may be lost by a power cut."""
    state = full()
    assert not worth_saving(state, state)
    assert not worth_saving(state, state._replace(need=Need(-5.0, 1.0), fans=FRESH.fans, last_start_s=1.0))
    assert worth_the_card(state, state._replace(fire=FireState()))
    assert not worth_saving(state, state._replace(fire=state.fire._replace(latched_since_s=1.0)))
    again = {output: OutputState(*one) for output, one in state.outputs.items()}
    assert worth_saving(state, state._replace(outputs={**state.outputs, MAIN: again[MAIN]}))
    for output, one in state.outputs.items():
        for on in (True, False):
            after = state._replace(outputs={**state.outputs, output: one._replace(on=on, since_mono_s=9.0)})
            assert worth_saving(state, after)
            assert worth_the_card(state, after) is (on or output.kind == Kind.PUMP)
    sump = state.sumps["main"]
    for changed, urgent in (
        (sump._replace(wet_since_s=1.0), True),
        (sump._replace(unreadable_since_s=None), True),
        (sump._replace(unreadable_since_s=2.0, last_water_s=3.0, crowded=0), False),
    ):
        after = state._replace(sumps={"main": changed})
        assert worth_saving(state, after) is urgent
        assert worth_the_card(state, after) is urgent


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
]


@pytest.mark.parametrize(("place", "possible", "impossible"), LIMITS)
def test_a_number_that_cannot_be_refuses_the_whole_memory(
    place: tuple[str, ...], possible: Any, impossible: Any
) -> None:
    """At its limit a number is taken, a little beyond it nothing of the memory is."""
    fresh = initial_state(HOUSE, NOW_S)
    for value, taken in ((possible, True), (impossible, False)):
        data = deepcopy(WRITTEN)
        inner = data
        for key in place[:-1]:
            inner = inner[key]
        inner[place[-1]] = value
        assert (restored(fresh, data, True, NOW_S) is not fresh) is taken


@pytest.mark.parametrize("place", [(), ("outputs", "fan:north"), ("fans", "north"), ("sumps", "main")])
def test_a_memory_with_more_in_it_than_is_known_is_not_used(place: tuple[str, ...]) -> None:
    """Somebody else has written it."""
    data = deepcopy(WRITTEN)
    inner = data
    for key in place:
        inner = inner[key]
    inner["more"] = 1.0
    fresh = initial_state(HOUSE, NOW_S)
    assert restored(fresh, data, True, NOW_S) is fresh


def test_a_memory_of_an_older_program_lacks_what_that_did_not_learn() -> None:
    """Outlets, probes, shares and heat_shares start unknown, and the rest is used."""
    data = {
        name: deepcopy(one) for name, one in WRITTEN.items() if name not in {"outlets", "probes", "shares"}
    }
    north = data["fans"]["north"]
    del north["heat_share"], north["heat_share_judged_s"]
    again = restored(initial_state(HOUSE, NOW_S), data, True, NOW_S)
    assert again.fans["north"].failed_runs == 2
    unknown = no_evidence(HOUSE.loops, NOW_S)
    lessons = restored_evidence(unknown, data)
    assert (lessons.heat_shares, lessons.outlets) == (unknown.heat_shares, unknown.outlets)
    assert (lessons.comparisons.records, lessons.comparisons.shares) == ({}, {})


def test_what_has_not_been_has_no_age() -> None:
    """Of a new state no fire is written as if it had been; nobody has read its float."""
    data = to_memory(FRESH, no_evidence(HOUSE.loops, 0.0), NOW_S).data
    assert data["fire_age_s"] is None
    assert data["sumps"]["main"] == {
        "wet_or_unknown": True, "resting": False, "water_age_s": NOW_S, "unreadable_age_s": NOW_S,
        "usual_s": None, "last_s": None, "cycles": 0, "doubt": "start", "dry_before": None,
    }  # fmt: skip
