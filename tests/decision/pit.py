"""One sump by itself: set what its float reads, let time pass, look at what the pump rule wants.

Times are fractions that floats hold exactly, so that an end can be tried on the spot and a moment beside it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.pump import PumpInput, pump_intent
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Lockout, OutputState, PumpPhase, SumpState
from controller.decision.timers import switched
from controller.readings.reading import Good, Level, Missing, Why
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, settings_with

if TYPE_CHECKING:
    from controller.settings.schema import Pump

PUMP = HOUSE.pump
FREQUENT = settings_with(pump={"starts_per_hour": 20}).pump  # so that the rest is what holds a start back
DAY_S = 24 * HOUR_S
A_MOMENT_S = 0.125
WET, DRY, LOST = Level.WET, Level.DRY, Why.UNREADABLE


class Pit:
    """A sump, dry for a day at first, whose pump is granted every start it asks for."""

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

    def ends(self, level: Level | Why, left_s: float) -> bool:
        """Whether this run, or this wait, ends after just so long and the rule asks to be looked at then."""
        before = self.output.on
        self.see(level, left_s - A_MOMENT_S)
        held = self.output.on is before and self.look_again_s in (A_MOMENT_S, None)
        self.see(level, A_MOMENT_S)
        return held and self.output.on is not before

    def says(self, code: ReasonCode, **numbers: float) -> bool:
        """Whether this is the present reason and these are among its numbers."""
        reason = self.state.reason
        return reason.code is code and numbers.items() <= reason.numbers.items()

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


def filled(pump: Pump = PUMP) -> Pit:
    """A pit whose pump has just met water."""
    pit = Pit(pump)
    assert pit.see(WET)
    return pit


def flooded(pump: Pump = PUMP) -> Pit:
    """A pit that a longest run has not emptied, at the end of it."""
    pit = filled(pump)
    assert not pit.see(WET, pump.longest_run_s)
    return pit


def lost(pump: Pump = PUMP) -> Pit:
    """A pit whose float has failed a minute ago, which the pump has answered with its first duty run."""
    pit = Pit(pump)
    pit.see(LOST)
    assert pit.ends(LOST, MINUTE_S)
    return pit


def exercised(pump: Pump = PUMP) -> Pit:
    """A pit whose pump has been idle for so long that it is exercised now."""
    pit = Pit(pump)
    assert not pit.see(DRY)
    assert pit.ends(DRY, pump.exercise_every_s - DAY_S)
    return pit
