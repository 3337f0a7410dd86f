"""The promise watch reports every promise that a made-up decision breaks, and nothing in a healthy one."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import pytest

from controller.decision.command import Command, Decision, OutputChange
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import FireState
from controller.diagnosis.learn import Diagnosis
from controller.equipment import OutputId
from controller.faults import FaultCode
from controller.readings.reading import Good, Level, LevelReading, Missing, Reading, Why
from controller.readings.snapshot import LoopReadings
from controller.record.promises import PromiseWatch
from controller.record.tally import DayTally
from controller.record.tick import TickRecord
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World, settings_with

if TYPE_CHECKING:
    from controller.settings.schema import Settings

NORTH, MIDDLE = OutputId.fan("north"), OutputId.fan("middle")
MAIN = OutputId.pump("main")
FANS, PUMP = HOUSE.fans, HOUSE.pump
WORDS = Reason(ReasonCode.BANK, {"ceiling_c": 27.0})
OVER = Reason(ReasonCode.NOTHING_WANTED, {"ceiling_c": 15.0})
ALLOWED = settings_with(fans={"run_in_frost_with_float_unreadable": True})
TEMPLATE = World(settle=False)
SOUND = Diagnosis(TEMPLATE.evidence, (), ())


@dataclass
class Made:
    """Ticks made by hand: what is seen, what is commanded, and what the watch says."""

    settings: Settings = field(default_factory=lambda: HOUSE)
    level: Level | Why = Level.DRY
    ceiling: float | Why = 27.0
    bench: float | Why = 22.0
    soil: float | Why = 14.0
    root: float | Why = 14.0
    outlet: float | Why = 15.0
    on: frozenset[OutputId] = frozenset()
    now_s: float = 10_000.0
    ceiling_age_s: float = 0.0
    soil_age_s: float = 0.0
    probe_c: dict[str, float | Why] = field(default_factory=dict)
    latched: str | None = None
    cleared: bool = False
    watch: PromiseWatch = field(default_factory=PromiseWatch)
    said: list[str] = field(default_factory=list)

    def _reading(self, value: float | Why, age_s: float = 0.0) -> Reading:
        if isinstance(value, Why):
            return Missing(value, self.now_s)
        return Good(value, self.now_s - age_s)

    def tick(
        self, *on: OutputId, after_s: float = 10.0, reason: Reason | None = None, told: bool = True
    ) -> list[str]:
        """Command exactly these outputs on; returns the names of the promises reported for this tick."""
        self.now_s += after_s
        probes = LoopReadings(
            self._reading(self.soil, self.soil_age_s), self._reading(self.root), self._reading(self.outlet)
        )
        level: LevelReading = (
            Missing(self.level, self.now_s) if isinstance(self.level, Why) else Good(self.level, self.now_s)
        )
        snapshot = TEMPLATE.snapshot()._replace(
            ceiling=self._reading(self.ceiling, self.ceiling_age_s),
            bench=self._reading(self.bench),
            loops=dict.fromkeys(HOUSE.loops, probes),
            sumps={"main": level},
            probes={name: self._reading(value) for name, value in self.probe_c.items()},
            cleared=frozenset({FaultCode.FIRE}) if self.cleared else frozenset(),
        )
        wanted = frozenset(on)
        outputs = [*map(OutputId.fan, ("north", "middle", "south")), MAIN]
        changes = tuple(
            OutputChange(o, o in wanted, reason or (WORDS if o in wanted else OVER))
            for o in outputs
            if (o in wanted) != (o in self.on)
        )
        self.on = wanted
        commands = {output: Command(output in wanted, WORDS) for output in outputs}
        decision = Decision(commands, changes if told else ())
        state = TEMPLATE.state._replace(fire=FireState(self.latched, self.now_s))
        record = TickRecord(1, self.now_s, self.settings, snapshot, decision, state, SOUND, {}, DayTally())
        broken = self.watch.observe(record)
        self.said = [one.detail for one in broken]
        assert all(one.at_mono_s == self.now_s for one in broken)
        return sorted({one.promise for one in broken})


def test_a_proper_day_breaks_nothing() -> None:
    """Fans one after the other, long runs, rests, an emptied sump and drain-down are all in order."""
    made = Made(settings_with(fans={"starts_per_hour": 2}))
    reported = made.tick(NORTH) + made.tick(NORTH, MIDDLE, after_s=30.0)
    reported += made.tick(NORTH, MIDDLE, after_s=FANS.minimum_run_s)
    reported += made.tick(after_s=10.0)
    reported += made.tick(NORTH, after_s=FANS.minimum_rest_s)
    made.level = Level.WET
    flood = Reason(ReasonCode.FLOOD, {"for_s": 0.0})
    reported += made.tick(reason=flood)
    reported += made.tick(MAIN, after_s=30.0)
    made.level = Level.DRY
    reported += made.tick(MAIN, after_s=MINUTE_S)
    reported += made.tick(after_s=PUMP.run_on_s)
    reported += made.tick(NORTH, after_s=PUMP.drain_down_s)
    assert reported == []
    assert made.watch.checked_ticks == 10


@pytest.mark.parametrize("level", [Level.WET, Why.UNREADABLE, Why.STALE, Why.NEVER_READ])
def test_p1_a_fan_on_while_the_float_is_wet_or_silent(level: Level | Why) -> None:
    """Every level but dry is reported while a fan of that sump is on."""
    made = Made(level=level)
    assert made.tick(NORTH) == ["P1"]


@pytest.mark.parametrize("seen", [Level.WET, Why.UNREADABLE])
def test_p1_a_fan_on_within_drain_down(seen: Level | Why) -> None:
    """A second before the end of the drain-down a fan is reported, at its end it is not."""
    made = Made(level=seen)
    assert made.tick() == []
    made.level = Level.DRY
    assert made.tick(NORTH, after_s=PUMP.drain_down_s - 1.0) == ["P1"]
    assert made.tick(NORTH, after_s=1.0) == []


def test_p1_a_float_not_read_yet_is_no_water() -> None:
    """The seconds before the first look at the float start no drain-down of their own."""
    made = Made(level=Why.NEVER_READ)
    assert made.tick() == []
    made.level = Level.DRY
    assert made.tick(NORTH) == []


def frosty() -> Made:
    """A frosty night, the float silent, runs allowed by setting, a warm outlet."""
    return Made(
        ALLOWED,
        level=Why.UNREADABLE,
        ceiling=1.5,
        bench=1.0,
        soil=12.0,
        root=10.0,
        outlet=9.0,
        now_s=10_000.0,
    )


def test_p1_the_frost_exception_is_no_break() -> None:
    """By setting, in frost, with the outlet warmer than the ceiling, a fan may run on a silent float."""
    made = frosty()
    assert made.tick(NORTH) == []
    assert made.tick(NORTH, after_s=FANS.purge_s + 10.0) == []


def test_p1_the_frost_exception_needs_proof_after_the_purge_time() -> None:
    """An outlet no warmer than the ceiling is tolerated until the purge time is over."""
    made = frosty()
    made.outlet = 1.5
    assert made.tick(NORTH) == []
    assert made.tick(NORTH, after_s=FANS.purge_s - 1.0) == []
    assert made.tick(NORTH, after_s=1.0) == ["P1"]


ENDED_C = HOUSE.setpoints.frost_limit_c + HOUSE.setpoints.air_deadband_k + 0.1


def test_p1_frost_is_at_the_bench() -> None:
    """A roof above the limit takes no help from a crop that freezes."""
    assert replace(frosty(), ceiling=ENDED_C).tick(NORTH) == []


@pytest.mark.parametrize(
    "change",
    [{"settings": HOUSE}, {"bench": ENDED_C}, {"level": Level.WET}],
    ids=["not set", "no frost", "wet"],
)
def test_p1_the_frost_exception_has_its_conditions(change: dict[str, object]) -> None:
    """Without the setting, without frost or with water there is no exception."""
    assert replace(frosty(), **change).tick(NORTH) == ["P1"]  # type: ignore[arg-type]


def test_p3_the_longest_run() -> None:
    """A pump still on when the longest run is over is reported, a moment before it is not."""
    made = Made(level=Level.WET)
    assert made.tick(MAIN) == []
    assert made.tick(MAIN, after_s=PUMP.longest_run_s - 0.1) == []
    assert made.tick(MAIN, after_s=0.1) == ["P3"]


def test_p3_a_dry_float_beyond_the_run_on() -> None:
    """The run-on counts from the first dry look and starts anew with each wet one."""
    made = Made(level=Level.WET)
    made.tick(MAIN)
    made.level = Level.DRY
    assert made.tick(MAIN) == []
    assert made.tick(MAIN, after_s=PUMP.run_on_s - 0.1) == []
    made.level = Level.WET
    assert made.tick(MAIN) == []
    made.level = Level.DRY
    assert made.tick(MAIN) == []
    assert made.tick(MAIN, after_s=PUMP.run_on_s) == ["P3"]


# A motor that may start again sooner than after a longest run, so that the two rests can be distinguished.
QUICK = settings_with(pump={"minimum_rest_s": 30.0})


def full_run(made: Made) -> None:
    """One longest run that does not empty the sump."""
    made.tick(MAIN)
    made.tick(after_s=PUMP.longest_run_s, reason=Reason(ReasonCode.PUMP_LONGEST_RUN, {"run_s": 1800.0}))


def test_p3_no_rest_after_a_longest_run() -> None:
    """Between two long runs lies the rest, longer than the minimum rest of the motor."""
    made = Made(QUICK, level=Level.WET)
    full_run(made)
    assert made.tick(MAIN, after_s=PUMP.rest_s - 0.1) == ["P3"]
    made = Made(QUICK, level=Level.WET)
    full_run(made)
    assert made.tick(MAIN, after_s=PUMP.rest_s) == []


def test_p3_a_dry_moment_does_not_shorten_the_rest_of_the_motor() -> None:
    """A float that dips dry during the rest changes nothing about the motor's heat."""
    made = Made(QUICK, level=Level.WET)
    full_run(made)
    made.level = Level.DRY
    made.tick()
    made.level = Level.WET
    assert made.tick(MAIN, after_s=PUMP.rest_s - 20.0) == ["P3"]


def test_p3_too_many_minutes_on_a_float_that_cannot_be_read() -> None:
    """A duty that runs ten times as long as it should is reported within the hour."""
    made = Made(level=Why.UNREADABLE)
    reported: set[str] = set()
    done = Reason(ReasonCode.PUMP_DUTY_DONE, {"run_s": 240.0})
    for _ in range(10):
        reported |= set(made.tick(MAIN, after_s=PUMP.minimum_rest_s))
        reported |= set(made.tick(MAIN, after_s=200.0))
        reported |= set(made.tick(after_s=40.0, reason=done))
    assert reported == {"P3"}


def test_p3_the_proper_duty_breaks_nothing() -> None:
    """A minute every quarter of an hour for a day is what the settings allow."""
    made = Made(level=Why.UNREADABLE)
    done = Reason(ReasonCode.PUMP_DUTY_DONE, {"run_s": 60.0})
    for _ in range(96):
        assert made.tick(MAIN, after_s=PUMP.duty_rest_s) == []
        assert made.tick(after_s=PUMP.duty_run_s, reason=done) == []


def test_p4_a_run_that_is_too_short() -> None:
    """A fan that is stopped for want of demand before its minimum run is reported."""
    made = Made()
    made.tick(NORTH)
    assert made.tick(after_s=FANS.minimum_run_s - 1.0) == ["P4"]
    made = Made()
    made.tick(NORTH)
    assert made.tick(after_s=FANS.minimum_run_s) == []


@pytest.mark.parametrize(
    "code",
    [
        ReasonCode.FIRE,
        ReasonCode.FLOOD,
        ReasonCode.FLOAT_UNREADABLE,
        ReasonCode.CEILING_UNKNOWN,
        ReasonCode.SOIL_UNKNOWN,
        ReasonCode.ROOT_ZONE_WARM,
        ReasonCode.ROOT_ZONE_COLD,
        ReasonCode.AIR_NOT_PROVEN,
    ],
)
def test_p4_a_safety_trip_may_cut_a_run(code: ReasonCode) -> None:
    """What protects people, crop or machine may stop a fan at any moment."""
    made = Made()
    made.tick(NORTH)
    assert made.tick(after_s=1.0, reason=Reason(code, {"for_s": 0.0})) == []


@pytest.mark.parametrize(
    "code",
    [
        ReasonCode.NOTHING_WANTED,
        ReasonCode.DIFFERENCE_SMALL,
        ReasonCode.HEAT_TOO_DEAR,
        ReasonCode.STORE_NOT_WANTED,
        ReasonCode.NOTHING_TO_BANK,
        ReasonCode.NOTHING_TO_RETURN,
        ReasonCode.LITTLE_TO_RETURN,
        ReasonCode.OTHERS_ENOUGH,
        ReasonCode.NO_HEAT_PROVEN,
        ReasonCode.STAGGER,
    ],
)
def test_p4_nothing_else_may_cut_a_run(code: ReasonCode) -> None:
    """A change of mind is no safety trip."""
    made = Made()
    made.tick(NORTH)
    assert made.tick(after_s=1.0, reason=Reason(code, {"for_s": 0.0})) == ["P4"]


def test_p4_a_rest_that_is_too_short() -> None:
    """A fan that starts again before its minimum rest is reported."""
    made = Made()
    made.tick(NORTH)
    made.tick(after_s=FANS.minimum_run_s)
    assert made.tick(NORTH, after_s=FANS.minimum_rest_s - 1.0) == ["P4"]


def test_p4_a_pump_that_rests_too_little_or_runs_too_short() -> None:
    """The pump has its own minimum rest and runs at least its run-on."""
    made = Made(level=Level.WET)
    made.tick(MAIN)
    assert made.tick(after_s=PUMP.run_on_s - 1.0) == ["P4"]
    assert made.tick(MAIN, after_s=PUMP.minimum_rest_s - 1.0) == ["P4"]


@pytest.mark.parametrize(("output", "most"), [(NORTH, FANS.starts_per_hour), (MAIN, PUMP.starts_per_hour)])
def test_p4_one_start_too_many_in_an_hour(output: OutputId, most: int) -> None:
    """The start after the last one allowed is reported until the first is an hour old."""
    made = Made(
        settings_with(fans={"minimum_run_s": 60.0, "minimum_rest_s": 60.0}, pump={"minimum_rest_s": 60.0}),
        level=Level.WET if output == MAIN else Level.DRY,
    )
    for _ in range(most):
        assert "P4" not in made.tick(output, after_s=100.0)
        assert "P4" not in made.tick(after_s=100.0)
    assert "P4" in made.tick(output, after_s=100.0)
    made.tick(after_s=100.0)
    assert "P4" not in made.tick(output, after_s=HOUR_S)


def test_p5_a_fire_signature_that_does_not_latch() -> None:
    """A hot air probe without a latch is reported, fans or no fans."""
    made = Made(probe_c={"ceiling-west": 65.0})
    assert made.tick() == ["P5"]
    made.latched = "ceiling-west reads 65.0 °C"
    assert made.tick() == []


def test_p5_a_fan_on_after_a_fire_signature() -> None:
    """A fan stays forbidden when the air has cooled, until a person clears the fire."""
    made = Made(probe_c={"north-outlet": 70.0}, latched="north-outlet reads 70.0 °C")
    assert made.tick() == []
    made.probe_c = {}
    assert made.tick(NORTH, after_s=HOUR_S) == ["P5"]
    made.latched, made.cleared = None, True
    assert made.tick(NORTH) == []


def test_p5_a_latch_that_is_lost_is_reported() -> None:
    """Nobody has cleared it and the latch is gone: reported at once."""
    made = Made(probe_c={"bench": 70.0}, latched="bench reads 70.0 °C")
    assert made.tick() == []
    made.probe_c, made.latched = {}, None
    assert made.tick() == ["P5"]


def test_p5_soil_and_outdoor_probes_are_no_fire_watch() -> None:
    """Only house air counts."""
    assert Made(probe_c={"outdoor": 70.0, "north-soil": 70.0}).tick(NORTH) == []


@pytest.mark.parametrize("change", [{"ceiling": Why.SILENT}, {"soil": Why.STALE}])
def test_p6_a_fan_on_a_reading_that_is_judged_bad(change: dict[str, object]) -> None:
    """Without a ceiling or soil that can be believed no fan may be on."""
    assert replace(Made(), **change).tick(NORTH) == ["P6"]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("made", "says"),
    [
        (Made(probe_c={"bench": Why.SILENT, "ceiling-west": Why.STALE}), []),
        (Made(probe_c={"bench": Why.SILENT, "ceiling-west": 70.0}), ["P5"]),
        (Made(root=Why.SILENT), []),
        (replace(frosty(), bench=Why.SILENT), []),
        (replace(frosty(), bench=Why.SILENT, ceiling=Why.SILENT), ["P1", "P6"]),
        (Made(level=Why.STALE, bench=Why.SILENT, ceiling=Why.SILENT, soil=Why.SILENT), ["P1", "P6"]),
    ],
    ids=["probe", "one hot, one silent", "root zone", "bench in frost", "all air in frost", "everything"],
)
def test_a_reading_that_is_missing_is_judged_and_ends_no_check(made: Made, says: list[str]) -> None:
    """A fan is judged by what is known; what is not known is no number."""
    assert made.tick(NORTH) == says


@pytest.mark.parametrize("lost", [{"outlet": Why.SILENT}, {"ceiling": Why.SILENT}])
def test_p1_without_a_reading_nothing_is_proven(lost: dict[str, Why]) -> None:
    """After the purge time a frost run on a silent float needs both temperatures that prove its air."""
    made = frosty()
    assert made.tick(NORTH) == []
    assert "P1" in replace(made, **lost).tick(NORTH, after_s=FANS.purge_s)  # type: ignore[arg-type]


def test_p3_a_full_run_that_ends_on_a_silent_float_is_owed_its_rest() -> None:
    """Nobody knows whether it emptied the sump; the motor was hot all the same."""
    made = Made(QUICK, level=Level.WET)
    made.tick(MAIN)
    made.level = Why.UNREADABLE
    done = Reason(ReasonCode.PUMP_LONGEST_RUN, {"run_s": 300.0})
    made.tick(after_s=PUMP.longest_run_s, reason=done)
    made.level = Level.WET
    assert made.tick(MAIN, after_s=PUMP.rest_s - 0.1) == ["P3"]


@pytest.mark.parametrize(
    ("first", "silent_s", "pump", "says"),
    [
        (Level.DRY, 120.0, "rests", []),
        (Level.DRY, 120.1, "rests", ["P1"]),
        (Level.DRY, 60.0, "runs first", ["P1"]),
        (Level.DRY, 60.0, "runs last", ["P1"]),
        (Level.WET, 60.0, "rests", ["P1"]),
        (Why.UNREADABLE, 60.0, "rests", ["P1"]),
    ],
)
def test_p1_only_a_short_silence_of_a_dry_float_with_a_resting_pump_is_excused(
    first: Level | Why, silent_s: float, pump: str, says: list[str]
) -> None:
    """All that is promised: dry before, dry after, two minutes at most, and a pump that never ran."""
    made = Made(level=first)
    made.tick()
    made.level = Why.UNREADABLE
    done = Reason(ReasonCode.PUMP_DUTY_DONE, {"run_s": 10.0})
    made.tick(*[MAIN] * (pump == "runs first"))
    made.tick(*[MAIN] * (pump == "runs last"), after_s=silent_s / 2.0, reason=done)
    made.level = Level.DRY
    assert made.tick(NORTH, after_s=silent_s / 2.0, reason=done) == says


def test_p6_a_fan_on_a_reading_that_is_too_old() -> None:
    """Air holds five minutes and soil six hours; a second more is reported."""
    judging = HOUSE.judging
    made = Made(ceiling_age_s=judging.air_hold_s, soil_age_s=judging.soil_hold_s)
    assert made.tick(NORTH) == []
    made.ceiling_age_s += 1.0
    assert made.tick(NORTH) == ["P6"]
    made.ceiling_age_s, made.soil_age_s = 0.0, judging.soil_hold_s + 1.0
    assert made.tick(NORTH) == ["P6"]


def test_p6_a_missing_outlet_or_root_zone_is_no_break() -> None:
    """They serve confirmation and limits for which something stands in."""
    assert Made(outlet=Why.SILENT, root=Why.NOT_FITTED).tick(NORTH) == []


def test_p10_the_monotonic_clock_never_runs_backwards() -> None:
    """A tick before the last one is reported; a pause of days is not."""
    made = Made()
    made.tick()
    assert made.tick(after_s=5 * 86400.0) == []
    assert made.tick(after_s=-0.1) == ["P10"]


@pytest.mark.parametrize("second", [MIDDLE, MAIN])
def test_p11_two_motors_within_the_stagger(second: OutputId) -> None:
    """A start less than half a minute after another is reported, whatever the motors are."""
    made = Made()
    made.tick(NORTH)
    assert made.tick(NORTH, second, after_s=FANS.stagger_s - 1.0) == ["P11"]


def test_p11_two_motors_in_one_tick() -> None:
    """Two starts in the same tick are as bad."""
    made = Made()
    made.tick()
    assert made.tick(NORTH, MIDDLE) == ["P11"]


LOWER_C, UPPER_C = HOUSE.setpoints.root_zone_min_c, HOUSE.setpoints.root_zone_max_c


@pytest.mark.parametrize(
    ("ceiling_c", "soil_c", "root_c", "expected"),
    [
        (27.0, 14.0, UPPER_C, ["P12"]),
        (27.0, 14.0, UPPER_C - 0.1, []),
        (10.0, 14.0, UPPER_C, []),
        (3.0, 10.0, LOWER_C, ["P12"]),
        (3.0, 10.0, LOWER_C + 0.1, []),
        (27.0, 10.0, LOWER_C, []),
    ],
)
def test_p12_root_zone_limits(ceiling_c: float, soil_c: float, root_c: float, expected: list[str]) -> None:
    """Charging at the upper limit and discharging at the lower are reported, the other way round is fine."""
    assert Made(ceiling=ceiling_c, soil=soil_c, root=root_c).tick(NORTH) == expected


def test_p13_a_change_without_a_record() -> None:
    """An output that is suddenly on, or suddenly off, without a recorded change is reported."""
    made = Made()
    made.tick()
    assert made.tick(NORTH, told=False) == ["P13"]
    made = Made()
    made.tick(NORTH)
    assert made.tick(after_s=HOUR_S, told=False) == ["P13"]


def test_p13_a_reason_without_numbers() -> None:
    """A change whose reason carries no number is reported."""
    made = Made()
    assert made.tick(NORTH, reason=Reason(ReasonCode.BANK, {})) == ["P13"]


def test_what_is_broken_is_told_with_its_numbers() -> None:
    """Every report names the output, what was seen of it, and what is promised."""
    made = Made(level=Level.WET)
    made.tick(NORTH)
    assert made.said[0] == "P1: fan north on while main is wet"
    made.level = Level.DRY
    made.tick(NORTH, after_s=7.0)
    assert made.said == ["P1: fan north on 7.0 s after water in main"]
    made = Made(level=Why.STALE)
    made.tick(NORTH)
    assert made.said == ["P1: fan north on while the float of main cannot be read"]
    made = Made()
    made.tick(NORTH)
    made.tick(after_s=90.0)
    assert made.said == [f"P4: fan:north ran 90.0 s, at least {FANS.minimum_run_s:.1f} s are promised"]
    made.tick(NORTH, after_s=70.0)
    assert made.said == [f"P4: fan:north rested 70.0 s of {FANS.minimum_rest_s:.1f} s"]
    made.tick(NORTH, MIDDLE, after_s=11.0)
    assert made.said == ["P11: fan:middle started 11.0 s after another motor"]
    made.root = UPPER_C
    made.tick(NORTH, MIDDLE)
    assert f"P12: fan north charges at root zone {UPPER_C:.2f} °C" in made.said
    made.root, made.ceiling = LOWER_C, 3.0
    made.tick(NORTH, MIDDLE)
    assert f"P12: fan north discharges at root zone {LOWER_C:.2f} °C" in made.said


def test_what_is_broken_of_a_pump_is_told_with_its_numbers() -> None:
    """Length of the run, of the dry run, of the rest and of the time by the clock are all given."""
    made = Made(QUICK, level=Level.WET)
    made.tick(MAIN)
    made.tick(MAIN, after_s=PUMP.longest_run_s + 5.0)
    assert made.said == ["P3: pump main on for 1805.0 s, longest run is 1800.0 s"]
    made.tick(after_s=1.0, reason=Reason(ReasonCode.PUMP_LONGEST_RUN, {"run_s": 1806.0}))
    made.tick(MAIN, after_s=100.0)
    assert made.said == ["P3: pump main rested 100.0 s of 120.0 s after a full run"]
    made.level = Level.DRY
    made.tick(MAIN)
    made.tick(MAIN, after_s=PUMP.run_on_s + 2.5)
    assert made.said == ["P3: pump main on for 22.5 s on a dry float"]


ENDLESS = settings_with(pump={"longest_run_s": HOUR_S * 2})  # so that only the minutes of an hour count
BLIND_S = (PUMP.starts_per_hour + 1) * PUMP.duty_run_s  # of an hour may be pumped without a float


def blind(made: Made, for_s: float) -> list[str]:
    """Let the pump run on a float that cannot be read, a tick every half of its duty run."""
    reported = []
    for _ in range(round(for_s / (PUMP.duty_run_s / 2.0))):
        reported += made.tick(MAIN, after_s=PUMP.duty_run_s / 2.0)
    return reported


def test_p3_the_minutes_of_an_hour_by_the_clock() -> None:
    """One duty run for each start allowed and one more is the bound; the next tick is beyond it."""
    made = Made(ENDLESS, level=Why.UNREADABLE)
    made.tick(MAIN)
    assert blind(made, BLIND_S) == []
    assert made.tick(MAIN, after_s=1.0) == ["P3"]
    assert made.said == [f"P3: pump main ran {BLIND_S + 1.0:.0f} s of an hour on an unreadable float"]


def test_p3_minutes_by_the_clock_are_forgotten_after_an_hour() -> None:
    """As many are allowed in the next hour; a minute within the same hour is one too many."""
    for pause_s, expected in ((HOUR_S, []), (HOUR_S - BLIND_S - 100.0, ["P3"])):
        made = Made(ENDLESS, level=Why.UNREADABLE)
        made.tick(MAIN)
        blind(made, BLIND_S)
        made.level = Level.WET
        made.tick(MAIN, after_s=pause_s)
        made.level = Why.UNREADABLE
        made.tick(MAIN, after_s=0.0)
        assert made.tick(MAIN, after_s=60.0) == expected


def test_p3_a_tick_that_comes_late_is_not_the_pumps_fault() -> None:
    """The outputs' lease ends a run of a program that hangs, so a long pause counts as one duty run."""
    made = Made(ENDLESS, level=Why.UNREADABLE)
    made.tick(MAIN)
    for _ in range(PUMP.starts_per_hour + 1):
        assert made.tick(MAIN, after_s=HOUR_S / 20.0) == []
    assert made.tick(MAIN, after_s=HOUR_S / 20.0) == ["P3"]


@pytest.mark.parametrize("change", [{"starts_per_hour": 20}, {"duty_run_s": 120.0}])
def test_p3_minutes_that_were_allowed_when_they_ran_stay_allowed(change: dict[str, float]) -> None:
    """New settings that allow less do not make the last hour a broken promise."""
    made = Made(settings_with(ENDLESS, pump=change), level=Why.UNREADABLE)
    made.tick(MAIN)
    blind(made, BLIND_S + 60.0)
    made.settings = ENDLESS
    assert blind(made, 60.0) == []


def test_p3_a_rest_that_is_over_stays_over() -> None:
    """Later settings with a longer rest ask for it after the next long run, not after the last."""
    longer = settings_with(pump={"rest_s": 4 * HOUR_S})
    made = Made(level=Level.WET)
    full_run(made)
    made.tick(after_s=PUMP.rest_s)
    made.settings = longer
    assert made.tick(MAIN) == []
    made = Made(level=Level.WET)
    full_run(made)
    made.tick(after_s=PUMP.rest_s - 20.0)
    made.settings = longer
    made.tick()
    assert made.tick(MAIN) == ["P3"]


def test_p3_a_run_a_moment_short_of_the_longest_owes_no_long_rest() -> None:
    """After it the minimum rest of the motor is enough."""
    made = Made(level=Level.WET)
    made.tick(MAIN)
    made.tick(after_s=PUMP.longest_run_s - 0.1)
    assert made.tick(MAIN, after_s=PUMP.minimum_rest_s) == []


def test_p3_every_run_has_a_run_on_of_its_own() -> None:
    """Dry seconds of the last run are not added to those of this one."""
    made = Made(level=Level.WET)
    for _ in range(2):
        made.level = Level.WET
        assert made.tick(MAIN, after_s=PUMP.minimum_rest_s) == []
        made.level = Level.DRY
        assert made.tick(MAIN, after_s=MINUTE_S) == []
        assert made.tick(MAIN, after_s=PUMP.run_on_s - 1.0) == []
        assert made.tick(after_s=0.5) == []


def test_a_run_whose_start_was_not_seen_counts_as_a_long_one() -> None:
    """After a restart nobody knows how long a motor ran: long enough, and for a pump its longest run."""
    made = Made(QUICK, on=frozenset({NORTH, MAIN}), level=Level.WET)
    assert made.tick() == []
    assert made.tick(MAIN, after_s=PUMP.rest_s - 1.0) == ["P3"]


def test_p4_a_pump_that_ran_its_run_on_ran_long_enough() -> None:
    """The least run of a pump is its run-on, and the whole of it is enough."""
    made = Made(level=Level.WET)
    made.tick(MAIN)
    assert made.tick(after_s=PUMP.run_on_s) == []


def test_p4_a_start_an_hour_old_counts_no_more() -> None:
    """With one start an hour the next is allowed when the first is an hour old, and not before."""
    settings = settings_with(fans={"starts_per_hour": 1})
    for after_s, expected in ((HOUR_S - 0.1, ["P4"]), (HOUR_S, [])):
        made = Made(settings)
        made.tick(NORTH)
        made.tick(after_s=FANS.minimum_run_s)
        assert made.tick(NORTH, after_s=after_s - FANS.minimum_run_s) == expected


def test_p5_a_probe_that_is_not_in_the_settings_is_no_fire_watch() -> None:
    """A hot probe that nobody has given a place is left alone, and the others are still watched."""
    assert Made(probe_c={"elsewhere": 70.0}).tick() == []
    assert Made(probe_c={"elsewhere": 70.0, "bench": 70.0}).tick() == ["P5"]


def test_p5_only_heat_is_a_fire() -> None:
    """A probe that cannot be read, or reads a warm day, latches nothing."""
    assert Made(probe_c={"ceiling-west": Why.SILENT, "bench": 40.0}).tick(NORTH) == []


def test_p1_without_a_bench_probe_frost_is_at_the_ceiling() -> None:
    """The air under the roof stands in for the crop's."""
    assert replace(frosty(), bench=Why.SILENT).tick(NORTH) == []
    assert replace(frosty(), bench=Why.SILENT, ceiling=ENDED_C).tick(NORTH) == ["P1"]


def test_p3_a_run_that_ended_dry_does_not_count_against_the_next_dry_run() -> None:
    """Exercise runs a week apart are two short runs on a dry float, not a long one."""
    made = Made()
    for _ in range(2):
        assert made.tick(MAIN, after_s=PUMP.exercise_every_s) == []
        over = Reason(ReasonCode.PUMP_EXERCISE_DONE, {"run_s": 5.0})
        assert made.tick(after_s=PUMP.exercise_run_s, reason=over) == []


def test_p10_two_ticks_at_one_time_are_in_order() -> None:
    """A clock that stands still has not gone backwards."""
    made = Made()
    made.tick()
    assert made.tick(after_s=0.0) == []


def test_p11_the_whole_stagger_is_enough() -> None:
    """A start when the stagger is over is in order."""
    made = Made()
    made.tick(NORTH)
    assert made.tick(NORTH, MIDDLE, after_s=FANS.stagger_s) == []


@pytest.mark.parametrize("root_c", [LOWER_C, UPPER_C])
def test_p12_without_a_difference_heat_goes_nowhere(root_c: float) -> None:
    """Air as warm as the soil neither charges nor discharges it."""
    assert Made(ceiling=14.0, soil=14.0, root=root_c).tick(NORTH) == []


def test_p1_the_frost_exception_reaches_to_the_deadband() -> None:
    """Air at the end of the deadband above the frost limit still counts as frost."""
    assert replace(frosty(), bench=ENDED_C - 0.1).tick(NORTH) == []


def test_p13_a_motor_that_never_had_a_record_is_reported() -> None:
    """A pump, or a fan on a silent float in frost, that is suddenly on is reported, not stumbled over."""
    assert Made(level=Level.WET).tick(MAIN, told=False) == ["P13"]
    assert frosty().tick(NORTH, told=False) == ["P13"]


def test_several_breaks_in_one_tick_are_all_reported() -> None:
    """A fan into water on unknown soil breaks two promises, and both are named with the output."""
    made = Made(level=Level.WET, soil=Why.SILENT)
    assert made.tick(NORTH) == ["P1", "P6"]
    assert all("north" in words for words in made.said)
