"""The watch over motors: runs, rests, starts an hour, stagger, a record of every change (P4, P11, P13)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.decision.reasons import Reason, ReasonCode
from controller.readings.reading import Level, Why
from tests.decision.world import HOUR_S, settings_with
from tests.record.made import FANS, MAIN, MIDDLE, NORTH, PUMP, QUICK, Made

if TYPE_CHECKING:
    from controller.equipment import OutputId


@pytest.mark.parametrize(
    ("output", "ran_s", "says"),
    [
        (NORTH, FANS.minimum_run_s - 0.1, ["P4"]),
        (NORTH, FANS.minimum_run_s, []),
        (MAIN, PUMP.run_on_s - 0.1, ["P4"]),  # the least run of a pump is its run-on
        (MAIN, PUMP.run_on_s, []),
    ],
)
def test_p4_a_run_lasts_its_minimum(output: OutputId, ran_s: float, says: list[str]) -> None:
    """A motor that is stopped a moment before its minimum run, for want of demand, is reported."""
    made = Made(level=Level.WET if output == MAIN else Level.DRY)
    made.tick(output)
    assert made.tick(after_s=ran_s) == says


# What protects people, the crop or the machine, and the ends of runs that nobody decided.
MAY_CUT = {
    ReasonCode.FIRE,
    ReasonCode.FIRE_ONE_PROBE,
    ReasonCode.FLOOD,
    ReasonCode.FLOAT_UNREADABLE,
    ReasonCode.FLOAT_BACK,
    ReasonCode.DRAIN_DOWN,
    ReasonCode.JUST_STARTED,
    ReasonCode.AIR_NOT_PROVEN,
    ReasonCode.CEILING_UNKNOWN,
    ReasonCode.SOIL_UNKNOWN,
    ReasonCode.ROOT_ZONE_WARM,
    ReasonCode.ROOT_ZONE_HOT,
    ReasonCode.ROOT_ZONE_COLD,
    ReasonCode.PUMP_EXERCISE_DONE,
    ReasonCode.PUMP_DUTY_DONE,
    ReasonCode.NO_DECISION,
    ReasonCode.OUTPUT_FAILED,
}


@pytest.mark.parametrize("code", list(ReasonCode))
def test_p4_only_what_protects_may_cut_a_run(code: ReasonCode) -> None:
    """A trip may stop a motor at any moment; a change of mind, another motor or dear heat may not."""
    made = Made()
    made.tick(NORTH)
    says = made.tick(after_s=1.0, reason=Reason(code, {"for_s": 0.0}))
    assert says == ([] if code in MAY_CUT else ["P4"])


@pytest.mark.parametrize(
    ("output", "rested_s", "says"),
    [
        (NORTH, FANS.minimum_rest_s - 0.1, ["P4"]),
        (NORTH, FANS.minimum_rest_s, []),
        (MAIN, PUMP.minimum_rest_s - 0.1, ["P4"]),
        (MAIN, PUMP.minimum_rest_s, []),
    ],
)
def test_p4_a_motor_rests_before_it_starts_again(output: OutputId, rested_s: float, says: list[str]) -> None:
    """Each kind of motor has a minimum rest of its own; a moment less is reported."""
    made = Made(level=Level.WET if output == MAIN else Level.DRY)
    made.tick(output)
    made.tick(after_s=FANS.minimum_run_s)
    assert made.tick(output, after_s=rested_s) == says


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
    assert "P4" in made.tick(output, after_s=HOUR_S - most * 200.0 - 0.1)


def test_p4_a_start_an_hour_old_counts_no_more() -> None:
    """With one start an hour the next is allowed when the first is an hour old."""
    made = Made(settings_with(fans={"starts_per_hour": 1}))
    made.tick(NORTH)
    made.tick(after_s=FANS.minimum_run_s)
    assert made.tick(NORTH, after_s=HOUR_S - FANS.minimum_run_s) == []


def test_a_run_whose_start_was_not_seen_counts_as_a_long_one() -> None:
    """After a restart nobody knows how long a motor ran: long enough, and for a pump its longest run."""
    made = Made(QUICK, on=frozenset({NORTH, MAIN}), level=Level.WET)
    assert made.tick() == []
    assert made.tick(MAIN, after_s=PUMP.rest_s - 1.0) == ["P3"]


@pytest.mark.parametrize("second", [MIDDLE, MAIN])
@pytest.mark.parametrize(
    ("after_s", "says"), [(0.0, ["P11"]), (FANS.stagger_s - 0.1, ["P11"]), (FANS.stagger_s, [])]
)
def test_p11_motors_start_one_after_the_other(second: OutputId, after_s: float, says: list[str]) -> None:
    """A start within the stagger after another is reported, whatever the motors are."""
    made = Made(level=Level.DRY)
    made.tick(NORTH)
    assert made.tick(NORTH, second, after_s=after_s) == says


def test_p11_two_motors_in_one_tick() -> None:
    """Two starts in the same tick are as bad."""
    made = Made()
    made.tick()
    assert made.tick(NORTH, MIDDLE) == ["P11"]


@pytest.mark.parametrize(("before", "after"), [((), (NORTH,)), ((NORTH,), ())])
def test_p13_a_change_without_a_record(before: tuple[OutputId, ...], after: tuple[OutputId, ...]) -> None:
    """An output that is suddenly on, or suddenly off, without a recorded change is reported."""
    made = Made()
    made.tick(*before)
    assert made.tick(*after, after_s=HOUR_S, told=False) == ["P13"]


@pytest.mark.parametrize(("output", "level"), [(MAIN, Level.WET), (MAIN, Why.UNREADABLE), (NORTH, Level.DRY)])
def test_p13_a_motor_that_never_had_a_record_is_reported(output: OutputId, level: Level | Why) -> None:
    """A motor that is on in the very first tick ends no check; it is reported."""
    assert Made(level=level).tick(output, told=False) == ["P13"]


def test_p13_a_reason_without_numbers() -> None:
    """A change whose reason carries no number is reported, a start as well as a stop."""
    made = Made()
    empty = Reason(ReasonCode.BANK, {})
    assert made.tick(NORTH, reason=empty) == ["P13"]
    assert made.tick(after_s=FANS.minimum_run_s, reason=empty) == ["P13"]


def test_what_a_motor_has_broken_is_reported_with_its_numbers() -> None:
    """Every report names the output, what was seen of it, and what is promised."""
    made = Made()
    made.tick(NORTH)
    made.tick(after_s=90.0)
    assert made.said == [f"P4: fan:north ran 90.0 s, at least {FANS.minimum_run_s:.1f} s are promised"]
    made.tick(NORTH, after_s=70.0)
    assert made.said == [f"P4: fan:north rested 70.0 s of {FANS.minimum_rest_s:.1f} s"]
    made.tick(NORTH, MIDDLE, after_s=11.0)
    assert made.said == ["P11: fan:middle started 11.0 s after another motor"]
