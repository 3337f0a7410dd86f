"""What stops a fan at once, minimum run or not: missing readings, roots, water; and the frost exception."""

from __future__ import annotations

import pytest

from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Demand, Lockout, Proof
from controller.decision.wish import Wish
from controller.readings.reading import Why
from controller.units import TemperatureUnit
from tests.decision.loop import (
    A_HAIR_C,
    A_MOMENT_S,
    FANS,
    NOTHING,
    OVER,
    POINTS,
    SETTINGS,
    TRUSTED,
    WANTED,
    Loop,
)
from tests.decision.world import HOUSE, MINUTE_S, World, settings_with

ALLOWED = settings_with(SETTINGS, fans={"run_in_frost_with_float_unreadable": True})
NO_FLOAT = (Lockout.FLOAT_UNREADABLE, Reason(ReasonCode.FLOAT_UNREADABLE, {"for_s": 7.0}))
WATER = (Lockout.FLOOD, Reason(ReasonCode.FLOOD, {"for_s": 8.0}))


@pytest.mark.parametrize(
    ("missing", "running", "words"),
    [
        (
            "soil",
            [False, True, True],
            "the fan does not run without a soil temperature; the soil probe does not answer (for 0 s)",
        ),
        (
            "ceiling",
            [False] * 3,
            "no fan runs without a ceiling temperature; the ceiling probe does not answer (for 0 s)",
        ),
        ("bench", [True] * 3, None),
        ("outlet", [True] * 3, None),
        ("root zone", [True] * 3, None),
    ],
)
def test_a_fan_stops_at_once_without_the_two_temperatures_that_judge_it(
    missing: str, running: list[bool], words: str | None
) -> None:
    """A soil stops its own loop, the ceiling every loop; other probes have something to stand in for them."""
    world = World()
    world.remember_need(2.0)
    world.sunny()
    world.run(2 * MINUTE_S)
    if missing in ("ceiling", "bench"):
        setattr(world, f"{missing}_c", Why.SILENT)
    else:
        {"soil": world.soil_c, "outlet": world.outlet_c, "root zone": world.root_c}[missing]["north"] = (
            Why.SILENT
        )
    world.tick()
    assert [world.fan(loop) for loop in HOUSE.loops] == running
    assert words is None or world.why() == words


def test_water_is_named_before_readings_that_are_missing() -> None:
    """A flood is the reason even without a soil to be believed; then the ceiling, then the soil."""
    loop = Loop().run()
    loop.soil = loop.ceiling = Why.STALE
    named = []
    for loop.stop, loop.ceiling in ((WATER, Why.STALE), (None, Why.STALE), (None, 40.0)):
        assert not loop.look(1.0)
        named += loop.state.lockouts
    assert named == [Lockout.FLOOD, Lockout.CEILING_UNKNOWN, Lockout.SOIL_UNKNOWN]


@pytest.mark.parametrize(
    ("demand", "root_c", "starts", "runs_on"),
    [
        (Demand.BANK, 26.0, False, False),
        (Demand.BANK, 26.0 - A_HAIR_C, False, True),
        (Demand.BANK, 25.5, False, True),
        (Demand.BANK, 25.5 - A_HAIR_C, True, True),
        (Demand.BANK, -10.0, True, True),
        (Demand.COOL, 36.0, False, False),
        (Demand.COOL, 36.0 - A_HAIR_C, False, True),
        (Demand.COOL, 35.5, False, True),
        (Demand.COOL, 35.5 - A_HAIR_C, True, True),
        (Demand.PLAIN, 36.0, False, False),
        (Demand.PLAIN, 35.5 - A_HAIR_C, True, True),
        (Demand.HEAT, -2.0, False, False),
        (Demand.HEAT, -2.0 + A_HAIR_C, False, True),
        (Demand.HEAT, -1.5, False, True),
        (Demand.HEAT, -1.5 + A_HAIR_C, True, True),
        (Demand.HEAT, 30.0, True, True),
    ],
)
def test_roots_stop_a_run_at_their_limit_and_a_start_a_deadband_before_it(
    demand: Demand, root_c: float, starts: bool, runs_on: bool
) -> None:
    """Warm roots are not banked into, hot ones not even cooled into, and cold roots give no heat."""
    loop = Loop(demand=demand)
    if demand is Demand.HEAT:
        loop.cold()
    loop.root = root_c
    assert loop.look() is starts
    loop.root = 10.0
    loop.look()
    loop.root = root_c
    assert loop.look(10.0) is runs_on
    if not runs_on:
        words = loop.state.reason.sentence(TemperatureUnit.CELSIUS)
        assert f"while the root zone is at or {'below' if demand is Demand.HEAT else 'above'} " in words
        assert f"(now {root_c:.1f} °C)" in words


@pytest.mark.parametrize(("root_c", "runs_on"), [(30.0, True), (36.0, False)])
def test_a_run_that_has_cooled_enough_ends_its_minimum_run_at_roots_too_warm_to_bank(
    root_c: float, runs_on: bool
) -> None:
    """What would come next is forbidden, what it ran for is not; the roots' own rescue limit stops it."""
    loop = Loop(demand=Demand.COOL)
    loop.look()
    loop.root, loop.wish = root_c, Wish(Demand.BANK, WANTED)
    assert loop.look(10.0) is runs_on
    assert loop.state.demand is (Demand.COOL if runs_on else None)
    assert not loop.look(FANS.minimum_run_s)
    assert loop.state.reason.code is ReasonCode.ROOT_ZONE_WARM


@pytest.mark.parametrize(("soil_c", "runs"), [(25.4, True), (26.0, False)])
def test_without_a_root_zone_probe_the_soil_stands_in_and_is_named(soil_c: float, runs: bool) -> None:
    """No sentence says how warm a root zone is that nobody measures."""
    loop = Loop()
    loop.root, loop.soil = Why.NOT_FITTED, soil_c
    assert loop.look() is runs
    words = loop.state.reason.sentence(TemperatureUnit.CELSIUS)
    named = (
        "while the soil at the tubes (the root-zone probe is not fitted) is at or above 25.5 °C (now 26.0 °C)"
    )
    assert (named in words) is not runs


def frosty(*, allowed: bool = True) -> Loop:
    """A loop that the frost exception may run: no float, frost at the bench, warm soil."""
    loop = Loop(ALLOWED if allowed else SETTINGS, Demand.FROST).cold()
    loop.stop = NO_FLOAT
    return loop


BAND_C = POINTS.frost_limit_c + POINTS.air_deadband_k


@pytest.mark.parametrize(
    ("bench", "ceiling", "soil", "starts", "runs_on"),
    [
        (2.0, 0.0, 20.0, True, True),
        (2.0 + A_HAIR_C, 0.0, 20.0, False, True),
        (BAND_C, 0.0, 20.0, False, True),
        (BAND_C + A_HAIR_C, 0.0, 20.0, False, False),
        (Why.SILENT, 2.0, 20.0, True, True),  # the ceiling stands in for the bench
        (Why.SILENT, 2.0 + A_HAIR_C, 20.0, False, True),
        (0.0, 25.0, 20.0, False, False),  # the soil would take heat out of the house
        (0.0, 1.0, 1.0, True, True),
    ],
)
def test_without_a_float_a_fan_may_run_in_frost_at_the_crop_over_warmer_soil(
    bench: float | Why, ceiling: float, soil: float, starts: bool, runs_on: bool
) -> None:
    """Where the settings allow it: the bench decides, and a run goes on through the deadband."""
    loop = frosty()
    loop.bench, loop.ceiling, loop.soil = bench, ceiling, soil
    assert loop.look() is starts
    if not starts:
        assert (loop.state.lockouts, loop.state.reason) == ((NO_FLOAT[0],), NO_FLOAT[1])
    loop = frosty()
    assert loop.look()
    loop.bench, loop.ceiling, loop.soil = bench, ceiling, soil
    assert loop.look(10.0) is runs_on


@pytest.mark.parametrize(
    ("allowed", "stop", "soil", "ceiling"),
    [
        (False, NO_FLOAT, 20.0, 0.0),
        (True, WATER, 20.0, 0.0),
        (True, NO_FLOAT, Why.SILENT, 0.0),
        (True, NO_FLOAT, 20.0, Why.SILENT),
    ],
    ids=["not set", "water", "no soil", "no ceiling"],
)
def test_the_frost_exception_has_its_conditions(
    allowed: bool, stop: tuple[Lockout, Reason], soil: float | Why, ceiling: float | Why
) -> None:
    """Set, for a float that cannot be read only, and with both temperatures; otherwise water has its say."""
    loop = frosty(allowed=allowed)
    loop.stop, loop.soil, loop.ceiling = stop, soil, ceiling
    assert not loop.look()
    assert (loop.state.lockouts, loop.state.reason) == ((stop[0],), stop[1])


@pytest.mark.parametrize(
    ("outlet_c", "ran_s", "runs_on"),
    [(10.0, FANS.purge_s, True), (0.0, FANS.purge_s - A_MOMENT_S, True), (0.0, FANS.purge_s, False)],
)
def test_a_run_by_exception_must_be_proven_when_the_tubes_are_purged(
    outlet_c: float, ran_s: float, runs_on: bool
) -> None:
    """An outlet without warmth ends it then, long before its minimum run, and the loop backs off."""
    loop = frosty()
    loop.outlet = outlet_c
    loop.run(ran_s)
    assert loop.output.on is runs_on
    if not runs_on:
        assert loop.state.reason.code is ReasonCode.AIR_NOT_PROVEN
        assert loop.number("purge_s") == FANS.purge_s
        assert loop.state.lockouts == (Lockout.BACK_OFF,)
        assert loop.failures() == (1, loop.now_s + FANS.back_off_s)


@pytest.mark.parametrize("demand", [Demand.HEAT, None])
def test_a_run_by_exception_ends_when_frost_is_no_longer_what_it_runs_for(demand: Demand | None) -> None:
    """Another demand, or none, gives water's own stop its say at once; what was learned is kept."""
    loop = frosty()
    loop.share = TRUSTED
    assert loop.run().output.on
    loop.wish = Wish(demand, OVER)
    assert not loop.look(10.0)
    assert (loop.state.lockouts, loop.state.reason) == ((NO_FLOAT[0],), NO_FLOAT[1])
    assert (loop.state.demand, loop.state.proof) == (None, Proof.IDLE)
    assert loop.share.at_mono_s is None
    assert loop.share.judged_s == TRUSTED.judged_s + 10.0


@pytest.mark.parametrize(
    ("ran_s", "kept"), [(FANS.purge_s - A_MOMENT_S, (3, 1.0)), (FANS.purge_s, (0, None))]
)
def test_a_run_by_exception_that_proved_nothing_forgives_nothing(
    ran_s: float, kept: tuple[int, float | None]
) -> None:
    """Frost that ends within the purge time leaves the loop with the failures and the back-off it had."""
    loop = frosty()
    loop.state = loop.state._replace(failed_runs=3, back_off_until_s=1.0)
    assert loop.run(ran_s).output.on
    loop.wish = NOTHING
    assert not loop.look(A_MOMENT_S / 2.0)
    assert loop.failures() == kept
    assert (loop.state.lockouts, loop.state.reason) == ((NO_FLOAT[0],), NO_FLOAT[1])


def test_a_run_by_exception_goes_on_as_any_other_once_the_float_can_be_read() -> None:
    """With a dry float and free tubes a weak outlet no longer ends it at once."""
    loop = frosty().run()
    loop.stop, loop.outlet = None, 0.0
    assert loop.look(10.0)
    assert loop.state.proof is Proof.WEAK
