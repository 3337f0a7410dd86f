"""One loop's fan at the very instants and values at which its rule changes its mind, with all its numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.decision.command import OutputId
from controller.decision.demand import LoopView, Wish
from controller.decision.fans import FanInput, FanIntent, fan_intent
from controller.decision.heat import LoopPlan
from controller.decision.outlets import SETTLED_ON_S
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.response import TRUSTED_FROM_S, UNKNOWN, Response, learned
from controller.decision.state import Demand, FanState, Lockout, Need, OutputState, Proof
from controller.decision.timers import switched
from controller.readings.reading import Good, Missing, Reading, Why
from controller.readings.snapshot import LoopReadings
from tests.decision.world import HOUR_S, MINUTE_S, settings_with

if TYPE_CHECKING:
    from controller.decision.lockouts import Stop
    from controller.settings.schema import Settings

A_MOMENT_S = 0.125  # like all times and temperatures here a fraction that floats hold exactly
A_HAIR_C = 0.125
# 360 W of air heat a kelvin; 180 W, which is half a kelvin, prove a run.
PLAN = LoopPlan("north", OutputId.fan("north"), "main", 100.0, 360.0, 100.0)
SETTINGS = settings_with(fans={"proven_heat_per_watt": 1.8})
ALLOWED = settings_with(SETTINGS, fans={"run_in_frost_with_float_unreadable": True})
FANS, POINTS = SETTINGS.fans, SETTINGS.setpoints
WANTED = Reason(ReasonCode.DEMANDED, {"ceiling_c": 1.0})
OVER = Reason(ReasonCode.NOTHING_WANTED, {"air_c": 2.0})
STARTED = Reason(ReasonCode.STARTED, {"rest_s": 0.0})
NO_FLOAT: Stop = (Lockout.FLOAT_UNREADABLE, Reason(ReasonCode.FLOAT_UNREADABLE, {"for_s": 7.0}))
WATER: Stop = (Lockout.FLOOD, Reason(ReasonCode.FLOOD, {"for_s": 8.0}))
TRUSTED = Response(0.9, TRUSTED_FROM_S)
NEVER = Wish(None, OVER)


class Loop:
    """The north loop by itself, at rest for long, wanted for what a test says and granted every start."""

    def __init__(self, settings: Settings = SETTINGS, demand: Demand = Demand.BANK) -> None:
        self.settings = settings
        self.now_s = 2.0**20
        self.wish = Wish(demand, WANTED)
        self.ceiling: float | Why = 40.0
        self.bench: float | Why = 40.0
        self.soil: float | Why = 0.0
        self.root: float | Why = 10.0
        self.outlet: float | Why = 10.0
        self.air_c: float | None = 40.0
        self.stop: Stop | None = None
        self.tells = False
        self.output = OutputState(on=False, since_mono_s=self.now_s - 24 * HOUR_S)
        self.state = FanState(None, STARTED)
        self.view: LoopView | None = None
        self.intent: FanIntent | None = None

    def _rule(self, view: LoopView) -> Wish:
        self.view = view
        return self.wish

    def _reading(self, value: float | Why) -> Reading:
        return Missing(value, self.now_s - 5.0) if isinstance(value, Why) else Good(value, self.now_s)

    def look(self, after_s: float = 0.0) -> bool:
        """Let time pass and decide once; returns whether the fan runs then."""
        self.now_s += after_s
        readings = LoopReadings(*map(self._reading, (self.soil, self.root, self.outlet)))
        ceiling, bench = self._reading(self.ceiling), self._reading(self.bench)
        self.intent = fan_intent(
            FanInput(PLAN, self.settings, self._rule, ceiling, bench, self.air_c, readings, self.stop,
                     Need(3.0, 1.0), self.output, self.state, self.now_s, 0.5, self.tells)
        )  # fmt: skip
        assert isinstance(self.intent.on, bool)
        self.state = self.intent.state
        self.output = switched(self.output, self.intent.on or self.intent.asks_to_start, self.now_s)
        return self.output.on

    def says(self) -> tuple[ReasonCode, dict[str, float | str]]:
        """The present reason as data."""
        return self.state.reason.code, dict(self.state.reason.numbers)

    def discharge(self) -> None:
        """Warm soil under cold air, the outlet halfway."""
        self.ceiling, self.bench, self.soil, self.root, self.outlet = 0.0, 0.0, 20.0, 20.0, 10.0
        self.air_c = 0.0


def running(loop: Loop | None = None, for_s: float = FANS.purge_s) -> Loop:
    """A loop that has been started and has run for so long."""
    loop = loop or Loop()
    assert loop.look()
    loop.look(for_s)
    return loop


@pytest.mark.parametrize(
    ("response", "share"),
    [(UNKNOWN, 1.0), (TRUSTED, 0.9), (TRUSTED._replace(judged_s=TRUSTED_FROM_S - 1.0), 1.0)],
)
def test_the_rule_is_shown_what_it_may_decide_on(response: Response, share: float) -> None:
    """Settings, temperatures, need, place, what the fan runs for, and the heat that was learned."""
    loop = Loop()
    loop.air_c, loop.state = 39.0, loop.state._replace(response=response)
    loop.look()
    expected = LoopView(
        SETTINGS, PLAN, 40.0, 0.0, 39.0, Need(3.0, 1.0), None, 0.5, share * PLAN.expected_w_per_k
    )
    assert loop.view == expected
    loop.look(10.0)
    assert loop.view is not None
    assert loop.view.running_for is Demand.BANK


@pytest.mark.parametrize("discharge", [False, True])
def test_a_start_is_asked_for_with_its_difference(discharge: bool) -> None:
    """A wanted loop at rest asks, with the reason of the rule and the difference whatever its sign."""
    loop = Loop()
    loop.soil = 10.0
    if discharge:
        loop.discharge()
        loop.ceiling = 4.0
    loop.state = loop.state._replace(lockouts=(Lockout.RESTING,))
    loop.look()
    difference_k = 16.0 if discharge else 30.0
    assert loop.intent == FanIntent(
        FanState(Demand.BANK, WANTED, Proof.PURGING), on=False, asks_to_start=True, difference_k=difference_k
    )


def test_a_loop_that_is_not_wanted_stays_off_and_keeps_its_failures() -> None:
    """Demand, proof and lockouts are gone; what failed and until when is kept."""
    loop = Loop()
    until_s = loop.now_s + HOUR_S
    response = TRUSTED._replace(at_mono_s=loop.now_s - 1.0)
    loop.state = FanState(
        Demand.BANK, WANTED, Proof.WEAK, 5.0, 2, until_s, (Lockout.BACK_OFF,), response=response
    )
    loop.wish = NEVER
    assert not loop.look()
    assert loop.state == FanState(None, OVER, Proof.IDLE, None, 2, until_s, (), TRUSTED)


def test_the_minimum_run_ends_at_its_very_moment() -> None:
    """A demand that is over is kept with its reason until then, and the rule's reason is told then."""
    loop = running()
    loop.wish = NEVER
    assert loop.look(FANS.minimum_run_s - FANS.purge_s - A_MOMENT_S)
    assert (loop.state.demand, loop.state.reason) == (Demand.BANK, WANTED)
    assert not loop.look(A_MOMENT_S)
    assert loop.state == FanState(None, OVER, response=loop.state.response)


def test_a_running_fan_takes_over_what_it_is_wanted_for_now() -> None:
    """Banking that has become cooling is told as cooling."""
    loop = running()
    loop.wish = Wish(Demand.COOL, OVER)
    loop.look(10.0)
    assert (loop.state.demand, loop.state.reason) == (Demand.COOL, OVER)


def test_rest_back_off_and_starts_hold_a_start_back_to_the_moment() -> None:
    """Each lockout counts down to its very end and gives its number."""
    loop = running(for_s=FANS.minimum_run_s)
    loop.wish = NEVER
    loop.look()
    loop.wish = Wish(Demand.BANK, WANTED)
    assert not loop.look(FANS.minimum_rest_s - A_MOMENT_S)
    assert loop.says() == (ReasonCode.RESTING, {"left_s": A_MOMENT_S})
    assert loop.state.lockouts == (Lockout.RESTING,)
    loop.state = loop.state._replace(back_off_until_s=loop.now_s + 2.0 * A_MOMENT_S, failed_runs=1)
    assert not loop.look(A_MOMENT_S)
    assert loop.says() == (ReasonCode.BACK_OFF, {"left_s": A_MOMENT_S})
    assert loop.state.lockouts == (Lockout.BACK_OFF,)
    assert loop.look(A_MOMENT_S)


def test_the_starts_of_the_hour_are_counted_in_the_reason() -> None:
    """A loop that has had its starts says how many they were."""
    loop = Loop()
    loop.output = loop.output._replace(starts_mono_s=(loop.now_s - 2000.0, loop.now_s - 1000.0))
    assert not loop.look()
    assert loop.says() == (ReasonCode.STARTS_SPENT, {"starts": 2.0})
    assert loop.state.lockouts == (Lockout.STARTS_SPENT,)
    assert loop.look(1600.0)


@pytest.mark.parametrize(
    ("failed_runs", "pause_s"), [(1, 1800.0), (2, 3600.0), (5, 28800.0), (2000, 28800.0)]
)
def test_a_weak_run_is_given_up_after_its_minimum_with_all_numbers(failed_runs: int, pause_s: float) -> None:
    """The reason tells outlet, heat, power and pause; the pause doubles up to its longest."""
    loop = Loop()
    loop.outlet = 39.75
    loop.state = loop.state._replace(failed_runs=failed_runs - 1, response=TRUSTED)
    running(loop)
    assert (loop.state.proof, loop.state.weak_since_s) == (Proof.WEAK, loop.now_s)
    assert (loop.state.demand, loop.state.reason) == (Demand.BANK, WANTED)
    assert loop.state.failed_runs == failed_runs - 1
    weak_since_s = loop.now_s
    assert loop.look(FANS.minimum_run_s - FANS.purge_s - A_MOMENT_S)
    assert loop.state.weak_since_s == weak_since_s
    assert not loop.look(A_MOMENT_S)
    numbers = {"outlet_c": 39.75, "heat_w": 90.0, "power_w": 100.0, "back_off_s": pause_s}
    assert loop.says() == (ReasonCode.NO_HEAT_PROVEN, numbers)
    assert loop.state == FanState(
        None,
        loop.state.reason,
        failed_runs=failed_runs,
        back_off_until_s=loop.now_s + pause_s,
        lockouts=(Lockout.BACK_OFF,),
        response=learned(TRUSTED._replace(at_mono_s=0.0), 90.0, 4000.0, A_MOMENT_S)._replace(at_mono_s=None),
    )


def test_weak_heat_of_a_discharge_is_told_as_heat_given() -> None:
    """Warmth that comes out of the soil counts as positive while warmth is returned."""
    loop = Loop(demand=Demand.HEAT)
    loop.discharge()
    loop.outlet = 0.25
    running(loop)
    assert loop.state.proof is Proof.WEAK
    assert not loop.look(FANS.minimum_run_s - FANS.purge_s)
    assert loop.says()[1]["heat_w"] == 90.0


def test_a_run_is_given_up_when_it_has_been_weak_for_three_minutes() -> None:
    """Three minutes to the moment, and a good look in between begins them anew."""
    loop = running(for_s=FANS.minimum_run_s)
    for weak_s in (100.0, 100.0, 180.0 - A_MOMENT_S):
        loop.outlet = 10.0
        loop.look(10.0)
        assert loop.state.weak_since_s is None
        loop.outlet = 39.75
        assert loop.look(10.0)
        assert loop.look(weak_s)
    assert not loop.look(A_MOMENT_S)


@pytest.mark.parametrize(
    ("outlet_c", "proof"),
    [(39.5, Proof.PROVEN), (39.5 + A_HAIR_C, Proof.WEAK), (Why.SILENT, Proof.NOT_TESTABLE)],
)
def test_a_run_is_judged_from_the_end_of_the_purge_time(outlet_c: float | Why, proof: Proof) -> None:
    """Until then it purges; then the least heat that proves it proves it, and less does not."""
    loop = Loop()
    loop.outlet = outlet_c
    running(loop, FANS.purge_s - A_MOMENT_S)
    assert (loop.state.proof, loop.state.weak_since_s) == (Proof.PURGING, None)
    assert loop.state.response.at_mono_s is None
    loop.look(A_MOMENT_S)
    assert loop.state.proof is proof


def test_where_no_heat_at_all_is_asked_for_some_must_move() -> None:
    """With a proof of nothing set, an outlet that shows nothing still proves nothing."""
    for outlet_c, proof in ((40.0, Proof.WEAK), (40.0 - A_HAIR_C, Proof.PROVEN)):
        loop = Loop(settings_with(SETTINGS, fans={"proven_heat_per_watt": 0.0}))
        loop.outlet = outlet_c
        assert running(loop).state.proof is proof


def test_a_plain_demand_is_not_judged() -> None:
    """A comparison rule that runs a fan without a purpose is not held to one."""
    assert running(Loop(demand=Demand.PLAIN)).state.proof is Proof.NOT_TESTABLE


@pytest.mark.parametrize(("soil_c", "proof"), [(35.0, Proof.WEAK), (35.0 + A_HAIR_C, Proof.NOT_TESTABLE)])
def test_weakness_shows_from_a_difference_of_five_kelvin(soil_c: float, proof: Proof) -> None:
    """Below it two probes cannot tell, and nothing is learned."""
    loop = Loop()
    loop.soil, loop.outlet = soil_c, 40.0
    running(loop)
    assert loop.state.proof is proof
    assert loop.state.weak_since_s == (loop.now_s if proof is Proof.WEAK else None)
    assert (loop.state.response.at_mono_s is None) is (proof is Proof.NOT_TESTABLE)


def test_each_look_at_a_judged_run_teaches() -> None:
    """Weak or proven, the heat of every look after the first is learned against what was promised."""
    for outlet_c in (10.0, 39.75):
        loop = Loop()
        loop.outlet = outlet_c
        loop.state = loop.state._replace(response=TRUSTED)
        running(loop)
        first = learned(TRUSTED, PLAN.air_w_per_k * (40.0 - outlet_c), 4000.0, loop.now_s)
        assert loop.state.response == first
        loop.look(10.0)
        assert loop.state.response == learned(first, PLAN.air_w_per_k * (40.0 - outlet_c), 4000.0, loop.now_s)


# With this plan, house and soil still air reads 20 °C and moving 30 °C: 23 °C is the last that looks still.
STILL_C = 23.0


def settled(outlet_c: float, response: Response = TRUSTED, after_s: float = SETTLED_ON_S) -> Loop:
    """A loop in a house whose outlets tell, after the purge time and then at this time of its run."""
    loop = Loop()
    loop.tells, loop.outlet = True, outlet_c
    loop.state = loop.state._replace(response=response)
    running(loop)
    loop.state = loop.state._replace(response=response)
    loop.look(after_s - FANS.purge_s)
    return loop


def test_an_outlet_that_looks_still_proves_nothing() -> None:
    """Where outlets tell, an outlet that looks still is weak whatever heat it seems to show."""
    loop = settled(STILL_C)
    assert (loop.state.proof, loop.state.weak_since_s) == (Proof.WEAK, loop.now_s)
    assert loop.state.response == TRUSTED
    assert settled(STILL_C + A_HAIR_C).state.proof is Proof.PROVEN
    assert settled(STILL_C, after_s=SETTLED_ON_S - A_MOMENT_S).state.proof is Proof.PROVEN


@pytest.mark.parametrize(
    ("response", "proof"),
    [
        (TRUSTED._replace(share=0.78), Proof.WEAK),
        (TRUSTED._replace(share=0.77), Proof.PROVEN),
        (TRUSTED._replace(judged_s=TRUSTED_FROM_S - 100.0), Proof.PROVEN),
    ],
)
def test_a_loop_is_held_to_its_looks_only_if_it_is_known_to_move_much_heat(
    response: Response, proof: Proof
) -> None:
    """A share too small, or not known yet, makes still and moving air look alike."""
    assert settled(STILL_C, response).state.proof is proof


@pytest.mark.parametrize(
    ("bench", "outlet_c", "proof"),
    [(20.0, 16.0, Proof.WEAK), (20.0, 17.0, Proof.PROVEN), (60.0, STILL_C, Proof.PROVEN)],
)
def test_still_air_is_that_of_the_bench(bench: float, outlet_c: float, proof: Proof) -> None:
    """Still air lies halfway to the bench; where it would read like moving air nobody can tell."""
    loop = settled(30.0)
    loop.bench, loop.outlet = bench, outlet_c
    loop.look(10.0)
    assert loop.state.proof is proof


def test_a_house_whose_outlets_do_not_tell_is_not_judged_by_them() -> None:
    """There the heat between roof and outlet is all there is."""
    loop = running()
    loop.outlet = STILL_C
    loop.state = loop.state._replace(response=TRUSTED)
    loop.look(SETTLED_ON_S)
    assert loop.state.proof is Proof.PROVEN


def test_failures_are_forgiven_by_a_run_that_can_be_seen_to_move_air() -> None:
    """Where outlets tell, heat alone is not enough: the run must be judged and must not look still."""
    failed = FanState(None, STARTED, failed_runs=2, back_off_until_s=1.0, response=TRUSTED)
    for tells, after_s, forgiven in ((False, 300.0, True), (True, 300.0, False), (True, 600.0, True)):
        loop = Loop()
        loop.state, loop.tells, loop.outlet = failed, tells, 30.0
        running(loop)
        loop.look(after_s - FANS.purge_s)
        assert loop.state.proof is Proof.PROVEN
        assert loop.state.weak_since_s is None
        expected = (0, None) if forgiven else (2, 1.0)
        assert (loop.state.failed_runs, loop.state.back_off_until_s) == expected


def test_in_frost_a_failed_loop_waits_for_the_shortest_back_off_to_the_moment() -> None:
    """From the end of the last run, however long its pause has become; nothing else shortens it."""
    for failed_runs in (1, 3):
        ended_s = 2.0**20
        until_s = ended_s + 1800.0 * 2.0 ** (failed_runs - 1)
        loop = Loop(demand=Demand.FROST)
        loop.state = loop.state._replace(failed_runs=failed_runs, back_off_until_s=until_s)
        assert not loop.look(1800.0 - A_MOMENT_S)
        assert loop.says() == (ReasonCode.BACK_OFF, {"left_s": A_MOMENT_S})
        assert loop.look(A_MOMENT_S)
    loop = Loop(demand=Demand.FROST)  # a back-off without a failure that is remembered
    loop.state = loop.state._replace(back_off_until_s=loop.now_s + A_MOMENT_S)
    assert not loop.look()
    assert loop.look(A_MOMENT_S)


@pytest.mark.parametrize(
    ("discharge", "root_c", "starts", "runs_on"),
    [
        (False, 26.0, False, False),
        (False, 26.0 - A_HAIR_C, False, True),
        (False, 25.5, False, True),
        (False, 25.5 - A_HAIR_C, True, True),
        (True, -2.0, False, False),
        (True, -2.0 + A_HAIR_C, False, True),
        (True, -1.5, False, True),
        (True, -1.5 + A_HAIR_C, True, True),
    ],
)
def test_a_start_needs_the_root_zone_a_deadband_within_its_limits(
    discharge: bool, root_c: float, starts: bool, runs_on: bool
) -> None:
    """At its limit the root zone stops a run, and a deadband before it a start."""
    loop = Loop()
    if discharge:
        loop.discharge()
    loop.root = root_c
    assert loop.look() is starts
    loop.root = 10.0
    loop.look()
    loop.root = root_c
    assert loop.look(10.0) is runs_on


def frosty(settings: Settings = ALLOWED) -> Loop:
    """A loop that the frost exception may run: no float, frost at the bench, warm soil."""
    loop = Loop(settings, Demand.FROST)
    loop.discharge()
    loop.stop = NO_FLOAT
    return loop


BAND_C = POINTS.frost_limit_c + POINTS.air_deadband_k


@pytest.mark.parametrize(
    ("bench", "ceiling", "starts", "runs_on"),
    [
        (2.0, 0.0, True, True),
        (2.0 + A_HAIR_C, 0.0, False, True),
        (BAND_C, 0.0, False, True),
        (BAND_C + A_HAIR_C, 0.0, False, False),
        (Why.SILENT, 2.0, True, True),
        (Why.SILENT, 2.0 + A_HAIR_C, False, True),
        (0.0, 25.0, False, False),
    ],
)
def test_the_frost_exception_needs_frost_at_the_crop_and_warmer_soil(
    bench: float | Why, ceiling: float, starts: bool, runs_on: bool
) -> None:
    """The bench decides, or the ceiling in its place; a run goes on through the deadband."""
    loop = frosty()
    loop.bench, loop.ceiling = bench, ceiling
    assert loop.look() is starts
    if not starts:
        assert loop.state == FanState(None, NO_FLOAT[1], lockouts=(NO_FLOAT[0],))
    loop = frosty()
    assert loop.look()
    loop.bench, loop.ceiling = bench, ceiling
    assert loop.look(10.0) is runs_on


def test_equal_temperatures_are_no_charging_to_the_frost_exception() -> None:
    """Soil as warm as the air takes no heat out of the house, so the exception stands; its outlet decides."""
    loop = frosty()
    loop.ceiling = loop.soil = 1.0
    assert loop.look()


@pytest.mark.parametrize("case", ["not set", "water", "no soil", "no ceiling"])
def test_the_frost_exception_has_its_conditions(case: str) -> None:
    """Set, without a float only, and with both temperatures: otherwise water's own stop is told."""
    loop = frosty(SETTINGS if case == "not set" else ALLOWED)
    if case == "water":
        loop.stop = WATER
    elif case == "no soil":
        loop.soil = Why.SILENT
    elif case == "no ceiling":
        loop.ceiling = Why.SILENT
    assert not loop.look()
    expected = WATER if case == "water" else NO_FLOAT
    assert (loop.state.lockouts, loop.state.reason) == ((expected[0],), expected[1])


def test_water_is_told_before_readings_that_are_missing() -> None:
    """Without a soil to be believed a flood still is the reason, and without a flood the soil is."""
    loop = running()
    loop.stop, loop.soil = WATER, Why.SILENT
    assert not loop.look(1.0)
    assert loop.state.lockouts == (Lockout.FLOOD,)
    loop.stop = None
    assert not loop.look(1.0)
    assert loop.state.lockouts == (Lockout.SOIL_UNKNOWN,)
    assert loop.says() == (ReasonCode.SOIL_UNKNOWN, {"why": Why.SILENT.value, "for_s": 5.0})
    loop.ceiling = Why.STALE
    assert not loop.look(1.0)
    assert loop.says() == (ReasonCode.CEILING_UNKNOWN, {"why": Why.STALE.value, "for_s": 5.0})


def test_a_run_by_exception_must_be_proven_when_the_purge_time_is_over() -> None:
    """A moment before it is not judged; then an outlet without warmth ends it and the loop backs off."""
    loop = frosty()
    loop.outlet = 0.0
    running(loop, FANS.purge_s - A_MOMENT_S)
    assert loop.output.on
    assert not loop.look(A_MOMENT_S)
    assert loop.says() == (ReasonCode.AIR_NOT_PROVEN, {"purge_s": FANS.purge_s})
    assert loop.state.lockouts == (Lockout.BACK_OFF,)
    assert loop.state.failed_runs == 1
    assert loop.state.back_off_until_s == loop.now_s + FANS.back_off_s
    loop = frosty()
    assert running(loop).output.on
    assert loop.look(MINUTE_S)


def test_a_run_by_exception_ends_when_frost_is_no_longer_what_it_runs_for() -> None:
    """Another demand, or none, gives water's own stop its say at once."""
    for demand in (Demand.HEAT, None):
        loop = frosty()
        loop.state = loop.state._replace(response=TRUSTED)
        assert running(loop).output.on
        loop.wish = Wish(demand, OVER)
        assert not loop.look(10.0)
        assert (loop.state.lockouts, loop.state.reason) == ((NO_FLOAT[0],), NO_FLOAT[1])
        assert (loop.state.demand, loop.state.proof) == (None, Proof.IDLE)
        assert loop.state.response.at_mono_s is None
        assert loop.state.response.judged_s == TRUSTED.judged_s + 10.0


def test_a_run_by_exception_that_proved_nothing_forgives_nothing() -> None:
    """Frost that ends within the purge time leaves the loop with the failures and the back-off it had."""
    for for_s, kept in ((FANS.purge_s - A_MOMENT_S, (3, 1.0)), (FANS.purge_s, (0, None))):
        loop = frosty()
        loop.state = loop.state._replace(failed_runs=3, back_off_until_s=1.0)
        assert running(loop, for_s).output.on
        loop.wish = NEVER
        assert not loop.look(A_MOMENT_S / 2.0)
        assert (loop.state.failed_runs, loop.state.back_off_until_s) == kept
        assert (loop.state.lockouts, loop.state.reason) == ((NO_FLOAT[0],), NO_FLOAT[1])


def test_a_run_by_exception_is_not_held_to_its_minimum_run_by_a_dry_float() -> None:
    """Once the float can be read and the tubes are free the run goes on as any other."""
    loop = running(frosty())
    loop.stop = None
    loop.outlet = 0.0
    assert loop.look(10.0)
    assert loop.state.proof is Proof.WEAK
