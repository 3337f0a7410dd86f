"""The pump rule of one sump: empty it, protect the motor, and stay safe when the float cannot be believed."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from controller.decision.lockouts import float_dry, float_lost
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import EmptyingTrend, Lockout, PumpPhase, SumpState
from controller.decision.timers import start_lockout, starts_in_last_hour
from controller.readings.reading import Level, Missing

if TYPE_CHECKING:
    from controller.decision.state import OutputState
    from controller.readings.reading import LevelReading
    from controller.settings.schema import Pump

# Before the pump runs by the clock the float gets this long to come back. Common practice, no source.
UNREADABLE_PATIENCE_S = 60.0
# After a day of running by the clock once an hour must do. Common practice, no source.
FIRST_DAY_S = 86400.0
SLOW_DUTY_REST_S = 3600.0
# Water back this soon after a short emptying points at the check valve. Common practice, no source.
QUICK_RETURN_S = 120.0
USUAL_WEIGHT = 0.1
CYCLES_TO_KNOW = 5
# An emptying this many times longer than usual is slow. Common practice, no source.
SLOW_TIMES = 3.0
SLOW_AT_LEAST_S = 60.0
# After a dry pause as long as this little water runs in while the pump works, so that less is slow already:
# the pump moves two thirds of what it did. Common practice, no source.
CALM_S = 1800.0
SLOW_TIMES_CALM = 1.5
# Rain comes and goes; a check valve lets the same water back in the same, short time. Common practice, no
# source; in rehearsed years no sump filled in less than 14 min.
RETURN_WITHIN_S = 420.0
REGULAR_SHARE = 0.1


class PumpInput(NamedTuple):
    """Everything one pump is decided on."""

    pump: Pump
    level: LevelReading
    output: OutputState
    before: SumpState
    now_s: float


class PumpIntent(NamedTuple):
    """What the rule wants: ``on`` is final for a running pump; a stopped pump asks to start first.

    ``look_again_s``: seconds until this rule has to be asked again even if nothing else happens, or None.
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
        return float_lost(before, level.why, seen.output, now_s)
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
    return float_dry(before, seen.output, now_s)


def _trend_at_rise(seen: PumpInput) -> EmptyingTrend:
    """Water came: was it back at once after a short emptying, or after the same time once more?"""
    trend, before = seen.before.trend, seen.before
    if seen.output.on or before.phase is not PumpPhase.IDLE:
        return trend
    dry_s = seen.now_s - seen.output.since_mono_s
    short = trend.usual_s is not None and trend.last_s is not None and trend.last_s <= 0.5 * trend.usual_s
    quick_returns = trend.quick_returns + 1 if dry_s < QUICK_RETURN_S and short else 0
    return_s, returns = trend.return_s, trend.returns + 1
    if return_s is None or abs(dry_s - return_s) > REGULAR_SHARE * return_s:
        return_s, returns = (dry_s if dry_s <= RETURN_WITHIN_S else None), 0
    return trend._replace(
        quick_returns=quick_returns, return_s=return_s, returns=returns, calm=dry_s >= CALM_S
    )


def _running(seen: PumpInput) -> PumpIntent:
    match seen.before.phase:
        case PumpPhase.DUTY:
            return _in_duty(seen)
        case PumpPhase.EXERCISE:
            return _in_exercise(seen)
        case _:
            return _emptying(seen)


def _emptying(seen: PumpInput) -> PumpIntent:
    state, pump = seen.before, seen.pump
    ran_s = seen.now_s - seen.output.since_mono_s
    if isinstance(seen.level, Missing):
        return _in_duty(seen._replace(before=state._replace(phase=PumpPhase.DUTY, fell_dry_s=None)))
    if seen.level.value is Level.WET:
        if ran_s >= pump.longest_run_s:
            return _rested(seen, ran_s)
        state = state._replace(phase=PumpPhase.EMPTYING, fell_dry_s=None)
        return PumpIntent(state, on=True, look_again_s=pump.longest_run_s - ran_s)
    fell_dry_s = state.fell_dry_s if state.fell_dry_s is not None else seen.now_s
    dry_s = seen.now_s - fell_dry_s
    if dry_s >= pump.run_on_s or ran_s >= pump.longest_run_s:
        return _emptied(seen, fell_dry_s, ran_s)
    left_s = min(pump.run_on_s - dry_s, pump.longest_run_s - ran_s)
    state = state._replace(phase=PumpPhase.RUN_ON, fell_dry_s=fell_dry_s)
    return PumpIntent(state, on=True, look_again_s=left_s)


def _emptied(seen: PumpInput, fell_dry_s: float, ran_s: float) -> PumpIntent:
    reason = Reason(ReasonCode.PUMP_EMPTIED, {"run_s": ran_s, "run_on_s": seen.now_s - fell_dry_s})
    trend = _trend_at_end(seen.before.trend, fell_dry_s - seen.output.since_mono_s)
    # Even a run that emptied the sump is owed the long rest if it was the longest allowed.
    phase = PumpPhase.IDLE if ran_s < seen.pump.longest_run_s else PumpPhase.RESTING
    state = seen.before._replace(phase=phase, reason=reason, fell_dry_s=None, tries=0, trend=trend)
    return PumpIntent(state, on=False)


def _trend_at_end(trend: EmptyingTrend, emptying_s: float) -> EmptyingTrend:
    """The trend after one more emptying; slow ones are counted and kept out of the usual time."""
    cycles = trend.cycles + 1
    if trend.usual_s is None:
        usual_s = emptying_s if cycles >= CYCLES_TO_KNOW else None
        return trend._replace(cycles=cycles, usual_s=usual_s, last_s=emptying_s)
    slow_s = max(SLOW_TIMES * trend.usual_s, SLOW_AT_LEAST_S)
    if trend.calm:
        slow_s = SLOW_TIMES_CALM * trend.usual_s
    if emptying_s > slow_s:
        return trend._replace(cycles=cycles, last_s=emptying_s, slow_runs=trend.slow_runs + 1)
    usual_s = trend.usual_s + USUAL_WEIGHT * (emptying_s - trend.usual_s)
    return trend._replace(cycles=cycles, usual_s=usual_s, last_s=emptying_s, slow_runs=0)


def _rested(seen: PumpInput, ran_s: float) -> PumpIntent:
    """The float is still wet after the longest run: stop, rest, count the try."""
    tries = seen.before.tries + 1
    numbers: dict[str, float | str] = {
        "run_s": ran_s,
        "rest_s": _rest_s(seen.pump, tries),
        "tries": float(tries),
    }
    reason = Reason(ReasonCode.PUMP_LONGEST_RUN, numbers)
    state = seen.before._replace(phase=PumpPhase.RESTING, reason=reason, fell_dry_s=None, tries=tries,
        lockouts=(Lockout.RESTING,),
    )  # fmt: skip
    return PumpIntent(state, on=False)


def _rest_s(pump: Pump, tries: int) -> float:
    """Rest after a run that did not empty the sump; once all tries are spent, an hour."""
    return pump.rest_s if tries < pump.tries else max(pump.rest_s, SLOW_DUTY_REST_S)


def _rest_before_start_s(seen: PumpInput) -> float:
    """Rest the motor is owed now: the shortest pause, or the long one after a longest run."""
    if seen.before.phase is PumpPhase.RESTING:
        return max(seen.pump.minimum_rest_s, _rest_s(seen.pump, seen.before.tries))
    return seen.pump.minimum_rest_s


def _in_duty(seen: PumpInput) -> PumpIntent:
    if not isinstance(seen.level, Missing):
        back = seen.before._replace(phase=PumpPhase.EMPTYING)
        return _emptying(seen._replace(before=back))
    ran_s = seen.now_s - seen.output.since_mono_s
    longest_s = min(seen.pump.duty_run_s, seen.pump.longest_run_s)
    if ran_s < longest_s:
        return PumpIntent(seen.before, on=True, look_again_s=longest_s - ran_s)
    numbers = {"run_s": ran_s, "every_s": seen.pump.duty_run_s + _duty_rest_s(seen)}
    phase = PumpPhase.IDLE if ran_s < seen.pump.longest_run_s else PumpPhase.RESTING
    state = seen.before._replace(phase=phase, reason=Reason(ReasonCode.PUMP_DUTY_DONE, numbers))
    return PumpIntent(state, on=False)


def _duty_rest_s(seen: PumpInput) -> float:
    since_s = seen.before.unreadable_since_s
    first_day = since_s is None or seen.now_s - since_s < FIRST_DAY_S
    return seen.pump.duty_rest_s if first_day else max(seen.pump.duty_rest_s, SLOW_DUTY_REST_S)


def _in_exercise(seen: PumpInput) -> PumpIntent:
    if isinstance(seen.level, Missing) or seen.level.value is Level.WET:
        back = seen.before._replace(phase=PumpPhase.EMPTYING)
        return _emptying(seen._replace(before=back))
    ran_s = seen.now_s - seen.output.since_mono_s
    left_s = seen.pump.exercise_run_s - ran_s
    if left_s > 0.0:
        return PumpIntent(seen.before, on=True, look_again_s=left_s)
    reason = Reason(ReasonCode.PUMP_EXERCISE_DONE, {"run_s": ran_s})
    return PumpIntent(seen.before._replace(phase=PumpPhase.IDLE, reason=reason), on=False)


def _stopped(seen: PumpInput) -> PumpIntent:
    if isinstance(seen.level, Missing):
        return _stopped_unreadable(seen)
    if seen.level.value is Level.WET:
        return _stopped_wet(seen)
    state = seen.before
    idle_s = seen.now_s - seen.output.since_mono_s
    if state.tries or state.lockouts:
        state = state._replace(tries=0, lockouts=())
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
    rest_s = _rest_before_start_s(seen)
    limit = start_lockout(seen.output, rest_s, pump.starts_per_hour, seen.now_s)
    if limit is None:
        numbers = {
            "starts": float(starts_in_last_hour(seen.output, seen.now_s) + 1),
            "most": float(pump.starts_per_hour),
        }
        asking = state._replace(phase=PumpPhase.EMPTYING, lockouts=())
        return _ask(asking, ReasonCode.PUMP_WET, numbers)
    if limit is Lockout.RESTING:
        left_s = seen.output.since_mono_s + rest_s - seen.now_s
        reason = Reason(ReasonCode.PUMP_RESTING, {"left_s": left_s})
        return PumpIntent(state._replace(reason=reason, lockouts=(limit,)), on=False, look_again_s=left_s)
    starts = float(starts_in_last_hour(seen.output, seen.now_s))
    reason = Reason(ReasonCode.STARTS_SPENT, {"starts": starts})
    return PumpIntent(state._replace(reason=reason, lockouts=(limit,)), on=False)


def _stopped_unreadable(seen: PumpInput) -> PumpIntent:
    state, pump = seen.before, seen.pump
    since_s = state.unreadable_since_s if state.unreadable_since_s is not None else seen.now_s
    rest_s = max(_duty_rest_s(seen), _rest_before_start_s(seen))
    patient = seen.now_s - since_s < UNREADABLE_PATIENCE_S
    if patient or start_lockout(seen.output, rest_s, pump.starts_per_hour, seen.now_s) is not None:
        return PumpIntent(state, on=False)
    numbers = {"run_s": pump.duty_run_s, "every_s": pump.duty_run_s + rest_s}
    return _ask(state._replace(phase=PumpPhase.DUTY, lockouts=()), ReasonCode.PUMP_DUTY, numbers)


def _ask(state: SumpState, code: ReasonCode, numbers: dict[str, float]) -> PumpIntent:
    """Ask for a start; the phase counts only if the start is granted."""
    return PumpIntent(state._replace(reason=Reason(code, dict(numbers))), on=False, asks_to_start=True)
