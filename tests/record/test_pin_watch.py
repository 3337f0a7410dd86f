"""The promises about motors on what the outputs did, whatever was commanded (P4, P11, P13)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.decision.reasons import Reason, ReasonCode
from controller.readings.reading import Level
from tests.decision.world import HOUR_S, HOUSE, settings_with
from tests.record.made import FANS, LONGEST, MAIN, MIDDLE, NORTH, PUMP, Made

if TYPE_CHECKING:
    from controller.equipment import OutputId

ON, OFF = True, False
FLOODED = Reason(ReasonCode.FLOOD, {"for_s": 0.0})
EMPTIED = Reason(ReasonCode.PUMP_EMPTIED, {"run_s": 20.0})


def running(output: OutputId = NORTH, made: Made | None = None) -> Made:
    """An output that went on just now, as decided."""
    made = made or Made(level=Level.WET if output == MAIN else Level.DRY)
    assert made.tick(output, turned=((output, ON, 0.0),)) == []
    return made


def stopped(output: OutputId = NORTH) -> Made:
    """An output that has gone off just now after a long run, as decided."""
    made = running(output)
    assert made.tick(after_s=FANS.minimum_run_s, reason=EMPTIED, turned=((output, OFF, 0.0),)) == []
    return made


def test_p13_a_motor_that_starts_by_itself_is_reported_at_once() -> None:
    """Nobody decided it; a start that was decided counts for one start only."""
    made = Made()
    assert made.tick(turned=((NORTH, ON, -3.0),)) == ["P13"]
    assert made.said == ["P13: fan:north went on although no start was recorded"]
    made = running()
    later = ((NORTH, OFF, 0.0), (NORTH, ON, FANS.minimum_rest_s))
    assert made.tick(NORTH, after_s=FANS.minimum_run_s, turned=later) == ["P13"]


def test_p13_a_motor_that_stops_by_itself_has_a_record_by_the_next_tick() -> None:
    """The reason comes with the decision that finds it off; without one it is reported, once."""
    made = running()
    assert made.tick(NORTH, after_s=FANS.minimum_run_s, turned=((NORTH, OFF, -3.0),)) == []
    assert made.tick(NORTH, turned=()) == ["P13"]
    assert made.said == ["P13: fan:north went off and no reason was recorded"]
    assert made.tick(NORTH, turned=()) == []
    made = running()
    made.tick(NORTH, after_s=FANS.minimum_run_s, turned=((NORTH, OFF, -3.0),))
    assert made.tick(reason=Reason(ReasonCode.OUTPUT_FAILED, {"off_s": 3.0}), turned=()) == []
    assert made.tick(turned=()) == []


def test_p13_an_output_that_was_never_on_may_be_driven_off() -> None:
    """A relay that is put off at the start ends no run."""
    made = Made()
    assert made.tick(turned=((NORTH, OFF, 0.0),)) == []
    assert made.tick(turned=()) == []


@pytest.mark.parametrize(
    ("output", "rested_s", "says"),
    [
        (NORTH, FANS.minimum_rest_s - 0.2, ["P4"]),
        (NORTH, FANS.minimum_rest_s - 0.05, []),  # a pin turns a little after its command
        (MAIN, PUMP.minimum_rest_s - 0.2, ["P4"]),
        (MAIN, PUMP.minimum_rest_s - 0.05, []),
    ],
)
def test_p4_rest_counts_from_when_the_motor_stopped(
    output: OutputId, rested_s: float, says: list[str]
) -> None:
    """A pin that goes on early is reported although the command came in time."""
    made = stopped(output)
    least_s = FANS.minimum_rest_s if output == NORTH else PUMP.minimum_rest_s
    assert made.tick(output, after_s=least_s, turned=((output, ON, rested_s - least_s),)) == says
    if says:
        assert made.said == [f"P4: {output} was off for {rested_s:.3f} s of {least_s:.1f} s"]


@pytest.mark.parametrize(
    ("output", "late_s", "code", "says"),
    [
        (NORTH, 0.2, ReasonCode.NOTHING_WANTED, ["P4"]),
        (NORTH, 0.05, ReasonCode.NOTHING_WANTED, []),
        (NORTH, 90.0, ReasonCode.FLOOD, []),
        (MAIN, 0.2, ReasonCode.PUMP_EMPTIED, ["P4"]),
        (MAIN, 0.05, ReasonCode.PUMP_EMPTIED, []),
    ],
)
def test_p4_a_run_counts_from_when_the_motor_started(
    output: OutputId, late_s: float, code: ReasonCode, says: list[str]
) -> None:
    """A motor that went on late has run less than was commanded; only a trip may cut it then."""
    least_s = FANS.minimum_run_s if output == NORTH else PUMP.run_on_s
    made = Made(level=Level.WET if output == MAIN else Level.DRY)
    made.tick(output, turned=((output, ON, late_s),))
    assert made.tick(after_s=least_s, reason=Reason(code, {"a": 1.0}), turned=((output, OFF, 0.0),)) == says
    if says:
        ran = f"{least_s - late_s:.1f} s, at least {least_s:.1f} s are promised"
        assert made.said == [f"P4: {output} ran {ran}", f"P4: {output} was on for {ran}"]


def test_p4_a_motor_that_went_off_late_rests_from_then_on() -> None:
    """The rest that was commanded is no rest while the pin is still on."""
    made = running()
    made.tick(after_s=FANS.minimum_run_s, turned=((NORTH, OFF, 30.0),))
    start = ((NORTH, ON, 0.0),)
    assert made.tick(NORTH, after_s=FANS.minimum_rest_s + 29.0, turned=start) == ["P4"]
    rested = f"{FANS.minimum_rest_s - 1.0:.1f} s of {FANS.minimum_rest_s:.1f} s"
    assert made.said[0] == f"P4: fan:north rested {rested}"


@pytest.mark.parametrize(("after_s", "says"), [(HOUR_S - 0.2, ["P4"]), (HOUR_S - 0.05, [])])
def test_p4_starts_an_hour_are_those_of_the_pin(after_s: float, says: list[str]) -> None:
    """A start of the pin within the hour of another is one too many where one is allowed."""
    made = running(made=Made(settings_with(fans={"starts_per_hour": 1})))
    made.tick(after_s=FANS.minimum_run_s, turned=((NORTH, OFF, 0.0),))
    left_s = HOUR_S - FANS.minimum_run_s
    assert made.tick(NORTH, after_s=left_s, turned=((NORTH, ON, after_s - HOUR_S),)) == says
    if says:
        assert made.said == ["P4: fan:north went on more than 1 times in an hour"]


@pytest.mark.parametrize(("apart_s", "says"), [(FANS.stagger_s - 0.2, ["P11"]), (FANS.stagger_s - 0.05, [])])
def test_p11_motors_turn_one_after_the_other(apart_s: float, says: list[str]) -> None:
    """A pin that turned late keeps the next motor waiting, whichever it is."""
    late_s = FANS.stagger_s - apart_s
    made = Made()
    made.tick(NORTH, turned=((NORTH, ON, late_s),))
    assert made.tick(NORTH, MIDDLE, after_s=FANS.stagger_s, turned=((MIDDLE, ON, 0.0),)) == says
    if says:
        after = f"{apart_s:.1f} s after another motor"
        assert made.said == [
            f"P11: fan:middle started {after}",
            f"P11: fan:middle went on {apart_s:.3f} s after another motor",
        ]


@pytest.mark.parametrize(("late_s", "says"), [(0.05, ["P3"]), (5.0, [])])
def test_p3_a_dry_run_counts_from_when_the_pump_turned(late_s: float, says: list[str]) -> None:
    """A pump that went on notably late has run dry for so much less."""
    made = Made()
    for after_s in (10.0, PUMP.exercise_every_s):
        made.tick(MAIN, after_s=after_s, turned=())
        went_on = ((MAIN, ON, late_s - PUMP.run_on_s),)
        assert made.tick(MAIN, after_s=PUMP.run_on_s, turned=went_on) == says
        made.tick(reason=Reason(ReasonCode.PUMP_EXERCISE_DONE, {"run_s": 5.0}), turned=((MAIN, OFF, 0.0),))


def test_p3_the_longest_run_counts_from_when_the_pump_turned() -> None:
    """A run that began a minute late is the longest a minute later."""
    made = Made(level=Level.WET)
    made.tick(MAIN, turned=((MAIN, ON, 60.0),))
    assert made.tick(MAIN, after_s=PUMP.longest_run_s, turned=()) == []
    assert made.tick(MAIN, after_s=60.0, turned=()) == ["P3"]
    assert made.tick(after_s=0.0, reason=LONGEST, turned=((MAIN, OFF, 0.0),)) == []


def test_a_flood_stops_a_fan_that_has_only_just_turned() -> None:
    """A trip may cut any run, and the pin has to follow it; the house is otherwise as decided."""
    made = running(made=Made(HOUSE))
    made.level = Level.WET
    assert made.tick(after_s=1.0, reason=FLOODED, turned=((NORTH, OFF, 0.0),)) == []


def test_p13_a_stop_that_the_pin_makes_late_was_recorded_all_the_same() -> None:
    """A driver that would not answer lets the motor run on; when it obeys at last its reason is known."""
    made = running()
    assert made.tick(after_s=FANS.minimum_run_s, reason=EMPTIED) == []
    assert made.tick(after_s=HOUR_S, turned=((NORTH, OFF, 0.0),)) == []
    assert made.tick() == []
