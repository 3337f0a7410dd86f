"""Whether the outlet proves that heat moves, and what becomes of a fan that cannot prove it."""

from __future__ import annotations

from typing import Any

import pytest

from controller.decision.reasons import ReasonCode
from controller.decision.state import Demand, FanState, Lockout, Proof
from controller.diagnosis.heat_share import HeatShare, learned
from controller.faults import FAULTS, FaultCode
from controller.readings.reading import Why
from tests.decision.loop import A_HAIR_C, A_MOMENT_S, FANS, PLAN, SETTINGS, STARTED, TRUSTED, WANTED, Loop
from tests.decision.world import HOUR_S, MINUTE_S, World, settings_with

WEAK_C = 39.75  # 90 W in a house of 40 °C
PROVEN_C = 39.5  # just the 180 W that prove a run
GIVES = settings_with(SETTINGS, fans={"proven_heat_per_watt": 0.0})


def judged(ran_s: float = FANS.purge_s, **house: Any) -> Loop:
    """A loop that has run for so long; ``cold`` for warm soil under cold air, other names as in ``Loop``."""
    loop = Loop(house.pop("settings", SETTINGS), house.pop("demand", Demand.BANK))
    if house.pop("cold", False):
        loop.cold()
    for name, value in house.items():
        assert hasattr(loop, name)
        setattr(loop, name, value)
    return loop.run(ran_s)


@pytest.mark.parametrize(
    ("house", "proof"),
    [
        ({"outlet": PROVEN_C}, Proof.PROVEN),
        ({"outlet": PROVEN_C + A_HAIR_C}, Proof.WEAK),
        ({"outlet": PROVEN_C, "ran_s": FANS.purge_s - A_MOMENT_S}, Proof.PURGING),
        ({"outlet": WEAK_C, "ran_s": FANS.purge_s - A_MOMENT_S}, Proof.PURGING),
        ({"outlet": Why.SILENT}, Proof.NOT_TESTABLE),
        ({"outlet": 0.5, "cold": True, "demand": Demand.HEAT}, Proof.PROVEN),  # warmth out of the soil
        ({"outlet": 0.5 - A_HAIR_C, "cold": True, "demand": Demand.HEAT}, Proof.WEAK),
        ({"outlet": 40.0, "soil": 35.0}, Proof.WEAK),  # from five kelvin on two probes can show it
        ({"outlet": 40.0, "soil": 35.0 + A_HAIR_C}, Proof.NOT_TESTABLE),
        ({"outlet": 40.0 - A_HAIR_C, "settings": GIVES}, Proof.PROVEN),  # no heat set: some must move
        ({"outlet": 40.0, "settings": GIVES}, Proof.WEAK),
        ({"demand": Demand.PLAIN}, Proof.NOT_TESTABLE),  # a comparison rule without a purpose
    ],
)
def test_a_run_is_judged_by_its_outlet_once_the_tubes_are_purged(house: dict[str, Any], proof: Proof) -> None:
    """The least heat that proves a run proves it, into the soil or out of it; weak runs are timed."""
    loop = judged(**house)
    assert loop.state.proof is proof
    assert loop.state.weak_since_s == (loop.now_s if proof is Proof.WEAK else None)


@pytest.mark.parametrize(
    ("failed_before", "pause_s"), [(0, 1800.0), (1, 3600.0), (4, 28800.0), (1999, 28800.0)]
)
def test_a_weak_run_is_given_up_at_the_end_of_its_minimum(failed_before: int, pause_s: float) -> None:
    """The pause doubles with each failed run in a row from half an hour up to eight hours."""
    loop = Loop()
    loop.outlet = WEAK_C
    loop.state, loop.share = loop.state._replace(failed_runs=failed_before), TRUSTED
    loop.run()
    weak_since_s = loop.now_s
    assert loop.look(FANS.minimum_run_s - FANS.purge_s - A_MOMENT_S)
    assert (loop.state.demand, loop.state.reason) == (Demand.BANK, WANTED)
    assert loop.state.failed_runs == failed_before
    assert loop.state.weak_since_s == weak_since_s
    assert not loop.look(A_MOMENT_S)
    assert loop.failures() == (failed_before + 1, loop.now_s + pause_s)
    assert (loop.state.demand, loop.state.proof) == (None, Proof.IDLE)
    assert loop.state.lockouts == (Lockout.BACK_OFF,)
    assert loop.state.reason.code is ReasonCode.NO_HEAT_PROVEN
    assert loop.number("back_off_s") == pause_s
    assert loop.share.judged_s == TRUSTED.judged_s + FANS.minimum_run_s - FANS.purge_s
    assert loop.share.at_mono_s is None  # what comes next is another stretch


@pytest.mark.parametrize(("cold", "outlet_c"), [(False, 39.75), (True, 0.25)])
def test_a_run_that_is_given_up_says_what_its_outlet_showed(cold: bool, outlet_c: float) -> None:
    """Heat in the direction the loop was to move it, beside the fan's own power."""
    loop = judged(cold=cold, outlet=outlet_c, demand=Demand.HEAT if cold else Demand.BANK)
    assert not loop.look(FANS.minimum_run_s)
    assert (loop.number("outlet_c"), loop.number("heat_w"), loop.number("power_w")) == (outlet_c, 90.0, 100.0)


def test_a_run_is_given_up_when_it_has_been_weak_for_three_minutes() -> None:
    """Three minutes to the moment, and a good look in between begins them anew."""
    loop = Loop().run(FANS.minimum_run_s)
    for weak_s in (100.0, 100.0, 180.0 - A_MOMENT_S):
        loop.outlet = PROVEN_C
        loop.look(10.0)
        assert loop.state.weak_since_s is None
        loop.outlet = WEAK_C
        assert loop.look(10.0)
        assert loop.look(weak_s)
    assert not loop.look(A_MOMENT_S)


@pytest.mark.parametrize(("soil_c", "outlet_c"), [(0.0, 10.0), (0.0, WEAK_C), (35.0, WEAK_C)])
def test_each_look_at_a_judged_run_teaches(soil_c: float, outlet_c: float) -> None:
    """Weak or proven, the heat of every look is learned against what the settings promise."""
    loop = Loop()
    loop.soil, loop.outlet, loop.share = soil_c, outlet_c, TRUSTED
    loop.run()
    expected = TRUSTED
    for _ in range(2):
        moved_w, promised_w = PLAN.air_w_per_k * (40.0 - outlet_c), PLAN.expected_w_per_k * (40.0 - soil_c)
        expected = learned(expected, moved_w, promised_w, loop.now_s)
        assert loop.share == expected
        loop.look(10.0)


@pytest.mark.parametrize(
    "house",
    [{"ran_s": FANS.purge_s - A_MOMENT_S}, {"outlet": Why.SILENT}, {"soil": 35.0 + A_HAIR_C}],
    ids=["purging", "silent", "little difference"],
)
def test_a_look_that_cannot_judge_teaches_nothing(house: dict[str, Any]) -> None:
    """What was learned before is kept, and the next look begins another stretch."""
    loop = judged(**house)
    loop.share = TRUSTED._replace(at_mono_s=loop.now_s)
    loop.look()
    assert loop.share == TRUSTED


# In this house of 40 °C still air reads 20 °C and moving air 30 °C; 23 °C is the last that looks still.
STILL_C = 23.0
SETTLED_S = 10 * MINUTE_S


@pytest.mark.parametrize(
    ("house", "proof"),
    [
        ({}, Proof.WEAK),
        ({"outlet": STILL_C + A_HAIR_C}, Proof.PROVEN),
        ({"ran_s": SETTLED_S - A_MOMENT_S}, Proof.PROVEN),
        ({"outlets_known": False}, Proof.PROVEN),
        ({"heat_share": TRUSTED._replace(share=0.78)}, Proof.WEAK),
        ({"heat_share": TRUSTED._replace(share=0.77)}, Proof.PROVEN),
        ({"heat_share": TRUSTED._replace(judged_s=TRUSTED.judged_s - 10 * MINUTE_S)}, Proof.PROVEN),
        ({"bench": 20.0, "outlet": 16.0}, Proof.WEAK),  # still air lies halfway to the bench
        ({"bench": 20.0, "outlet": 17.0}, Proof.PROVEN),
        ({"bench": 60.0}, Proof.PROVEN),  # moving and still air would read about the same
    ],
)
def test_an_outlet_that_looks_still_proves_nothing(house: dict[str, Any], proof: Proof) -> None:
    """However much heat it shows, once settled, if outlets can show it and the loop moves much heat."""
    heat_share: HeatShare = house.get("heat_share", TRUSTED)
    ran_s = house.get("ran_s", SETTLED_S)
    others = {name: value for name, value in house.items() if name not in ("heat_share", "ran_s")}
    loop = judged(**({"outlets_known": True, "outlet": STILL_C} | others))
    loop.share = heat_share
    loop.look(ran_s - FANS.purge_s)
    assert loop.state.proof is proof
    if proof is Proof.WEAK:
        assert loop.state.weak_since_s == loop.now_s
        assert loop.share == heat_share  # a fan that stands teaches nothing about its tubes


@pytest.mark.parametrize(
    ("outlets_known", "after_s", "forgiven"),
    [(False, 300.0, True), (True, 300.0, False), (True, 600.0, True)],
)
def test_failures_are_forgiven_by_a_run_that_can_be_seen_to_move_air(
    outlets_known: bool, after_s: float, forgiven: bool
) -> None:
    """Where outlets can show it, heat is not enough: the outlet must have settled and must not look still."""
    loop = Loop()
    loop.state, loop.share = FanState(None, STARTED, failed_runs=2, back_off_until_s=1.0), TRUSTED
    loop.outlets_known, loop.outlet = outlets_known, 30.0
    loop.run().look(after_s - FANS.purge_s)
    assert (loop.state.proof, loop.state.weak_since_s) == (Proof.PROVEN, None)
    assert loop.failures() == ((0, None) if forgiven else (2, 1.0))


def test_three_failed_runs_call_a_person_and_a_good_one_clears_it() -> None:
    """The alarm comes with the third failed run and goes with the first that proves heat; others run on."""
    world = World()
    world.remember_need(2.0)
    world.sunny()
    world.outlet_c["north"] = 27.0  # as warm as the ceiling
    delay_s = FAULTS[FaultCode.FAN_NO_EFFECT].on_delay_s + MINUTE_S
    for failed_runs in (2, 3):
        while world.state.fans["north"].failed_runs < failed_runs:
            world.tick(30.0)
        world.run(delay_s, 30.0)
        assert ("fan-no-effect" in world.alarms()) is (failed_runs == 3)
    assert world.fan("middle")
    world.outlet_c.clear()
    world.run(5 * HOUR_S, 30.0)
    assert world.state.fans["north"].failed_runs == 0
    assert "fan-no-effect" not in world.alarms()
    assert world.stops("middle") == []
    assert world.broken == []
