"""The pump rule of one sump: empty it, and stay safe when the float cannot be believed.

Water does not harm a submerged pump, running dry does. So a wet float is pumped in long runs with short
rests. Three things bound dry running: the run-on once the float is dry, a duty by the clock while it cannot
be read, and a quarter of the time once it has read wet for longer than water is likely to stand.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from controller.decision import emptying
from controller.decision.lockouts import float_dry, float_lost
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Lockout, PumpPhase, SumpState
from controller.decision.timers import starts_in_last_hour
from controller.faults import DAY_S, HOUR_S
from controller.readings.reading import Level, Missing

if TYPE_CHECKING:
    from controller.decision.state import EmptyingTrend, OutputState
    from controller.readings.reading import LevelReading
    from controller.settings.schema import Pump

# Before the pump runs by the clock the float gets this long to come back. [practice]
UNREADABLE_PATIENCE_S = 60.0
# After a day of running by the clock the pump runs only once an hour. [practice]
SLOW_DUTY_REST_S = HOUR_S
# A float that reads wet without a break is believed for this long, whatever the emptying looks like: a person
# was called within the hour and has had half a day. From then on the pump rests three times as long as it
# runs, which still empties full tubes once the inflow has fallen. [practice]
BELIEVED_WET_S = 12.0 * HOUR_S
DOUBTED_REST = 3.0
A_MOMENT_S = 0.05


class PumpInput(NamedTuple):
    """Everything one pump is decided on."""

    pump: Pump
    level: LevelReading
    output: OutputState
    before: SumpState
    now_s: float


class PumpIntent(NamedTuple):
    """What the rule wants: ``on`` is final for a running pump; a stopped pump asks to start first.

    ``look_again_s``: seconds until this rule must be asked again even if nothing else happens, or None.
    """

    state: SumpState
    on: bool
    asks_to_start: bool = False
    look_again_s: float | None = None


def pump_intent(seen: PumpInput) -> PumpIntent:
    """Decide one sump's pump, leaving only the stagger between motors to the caller."""
    state = _with_level(seen)
    if state is not seen.before:
        seen = seen._replace(before=state)
    if seen.output.on:
        return _running(seen)
    return _stopped(seen)


def _with_level(seen: PumpInput) -> SumpState:
    """Bring the water's own history up to date."""
    before, level, now_s = seen.before, seen.level, seen.now_s
    if isinstance(level, Missing):
        lost = float_lost(before, level.why, seen.output, now_s)
        return lost._replace(trend=emptying.undone(lost.trend))
    if level.value is Level.WET:
        since_s = before.wet_since_s if before.wet_since_s is not None else now_s
        trend = before.trend if before.wet_since_s is not None else _trend_at_rise(seen)
        return before._replace(
            wet_since_s=since_s,
            unreadable_since_s=None,
            last_water_s=now_s,
            trend=trend,
            doubt=None,
            dry_before=None,
        )
    if before.wet_since_s is not None:
        trend = emptying.fallen(before.trend, seen.output, before.wet_since_s, now_s)
        before = before._replace(trend=trend)
    return float_dry(before, seen.output, now_s)


def _trend_at_rise(seen: PumpInput) -> EmptyingTrend:
    """Water has come: after a stop of the pump this ends a cycle, during a run it spoils one."""
    trend, refill_s = seen.before.trend, seen.now_s - seen.output.since_mono_s
    exercised = seen.before.reason.code is ReasonCode.PUMP_EXERCISE_DONE
    if seen.output.on or (exercised and refill_s <= emptying.BRISK_S):
        # An exercise run takes some water, too; in a slow refill that is nothing.
        trend = emptying.undone(trend)
    return emptying.risen(trend, refill_s)


def _running(seen: PumpInput) -> PumpIntent:
    match seen.before.phase:
        case PumpPhase.DUTY:
            return _in_duty(seen)
        case PumpPhase.EXERCISE:
            return _in_exercise(seen)
        case _:
            return _emptying(seen)


def _ended(
    seen: PumpInput, state: SumpState, code: ReasonCode, numbers: dict[str, float | str]
) -> PumpIntent:
    """Stop. Every run ends here, so that the rest it owes depends on its length alone."""
    full = _ran_s(seen) >= seen.pump.longest_run_s
    phase = PumpPhase.RESTING if full else PumpPhase.IDLE
    return PumpIntent(state._replace(phase=phase, reason=Reason(code, numbers), fell_dry_s=None), on=False)


def _ran_s(seen: PumpInput) -> float:
    return seen.now_s - seen.output.since_mono_s


def _emptying(seen: PumpInput) -> PumpIntent:
    state, pump, ran_s = seen.before, seen.pump, _ran_s(seen)
    if isinstance(seen.level, Missing):
        return _in_duty(seen._replace(before=state._replace(phase=PumpPhase.DUTY, fell_dry_s=None)))
    if seen.level.value is Level.WET:
        if ran_s >= pump.longest_run_s:
            return _long_run_over(seen)
        state = state._replace(phase=PumpPhase.EMPTYING, fell_dry_s=None)
        return PumpIntent(state, on=True, look_again_s=pump.longest_run_s - ran_s)
    fell_dry_s = state.fell_dry_s if state.fell_dry_s is not None else seen.now_s
    dry_s = seen.now_s - fell_dry_s
    if dry_s >= pump.run_on_s or ran_s >= pump.longest_run_s:
        state = state._replace(trend=emptying.stopped(state.trend, dry_s))
        return _ended(seen, state, ReasonCode.PUMP_EMPTIED, {"run_s": ran_s, "run_on_s": dry_s})
    left_s = min(pump.run_on_s - dry_s, pump.longest_run_s - ran_s)
    state = state._replace(phase=PumpPhase.RUN_ON, fell_dry_s=fell_dry_s)
    return PumpIntent(state, on=True, look_again_s=left_s)


def _long_run_over(seen: PumpInput) -> PumpIntent:
    """The float is still wet after the longest run."""
    numbers: dict[str, float | str] = {"run_s": _ran_s(seen), "rest_s": _long_rest_s(seen)}
    code = ReasonCode.PUMP_LONGEST_RUN
    if _doubted(seen):
        code, numbers["wet_for_s"] = ReasonCode.PUMP_DOUBTED, BELIEVED_WET_S
    return _ended(seen, seen.before._replace(lockouts=(Lockout.RESTING,)), code, numbers)


def _doubted(seen: PumpInput) -> bool:
    """Whether the float has read wet for so long that it is no longer believed."""
    since_s = seen.before.wet_since_s
    return since_s is not None and seen.now_s - since_s >= BELIEVED_WET_S


def _long_rest_s(seen: PumpInput) -> float:
    """The rest after a longest run."""
    return DOUBTED_REST * seen.pump.longest_run_s if _doubted(seen) else seen.pump.rest_s


def _rest_owed_s(seen: PumpInput) -> float:
    """The rest the motor is owed now."""
    if seen.before.phase is PumpPhase.RESTING:
        return _long_rest_s(seen)
    return seen.pump.minimum_rest_s


def _held(seen: PumpInput) -> tuple[float, Lockout]:
    """For how long a start is still forbidden, and why; 0 or less if it is allowed.

    Starts are spaced evenly over the hour, so that they are never all spent while water waits.
    """
    output, pump, now_s = seen.output, seen.pump, seen.now_s
    most, starts_s = pump.starts_per_hour, output.starts_mono_s
    # Ages are subtracted, never added to a time: rounded the other way a start could come a hair too soon.
    waits = [(_rest_owed_s(seen) - _ran_s(seen), Lockout.RESTING)]
    if starts_s:
        waits.append((HOUR_S / most - (now_s - starts_s[-1]), Lockout.STARTS_SPACED))
    if starts_in_last_hour(output, now_s) >= most:  # by rounding, or new settings allow fewer than there were
        waits.append((max(HOUR_S - (now_s - starts_s[-most]), A_MOMENT_S), Lockout.STARTS_SPACED))
    return max(waits, key=lambda wait: wait[0])


def _in_duty(seen: PumpInput) -> PumpIntent:
    if not isinstance(seen.level, Missing):
        back = seen.before._replace(phase=PumpPhase.EMPTYING)
        return _emptying(seen._replace(before=back))
    ran_s, run_s = _ran_s(seen), seen.pump.duty_run_s
    if ran_s < run_s:
        return PumpIntent(seen.before, on=True, look_again_s=run_s - ran_s)
    numbers: dict[str, float | str] = {"run_s": ran_s, "every_s": run_s + _duty_rest_s(seen)}
    return _ended(seen, seen.before, ReasonCode.PUMP_DUTY_DONE, numbers)


def _duty_rest_s(seen: PumpInput) -> float:
    since_s = seen.before.unreadable_since_s
    first_day = since_s is None or seen.now_s - since_s < DAY_S
    return seen.pump.duty_rest_s if first_day else max(seen.pump.duty_rest_s, SLOW_DUTY_REST_S)


def _in_exercise(seen: PumpInput) -> PumpIntent:
    if isinstance(seen.level, Missing) or seen.level.value is Level.WET:
        back = seen.before._replace(phase=PumpPhase.EMPTYING)
        return _emptying(seen._replace(before=back))
    ran_s = _ran_s(seen)
    left_s = seen.pump.exercise_run_s - ran_s
    if left_s > 0.0:
        return PumpIntent(seen.before, on=True, look_again_s=left_s)
    return _ended(seen, seen.before, ReasonCode.PUMP_EXERCISE_DONE, {"run_s": ran_s})


def _stopped(seen: PumpInput) -> PumpIntent:
    if isinstance(seen.level, Missing):
        return _stopped_unreadable(seen)
    if seen.level.value is Level.WET:
        return _stopped_wet(seen)
    state, idle_s = seen.before, _ran_s(seen)
    if state.lockouts:
        state = state._replace(lockouts=())
    if state.phase is PumpPhase.RESTING and idle_s < seen.pump.rest_s:
        return PumpIntent(state, on=False)  # a float that dips for a moment does not end the rest
    if state.phase is not PumpPhase.IDLE:
        state = state._replace(phase=PumpPhase.IDLE)
    if state.reason.code not in (ReasonCode.PUMP_EMPTIED, ReasonCode.PUMP_EXERCISE_DONE):
        state = state._replace(reason=Reason(ReasonCode.PUMP_DRY, {"for_s": idle_s}))
    if idle_s >= seen.pump.exercise_every_s:
        numbers = {"for_s": idle_s, "run_s": seen.pump.exercise_run_s}
        return _ask(state._replace(phase=PumpPhase.EXERCISE), ReasonCode.PUMP_EXERCISE, numbers)
    return PumpIntent(state, on=False)


def _stopped_wet(seen: PumpInput) -> PumpIntent:
    state, pump = seen.before, seen.pump
    left_s, lockout = _held(seen)
    if left_s <= 0.0:
        numbers = {
            "starts": float(starts_in_last_hour(seen.output, seen.now_s) + 1),
            "most": float(pump.starts_per_hour),
        }
        crowded = state.crowded + 1 if Lockout.STARTS_SPACED in state.lockouts else 0
        asking = state._replace(phase=PumpPhase.EMPTYING, lockouts=(), crowded=crowded)
        return _ask(asking, ReasonCode.PUMP_WET, numbers)
    if lockout is Lockout.RESTING:
        reason = Reason(ReasonCode.PUMP_RESTING, {"left_s": left_s})
    else:
        reason = Reason(ReasonCode.PUMP_SPACED, {"left_s": left_s, "most": float(pump.starts_per_hour)})
    return PumpIntent(state._replace(reason=reason, lockouts=(lockout,)), on=False, look_again_s=left_s)


def _stopped_unreadable(seen: PumpInput) -> PumpIntent:
    state, pump = seen.before, seen.pump
    since_s = state.unreadable_since_s if state.unreadable_since_s is not None else seen.now_s
    rest_s = _duty_rest_s(seen)
    patient = seen.now_s - since_s < UNREADABLE_PATIENCE_S
    if patient or _ran_s(seen) < rest_s or _held(seen)[0] > 0.0:
        return PumpIntent(state, on=False)
    numbers = {"run_s": pump.duty_run_s, "every_s": pump.duty_run_s + rest_s}
    return _ask(state._replace(phase=PumpPhase.DUTY, lockouts=()), ReasonCode.PUMP_DUTY, numbers)


def _ask(state: SumpState, code: ReasonCode, numbers: dict[str, float]) -> PumpIntent:
    """Ask for a start; the phase counts only if the start is granted."""
    return PumpIntent(state._replace(reason=Reason(code, dict(numbers))), on=False, asks_to_start=True)
