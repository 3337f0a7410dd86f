"""The limits of a motor, to the second."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from controller.decision.pump import PumpInput, pump_intent
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Lockout, OutputState, PumpPhase, SumpState
from controller.decision.timers import start_lockout, starts_in_last_hour, switched
from controller.readings.reading import Good, Level
from tests.decision.world import HOUSE

PUMP = HOUSE.pump
WHY = Reason(ReasonCode.STARTED, {"rest_s": 0.0})
NOW_S = 10_000.0
HOUR_S = 3600.0


def test_a_rest_ends_with_its_last_second() -> None:
    """A motor rests until its rest is over, and may start at that very moment."""
    stopped = OutputState(on=False, since_mono_s=NOW_S)
    assert start_lockout(stopped, 600.0, 2, NOW_S + 599.9) is Lockout.RESTING
    assert start_lockout(stopped, 600.0, 2, NOW_S + 600.0) is None


def test_a_start_counts_for_an_hour() -> None:
    """Starts are counted until each is an hour old; once all are spent the next has to wait for that."""
    motor = OutputState(
        on=False, since_mono_s=0.0, starts_mono_s=(NOW_S - HOUR_S, NOW_S - HOUR_S + 1.0, NOW_S)
    )
    assert starts_in_last_hour(motor, NOW_S) == 2
    assert start_lockout(motor, 600.0, 2, NOW_S) is Lockout.STARTS_SPENT
    assert start_lockout(motor, 600.0, 3, NOW_S) is None
    assert start_lockout(motor, 600.0, 2, NOW_S + 1.0) is None


def test_rest_is_told_before_spent_starts() -> None:
    """A motor that must rest and has spent its starts is said to rest, which ends sooner."""
    motor = OutputState(on=False, since_mono_s=NOW_S, starts_mono_s=(NOW_S - 1.0, NOW_S))
    assert start_lockout(motor, 600.0, 2, NOW_S) is Lockout.RESTING


def test_switching_remembers_starts_of_the_last_hour_only() -> None:
    """A start joins those younger than an hour, a stop adds none, the same command changes nothing."""
    motor = OutputState(on=False, since_mono_s=0.0, starts_mono_s=(NOW_S - HOUR_S, NOW_S - HOUR_S + 1.0))
    started = switched(motor, True, NOW_S)
    assert started == OutputState(True, NOW_S, (NOW_S - HOUR_S + 1.0, NOW_S))
    assert switched(started, False, NOW_S + 1.0) == OutputState(False, NOW_S + 1.0, (NOW_S,))
    assert switched(motor, False, NOW_S) is motor


@given(st.integers(1, 10**7))
def test_a_wet_pit_starts_its_pump_just_when_its_rest_is_over(tick: int) -> None:
    """To the last digit: neither a hair too soon nor forbidden a hair too long, however the times round."""
    stopped_s = tick / 7.3
    now_s = stopped_s + PUMP.rest_s
    output = OutputState(on=False, since_mono_s=stopped_s)
    sump = SumpState(PumpPhase.RESTING, WHY, last_water_s=stopped_s, wet_since_s=stopped_s)
    intent = pump_intent(PumpInput(PUMP, Good(Level.WET, now_s), output, sump, now_s))
    assert intent.asks_to_start is (now_s - stopped_s >= PUMP.rest_s)
