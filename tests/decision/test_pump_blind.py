"""What a pump does by the clock while its float cannot be read, and what that leaves behind."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.decision.lockouts import SHORT_BLIND_S
from controller.decision.reasons import ReasonCode
from controller.readings.reading import Why
from tests.decision.pit import A_MOMENT_S, DAY_S, DRY, LOST, PUMP, WET, Pit, lost
from tests.decision.world import HOUR_S, MINUTE_S, settings_with

if TYPE_CHECKING:
    from controller.readings.reading import Level


@pytest.mark.parametrize("level", [DRY, WET])
def test_a_float_that_was_back_has_a_whole_minute_again(level: Level) -> None:
    """Only a minute of silence without a break starts the pump by the clock, to the moment."""
    pit = Pit(settings_with(pump={"starts_per_hour": 4}).pump)
    pit.cycle(MINUTE_S, MINUTE_S)  # no start for now: water waits
    pit.see(LOST)
    pit.see(level, 30.0)
    pit.see(LOST, HOUR_S)
    assert pit.state.wet_since_s is None
    assert pit.ends(LOST, MINUTE_S)


@pytest.mark.parametrize(
    ("lost_for_s", "duty_rest_s", "rest_s"),
    [
        (0.0, PUMP.duty_rest_s, PUMP.duty_rest_s),
        (DAY_S - PUMP.duty_rest_s - A_MOMENT_S, PUMP.duty_rest_s, PUMP.duty_rest_s),
        (DAY_S - PUMP.duty_rest_s, PUMP.duty_rest_s, HOUR_S),  # the next run would be on the second day
        (DAY_S, PUMP.duty_rest_s, HOUR_S),
        (0.0, 7200.0, 7200.0),
        (DAY_S, 7200.0, 7200.0),  # never more often than set
    ],
)
def test_the_clock_slows_to_once_an_hour_after_a_day(
    lost_for_s: float, duty_rest_s: float, rest_s: float
) -> None:
    """A minute every quarter of an hour, from the second day on every hour, unless rarer is set."""
    pit = lost(settings_with(pump={"duty_rest_s": duty_rest_s}).pump)
    lost_at_s = pit.now_s - MINUTE_S
    pit.see(LOST, PUMP.duty_run_s)
    if lost_for_s:
        pit.now_s = lost_at_s + lost_for_s - PUMP.duty_run_s
        pit.output = pit.output._replace(on=True, since_mono_s=pit.now_s)
        pit.see(LOST, PUMP.duty_run_s)
    assert not pit.output.on
    assert not pit.see(LOST, rest_s - A_MOMENT_S)
    assert pit.says(ReasonCode.PUMP_DUTY_DONE)
    assert pit.see(LOST, A_MOMENT_S)
    assert pit.says(ReasonCode.PUMP_DUTY, run_s=PUMP.duty_run_s, every_s=PUMP.duty_run_s + rest_s)


@pytest.mark.parametrize(
    ("early_s", "every_s"),
    [(A_MOMENT_S, PUMP.duty_run_s + PUMP.duty_rest_s), (0.0, PUMP.duty_run_s + HOUR_S)],
)
def test_the_end_of_a_run_says_when_the_next_one_is(early_s: float, every_s: float) -> None:
    """The pace that is announced is the one in force at that moment."""
    pit = lost()
    pit.now_s += DAY_S - MINUTE_S - PUMP.duty_run_s - early_s
    pit.output = pit.output._replace(since_mono_s=pit.now_s)
    assert not pit.see(LOST, PUMP.duty_run_s)
    assert pit.says(ReasonCode.PUMP_DUTY_DONE, every_s=every_s)


@pytest.mark.parametrize(
    ("level", "left_s"), [(WET, PUMP.longest_run_s - 20.0), (DRY, PUMP.run_on_s)], ids=["wet", "dry"]
)
def test_a_float_that_is_back_is_followed_again(level: Level, left_s: float) -> None:
    """In the middle of a duty run: water is emptied, and on a dry float there is only the run-on."""
    pit = lost()
    assert pit.see(level, 20.0)
    assert pit.ends(level, left_s)


@pytest.mark.parametrize("why", [Why.NEVER_READ, LOST])
@pytest.mark.parametrize(("silent_s", "water"), [(SHORT_BLIND_S, False), (SHORT_BLIND_S + A_MOMENT_S, True)])
def test_a_float_without_a_reading_counts_as_water_until_it_is_dry_again_soon(
    why: Why, silent_s: float, water: bool
) -> None:
    """Every look without a reading counts as water; two dry looks close together take that back."""
    pit = Pit()
    assert not pit.see(DRY)
    known_s = pit.state.last_water_s
    pit.see(why, A_MOMENT_S)
    pit.see(why, MINUTE_S / 2.0)  # after a minute the pump would run by the clock
    silent_from_s = pit.now_s - MINUTE_S / 2.0
    assert pit.state.last_water_s == pit.now_s
    lost_until_s = pit.now_s
    pit.now_s = silent_from_s + silent_s
    pit.see(DRY)
    assert pit.state.last_water_s == (lost_until_s if water else known_s)
    assert pit.state.unreadable_since_s is None
