"""One sump's pump at the very instants at which its rule changes its mind, and the numbers it gives."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.decision.lockouts import SHORT_BLIND_S
from controller.decision.pump import PumpInput, pump_intent
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Lockout, OutputState, PumpPhase, SumpState
from controller.decision.timers import switched
from controller.readings.reading import Good, Level, Missing, Why
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, settings_with

if TYPE_CHECKING:
    from controller.settings.schema import Pump

PUMP = HOUSE.pump
DAY_S = 24 * HOUR_S
A_MOMENT_S = 0.125  # like all times here a fraction that floats hold exactly
WET, DRY, LOST = Level.WET, Level.DRY, Why.UNREADABLE


class Pit:
    """A sump by itself, long dry at first, whose pump is granted every start it asks for."""

    def __init__(self, pump: Pump = PUMP) -> None:
        self.pump = pump
        self.now_s = 2.0**20
        self.output = OutputState(on=False, since_mono_s=self.now_s - DAY_S)
        reason = Reason(ReasonCode.STARTED, {"rest_s": 0.0})
        self.state = SumpState(PumpPhase.IDLE, reason, last_water_s=self.now_s - DAY_S)
        self.look_again_s: float | None = None

    def see(self, level: Level | Why, after_s: float = 0.0) -> bool:
        """Let time pass and look once; returns whether the pump runs then."""
        self.now_s += after_s
        seen = Missing(level, self.now_s) if isinstance(level, Why) else Good(level, self.now_s)
        intent = pump_intent(PumpInput(self.pump, seen, self.output, self.state, self.now_s))
        assert isinstance(intent.on, bool)
        self.state, self.look_again_s = intent.state, intent.look_again_s
        self.output = switched(self.output, intent.on or intent.asks_to_start, self.now_s)
        return self.output.on

    def says(self) -> tuple[ReasonCode, dict[str, float | str]]:
        """The present reason as data."""
        return self.state.reason.code, dict(self.state.reason.numbers)

    def phase(self) -> PumpPhase:
        """What the pump does."""
        return self.state.phase

    def lockouts(self) -> tuple[Lockout, ...]:
        """What holds it back."""
        return self.state.lockouts

    def cycle(self, wet_s: float, dry_s: float = HOUR_S) -> None:
        """Water for a while, none until the run-on is over, and then for the rest of a pause."""
        assert self.see(WET)
        self.see(DRY, wet_s)
        assert not self.see(DRY, self.pump.run_on_s)
        self.see(DRY, dry_s - A_MOMENT_S)
        self.now_s += A_MOMENT_S


FREQUENT = settings_with(pump={"starts_per_hour": 20}).pump  # so that the rest is what holds a start back


def flooded(pump: Pump = PUMP) -> Pit:
    """A pit that a longest run has not emptied, at the end of it."""
    pit = Pit(pump)
    assert pit.see(WET)
    assert not pit.see(WET, pump.longest_run_s)
    return pit


def lost(pump: Pump = PUMP) -> Pit:
    """A pit whose float has just failed, which the pump has answered with its first duty run."""
    pit = Pit(pump)
    pit.see(LOST)
    assert not pit.see(LOST, MINUTE_S - A_MOMENT_S)
    assert pit.see(LOST, A_MOMENT_S)
    return pit


def test_water_starts_the_pump_and_the_start_is_counted() -> None:
    """The reason has the number of this start in the hour and the most allowed; the float is looked at."""
    pit = Pit()
    pit.cycle(MINUTE_S, 10 * MINUTE_S)
    assert pit.see(WET)
    assert pit.says() == (ReasonCode.PUMP_WET, {"starts": 2.0, "most": float(PUMP.starts_per_hour)})
    assert pit.phase() is PumpPhase.EMPTYING
    assert pit.state.wet_since_s == pit.state.last_water_s == pit.now_s
    since_s = pit.now_s
    pit.see(WET, MINUTE_S)
    assert (pit.state.wet_since_s, pit.state.last_water_s) == (since_s, pit.now_s)


def test_the_longest_run_ends_at_its_very_moment() -> None:
    """A moment before it the pump runs and asks to be looked at then; at it the pump stops and rests."""
    pit = Pit()
    pit.see(WET)
    assert pit.see(WET, PUMP.longest_run_s - A_MOMENT_S)
    assert pit.look_again_s == A_MOMENT_S
    assert not pit.see(WET, A_MOMENT_S)
    numbers = {"run_s": PUMP.longest_run_s, "rest_s": PUMP.rest_s}
    assert pit.says() == (ReasonCode.PUMP_LONGEST_RUN, numbers)
    assert pit.lockouts() == (Lockout.RESTING,)


def test_a_longest_run_is_followed_by_its_rest_to_the_moment() -> None:
    """Its own rest, not the shorter one of any other run."""
    pump = settings_with(pump={"rest_s": 180.0}).pump
    pit = flooded(pump)
    assert not pit.see(WET, 180.0 - A_MOMENT_S)
    assert pit.says() == (ReasonCode.PUMP_RESTING, {"left_s": A_MOMENT_S})
    assert pit.look_again_s == A_MOMENT_S
    assert pit.see(WET, A_MOMENT_S)
    assert pit.lockouts() == ()


@pytest.mark.parametrize(("early_s", "rest_s"), [(A_MOMENT_S, PUMP.rest_s), (0.0, 3.0 * PUMP.longest_run_s)])
def test_a_wet_float_is_doubted_from_twelve_hours_on(early_s: float, rest_s: float) -> None:
    """From the moment on the rest is three times the longest run, and the reason says why."""
    pit = Pit()
    pit.see(WET)
    rose_s = pit.now_s
    pit.now_s = rose_s + 12 * HOUR_S - early_s - PUMP.longest_run_s
    pit.output = OutputState(on=True, since_mono_s=pit.now_s, starts_mono_s=(pit.now_s,))
    assert not pit.see(WET, PUMP.longest_run_s)
    numbers: dict[str, float] = {"run_s": PUMP.longest_run_s, "rest_s": rest_s}
    if early_s:
        assert pit.says() == (ReasonCode.PUMP_LONGEST_RUN, numbers)
        return
    assert pit.says() == (ReasonCode.PUMP_DOUBTED, numbers | {"wet_for_s": 12 * HOUR_S})
    assert not pit.see(WET, rest_s - A_MOMENT_S)
    assert pit.look_again_s == A_MOMENT_S
    assert pit.see(WET, A_MOMENT_S)


def test_a_dry_look_ends_the_doubt() -> None:
    """A float that has fallen is believed again, and the next water waits for the ordinary rest only."""
    pit = flooded()
    pit.state = pit.state._replace(wet_since_s=pit.now_s - 13 * HOUR_S)
    assert not pit.see(WET, PUMP.rest_s)
    pit.see(DRY, 1.0)
    assert pit.see(WET, 1.0)


def test_a_short_run_is_followed_by_the_minimum_rest_to_the_moment() -> None:
    """When water is back at once, the reason says how long the motor still rests."""
    pit = Pit(FREQUENT)
    pit.cycle(MINUTE_S, PUMP.minimum_rest_s - 2 * A_MOMENT_S)
    assert not pit.see(WET, A_MOMENT_S)
    assert pit.says() == (ReasonCode.PUMP_RESTING, {"left_s": A_MOMENT_S})
    assert pit.lockouts() == (Lockout.RESTING,)
    assert pit.look_again_s == A_MOMENT_S
    assert pit.see(WET, A_MOMENT_S)


def test_water_that_drains_by_itself_leaves_no_lockout_behind() -> None:
    """A pump that waited for its rest has nothing to wait for once the float is dry."""
    pit = Pit(FREQUENT)
    pit.cycle(MINUTE_S, MINUTE_S)
    pit.see(WET)
    assert pit.lockouts() == (Lockout.RESTING,)
    pit.see(DRY, 1.0)
    assert pit.lockouts() == ()


def test_starts_are_spaced_to_the_moment() -> None:
    """An hour over the starts allowed lies between two of them, and who waits says so."""
    pump = settings_with(pump={"starts_per_hour": 8}).pump
    pit = Pit(pump)
    pit.cycle(MINUTE_S, 3 * MINUTE_S)
    left_s = HOUR_S / 8 - (pit.now_s - pit.output.starts_mono_s[-1])
    assert not pit.see(WET)
    assert pit.says() == (ReasonCode.PUMP_SPACED, {"left_s": left_s, "most": 8.0})
    assert pit.lockouts() == (Lockout.STARTS_SPACED,)
    assert pit.look_again_s == left_s
    assert not pit.see(WET, left_s - A_MOMENT_S)
    assert pit.see(WET, A_MOMENT_S)
    assert (pit.lockouts(), pit.state.crowded) == ((), 1)


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
    assert not pit.see(WET, pit.look_again_s - A_MOMENT_S)
    assert pit.see(WET, A_MOMENT_S)


def test_the_run_on_ends_at_its_very_moment() -> None:
    """It counts from the first dry look, and the reason gives the whole run and its dry part."""
    pit = Pit()
    pit.see(WET)
    assert pit.see(DRY, MINUTE_S)
    assert pit.look_again_s == PUMP.run_on_s
    assert pit.phase() is PumpPhase.RUN_ON
    assert pit.see(DRY, PUMP.run_on_s - A_MOMENT_S)
    assert pit.look_again_s == A_MOMENT_S
    assert not pit.see(DRY, A_MOMENT_S)
    numbers = {"run_s": MINUTE_S + PUMP.run_on_s, "run_on_s": PUMP.run_on_s}
    assert pit.says() == (ReasonCode.PUMP_EMPTIED, numbers)
    assert pit.phase() is PumpPhase.IDLE
    assert pit.state.fell_dry_s is None


def test_the_next_run_has_a_run_on_of_its_own() -> None:
    """What the last run remembered of its dry float is over with it."""
    pit = Pit()
    pit.cycle(MINUTE_S)
    pit.see(WET)
    assert pit.see(DRY, MINUTE_S)
    assert pit.see(DRY, PUMP.run_on_s - A_MOMENT_S)


def test_a_run_on_ends_with_the_longest_run_and_owes_its_rest() -> None:
    """A run that got dry just in time is the longest allowed all the same, and the motor rests for it."""
    pit = Pit()
    pit.see(WET)
    assert pit.see(DRY, PUMP.longest_run_s - 1.0)
    assert pit.look_again_s == 1.0
    assert pit.see(DRY, 1.0 - A_MOMENT_S)
    assert not pit.see(DRY, A_MOMENT_S)
    assert pit.says()[0] is ReasonCode.PUMP_EMPTIED
    assert not pit.see(WET, PUMP.rest_s - A_MOMENT_S)
    assert pit.see(WET, A_MOMENT_S)
    pit = Pit()
    pit.see(WET)
    assert pit.see(DRY, PUMP.longest_run_s - PUMP.run_on_s - A_MOMENT_S)
    assert not pit.see(DRY, PUMP.run_on_s)
    assert pit.phase() is PumpPhase.IDLE


def test_a_float_that_fails_during_the_run_on_starts_it_anew() -> None:
    """Not knowing ends the run-on: a float that comes back dry gets a whole one."""
    pit = Pit()
    pit.see(WET)
    pit.see(DRY, 8.0)
    assert pit.see(LOST, 10.0)
    assert pit.see(DRY, 10.0)
    assert pit.see(DRY, PUMP.run_on_s - A_MOMENT_S)
    assert not pit.see(DRY, A_MOMENT_S)


def test_water_back_in_the_last_moment_of_a_run_leaves_no_run_on_behind() -> None:
    """The next run's dry float is a new one, however dry the last run was before its end."""
    pit = Pit()
    pit.see(WET)
    pit.see(DRY, PUMP.longest_run_s - 5.0)
    assert not pit.see(WET, 5.0)
    assert pit.see(WET, PUMP.rest_s)
    assert pit.see(DRY, MINUTE_S)
    assert pit.see(DRY, PUMP.run_on_s - A_MOMENT_S)


def test_the_phase_tells_what_the_pump_does() -> None:
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


def test_a_dry_moment_takes_the_lockout_but_not_the_rest() -> None:
    """The rest of the motor goes on to its very end while what held the pump back is forgotten."""
    pit = flooded()
    assert not pit.see(DRY, PUMP.rest_s - A_MOMENT_S)
    assert (pit.phase(), pit.lockouts()) == (PumpPhase.RESTING, ())
    assert not pit.see(DRY, A_MOMENT_S)
    assert pit.phase() is PumpPhase.IDLE
    assert pit.says() == (ReasonCode.PUMP_DRY, {"for_s": PUMP.rest_s})


def test_how_the_last_run_ended_stays_the_reason_of_a_dry_pump() -> None:
    """Emptied and exercised are shown until the next run; anything else becomes a dry sump."""
    pit = Pit()
    pit.see(DRY)
    assert pit.says() == (ReasonCode.PUMP_DRY, {"for_s": DAY_S})
    pit.cycle(MINUTE_S)
    pit.see(DRY)
    assert pit.says()[0] is ReasonCode.PUMP_EMPTIED


def test_a_week_at_rest_ends_with_an_exercise_run_to_the_moment() -> None:
    """The run comes when the time is over, lasts as long as set, and both are given in numbers."""
    pit = Pit()
    pit.see(DRY)
    assert not pit.see(DRY, PUMP.exercise_every_s - DAY_S - A_MOMENT_S)
    assert pit.see(DRY, A_MOMENT_S)
    numbers = {"for_s": PUMP.exercise_every_s, "run_s": PUMP.exercise_run_s}
    assert pit.says() == (ReasonCode.PUMP_EXERCISE, numbers)
    assert pit.see(DRY, PUMP.exercise_run_s - A_MOMENT_S)
    assert pit.look_again_s == A_MOMENT_S
    assert not pit.see(DRY, A_MOMENT_S)
    assert pit.says() == (ReasonCode.PUMP_EXERCISE_DONE, {"run_s": PUMP.exercise_run_s})
    assert pit.phase() is PumpPhase.IDLE
    pit.see(DRY, HOUR_S)
    assert pit.says()[0] is ReasonCode.PUMP_EXERCISE_DONE


@pytest.mark.parametrize("level", [WET, LOST])
def test_an_exercise_run_gives_way_to_water_and_to_not_knowing(level: Level | Why) -> None:
    """From then on it is a run like any other: emptying, or duty, with their own ends."""
    pit = Pit()
    pit.see(DRY)
    assert pit.see(DRY, PUMP.exercise_every_s)
    assert pit.see(level, 2.0)
    assert pit.phase() is (PumpPhase.EMPTYING if level is WET else PumpPhase.DUTY)
    assert pit.see(level, PUMP.duty_run_s - 2.0 - A_MOMENT_S)
    assert pit.see(level, A_MOMENT_S) is (level is WET)


def test_a_float_that_fails_gets_a_minute_to_come_back() -> None:
    """A minute to the moment, given in numbers; a float that was back gets its minute again."""
    pit = lost()
    numbers = {"run_s": PUMP.duty_run_s, "every_s": PUMP.duty_run_s + PUMP.duty_rest_s}
    assert pit.says() == (ReasonCode.PUMP_DUTY, numbers)
    assert pit.phase() is PumpPhase.DUTY
    for level in (DRY, WET):
        pit = Pit(settings_with(pump={"starts_per_hour": 4}).pump)
        pit.cycle(MINUTE_S, MINUTE_S)  # no start for now: water waits
        pit.see(LOST)
        pit.see(level, 30.0)
        assert pit.state.unreadable_since_s is None
        pit.see(LOST, HOUR_S)
        assert pit.state.wet_since_s is None
        assert not pit.see(LOST, MINUTE_S - A_MOMENT_S)
        assert pit.see(LOST, A_MOMENT_S)


def test_a_duty_run_and_its_rest_last_to_the_moment() -> None:
    """A minute of duty, a quarter of an hour between two starts, and both in the numbers."""
    pit = lost()
    assert pit.see(LOST, PUMP.duty_run_s - A_MOMENT_S)
    assert pit.look_again_s == A_MOMENT_S
    assert not pit.see(LOST, A_MOMENT_S)
    numbers = {"run_s": PUMP.duty_run_s, "every_s": PUMP.duty_run_s + PUMP.duty_rest_s}
    assert pit.says() == (ReasonCode.PUMP_DUTY_DONE, numbers)
    assert not pit.see(LOST, PUMP.duty_rest_s - A_MOMENT_S)
    assert pit.says()[0] is ReasonCode.PUMP_DUTY_DONE
    assert pit.see(LOST, A_MOMENT_S)


@pytest.mark.parametrize("duty_rest_s", [840.0, 7200.0])
def test_the_second_day_of_duty_begins_at_its_very_moment(duty_rest_s: float) -> None:
    """A day after the float failed the rest becomes an hour, unless a longer one is set."""
    pit = lost(settings_with(pump={"duty_rest_s": duty_rest_s}).pump)
    lost_at_s = pit.now_s - MINUTE_S
    pit.see(LOST, PUMP.duty_run_s)
    pit.now_s = lost_at_s + DAY_S - A_MOMENT_S
    assert pit.see(LOST)
    assert pit.says()[1]["every_s"] == PUMP.duty_run_s + duty_rest_s
    assert not pit.see(LOST, PUMP.duty_run_s)
    slow_s = max(HOUR_S, duty_rest_s)
    assert pit.says()[1]["every_s"] == PUMP.duty_run_s + slow_s
    assert not pit.see(LOST, slow_s - A_MOMENT_S)
    assert pit.see(LOST, A_MOMENT_S)


def test_a_day_to_the_moment_is_no_longer_the_first() -> None:
    """At the end of the first day the next run waits for the hour."""
    pit = lost()
    lost_at_s = pit.now_s - MINUTE_S
    pit.see(LOST, PUMP.duty_run_s)
    pit.now_s = lost_at_s + DAY_S - PUMP.duty_rest_s - PUMP.duty_run_s
    assert pit.see(LOST)
    pit.see(LOST, PUMP.duty_run_s)
    assert not pit.see(LOST, PUMP.duty_rest_s)


def test_duty_keeps_to_the_starts_of_an_hour() -> None:
    """A float that cannot be believed is no excuse for more starts than the motor may have."""
    pit = Pit(settings_with(pump={"starts_per_hour": 1}).pump)
    pit.cycle(MINUTE_S, HOUR_S / 2.0)
    started_s = pit.output.starts_mono_s[0]
    pit.see(LOST)
    assert not pit.see(LOST, started_s + HOUR_S - pit.now_s - A_MOMENT_S)
    assert pit.see(LOST, A_MOMENT_S)


def test_duty_after_water_shows_no_lockout() -> None:
    """A start by the clock takes back what the resting motor had to show."""
    pit = flooded()
    pit.see(LOST)
    assert pit.see(LOST, PUMP.duty_rest_s)
    assert pit.lockouts() == ()


@pytest.mark.parametrize("why", [Why.NEVER_READ, LOST])
def test_a_float_without_a_reading_counts_as_water_until_it_is_dry_again_soon(why: Why) -> None:
    """Every look without a reading counts as water; two dry looks close together take that back."""
    pit = Pit()
    known_s = pit.state.last_water_s
    pit.see(why)
    pit.see(why, MINUTE_S - A_MOMENT_S)  # after a minute the pump would run by the clock
    assert pit.state.last_water_s == pit.now_s
    kept, pit.now_s = pit.state, known_s + DAY_S + SHORT_BLIND_S
    pit.see(DRY)
    assert (pit.state.last_water_s, pit.state.unreadable_since_s) == (known_s, None)
    pit.state = kept
    pit.see(DRY, A_MOMENT_S)
    assert (pit.state.last_water_s, pit.state.unreadable_since_s) == (kept.last_water_s, None)
