"""Brings the state up to date where outputs did something else than was decided.

Everything off without a decision counts as a restart: each motor rests, starts are staggered anew, and a pump
that ran owes the rest after a longest run, because the true length of its run is not known.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from controller.decision.command import OutputChange
from controller.decision.lockouts import float_lost
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import OutputState, Proof, PumpPhase
from controller.equipment import Kind, OutputId
from controller.readings.reading import Why

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.state import ControllerState, FanState, SumpState
    from controller.settings.schema import Settings

# A pin follows its decision within this (a write to the memory file and a turn of the scheduler). A motor
# that turned later counts from when it turned. [practice]
LATE_S = 0.1


class Turn(NamedTuple):
    """One output that went on or off, by command or not."""

    output: OutputId
    on: bool
    at_mono_s: float


class Pins(NamedTuple):
    """What the outputs did up to the end of a tick.

    Attributes:
        on: what each one is driven to; None where it cannot be read back.
        turns: every switching since the tick before, oldest first.
    """

    on: Mapping[OutputId, bool | None]
    turns: tuple[Turn, ...] = ()


NO_PINS = Pins({})


class Lost(NamedTuple):
    """What went off without a decision since the last tick.

    Attributes:
        cut: outputs that are off although they were commanded on.
        lease_s: the time without a decision after which all outputs went off, None if single outputs failed.
        at_mono_s: when all outputs went off, None if single outputs failed.
    """

    cut: frozenset[OutputId]
    lease_s: float | None = None
    at_mono_s: float | None = None


def after_loss(
    state: ControllerState, lost: Lost, settings: Settings, now_mono_s: float
) -> tuple[ControllerState, tuple[OutputChange, ...]]:
    """The state after outputs went off by themselves, and the output changes to record for it.

    Args:
        state: what the last tick left, in which they may still be on.
        lost: what went off. After a lease that ran out every fan rests, whether it was on or not; a pump that
            was off has rested, and there may be water.
        settings: the settings in force.
        now_mono_s: now; rests begin here.
    """
    everything = lost.lease_s is not None
    stopped = {o for o, one in state.outputs.items() if one.on and (everything or o in lost.cut)}
    outputs = {
        output: OutputState(on=False, since_mono_s=now_mono_s, starts_mono_s=one.starts_mono_s)
        if output in stopped or (everything and output.kind is Kind.FAN)
        else one
        for output, one in state.outputs.items()
    }
    why: dict[OutputId, Reason] = {}
    fans: dict[str, FanState] = {}
    for name, fan in state.fans.items():
        output = OutputId.fan(name)
        why[output] = _reason(lost, settings.fans.minimum_rest_s)
        fans[name] = _fan_after(fan, why[output]) if output in stopped else fan
    sumps: dict[str, SumpState] = {}
    for name, sump in state.sumps.items():
        output = OutputId.pump(name)
        why[output] = _reason(lost, max(settings.pump.rest_s, settings.pump.minimum_rest_s))
        after = _sump_after(sump, why[output]) if output in stopped else sump
        sumps[name] = _unseen_water(after, state.outputs[output], lost, now_mono_s) if everything else after
    last_start_s = now_mono_s if everything else state.last_start_s
    changes = tuple(
        OutputChange(output, on=False, reason=why[output]) for output in state.outputs if output in stopped
    )
    after_all = state._replace(outputs=outputs, fans=fans, sumps=sumps, last_start_s=last_start_s)
    return after_all, changes


def _reason(lost: Lost, rest_s: float) -> Reason:
    if lost.lease_s is None:
        return Reason(ReasonCode.OUTPUT_FAILED, {"rest_s": rest_s})
    return Reason(ReasonCode.NO_DECISION, {"for_s": lost.lease_s, "rest_s": rest_s})


def _fan_after(fan: FanState, reason: Reason) -> FanState:
    """A fan that is off keeps only what it has learned."""
    return fan._replace(demand=None, reason=reason, proof=Proof.IDLE, weak_since_s=None)


def _sump_after(sump: SumpState, reason: Reason) -> SumpState:
    """The run is over, however long it was; the rest is that of a restart (see ``memory``)."""
    return sump._replace(phase=PumpPhase.RESTING, reason=reason, fell_dry_s=None)


def _unseen_water(sump: SumpState, pump: OutputState, lost: Lost, now_mono_s: float) -> SumpState:
    """The float was not read for a while; one that was wet counts as wet ever since."""
    if sump.wet_since_s is not None:
        return sump._replace(last_water_s=now_mono_s)
    began_s = now_mono_s if lost.at_mono_s is None else lost.at_mono_s - (lost.lease_s or 0.0)
    return float_lost(sump, Why.STALE, pump, began_s)._replace(last_water_s=now_mono_s)


def as_driven(state: ControllerState, pins: Pins) -> ControllerState:
    """The state with the times at which motors really turned, where that was notably later than decided."""
    for turn in pins.turns:
        output = state.outputs.get(turn.output)
        if output is not None and turn.on == output.on and turn.at_mono_s - output.since_mono_s > LATE_S:
            state = _turned_late(state, turn, output)
    return state


def _turned_late(state: ControllerState, turn: Turn, output: OutputState) -> ControllerState:
    starts, last_start_s = output.starts_mono_s, state.last_start_s
    if turn.on:
        starts = (*starts[:-1], turn.at_mono_s)
        last_start_s = max(last_start_s, turn.at_mono_s)
    late = OutputState(turn.on, turn.at_mono_s, starts)
    return state._replace(outputs={**state.outputs, turn.output: late}, last_start_s=last_start_s)
