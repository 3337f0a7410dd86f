"""The weekly trial run of a fan: alone, for a quarter of an hour, when nothing else is wanted of any loop.

It shows at the outlets whose air the fan moves (``diagnosis.starts``), and keeps an idle motor dry.
Every lockout, limit and promise holds for it as for any other run.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Demand
from controller.equipment import Kind, OutputId
from controller.faults import HOUR_S

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.hints import LoopHint
    from controller.decision.state import ControllerState
    from controller.settings.schema import Setpoints

# An outlet shows within this what a start has changed. Before, all fans rest so long that every outlet has
# settled, so that what changes is the doing of this fan. [practice]
TRIAL_S = 900.0
ALL_AT_REST_S = 1800.0
# Whatever asks for it, no fan runs for a trial more often than this. [practice]
REST_BEFORE_S = 4.0 * HOUR_S


class TrialView(NamedTuple):
    """A trial run that is due or under way.

    Attributes:
        from_k: least difference between ceiling and soil that shows enough.
        ran_s: how long the fan has run for it, None before the start.
    """

    from_k: float
    ran_s: float | None = None


def trials(state: ControllerState, hints: Mapping[str, LoopHint], now_s: float) -> dict[str, TrialView]:
    """By loop, trial runs that may begin now or go on."""
    found: dict[str, TrialView] = {}
    for output, one in state.outputs.items():
        if output.kind is Kind.FAN and one.on and state.fans[output.name].demand is Demand.TRIAL:
            found[output.name] = TrialView(0.0, now_s - one.since_mono_s)
    due = {name: hint.trial_from_k for name, hint in hints.items() if hint.trial_from_k is not None}
    if due and all(
        not one.on and now_s - one.since_mono_s >= ALL_AT_REST_S
        for output, one in state.outputs.items()
        if output.kind is Kind.FAN
    ):
        for name, from_k in due.items():
            if now_s - state.outputs[OutputId.fan(name)].since_mono_s >= REST_BEFORE_S:
                found[name] = TrialView(from_k)
    return found


def tried(
    trial: TrialView, ceiling_c: float, soil_c: float, air_c: float, points: Setpoints
) -> Reason | None:
    """Why the fan runs for its trial, or why that is over; None where it cannot begin now.

    Args:
        trial: what is due or under way.
        ceiling_c: air at the riser intake.
        soil_c: soil at tube depth.
        air_c: air at the crop: no trial while it is near the temperature at which warmth is wanted.
        points: the setpoints in force.
    """
    if trial.ran_s is None:
        near_cold = air_c <= points.heat_below_c + points.air_deadband_k
        if near_cold or abs(ceiling_c - soil_c) < trial.from_k:
            return None
    elif trial.ran_s >= TRIAL_S:
        return Reason(ReasonCode.TRIAL_OVER, {"run_s": trial.ran_s})
    return Reason(ReasonCode.TRIAL, {"run_s": TRIAL_S, "ceiling_c": ceiling_c, "soil_c": soil_c})
