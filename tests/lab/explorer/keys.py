"""Distinguishes states of the decision by what can still matter, and builds a state from that again.

A key holds ages in ticks instead of times, each counted no further than the longest timer that asks for it:
the rules compare ages with ``<`` and ``>=`` only, so two states that differ beyond it behave alike. Left out
is what cannot reach a command of an output:

- reasons, lockouts and doubts of sumps, crowded starts, alarms, the trend of emptying, since when a fire is
  latched: words and numbers for people; no rule reads them. ``SumpState.reason`` decides only whether another
  reason replaces it, and ``FanState.lockouts`` is read for a root zone at its lower limit, which this house
  has no probe for and whose soil is never that cold.
- proof and the records of failed runs: without an outlet probe every run is untestable and never fails. It
  is asserted that no run fails.
- what the diagnosis has learned is no part of the state. What it hints at matters only to loops with an
  outlet probe and to how much heat a loop is said to move; ``sampling`` tries hints at random.
- need: it can refuse banking, or allow a purge by night (which is off), only in soil that is warmer than this
  house's ever is.
- the traces of the fire watch: with one sample a tick they hold two, and a rise needs a third between them.

That all this is so is tried by ``sampling``: states with other values in everything left out must give the
same commands and the same next key.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.decide import initial_state
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import (
    Demand,
    DryBefore,
    FanState,
    FireState,
    OutputState,
    PumpPhase,
    SumpState,
)
from controller.equipment import OutputId
from tests.lab.explorer.small_house import BELIEVED_TICKS, HOUR_TICKS, TICK_S, Timers

if TYPE_CHECKING:
    from controller.decision.state import ControllerState
    from controller.settings.schema import Settings

DEMANDS, PHASES = list(Demand), list(PumpPhase)
WORDS = Reason(ReasonCode.STARTED, {"rest_s": 0.0})
PATIENCE_TICKS = 1  # the pump waits a minute for an unreadable float, which is within one tick


class UntoldError(Exception):
    """A state holds something that has no place in a key."""


class Keys:
    """The keys of one small house."""

    def __init__(self, settings: Settings, timers: Timers) -> None:
        self.fans = [OutputId.fan(name) for name in settings.loops]
        self.pumps = [OutputId.pump(name) for name in settings.sumps]
        self.timers = timers
        self._fresh = initial_state(settings, 0.0)
        self._fan_ages = (timers.fan_rest, max(timers.fan_run, timers.purge))
        self._pump_ages = (
            max(timers.exercise_every, 3 * timers.longest_run, timers.rest, timers.pump_rest, HOUR_TICKS),
            timers.longest_run,
        )

    def key_of(self, state: ControllerState, now_s: float) -> bytes:
        """The key of a state, ``now_s`` being the time of the tick that led to it.

        Raises:
            UntoldError: the state holds what this house can never have, or a time between two ticks.
        """
        parts: list[int] = [
            _age(now_s, state.last_start_s, self.timers.stagger),
            int(state.fire.latched_detail is not None),
        ]
        for output in self.fans:
            motor, fan = state.outputs[output], state.fans[output.name]
            failed = fan.weak_since_s is not None or fan.back_off_until_s is not None or fan.failed_runs
            if failed or (fan.demand is None) == motor.on:
                raise UntoldError(f"{output} remembers {fan}")
            parts += self._motor(motor, now_s, self._fan_ages)
            parts.append(0 if fan.demand is None else 1 + DEMANDS.index(fan.demand))
        for output in self.pumps:
            sump, t = state.sumps[output.name], self.timers
            parts += self._motor(state.outputs[output], now_s, self._pump_ages)
            parts += (
                PHASES.index(sump.phase),
                _age(now_s, sump.last_water_s, t.drain_down),
                _since(now_s, sump.wet_since_s, BELIEVED_TICKS),
                _since(now_s, sump.unreadable_since_s, PATIENCE_TICKS),
                _since(now_s, sump.fell_dry_s, t.run_on),
                *self._dry_before(sump, now_s),
            )
        return bytes(parts)

    def _dry_before(self, sump: SumpState, now_s: float) -> tuple[int, int]:
        """What is known of a float that was lost, while that is not yet too long ago to matter."""
        dry, t = sump.dry_before, self.timers
        if dry is None or now_s - dry.at_s > t.blind * TICK_S:
            return 0, 0
        return _since(now_s, dry.at_s, t.blind), _age(now_s, dry.last_water_s, t.drain_down)

    @staticmethod
    def _motor(motor: OutputState, now_s: float, oldest: tuple[int, int]) -> tuple[int, int, int]:
        starts = 0
        for at_s in motor.starts_mono_s:
            age = _age(now_s, at_s, HOUR_TICKS)
            if age < HOUR_TICKS:
                starts |= 1 << age
        return int(motor.on), _age(now_s, motor.since_mono_s, oldest[motor.on]), starts

    def state_of(self, key: bytes) -> ControllerState:
        """A state with this key, at time 0."""
        parts = iter(key)
        last_start_s, latched = -next(parts) * TICK_S, next(parts)
        outputs: dict[OutputId, OutputState] = {}
        fans: dict[str, FanState] = {}
        sumps: dict[str, SumpState] = {}
        for output in self.fans:
            outputs[output] = _motor_of(next(parts), next(parts), next(parts))
            demand = next(parts)
            fans[output.name] = FanState(DEMANDS[demand - 1] if demand else None, WORDS)
        for output in self.pumps:
            outputs[output] = _motor_of(next(parts), next(parts), next(parts))
            phase, water = PHASES[next(parts)], next(parts)
            wet_s, unreadable_s, fell_dry_s = (_time(next(parts)) for _ in range(3))
            lost_s, was_wet = _time(next(parts)), next(parts)
            sumps[output.name] = SumpState(
                phase, WORDS, -water * TICK_S, wet_s, unreadable_s, fell_dry_s,
                dry_before=None if lost_s is None else DryBefore(lost_s, -was_wet * TICK_S, None),
            )  # fmt: skip
        fire = FireState("seen", 0.0) if latched else FireState()
        return self._fresh._replace(
            outputs=outputs, fans=fans, sumps=sumps, fire=fire, last_start_s=last_start_s
        )


def _age(now_s: float, at_s: float, oldest: int) -> int:
    ticks = (now_s - at_s) / TICK_S
    if ticks != int(ticks) or ticks < 0:
        raise UntoldError(f"an age of {ticks} ticks")
    return min(int(ticks), oldest)


def _since(now_s: float, at_s: float | None, oldest: int) -> int:
    return 0 if at_s is None else 1 + _age(now_s, at_s, oldest)


def _time(kept: int) -> float | None:
    return None if kept == 0 else -(kept - 1) * TICK_S


def _motor_of(on: int, age: int, starts: int) -> OutputState:
    ages = [age for age in range(HOUR_TICKS - 1, -1, -1) if starts >> age & 1]
    return OutputState(bool(on), -age * TICK_S, tuple(-age * TICK_S for age in ages))
