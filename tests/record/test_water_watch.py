"""The watch over water: no fan over wet tubes, no pump beyond what it may run (P1, P3)."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from controller.decision.reasons import Reason, ReasonCode
from controller.readings.reading import Level, Why
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, settings_with
from tests.record.made import DUTY_DONE, FANS, LONGEST, MAIN, NORTH, PUMP, QUICK, Made

ALLOWED = settings_with(fans={"run_in_frost_with_float_unreadable": True})
ENDED_C = HOUSE.setpoints.frost_limit_c + HOUSE.setpoints.air_deadband_k + 0.1
SILENT = Why.SILENT


@pytest.mark.parametrize(
    ("level", "says", "words"),
    [
        (Level.DRY, [], []),
        (Level.WET, ["P1"], ["P1: fan north on while main is wet"]),
        (Why.UNREADABLE, ["P1"], ["P1: fan north on while the float of main cannot be read"]),
        (Why.STALE, ["P1"], ["P1: fan north on while the float of main cannot be read"]),
        (Why.NEVER_READ, ["P1"], ["P1: fan north on while the float of main cannot be read"]),
    ],
)
def test_p1_a_fan_runs_on_a_dry_float_only(level: Level | Why, says: list[str], words: list[str]) -> None:
    """Every level but dry is reported while a fan of that sump is on, with fan and sump."""
    made = Made(level=level)
    assert made.tick(NORTH) == says
    assert made.said[:1] == words


@pytest.mark.parametrize("seen", [Level.WET, Why.UNREADABLE])
@pytest.mark.parametrize(("early_s", "says"), [(0.1, ["P1"]), (0.0, [])])
def test_p1_no_fan_runs_within_drain_down(seen: Level | Why, early_s: float, says: list[str]) -> None:
    """A moment before the end of the drain-down a fan is reported, at its end it is not."""
    made = Made(level=seen)
    assert made.tick() == []
    made.level = Level.DRY
    assert made.tick(NORTH, after_s=PUMP.drain_down_s - early_s) == says
    words = f"P1: fan north on {PUMP.drain_down_s - early_s:.1f} s after water in main"
    assert made.said == ([words] if early_s else [])


def test_p1_a_float_not_read_yet_is_no_water() -> None:
    """The seconds before the first look at the float start no drain-down of their own."""
    made = Made(level=Why.NEVER_READ)
    assert made.tick() == []
    made.level = Level.DRY
    assert made.tick(NORTH) == []


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
    made.tick(*[MAIN] * (pump == "runs first"))
    made.tick(*[MAIN] * (pump == "runs last"), after_s=silent_s / 2.0, reason=DUTY_DONE)
    made.level = Level.DRY
    assert made.tick(NORTH, after_s=silent_s / 2.0, reason=DUTY_DONE) == says


def frosty(**changes: Any) -> Made:
    """A frosty night, the float silent, runs allowed by setting, a warm outlet."""
    made = Made(
        ALLOWED, level=Why.UNREADABLE, ceiling=1.5, bench=1.0, soil=12.0, root=10.0, outlet=9.0
    )  # fmt: skip
    return replace(made, **changes)


@pytest.mark.parametrize(
    ("changes", "at_once", "after_the_purge_time"),
    [
        ({}, [], []),
        ({"settings": HOUSE}, ["P1"], ["P1"]),
        ({"level": Level.WET}, ["P1"], ["P1"]),
        ({"bench": ENDED_C - 0.1}, [], []),
        ({"bench": ENDED_C}, ["P1"], ["P1"]),
        ({"ceiling": ENDED_C}, [], []),  # frost is at the bench
        ({"bench": SILENT}, [], []),
        ({"bench": SILENT, "ceiling": ENDED_C}, ["P1"], ["P1"]),
        ({"bench": SILENT, "ceiling": SILENT}, ["P1", "P6"], ["P1", "P6"]),
        ({"outlet": 1.5}, [], ["P1"]),  # no warmer than the ceiling
        ({"outlet": SILENT}, [], ["P1"]),
        ({"ceiling": SILENT}, ["P6"], ["P1", "P6"]),
    ],
)
def test_p1_the_frost_exception_has_its_conditions(
    changes: dict[str, Any], at_once: list[str], after_the_purge_time: list[str]
) -> None:
    """Set, frost at the bench, a silent float, and air that is proven once the purge time is over."""
    made = frosty(**changes)
    assert made.tick(NORTH) == at_once
    assert made.tick(NORTH, after_s=FANS.purge_s - 0.1) == at_once
    assert made.tick(NORTH, after_s=0.1) == after_the_purge_time


def test_p1_a_fan_in_frost_whose_start_nobody_recorded_is_not_stumbled_over() -> None:
    """Nobody knows since when it runs; the missing record is what is reported."""
    assert frosty().tick(NORTH, told=False) == ["P13"]


@pytest.mark.parametrize(
    ("level", "most_s", "words"),
    [
        (Level.WET, PUMP.longest_run_s, "P3: pump main on for 1800.0 s, longest run is 1800.0 s"),
        (Level.DRY, PUMP.run_on_s, "P3: pump main on for 20.0 s on a dry float"),
    ],
)
def test_p3_a_pump_runs_only_so_long(level: Level, most_s: float, words: str) -> None:
    """On water its longest run, on a dry float its run-on: a moment less is in order, the whole is not."""
    made = Made(level=level)
    assert made.tick(MAIN) == []
    assert made.tick(MAIN, after_s=most_s - 0.1) == []
    assert made.tick(MAIN, after_s=0.1) == ["P3"]
    assert made.said == [words]


def test_p3_a_wet_look_begins_the_run_on_anew() -> None:
    """The run-on counts from the first dry look after the last wet one."""
    made = Made(level=Level.DRY)
    made.tick(MAIN)
    for level in (Level.WET, Level.DRY):
        made.level = level
        assert made.tick(MAIN) == []
    assert made.tick(MAIN, after_s=PUMP.run_on_s - 0.1) == []
    assert made.tick(MAIN, after_s=0.1) == ["P3"]


@pytest.mark.parametrize("code", [ReasonCode.PUMP_EXERCISE_DONE, ReasonCode.OUTPUT_FAILED])
def test_p3_every_run_has_a_run_on_of_its_own(code: ReasonCode) -> None:
    """Dry seconds of an earlier run are not added to those of this one, however that run has ended."""
    made = Made()
    for _ in range(3):
        assert made.tick(MAIN, after_s=PUMP.exercise_every_s) == []
        assert made.tick(after_s=PUMP.run_on_s - 1.0, reason=Reason(code, {"run_s": 5.0})) == []


@pytest.mark.parametrize("ends", [Level.WET, Why.UNREADABLE])
@pytest.mark.parametrize("code", [ReasonCode.PUMP_LONGEST_RUN, ReasonCode.NO_DECISION])
@pytest.mark.parametrize(
    ("ran_s", "rested_s", "says"),
    [
        (PUMP.longest_run_s, PUMP.rest_s - 0.1, ["P3"]),
        (PUMP.longest_run_s, PUMP.rest_s, []),
        (PUMP.longest_run_s - 0.1, 30.0, []),
    ],
)
def test_p3_a_longest_run_is_owed_its_rest(
    ends: Level | Why, code: ReasonCode, ran_s: float, rested_s: float, says: list[str]
) -> None:
    """However it ended, whatever the float said; a run a moment shorter owes the minimum rest only."""
    made = Made(QUICK, level=Level.WET)
    made.tick(MAIN)
    made.level = ends
    made.tick(after_s=ran_s, reason=Reason(code, {"run_s": ran_s}))
    made.level = Level.WET
    assert made.tick(MAIN, after_s=rested_s) == says


def test_p3_a_dry_moment_does_not_shorten_the_rest_of_the_motor() -> None:
    """A float that dips dry during the rest changes nothing about the motor's heat."""
    made = Made(QUICK, level=Level.WET)
    made.full_run()
    made.level = Level.DRY
    made.tick()
    made.level = Level.WET
    assert made.tick(MAIN, after_s=PUMP.rest_s - 20.0) == ["P3"]
    assert made.said == ["P3: pump main rested 110.0 s of 120.0 s after a full run"]


@pytest.mark.parametrize(("served_s", "says"), [(PUMP.rest_s, []), (PUMP.rest_s - 0.1, ["P3"])])
def test_p3_a_rest_that_is_over_stays_over(served_s: float, says: list[str]) -> None:
    """Later settings with a longer rest ask for it after the next long run, not after the last."""
    made = Made(level=Level.WET)
    made.full_run()
    made.tick(after_s=served_s)
    made.settings = settings_with(pump={"rest_s": 4 * HOUR_S})
    made.tick()
    assert made.tick(MAIN) == says


def test_p3_the_proper_duty_breaks_nothing() -> None:
    """A minute every quarter of an hour for a day is what the settings allow."""
    made = Made(level=Why.UNREADABLE)
    for _ in range(96):
        assert made.tick(MAIN, after_s=PUMP.duty_rest_s) == []
        assert made.tick(after_s=PUMP.duty_run_s, reason=DUTY_DONE) == []


def test_p3_a_duty_in_many_runs_is_summed() -> None:
    """A duty that runs four times as long as it should is reported within the hour."""
    made = Made(level=Why.UNREADABLE)
    reported: set[str] = set()
    for _ in range(10):
        reported |= set(made.tick(MAIN, after_s=PUMP.minimum_rest_s))
        reported |= set(made.tick(MAIN, after_s=200.0))
        reported |= set(made.tick(after_s=40.0, reason=DUTY_DONE))
    assert reported == {"P3"}


ENDLESS = settings_with(pump={"longest_run_s": HOUR_S * 2})  # so that only the minutes of an hour count
BLIND_S = (PUMP.starts_per_hour + 1) * PUMP.duty_run_s  # of an hour may be pumped without a float


def blind(settings: Any = ENDLESS, for_s: float = BLIND_S) -> Made:
    """A pump that has run so long on a float that cannot be read, a tick every half of its duty run."""
    made = Made(settings, level=Why.UNREADABLE)
    made.tick(MAIN)
    half_s = PUMP.duty_run_s / 2.0
    assert [made.tick(MAIN, after_s=half_s) for _ in range(round(for_s / half_s))][-1] == []
    return made


def test_p3_the_minutes_of_an_hour_by_the_clock() -> None:
    """One duty run for each start allowed and one more is the bound; the next tick is beyond it."""
    made = blind()
    assert made.tick(MAIN, after_s=1.0) == ["P3"]
    assert made.said == [f"P3: pump main ran {BLIND_S + 1.0:.0f} s of an hour on an unreadable float"]


@pytest.mark.parametrize(("pause_s", "says"), [(HOUR_S, []), (HOUR_S - BLIND_S - 100.0, ["P3"])])
def test_p3_minutes_by_the_clock_are_forgotten_after_an_hour(pause_s: float, says: list[str]) -> None:
    """As many are allowed in the next hour; a minute within the same hour is one too many."""
    made = blind()
    made.level = Level.WET
    made.tick(MAIN, after_s=pause_s)
    made.level = Why.UNREADABLE
    made.tick(MAIN, after_s=0.0)
    assert made.tick(MAIN, after_s=MINUTE_S) == says


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
    made = blind(settings_with(ENDLESS, pump=change), BLIND_S + 60.0)
    made.settings = ENDLESS
    assert made.tick(MAIN, after_s=30.0) + made.tick(MAIN, after_s=30.0) == []


def test_p3_a_longest_run_says_its_reason_without_being_excused_by_it() -> None:
    """A pump that goes on beyond its longest run is reported in every tick until it stops."""
    made = Made(QUICK, level=Level.WET)
    made.tick(MAIN)
    assert made.tick(MAIN, after_s=PUMP.longest_run_s + 5.0) == ["P3"]
    assert made.tick(MAIN, after_s=1.0) == ["P3"]
    assert made.tick(after_s=1.0, reason=LONGEST) == []
