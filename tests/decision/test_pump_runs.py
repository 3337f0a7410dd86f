"""When a pump starts, for how long it runs, and what ends its run."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.decision.reasons import ReasonCode
from controller.decision.state import PumpPhase
from tests.decision.pit import A_MOMENT_S, DAY_S, DRY, LOST, PUMP, WET, Pit, exercised, filled, flooded, lost
from tests.decision.world import HOUR_S, MINUTE_S

if TYPE_CHECKING:
    from collections.abc import Callable

    from controller.readings.reading import Level, Why

DUTY_EVERY_S = PUMP.duty_run_s + PUMP.duty_rest_s


def running_on() -> Pit:
    """A pump that a minute of water has kept busy and whose float has just fallen."""
    pit = filled()
    assert pit.see(DRY, MINUTE_S)
    return pit


def blinded() -> Pit:
    """A pump whose float has failed 20 s after the start."""
    pit = filled()
    assert pit.see(LOST, 20.0)
    return pit


@pytest.mark.parametrize(
    ("begun", "phase", "code", "numbers"),
    [
        (filled, PumpPhase.EMPTYING, ReasonCode.PUMP_WET, {"starts": 1.0, "most": PUMP.starts_per_hour}),
        (lost, PumpPhase.DUTY, ReasonCode.PUMP_DUTY, {"run_s": PUMP.duty_run_s, "every_s": DUTY_EVERY_S}),
        (
            exercised,
            PumpPhase.EXERCISE,
            ReasonCode.PUMP_EXERCISE,
            {"for_s": PUMP.exercise_every_s, "run_s": PUMP.exercise_run_s},
        ),
    ],
)
def test_a_start_says_what_it_is_for(
    begun: Callable[[], Pit], phase: PumpPhase, code: ReasonCode, numbers: dict[str, float]
) -> None:
    """Water at once, a lost float after a minute, an idle pump after its week."""
    pit = begun()
    assert pit.phase() is phase
    assert pit.says(code, **numbers)


def test_every_start_of_the_hour_is_counted() -> None:
    """The second start within the hour is number two; an hour later it is number one again."""
    pit = Pit()
    pit.cycle(MINUTE_S, 10 * MINUTE_S)
    assert pit.see(WET)
    assert pit.says(ReasonCode.PUMP_WET, starts=2.0)
    pit = Pit()
    pit.cycle(MINUTE_S, HOUR_S)
    assert pit.see(WET)
    assert pit.says(ReasonCode.PUMP_WET, starts=1.0)


@pytest.mark.parametrize(
    ("begun", "level", "left_s", "code", "numbers"),
    [
        (
            filled,
            WET,
            PUMP.longest_run_s,
            ReasonCode.PUMP_LONGEST_RUN,
            {"run_s": PUMP.longest_run_s, "rest_s": PUMP.rest_s},
        ),
        (
            running_on,
            DRY,
            PUMP.run_on_s,
            ReasonCode.PUMP_EMPTIED,
            {"run_s": MINUTE_S + PUMP.run_on_s, "run_on_s": PUMP.run_on_s},
        ),
        (lost, LOST, PUMP.duty_run_s, ReasonCode.PUMP_DUTY_DONE, {"run_s": PUMP.duty_run_s}),
        (blinded, LOST, PUMP.duty_run_s - 20.0, ReasonCode.PUMP_DUTY_DONE, {"every_s": DUTY_EVERY_S}),
        (
            exercised,
            DRY,
            PUMP.exercise_run_s,
            ReasonCode.PUMP_EXERCISE_DONE,
            {"run_s": PUMP.exercise_run_s},
        ),
    ],
)
def test_a_run_ends_at_its_very_moment(
    begun: Callable[[], Pit], level: Level | Why, left_s: float, code: ReasonCode, numbers: dict[str, float]
) -> None:
    """The longest run on water, the run-on on a dry float, the clock on a lost one, seconds of exercise."""
    pit = begun()
    assert pit.ends(level, left_s)
    assert pit.says(code, **numbers)


@pytest.mark.parametrize(
    "looks",
    [
        [(WET, 0.0)],
        [(WET, 0.0), (DRY, MINUTE_S), (DRY, 15.0), (WET, 1.0)],  # water again during the run-on
        [(WET, 0.0), (DRY, 8.0), (LOST, 10.0)],  # not knowing ends it, too
        [(WET, 0.0), (DRY, MINUTE_S), (DRY, PUMP.run_on_s), (DRY, HOUR_S), (WET, 1.0)],  # in another run
        [(WET, 0.0), (DRY, PUMP.longest_run_s - 5.0), (WET, 5.0), (WET, PUMP.rest_s)],
    ],
)
def test_the_run_on_is_a_whole_one_after_the_last_that_was_not_dry(
    looks: list[tuple[Level | Why, float]],
) -> None:
    """It counts from the first dry look after water or silence, however dry the float was before."""
    pit = Pit()
    on = [pit.see(level, after_s) for level, after_s in looks]
    assert on[-1]
    assert pit.see(DRY, 7.0)
    assert pit.look_again_s == PUMP.run_on_s
    assert pit.ends(DRY, PUMP.run_on_s)


def test_the_run_on_ends_with_the_longest_run() -> None:
    """A pit that got dry just before does not stretch the run, and the motor has its rest to come."""
    pit = filled()
    assert pit.see(DRY, PUMP.longest_run_s - 1.0)
    assert pit.look_again_s == 1.0
    assert pit.ends(DRY, 1.0)
    assert pit.says(ReasonCode.PUMP_EMPTIED, run_s=PUMP.longest_run_s)
    assert pit.phase() is PumpPhase.RESTING


def test_the_phase_follows_the_float() -> None:
    """Water again in the run-on is emptying; a float that fails makes it duty, one that is back emptying."""
    pit = Pit()
    for level, phase in (
        (WET, PumpPhase.EMPTYING),
        (DRY, PumpPhase.RUN_ON),
        (WET, PumpPhase.EMPTYING),
        (LOST, PumpPhase.DUTY),
        (WET, PumpPhase.EMPTYING),
        (LOST, PumpPhase.DUTY),
        (DRY, PumpPhase.RUN_ON),
    ):
        assert pit.see(level, 1.0)
        assert pit.phase() is phase


@pytest.mark.parametrize("level", [WET, LOST])
def test_an_exercise_run_gives_way_to_water_and_to_not_knowing(level: Level | Why) -> None:
    """From then on it is a run like any other: emptying, or duty, with their own ends."""
    pit = exercised()
    assert pit.see(level, 2.0)
    assert pit.phase() is (PumpPhase.EMPTYING if level is WET else PumpPhase.DUTY)
    assert pit.ends(level, (PUMP.longest_run_s if level is WET else PUMP.duty_run_s) - 2.0)


def test_how_the_last_run_ended_stays_the_reason_of_a_dry_pump() -> None:
    """Emptied and exercised stand until the next run; anything else becomes a dry sump."""
    pit = Pit()
    pit.see(DRY)
    assert pit.says(ReasonCode.PUMP_DRY, for_s=DAY_S)
    pit.cycle(MINUTE_S)
    pit.see(DRY)
    assert pit.says(ReasonCode.PUMP_EMPTIED)
    pit = exercised()
    pit.see(DRY, PUMP.exercise_run_s)
    pit.see(DRY, HOUR_S)
    assert pit.says(ReasonCode.PUMP_EXERCISE_DONE)
    pit = flooded()
    assert not pit.see(DRY, PUMP.rest_s)
    assert pit.says(ReasonCode.PUMP_DRY, for_s=PUMP.rest_s)


def test_water_is_remembered_from_its_first_look_and_at_its_last() -> None:
    """Drain-down counts from the last wet look, doubt from the first."""
    pit = filled()
    since_s = pit.now_s
    pit.see(WET, MINUTE_S)
    assert (pit.state.wet_since_s, pit.state.last_water_s) == (since_s, pit.now_s)
    pit.see(DRY, A_MOMENT_S)
    assert (pit.state.wet_since_s, pit.state.last_water_s) == (None, pit.now_s - A_MOMENT_S)
