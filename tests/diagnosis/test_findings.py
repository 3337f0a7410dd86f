"""Fire signatures and findings at their very thresholds, with the words a person reads."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.decision.decide import initial_state
from controller.decision.fire import watch_fire
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import EmptyingTrend, FireState, Need, PumpPhase, SumpState
from controller.diagnosis.evidence import no_evidence
from controller.diagnosis.findings import findings_of
from controller.diagnosis.probe_records import Record
from controller.faults import FaultCode, Finding
from controller.readings.reading import Good, Missing, Reading, Why
from controller.units import TemperatureUnit
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World, settings_with

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.state import FanState
    from controller.diagnosis.probe_records import Comparisons
    from controller.diagnosis.tonight import Tonight
    from controller.settings.schema import Settings

DAY_S = 86400.0
NOW_S = 2.0**20
TEMPLATE = World(settle=False).snapshot()
# An eighth of a kelvin a second for 64 s: figures that floats hold exactly.
SWIFT = settings_with(fire={"rise_k_s": 0.125, "rise_for_s": 64.0})
LIMIT_C = SWIFT.fire.level_c
STEP_S = 16.0


class FireWatch:
    """The fire watch by itself."""

    def __init__(self, settings: Settings = SWIFT) -> None:
        self.settings = settings
        self.now_s = NOW_S
        self.state = FireState()

    def see(
        self, after_s: float = STEP_S, age_s: float = 0.0, clear: bool = False, **probes_c: float | Why
    ) -> bool:
        """Look at these probes (``_`` for ``-``) once; returns whether anything is taken for a fire."""
        self.now_s += after_s
        probes: dict[str, Reading] = {
            name.replace("_", "-"): Missing(value, self.now_s)
            if isinstance(value, Why)
            else Good(value, self.now_s - age_s)
            for name, value in probes_c.items()
        }
        cleared = frozenset({FaultCode.FIRE}) if clear else frozenset()
        snapshot = TEMPLATE._replace(probes=probes, cleared=cleared)
        self.state = watch_fire(self.state, snapshot, self.settings, self.now_s)
        return self.detail != ""

    @property
    def detail(self) -> str:
        """What it is taken for a fire by, empty if it is not."""
        return self.state.latched_detail or (self.state.suspect_detail if self.state.suspect else "")

    def rise(self, *values_c: float) -> list[bool]:
        """Whether the bench has latched after each of these values, a step apart."""
        return [self.see(bench=value_c) for value_c in values_c]


def test_the_level_itself_is_a_fire_and_is_remembered_as_first_seen() -> None:
    """A moment below is a hot day; what latched first, and when, stays whatever comes after it."""
    watch = FireWatch()
    assert not watch.see(bench=LIMIT_C - 0.125)
    assert watch.see(bench=LIMIT_C, ceiling_west=LIMIT_C)
    first = ("ceiling-west reads 65.0 °C", watch.now_s)
    assert (watch.state.latched_detail, watch.state.latched_since_s) == first
    assert watch.see(bench=90.0, ceiling_west=80.0)
    assert (watch.state.latched_detail, watch.state.latched_since_s) == first
    assert watch.see(bench=15.0)
    assert not watch.see(bench=15.0, clear=True)


def test_of_several_hot_probes_the_first_is_named_in_the_units_of_the_house() -> None:
    """A level is named before a rise, and in °F where a person reads that."""
    shown = settings_with(SWIFT, site={"show": TemperatureUnit.FAHRENHEIT})
    watch = FireWatch(shown)
    watch.see(ceiling_west=70.0, ceiling_east=80.0)
    assert watch.detail == "ceiling-west reads 158.0 °F"
    watch = FireWatch()
    for value_c in (30.0, 35.0, 40.0, 45.0):
        watch.see(ceiling_west=value_c, north_outlet=20.0)
    assert watch.see(ceiling_west=50.0, north_outlet=70.0)
    assert watch.detail == "north-outlet reads 70.0 °C"


def test_of_several_rising_probes_the_first_is_named() -> None:
    """One cause is enough for a person to begin with."""
    watch = FireWatch()
    for value_c in (36.0, 38.0, 40.0, 42.0, 44.0):
        watch.see(ceiling_west=value_c, ceiling_east=value_c + 1.0)
    assert watch.detail == "ceiling-west rose 8.0 K in 64 s to 44.0 °C"
    watch = FireWatch(settings_with(SWIFT, site={"show": TemperatureUnit.FAHRENHEIT}))
    watch.rise(36.0, 38.0, 40.0, 42.0, 44.0)
    assert watch.detail == "bench rose 14.4 °F in 64 s to 111.2 °F"


def test_a_probe_that_cannot_be_read_does_not_hide_the_others() -> None:
    """The watch goes on to the next probe, whether one is missing or not among the readings at all."""
    first = next(iter(HOUSE.probes))
    assert first == "ceiling-west"
    assert FireWatch().see(ceiling_west=Why.SILENT, south_outlet=70.0)
    assert FireWatch().see(south_outlet=70.0)


def test_the_rate_itself_in_both_halves_is_a_fire() -> None:
    """Two kelvin in every sixteen seconds trip when the window is full; a hair less in one half does not."""
    assert FireWatch().rise(36.0, 38.0, 40.0, 42.0, 44.0) == [False] * 4 + [True]
    assert not any(FireWatch().rise(36.125, 38.0, 40.0, 42.0, 44.0))
    assert not any(FireWatch().rise(36.0, 38.0, 40.0, 42.0, 43.875))
    assert not any(FireWatch().rise(36.0, 39.0, 42.0, 42.5, 43.0))
    assert not any(FireWatch().rise(36.0, 36.5, 37.0, 42.0, 48.0))


def test_a_rise_counts_from_forty_degrees() -> None:
    """At 40 °C it trips, an eighth below it does not."""
    assert FireWatch().rise(32.0, 34.0, 36.0, 38.0, 40.0)[-1]
    assert not FireWatch().rise(31.875, 33.875, 35.875, 37.875, 39.875)[-1]


def test_a_rise_needs_a_look_in_between() -> None:
    """Two looks alone may be a jump of the probe; a third between them shows that it was a rise."""
    watch = FireWatch()
    watch.see(bench=40.0)
    assert not watch.see(64.0, bench=60.0)
    watch = FireWatch()
    watch.see(bench=40.0)
    watch.see(40.0, bench=45.0)
    assert watch.see(24.0, bench=48.0)


def test_the_halves_are_parted_at_the_look_nearest_the_middle() -> None:
    """Where looks come unevenly each half is held to the rate for its own length."""
    watch = FireWatch()
    watch.see(bench=40.0)
    watch.see(8.0, bench=40.0)
    watch.see(16.0, bench=43.0)
    assert watch.see(40.0, bench=48.0)
    watch = FireWatch()
    watch.see(bench=40.0)
    watch.see(24.0, bench=42.875)
    assert not watch.see(40.0, bench=48.0)


def test_the_trace_holds_one_window_and_grows_with_samples_only() -> None:
    """What is older than needed is forgotten, a held sample is not counted twice, outlets leave no trace."""
    watch = FireWatch()
    for step in range(12):
        watch.see(bench=20.0 + step, north_outlet=20.0)
    assert watch.state.traces == {
        "bench": tuple((watch.now_s - STEP_S * back, 31.0 - back) for back in (4, 3, 2, 1, 0))
    }
    before = watch.state.traces
    watch.see(8.0, age_s=8.0, bench=31.0)
    assert watch.state.traces == before
    watch.see(1.0, age_s=16.0, bench=30.0)
    assert watch.state.traces == before
    watch.see(STEP_S - 8.0 - 2.0, bench=32.0)  # a step less a second after the last sample
    assert len(watch.state.traces["bench"]) == 6
    assert watch.see(bench=70.0)
    assert watch.state.traces["bench"][-1] == (watch.now_s, 70.0)
    watch = FireWatch()
    watch.rise(20.0, 21.0)
    watch.see(200.0, bench=22.0)
    assert watch.state.traces["bench"] == ((watch.now_s - 200.0, 21.0), (watch.now_s, 22.0))


STATE = initial_state(HOUSE, NOW_S)
NOTHING = no_evidence(HOUSE.loops, NOW_S)
SUMP = SumpState(PumpPhase.IDLE, Reason(ReasonCode.STARTED, {"rest_s": 0.0}), last_water_s=NOW_S)
BRISK = SUMP._replace(trend=EmptyingTrend(refill_s=1800.0, brisk=3))


def found(
    bench: float | Why = 15.0,
    ceiling: float | Why = 15.0,
    soil: float | Why = 14.0,
    sump: SumpState = SUMP,
    fans: Mapping[str, FanState] = STATE.fans,
    fire: FireState = STATE.fire,
    own: tuple[Finding, ...] = (),
    comparisons: Comparisons = NOTHING.comparisons,
    tonight: Tonight = NOTHING.tonight,
    need_c: float | None = None,
    settings: Settings = HOUSE,
) -> list[tuple[str, str, str, int]]:
    """Code, subject, words and level of everything that is found wrong."""

    def reading(value: float | Why) -> Reading:
        return Missing(value, NOW_S) if isinstance(value, Why) else Good(value, NOW_S)

    loops = {**TEMPLATE.loops, "north": TEMPLATE.loops["north"]._replace(soil=reading(soil))}
    snapshot = TEMPLATE._replace(bench=reading(bench), ceiling=reading(ceiling), loops=loops, findings=own)
    state = STATE._replace(fire=fire, fans=fans, sumps={"main": sump}, need=Need(need_c, NOW_S))
    shown = NOTHING._replace(comparisons=comparisons, tonight=tonight)
    findings = findings_of(snapshot, state, shown, settings, NOW_S)
    return [(one.code.value, one.subject, one.detail, one.level) for one in findings]


LOST = (
    Finding(FaultCode.BUS, "", "all probes failed together"),
    Finding(FaultCode.STORAGE, "", "card is full"),
)


def test_a_sound_house_has_no_findings() -> None:
    """Nothing is found where nothing is wrong."""
    assert found() == []


def test_what_others_found_and_a_fire_are_handed_on() -> None:
    """In their own words."""
    own = (Finding(FaultCode.STORAGE, "", "card is read-only"),)
    fire = FireState("bench reads 70.0 °C", NOW_S)
    assert found(own=own, fire=fire) == [
        ("storage", "", "card is read-only", 0),
        ("fire", "", "bench reads 70.0 °C", 0),
    ]


@pytest.mark.parametrize(
    ("bench", "ceiling", "expected"),
    [
        (2.125, 15.0, []),
        (39.875, 50.0, []),
        (40.0, 15.0, [("too-hot", "", "air 40.0 °C", 0)]),
        (42.875, 15.0, [("too-hot", "", "air 42.9 °C", 0)]),
        (43.0, 15.0, [("too-hot", "", "air 43.0 °C", 1)]),
        (Why.SILENT, 40.0, [("too-hot", "", "air 40.0 °C", 0)]),
        (
            15.0,
            Why.STALE,
            [("ceiling-unknown", "", f"ceiling {Why.STALE.value}", 0)],
        ),
        (15.0, Why.NEVER_READ, []),
        (Why.SILENT, Why.NEVER_READ, []),
    ],
)
def test_the_air_is_judged_at_its_limits(
    bench: float | Why, ceiling: float | Why, expected: list[tuple[str, str, str, int]]
) -> None:
    """Heat at the bench, or the roof without one, with a step at every three kelvin beyond the limit."""
    assert found(bench, ceiling) == expected


def test_air_is_told_in_the_units_of_the_house() -> None:
    """A person who reads °F learns of heat in °F."""
    shown = settings_with(site={"show": TemperatureUnit.FAHRENHEIT})
    assert found(50.0, settings=shown) == [("too-hot", "", "air 122.0 °F", 3)]


@pytest.mark.parametrize(
    ("air_c", "outdoor_c", "need_c", "near"),
    [(8.0, 9.0, 9.0, False), (7.0, 9.0, 9.0, True), (8.0, 6.5, 9.0, True), (8.0, 9.0, -3.0, True)],
)
def test_what_a_frosty_house_needs_is_worse_while_frost_is_near(
    air_c: float, outdoor_c: float, need_c: float, near: bool
) -> None:
    """The last good air, outdoors or the coldest lately within five kelvin of the limit make it urgent."""
    tonight = NOTHING.tonight._replace(air_c=air_c, outdoor_c=outdoor_c)
    levels = {
        code: level for code, _, _, level in found(soil=Why.SILENT, own=LOST, tonight=tonight, need_c=need_c)
    }
    assert levels == {"bus": int(near), "soil-unknown": int(near), "storage": 0}


def test_fans_and_probes_that_are_found_wrong_are_told_too() -> None:
    """Failed runs by their loop, and a probe that is off in the units of the house."""
    fans = {**STATE.fans, "south": STATE.fans["south"]._replace(failed_runs=3)}
    assert found(fans=fans) == [("fan-no-effect", "south", "3 runs moved no heat", 0)]
    off = Record(lately=5.0, days=9, off_days=3)
    wrong = NOTHING.comparisons._replace(records={"bench": off}, suspicious=True)
    shown = settings_with(site={"show": TemperatureUnit.FAHRENHEIT})
    words = "about 9.0 °F too warm, compared with the others"
    assert found(comparisons=wrong, settings=shown) == [("probe-off", "bench", words, 0)]


@pytest.mark.parametrize(
    ("why", "told"), [(Why.SILENT, True), (Why.NOT_FITTED, True), (Why.NEVER_READ, False)]
)
def test_a_soil_that_cannot_be_believed_is_told_with_its_loop(why: Why, told: bool) -> None:
    """A probe that has not been read yet is not missing."""
    assert found(soil=why) == ([("soil-unknown", "north", f"soil probe {why.value}", 0)] if told else [])


def trend(**values: float | None) -> SumpState:
    """A sump whose emptying has shown this."""
    return SUMP._replace(trend=EmptyingTrend(30.0, 100.0)._replace(**values))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("sump", "expected"),
    [
        (SUMP._replace(wet_since_s=NOW_S - 45 * MINUTE_S + 1.0), None),
        (SUMP._replace(crowded=2), None),
        (
            SUMP._replace(crowded=3),
            ("pump-cycling", "water had to wait for each of 3 starts in a row, with 10 allowed an hour"),
        ),
        (trend(slow_runs=1), None),
        (
            trend(slow_runs=2),
            ("pump-slow", "took 100 s to empty the pit, inflow left out; it usually takes 30 s"),
        ),
        (trend(leaks=2), None),
        (
            trend(leaks=3, return_s=60.0, returns=20),
            ("water-returns", "water came back soon after each of 3 runs, but not while the pump ran"),
        ),
        (trend(return_s=5 * MINUTE_S, returns=19), None),
        (trend(return_s=None, returns=20), None),
        (
            trend(return_s=5 * MINUTE_S, returns=20),
            ("water-returns", "water came back 5 min after each of 20 runs in a row"),
        ),
        (SUMP._replace(last_water_s=NOW_S - 30.0 * DAY_S + 1.0), None),
        (SUMP._replace(last_water_s=NOW_S - 30.0 * DAY_S), ("sump-quiet", "no water for 30 days")),
        (BRISK._replace(last_water_s=NOW_S - 12.0 * HOUR_S + 1.0), None),
        (
            BRISK._replace(last_water_s=NOW_S - 12.0 * HOUR_S),
            ("sump-quiet", "no water for more than 12 h 00 min; before, it came 30 min after each run"),
        ),
        (BRISK._replace(last_water_s=NOW_S - 1 * DAY_S, trend=EmptyingTrend(refill_s=1800.0, brisk=2)), None),
        (
            BRISK._replace(last_water_s=NOW_S - 15 * HOUR_S, trend=EmptyingTrend(refill_s=7200.0, brisk=3)),
            None,
        ),
        (SUMP._replace(last_water_s=NOW_S - 31.9 * DAY_S), ("sump-quiet", "no water for 31 days")),
    ],
)
def test_sumps_are_judged_at_their_limits(sump: SumpState, expected: tuple[str, str] | None) -> None:
    """Each finding comes with the count or the age that makes it, and not with one less."""
    assert found(sump=sump) == ([] if expected is None else [(expected[0], "main", expected[1], 0)])


BEFORE = "before, the pump moved its usual flow and water came at"
ALIKE = "a dead pump, a blocked discharge, a stuck float or a cut wire look like this"


@pytest.mark.parametrize(
    ("known", "words"),
    [
        ({"usual_s": None}, "pump and inflow had not been measured before"),
        ({}, "pump and inflow had not been measured before"),
        ({"inflow": 0.9, "slow_runs": 1}, "the pump was slow before: it may be clogged or worn"),
        (
            {"inflow": 0.5},
            f"{BEFORE} 50% of that: more may come now than the pump moves, or the pump has failed",
        ),
        ({"inflow": 0.49}, f"{BEFORE} 49% of that: {ALIKE}"),
    ],
)
def test_a_float_that_stays_wet_is_told_with_what_was_seen_before(
    known: dict[str, float], words: str
) -> None:
    """After 45 min, and again after twelve hours, with what pump and inflow were like when last seen."""
    sump = trend(**known)._replace(wet_since_s=NOW_S - 45 * MINUTE_S)
    told = ("sump-not-emptying", "main", f"wet without a break for more than 45 min; {words}", 0)
    assert told in found(sump=sump)
    later = found(sump=sump._replace(wet_since_s=NOW_S - 0.5 * DAY_S))
    (again,) = (one for one in later if one[0] == told[0])
    assert again[3] == 1
    assert again[2].endswith(f"{words}; the pump now runs a quarter of the time only")
