"""How a pump's motor is looked after: the rest it is owed, and starts spread over the hour."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.decision.reasons import ReasonCode
from controller.decision.state import Lockout, OutputState, PumpPhase
from tests.decision.pit import (
    A_MOMENT_S,
    DRY,
    FREQUENT,
    LOST,
    PUMP,
    WET,
    Pit,
    exercised,
    filled,
    flooded,
    lost,
)
from tests.decision.world import HOUR_S, MINUTE_S, settings_with

if TYPE_CHECKING:
    from collections.abc import Callable

    from controller.settings.schema import Pump

# The rest after a longest run and the one after any other can be told apart, and neither waits for a start.
PATIENT = settings_with(pump={"rest_s": 180.0, "starts_per_hour": 30}).pump
SHORT_S, LONG_S = PATIENT.minimum_rest_s, PATIENT.rest_s
LONGEST_S = PATIENT.longest_run_s


def after(begun: Callable[[Pump], Pit], ran_s: float, level: object = WET) -> Pit:
    """A pit whose pump has just ended a run that this late look has made so long."""
    pit = begun(PATIENT)
    assert not pit.see(level, ran_s)  # type: ignore[arg-type]
    return pit


def emptied(wet_s: float) -> Pit:
    """A pit that was dry after so long, whose pump has had its run-on."""
    pit = filled(PATIENT)
    assert pit.see(DRY, wet_s)
    assert not pit.see(DRY, PATIENT.run_on_s)
    return pit


@pytest.mark.parametrize(
    ("pit", "rest_s"),
    [
        (emptied(MINUTE_S), SHORT_S),
        (emptied(LONGEST_S - PATIENT.run_on_s - A_MOMENT_S), SHORT_S),
        (emptied(LONGEST_S - PATIENT.run_on_s), LONG_S),
        (after(filled, LONGEST_S), LONG_S),
        (after(exercised, PATIENT.exercise_run_s, DRY), SHORT_S),
        (after(exercised, LONGEST_S, DRY), LONG_S),  # by a tick that came late
        (after(lost, PATIENT.duty_run_s, LOST), SHORT_S),
        (after(lost, LONGEST_S, LOST), LONG_S),
    ],
    ids=[
        "short",
        "almost longest",
        "longest, dry",
        "longest",
        "exercise",
        "long exercise",
        "duty",
        "long duty",
    ],
)
def test_the_rest_depends_on_the_length_of_the_run_alone(pit: Pit, rest_s: float) -> None:
    """However a run was meant to end, two minutes are owed after most and three after the longest."""
    assert not pit.see(WET, MINUTE_S)
    assert pit.says(ReasonCode.PUMP_RESTING, left_s=rest_s - MINUTE_S)
    assert pit.lockouts() == (Lockout.RESTING,)
    assert pit.look_again_s == rest_s - MINUTE_S
    assert pit.ends(WET, rest_s - MINUTE_S)
    assert pit.lockouts() == ()


@pytest.mark.parametrize(
    ("early_s", "rest_s", "code"),
    [
        (A_MOMENT_S, PUMP.rest_s, ReasonCode.PUMP_LONGEST_RUN),
        (0.0, 3.0 * PUMP.longest_run_s, ReasonCode.PUMP_DOUBTED),
    ],
)
def test_a_wet_float_is_doubted_from_twelve_hours_on(early_s: float, rest_s: float, code: ReasonCode) -> None:
    """From the moment on the rest is three times the longest run, and the reason says why."""
    pit = filled()
    pit.now_s += 12 * HOUR_S - early_s - PUMP.longest_run_s
    pit.output = OutputState(on=True, since_mono_s=pit.now_s, starts_mono_s=(pit.now_s,))
    assert not pit.see(WET, PUMP.longest_run_s)
    assert pit.says(code, run_s=PUMP.longest_run_s, rest_s=rest_s)
    assert pit.lockouts() == (Lockout.RESTING,)
    if not early_s:
        assert pit.says(code, wet_for_s=12 * HOUR_S)
        assert pit.ends(WET, rest_s)


def test_a_dry_look_ends_the_doubt() -> None:
    """A float that has fallen is believed again, and the next water waits for the ordinary rest only."""
    pit = flooded()
    pit.state = pit.state._replace(wet_since_s=pit.now_s - 13 * HOUR_S)
    assert not pit.see(WET, PUMP.rest_s)
    pit.see(DRY, 1.0)
    assert pit.see(WET, 1.0)


def test_a_dry_moment_takes_the_lockout_but_not_the_rest() -> None:
    """The rest of the motor goes on to its very end while what held the pump back is forgotten."""
    pit = flooded()
    assert not pit.see(DRY, PUMP.rest_s - A_MOMENT_S)
    assert (pit.phase(), pit.lockouts()) == (PumpPhase.RESTING, ())
    assert not pit.see(DRY, A_MOMENT_S)
    assert pit.phase() is PumpPhase.IDLE
    pit = Pit(FREQUENT)
    pit.cycle(MINUTE_S, MINUTE_S)
    pit.see(WET)
    assert pit.lockouts() == (Lockout.RESTING,)
    pit.see(DRY, 1.0)  # it drained by itself
    assert pit.lockouts() == ()


@pytest.mark.parametrize("most", [4, 8])
def test_starts_are_spaced_to_the_moment(most: int) -> None:
    """An hour over the starts allowed lies between two of them, and who waits says so."""
    pit = Pit(settings_with(pump={"starts_per_hour": most}).pump)
    pit.cycle(MINUTE_S, 3 * MINUTE_S)
    left_s = HOUR_S / most - (pit.now_s - pit.output.starts_mono_s[-1])
    assert not pit.see(WET)
    assert pit.says(ReasonCode.PUMP_SPACED, left_s=left_s, most=float(most))
    assert pit.lockouts() == (Lockout.STARTS_SPACED,)
    assert pit.look_again_s == left_s
    assert pit.ends(WET, left_s)
    assert pit.lockouts() == ()


def test_starts_that_water_waits_for_are_counted_in_a_row() -> None:
    """Looks in between count nothing, and a start that did not have to wait takes the count back."""
    pit = Pit()
    pit.cycle(MINUTE_S, 3 * MINUTE_S)
    for count in (1, 2, 3):
        assert not any(pit.see(WET, 1.0) for _ in range(3))
        assert pit.see(WET, HOUR_S / PUMP.starts_per_hour)
        assert pit.state.crowded == count
        pit.see(DRY, MINUTE_S)
        assert not pit.see(DRY, PUMP.run_on_s)
        pit.see(DRY, MINUTE_S)
    pit.see(DRY, HOUR_S)
    assert pit.see(WET)
    assert pit.state.crowded == 0


def test_fewer_starts_by_new_settings_wait_for_the_end_of_the_hour() -> None:
    """More starts than are allowed now hold the next one back until enough of them are an hour old."""
    pit = Pit(FREQUENT)
    for _ in range(6):
        pit.cycle(MINUTE_S, 3 * MINUTE_S)
    pit.pump = settings_with(pump={"starts_per_hour": 4}).pump
    third_s = pit.output.starts_mono_s[2]
    pit.see(WET, HOUR_S / 4)
    assert pit.look_again_s == third_s + HOUR_S - pit.now_s
    assert pit.ends(WET, pit.look_again_s)


def test_the_clock_keeps_to_the_starts_of_an_hour_and_to_no_lockout() -> None:
    """A float that cannot be believed is no excuse for more starts; what water had to wait for is over."""
    pit = Pit(settings_with(pump={"starts_per_hour": 1}).pump)
    pit.cycle(MINUTE_S, HOUR_S / 2.0)
    started_s = pit.output.starts_mono_s[0]
    pit.see(LOST)
    assert pit.ends(LOST, started_s + HOUR_S - pit.now_s)
    pit = flooded()
    pit.see(LOST)
    assert pit.see(LOST, PUMP.duty_rest_s)
    assert pit.lockouts() == ()
