"""The one entry point: snapshot, state and settings in; commands with reasons and the next state out."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from controller.decision.command import Command, Decision, OutputChange
from controller.decision.demand import WARMING, heat_rule
from controller.decision.fans import FanInput, fan_intent
from controller.decision.fire import watch_fire
from controller.decision.hints import NO_HINT, NO_HINTS
from controller.decision.lockouts import fire_stop, water_stop
from controller.decision.need import updated_need
from controller.decision.pump import PumpInput, pump_intent
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import ControllerState, Demand, Lockout, Proof, state_of_unknown_history
from controller.decision.timers import start_lockout, switched
from controller.decision.trial_run import trials
from controller.equipment import Kind, OutputId
from controller.readings.reading import Good, Missing

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.fans import FanIntent
    from controller.decision.hints import LoopHint
    from controller.decision.lockouts import Stop
    from controller.decision.pump import PumpIntent
    from controller.decision.state import FanState, FireState, Need, OutputState, SumpState
    from controller.decision.wish import DemandRule
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Settings
    from controller.settings.schema.derived import DerivedLoop

# Air under the roof of a cold house is at most this much colder than at the bench, fans on or off. [practice]
LAYERING_K = 0.5
URGENCY = {demand: rank for rank, demand in enumerate(Demand)}


def initial_state(settings: Settings, now_mono_s: float) -> ControllerState:
    """The state after a start of unknown history: every motor rests first, every tube may be wet."""
    rest_s = max(settings.fans.minimum_rest_s, settings.pump.minimum_rest_s)
    reason = Reason(ReasonCode.STARTED, {"rest_s": rest_s})
    fans = {name: OutputId.fan(name) for name in settings.loops}
    pumps = {name: OutputId.pump(name) for name in settings.sumps}
    return state_of_unknown_history(reason, fans, pumps, now_mono_s)


def decide(
    snapshot: Snapshot,
    state: ControllerState,
    settings: Settings,
    now_mono_s: float,
    rule: DemandRule = heat_rule,
    hints: Mapping[str, LoopHint] = NO_HINTS,
) -> tuple[Decision, ControllerState]:
    """Decide every output for this tick.

    Order of precedence: fire, water, readings nobody can believe, root-zone limits, motors, demand.

    Args:
        snapshot: judged readings of this tick.
        state: what the last tick left.
        settings: the settings in force.
        now_mono_s: monotonic time of this tick in s.
        rule: what the house wants of a loop; the safety rules around it are always the same.
        hints: by loop, what earlier runs have taught about it; loops may be left out.

    Returns:
        The decision, and the state for the next tick.
    """
    derived = settings.derived
    air_c = _air_c(snapshot)
    need = state.need if air_c is None else updated_need(state.need, air_c, now_mono_s)
    fire = watch_fire(state.fire, snapshot, settings, now_mono_s)
    pumps = {
        name: pump_intent(
            PumpInput(settings.pump, level, state.outputs[derived.pumps[name]], state.sumps[name], now_mono_s)
        )
        for name, level in snapshot.sumps.items()
    }
    stops = _house_stops(snapshot, fire, pumps, settings, now_mono_s)
    house = _House(settings, snapshot, state, stops, need, air_c, now_mono_s)
    fans = _fan_intents(house, rule, hints)
    granted = _granted_start(pumps, fans, now_mono_s - state.last_start_s >= settings.fans.stagger_s)
    sumps_after = {
        name: _sump_held_back(intent, state.sumps[name])
        if intent.asks_to_start and granted.output != derived.pumps[name]
        else intent.state
        for name, intent in pumps.items()
    }
    fans_after = {
        name: _fan_held_back(intent, state.last_start_s, settings, now_mono_s)
        if intent.asks_to_start and granted.output != OutputId.fan(name)
        else intent.state
        for name, intent in fans.items()
    }
    wanted = {derived.pumps[name]: intent.on for name, intent in pumps.items()}
    wanted |= {loop.fan: fans[loop.name].on for loop in derived.loops}
    if granted.output is not None:
        wanted[granted.output] = True
    outputs = _switched(state.outputs, wanted, now_mono_s)
    last_start_s = now_mono_s if granted.output is not None else state.last_start_s
    after = ControllerState(outputs, fans_after, sumps_after, fire, need, last_start_s)
    look_s = _look_again_s(pumps, granted, settings)
    commands = _commands(outputs, fans_after, sumps_after)
    changes = () if outputs is state.outputs else _changes(state.outputs, commands)
    shown = {name: fan.confirmation for name, fan in fans.items() if fan.confirmation is not None}
    return Decision(commands, changes, look_s, shown), after


def _air_c(snapshot: Snapshot) -> float | None:
    """Air at the crop: the bench probe, or the ceiling without one.

    Where both are known the air is taken to be as cold as either says, give or take the layering: a bench
    probe that reads too warm must not let the crop freeze.
    """
    bench, ceiling = snapshot.bench, snapshot.ceiling
    if not isinstance(bench, Good):
        return ceiling.value if isinstance(ceiling, Good) else None
    if not isinstance(ceiling, Good):
        return bench.value
    return min(bench.value, ceiling.value + LAYERING_K)


def _house_stops(
    snapshot: Snapshot, fire: FireState, pumps: Mapping[str, PumpIntent], settings: Settings, now_s: float
) -> dict[str, Stop | None]:
    """Fire or water, by sump."""
    burning = fire_stop(fire, now_s)
    stops: dict[str, Stop | None] = {}
    for name, intent in pumps.items():
        level = snapshot.sumps[name]
        why = level.why.value if isinstance(level, Missing) else ""
        stops[name] = burning or water_stop(name, intent.state, why, settings.pump.drain_down_s, now_s)
    return stops


class _House(NamedTuple):
    """What all fans of a tick are decided on together."""

    settings: Settings
    snapshot: Snapshot
    state: ControllerState
    stops: Mapping[str, Stop | None]
    need: Need
    air_c: float | None
    now_s: float


def _fan_intents(house: _House, rule: DemandRule, hints: Mapping[str, LoopHint]) -> dict[str, FanIntent]:
    settings, snapshot, state, air_c = house.settings, house.snapshot, house.state, house.air_c
    points = settings.setpoints
    # The order matters to a cold house only; working it out at every tick would cost the others.
    cold = air_c is not None and air_c <= points.heat_below_c + points.air_deadband_k
    ranks = _ranks(house) if cold else {}
    due = trials(state, hints, house.now_s)
    return {
        loop.name: fan_intent(
            FanInput(
                loop,
                settings,
                rule,
                snapshot.ceiling,
                snapshot.bench,
                air_c,
                snapshot.loops[loop.name],
                house.stops[loop.sump],
                house.need,
                state.outputs[loop.fan],
                state.fans[loop.name],
                house.now_s,
                ranks.get(loop.name, 0.0),
                hints.get(loop.name, NO_HINT),
                due.get(loop.name),
            )
        )
        for loop in settings.derived.loops
    }


def _ranks(house: _House) -> dict[str, float]:
    """The order in which loops return warmth, 0 to 1: those that do it already, then the warmest soil.

    Loops that cannot start now come last, so that nobody waits for them.
    """

    def rank(loop: DerivedLoop) -> tuple[bool, bool, float]:
        fan, soil = house.state.fans[loop.name], house.snapshot.loops[loop.name].soil
        stopped = house.stops[loop.sump] is not None or Lockout.ROOT_ZONE_COLD in fan.lockouts
        if stopped or not isinstance(soil, Good) or not _may_run(house, loop):
            return True, True, 0.0
        return False, fan.demand not in WARMING, -soil.value

    ordered = sorted(house.settings.derived.loops, key=rank)
    last = max(len(ordered) - 1, 1)
    return {loop.name: at / last for at, loop in enumerate(ordered)}


def _may_run(house: _House, loop: DerivedLoop) -> bool:
    """Whether back-off and the motor's own limits let the loop run on, or start."""
    state, fans, now_s = house.state, house.settings.fans, house.now_s
    output = state.outputs[loop.fan]
    if output.on:
        return True
    waits = (state.fans[loop.name].back_off_until_s or now_s) > now_s
    return not waits and start_lockout(output, fans.minimum_rest_s, fans.starts_per_hour, now_s) is None


class _Granted(NamedTuple):
    """The one motor that may start in this tick, and whether another has to wait for it."""

    output: OutputId | None
    others_wait: bool


NOBODY_ASKS = _Granted(None, others_wait=False)


def _granted_start(
    pumps: Mapping[str, PumpIntent], fans: Mapping[str, FanIntent], staggered: bool
) -> _Granted:
    """Pumps before fans; among fans the most urgent demand, then the largest difference."""
    asking = [OutputId.pump(name) for name, intent in pumps.items() if intent.asks_to_start]
    waiting = [
        (URGENCY[intent.state.demand], -intent.difference_k, name)
        for name, intent in fans.items()
        if intent.asks_to_start and intent.state.demand is not None
    ]
    if not asking and not waiting:
        return NOBODY_ASKS
    asking += [OutputId.fan(name) for _, _, name in sorted(waiting, key=lambda rank: rank[:2])]
    if not staggered:
        return _Granted(None, others_wait=True)
    return _Granted(asking[0], others_wait=len(asking) > 1)


def _switched(
    before: Mapping[OutputId, OutputState], wanted: Mapping[OutputId, bool], now_s: float
) -> Mapping[OutputId, OutputState]:
    """The outputs after their commands; the same mapping if none is switched."""
    turned = {o: switched(before[o], on, now_s) for o, on in wanted.items() if on != before[o].on}
    return {**before, **turned} if turned else before


def _sump_held_back(intent: PumpIntent, before: SumpState) -> SumpState:
    """A start that was not granted leaves the phase, and what had held it back, as they were."""
    return intent.state._replace(
        phase=before.phase, reason=before.reason, lockouts=before.lockouts, crowded=before.crowded
    )


def _fan_held_back(intent: FanIntent, last_start_s: float, settings: Settings, now_s: float) -> FanState:
    """A start that was not granted waits for its turn."""
    left_s = max(last_start_s + settings.fans.stagger_s - now_s, 0.0)
    waits = Reason(ReasonCode.STAGGER, {"left_s": left_s or settings.fans.stagger_s})
    return intent.state._replace(demand=None, reason=waits, proof=Proof.IDLE)


def _look_again_s(pumps: Mapping[str, PumpIntent], granted: _Granted, settings: Settings) -> float | None:
    soon = [intent.look_again_s for intent in pumps.values() if intent.look_again_s is not None]
    if granted.output is not None and granted.output.kind is Kind.PUMP:
        soon.append(min(settings.pump.exercise_run_s, settings.pump.duty_run_s))
    if granted.others_wait:
        soon.append(settings.fans.stagger_s)
    return min(soon) if soon else None


def _commands(
    outputs: Mapping[OutputId, OutputState], fans: Mapping[str, FanState], sumps: Mapping[str, SumpState]
) -> dict[OutputId, Command]:
    return {
        output: Command(
            state.on, fans[output.name].reason if output.kind is Kind.FAN else sumps[output.name].reason
        )
        for output, state in outputs.items()
    }


def _changes(
    before: Mapping[OutputId, OutputState], commands: Mapping[OutputId, Command]
) -> tuple[OutputChange, ...]:
    return tuple(
        OutputChange(output, command.on, command.reason)
        for output, command in commands.items()
        if command.on != before[output].on
    )
