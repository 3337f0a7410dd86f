"""The fan rule of one loop: demand, permission, confirmation, and the limits of the motor."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from controller.decision.command import Confirmation
from controller.decision.heat import proven_heat_w
from controller.decision.hints import NO_HINT, TESTABLE_DIFFERENCE_K, LoopHint
from controller.decision.lockouts import (
    IntoSoil,
    ceiling_stop,
    cold_roots_stop,
    missed_in_the_heat,
    soil_stop,
    warm_roots_stop,
)
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Demand, FanState, Lockout, Proof
from controller.decision.timers import start_lockout, starts_in_last_hour
from controller.decision.wish import LoopView, Wish
from controller.readings.reading import Good, Missing

if TYPE_CHECKING:
    from controller.decision.lockouts import Stop
    from controller.decision.state import Need, OutputState
    from controller.decision.trial_run import TrialView
    from controller.decision.wish import DemandRule
    from controller.readings.reading import Reading
    from controller.readings.snapshot import LoopReadings
    from controller.settings.schema import Settings
    from controller.settings.schema.derived import DerivedLoop

# What may warm the roots up to the higher limit: cooling, a plain rule, which names no purpose, and the short
# trial run a week, which must be able to show a dead fan in summer, too.
RESCUE = frozenset((Demand.COOL, Demand.PLAIN, Demand.TRIAL))
# The outlet must look weak for this long before a run is given up. [practice]
WEAK_FOR_S = 180.0


class FanInput(NamedTuple):
    """Everything one loop's fan is decided on.

    Attributes:
        loop: what follows from the loop's settings.
        settings: the settings in force.
        rule: the demand rule.
        ceiling: air at the riser intake.
        bench: air at the bench.
        air_c: air at the crop, None where neither bench nor ceiling can be read.
        readings: the loop's own probes.
        house_stop: fire or water, None if neither.
        need: how much stored heat the house has lately needed.
        output: the fan motor's history.
        before: the loop's state after the last tick.
        now_s: now.
        rank: where the loop stands in the order in which loops return warmth, 0 (first) to 1 (last).
        hint: what earlier runs have taught about the loop.
        trial: its trial run that is due or under way, None if there is none.
    """

    loop: DerivedLoop
    settings: Settings
    rule: DemandRule
    ceiling: Reading
    bench: Reading
    air_c: float | None
    readings: LoopReadings
    house_stop: Stop | None
    need: Need
    output: OutputState
    before: FanState
    now_s: float
    rank: float = 0.0
    hint: LoopHint = NO_HINT
    trial: TrialView | None = None


class FanIntent(NamedTuple):
    """What the rule wants: ``on`` is final for a running fan; a stopped fan asks to start first.

    ``confirmation``: what the outlet showed, where the fan ran until now and was not locked out.
    """

    state: FanState
    on: bool
    asks_to_start: bool = False
    difference_k: float = 0.0
    confirmation: Confirmation | None = None


def fan_intent(seen: FanInput) -> FanIntent:
    """Decide one loop's fan, leaving only the stagger between motors to the caller."""
    ceiling, soil = seen.ceiling, seen.readings.soil
    if isinstance(ceiling, Missing):
        return _stopped(seen, seen.house_stop or ceiling_stop(ceiling, seen.now_s))
    if isinstance(soil, Missing):
        return _stopped(seen, seen.house_stop or soil_stop(soil, seen.now_s))
    ceiling_c, soil_c = ceiling.value, soil.value
    view = _view(seen, ceiling_c, soil_c)
    stop = _stop(seen, ceiling_c, soil_c)
    if stop is not None:
        hot_c = seen.settings.setpoints.cool_above_c
        return _stopped(seen, missed_in_the_heat(stop, _into_soil(view), hot_c))
    wish = seen.rule(view)
    stop = _warm_roots(seen, view, wish.demand or view.running_for)
    if stop is not None and _warm_roots(seen, view, view.running_for) is None and seen.output.on:
        wish = Wish(None, stop[1])  # what it ran for is over, what would come next is forbidden
    elif stop is not None:
        return _stopped(seen, stop)
    difference_k = abs(ceiling_c - soil_c)
    if not seen.output.on:
        return _resting(seen, wish, difference_k)
    state = _with_proof(seen, wish, difference_k)
    shown = Confirmation(state.proof, _moved_w(seen), difference_k)
    return _running(seen, wish, state)._replace(confirmation=shown)


def _view(seen: FanInput, ceiling_c: float, soil_c: float) -> LoopView:
    """What the demand rule may look at."""
    share, bench = seen.hint.share, seen.bench
    air_c = ceiling_c if seen.air_c is None else seen.air_c
    return LoopView(
        seen.settings,
        seen.loop,
        ceiling_c,
        soil_c,
        air_c,
        seen.need,
        seen.before.demand if seen.output.on else None,
        seen.rank,
        seen.loop.expected_w_per_k * (1.0 if share is None else share),
        "bench" if isinstance(bench, Good) and bench.value <= air_c else "ceiling",
        seen.trial,
    )


def _off(before: FanState, reason: Reason, lockouts: tuple[Lockout, ...] = ()) -> FanState:
    """A fan that is off keeps only its record of failed runs (made at every tick, hence not ``replace``)."""
    return FanState(
        None,
        reason,
        Proof.IDLE,
        None,
        before.failed_runs,
        before.back_off_until_s,
        lockouts,
    )


def _stopped(seen: FanInput, stop: Stop) -> FanIntent:
    """The fan must be off at once; that cuts a minimum run."""
    lockout, reason = stop
    return FanIntent(_off(seen.before, reason, (lockout,)), on=False)


def _stop(seen: FanInput, ceiling_c: float, soil_c: float) -> Stop | None:
    """The first reason why a fan whose temperatures are known must be off at once, None if there is none."""
    if seen.house_stop is not None and not _frost_exception(seen):
        return seen.house_stop
    low_c = seen.settings.setpoints.root_zone_min_c + _roots_band_k(seen)
    return cold_roots_stop(ceiling_c, soil_c, seen.readings.root_zone, low_c)


def _roots_band_k(seen: FanInput) -> float:
    return 0.0 if seen.output.on else seen.settings.setpoints.root_zone_deadband_k


def _warm_roots(seen: FanInput, view: LoopView, demand: Demand | None) -> Stop | None:
    """The stop for roots that are too warm for what the fan runs for, or would; None if for nothing."""
    if demand is None:
        return None
    points, rescue = seen.settings.setpoints, demand in RESCUE
    limit_c = points.root_zone_rescue_max_c if rescue else points.root_zone_max_c
    high_c = limit_c - _roots_band_k(seen)
    return warm_roots_stop(_into_soil(view), seen.readings.root_zone, high_c, rescue=rescue)


def _into_soil(view: LoopView) -> IntoSoil:
    heat_w = view.heat_w_per_k * (view.ceiling_c - view.soil_c)
    return IntoSoil(view.ceiling_c, view.soil_c, heat_w, view.loop.power_w)


def _frost_exception(seen: FanInput) -> bool:
    """Whether the fan may run although its float cannot be read: only by setting, only in frost.

    Water may stand in the tubes, so the frost must be at the bench itself; a cold roof is not enough.
    """
    if not seen.settings.fans.run_in_frost_with_float_unreadable or seen.house_stop is None:
        return False
    crop = seen.bench if isinstance(seen.bench, Good) else seen.ceiling
    if seen.house_stop[0] is not Lockout.FLOAT_UNREADABLE or not isinstance(crop, Good):
        return False
    if _charging(seen) is not False:
        return False
    points = seen.settings.setpoints
    return crop.value <= points.frost_limit_c + (points.air_deadband_k if seen.output.on else 0.0)


def _running(seen: FanInput, wish: Wish, state: FanState) -> FanIntent:
    ran_s = seen.now_s - seen.output.since_mono_s
    if seen.house_stop is not None:  # running by the frost exception alone
        if wish.demand is not Demand.FROST:
            lockout, reason = seen.house_stop
            return FanIntent(_off(state, reason, (lockout,)), on=False)
        if state.proof is not Proof.PROVEN and ran_s >= seen.settings.fans.purge_s:
            reason = Reason(ReasonCode.AIR_NOT_PROVEN, {"purge_s": seen.settings.fans.purge_s})
            return FanIntent(_backed_off(seen, state, reason), on=False)
    if ran_s < seen.settings.fans.minimum_run_s:
        return FanIntent(state, on=True)
    weak_s = 0.0 if state.weak_since_s is None else seen.now_s - state.weak_since_s
    if weak_s >= WEAK_FOR_S:
        return FanIntent(_backed_off(seen, state, _no_heat_reason(seen, state)), on=False)
    if wish.demand is None:
        return FanIntent(_off(state, wish.reason), on=False)
    return FanIntent(state, on=True)


def _with_proof(seen: FanInput, wish: Wish, difference_k: float) -> FanState:
    """The running fan with what it runs for now, judged at the outlet whether it moves heat."""
    proof, weak_since_s = _proof(seen, difference_k)
    before, hint = seen.before, seen.hint
    demand, reason = (before.demand, before.reason) if wish.demand is None else wish
    doubted = before.failed_runs and hint.outlets_known and hint.looks_still is None
    if proof is Proof.PROVEN and not doubted:
        return FanState(demand, reason, proof)
    return FanState(demand, reason, proof, weak_since_s, before.failed_runs, before.back_off_until_s)


def _proof(seen: FanInput, difference_k: float) -> tuple[Proof, float | None]:
    """How far heat is proven, and since when the outlet looks weak."""
    if seen.now_s - seen.output.since_mono_s < seen.settings.fans.purge_s:
        return Proof.PURGING, None
    moved_w = _moved_w(seen)
    if moved_w is None or seen.before.demand is Demand.PLAIN:
        return Proof.NOT_TESTABLE, None
    enough = moved_w > 0.0 and moved_w >= seen.settings.fans.proven_heat_per_watt * seen.loop.power_w
    if enough and not seen.hint.looks_still:
        return Proof.PROVEN, None
    if difference_k < TESTABLE_DIFFERENCE_K:
        return Proof.NOT_TESTABLE, None
    return Proof.WEAK, seen.before.weak_since_s if seen.before.weak_since_s is not None else seen.now_s


def _moved_w(seen: FanInput) -> float | None:
    """Dry heat between intake and outlet, positive in the direction the soil asks for; None if unknown."""
    moved_w = proven_heat_w(seen.loop, seen.ceiling, seen.readings.outlet)
    return -moved_w if moved_w is not None and _charging(seen) is False else moved_w


def _charging(seen: FanInput) -> bool | None:
    ceiling, soil = seen.ceiling, seen.readings.soil
    if isinstance(ceiling, Missing) or isinstance(soil, Missing):
        return None
    return ceiling.value > soil.value


def _back_off_s(seen: FanInput, failed_runs: int) -> float:
    fans = seen.settings.fans
    return min(fans.back_off_s * 2.0 ** min(failed_runs - 1, 16), fans.longest_back_off_s)


def _no_heat_reason(seen: FanInput, state: FanState) -> Reason:
    outlet = seen.readings.outlet
    moved_w = proven_heat_w(seen.loop, seen.ceiling, outlet) or 0.0
    numbers: dict[str, float | str] = {
        "outlet_c": outlet.value if isinstance(outlet, Good) else "unknown",
        "heat_w": moved_w if _charging(seen) else -moved_w,
        "power_w": seen.loop.power_w,
        "back_off_s": _back_off_s(seen, state.failed_runs + 1),
    }
    return Reason(ReasonCode.NO_HEAT_PROVEN, numbers)


def _backed_off(seen: FanInput, state: FanState, reason: Reason) -> FanState:
    failed_runs = state.failed_runs + 1
    return FanState(
        demand=None,
        reason=reason,
        failed_runs=failed_runs,
        back_off_until_s=seen.now_s + _back_off_s(seen, failed_runs),
        lockouts=(Lockout.BACK_OFF,),
    )


def _resting(seen: FanInput, wish: Wish, difference_k: float) -> FanIntent:
    before = seen.before
    if wish.demand is None:
        return FanIntent(_off(before, wish.reason), on=False)
    held = _held_back(seen, wish.demand)
    if held is not None:
        lockout, reason = held
        return FanIntent(_off(before, reason, (lockout,)), on=False)
    state = before._replace(demand=wish.demand, reason=wish.reason, proof=Proof.PURGING, lockouts=())
    return FanIntent(state, on=False, asks_to_start=True, difference_k=difference_k)


def _held_back(seen: FanInput, demand: Demand) -> Stop | None:
    """What forbids a start (not a run): back-off and the motor's limits."""
    left_s = _back_off_left_s(seen, demand)
    if left_s > 0.0:
        return Lockout.BACK_OFF, Reason(ReasonCode.BACK_OFF, {"left_s": left_s})
    fans = seen.settings.fans
    limit = start_lockout(seen.output, fans.minimum_rest_s, fans.starts_per_hour, seen.now_s)
    if limit is Lockout.RESTING:
        left_s = seen.output.since_mono_s + fans.minimum_rest_s - seen.now_s
        return limit, Reason(ReasonCode.RESTING, {"left_s": left_s})
    if limit is Lockout.STARTS_SPENT:
        starts = float(starts_in_last_hour(seen.output, seen.now_s))
        return limit, Reason(ReasonCode.STARTS_SPENT, {"starts": starts})
    return None


def _back_off_left_s(seen: FanInput, demand: Demand) -> float:
    """Time until the next try; in frost after the shortest back-off, however often the loop failed."""
    until_s = seen.before.back_off_until_s
    if until_s is None:
        return 0.0
    if demand is Demand.FROST:
        until_s -= _back_off_s(seen, max(seen.before.failed_runs, 1)) - seen.settings.fans.back_off_s
    return until_s - seen.now_s
