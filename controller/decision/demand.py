"""What the house wants of a loop now, and whether the ground can give it usefully."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Demand, Need

if TYPE_CHECKING:
    from controller.decision.heat import LoopPlan
    from controller.settings.schema import Settings

# How fast a cold night is forgotten: a need of 10 K fades over a bit less than three weeks.
# Common practice, no source.
FORGET_K_PER_S = 0.5 / 86400.0
# Heat is worth banking while nights come within this distance of the temperature below which it is returned.
# Common practice, no source.
NEED_MARGIN_K = 5.0
WARMING = (Demand.HEAT, Demand.FROST)
CHARGING = (Demand.COOL, Demand.BANK)


class LoopView(NamedTuple):
    """What the demand rule may look at.

    Attributes:
        settings: the settings in force.
        plan: what follows from them for this loop.
        ceiling_c: air at the riser intake.
        soil_c: soil at tube depth.
        air_c: air at the crop (ceiling where no bench probe can be read).
        need: how much stored heat the house has lately needed.
        running_for: what the fan runs for now, None while it is off.
    """

    settings: Settings
    plan: LoopPlan
    ceiling_c: float
    soil_c: float
    air_c: float
    need: Need
    running_for: Demand | None


class Wish(NamedTuple):
    """What is wanted of the loop; ``demand`` None means the fan should be off, and ``reason`` why."""

    demand: Demand | None
    reason: Reason


DemandRule = Callable[[LoopView], Wish]


def updated_need(need: Need, air_c: float, now_mono_s: float) -> Need:
    """Remember the coldest air, forgetting it slowly."""
    if need.coldest_c is None:
        return Need(air_c, now_mono_s)
    faded_c = need.coldest_c + FORGET_K_PER_S * (now_mono_s - need.at_s)
    return Need(min(air_c, faded_c), now_mono_s)


def heat_rule(view: LoopView) -> Wish:
    """The default rule: frost first, then heat, then cooling, then banking."""
    points = view.settings.setpoints
    band_k = points.air_deadband_k
    air_c, ceiling_c, running_for = view.air_c, view.ceiling_c, view.running_for
    warming = running_for in WARMING
    charging = running_for in CHARGING
    if air_c <= points.frost_limit_c + (band_k if running_for is Demand.FROST else 0.0):
        return _frost(view)
    if air_c <= points.heat_below_c + (band_k if warming else 0.0):
        return _moved(view, Demand.HEAT, view.soil_c - ceiling_c, points.heat_below_c)
    if ceiling_c >= points.cool_above_c - (band_k if running_for is Demand.COOL else 0.0):
        return _moved(view, Demand.COOL, ceiling_c - view.soil_c, points.cool_above_c)
    floor_c = points.comfort_floor_c + (0.0 if charging else band_k)
    if ceiling_c >= points.bank_above_c - (band_k if charging else 0.0) and air_c >= floor_c:
        return _bank(view)
    return Wish(None, Reason(ReasonCode.NOTHING_WANTED, _temperatures(view)))


def _temperatures(view: LoopView) -> dict[str, float | str]:
    return {"air_c": view.air_c, "ceiling_c": view.ceiling_c, "soil_c": view.soil_c}


def _frost(view: LoopView) -> Wish:
    """At the frost limit the last usable warmth is returned, cheap or not."""
    fans = view.settings.fans
    difference_k = view.soil_c - view.ceiling_c
    needed_k = fans.frost_difference_k
    if view.running_for in WARMING:
        needed_k /= 2.0  # half of it is still warmth; between the two lies the deadband
    if difference_k < needed_k:
        return _too_small(view, difference_k, needed_k)
    setpoint_c = view.settings.setpoints.frost_limit_c
    return Wish(Demand.FROST, _reason(view, ReasonCode.FROST, difference_k, setpoint_c))


def _bank(view: LoopView) -> Wish:
    coldest_c = view.need.coldest_c
    wanted_below_c = view.settings.setpoints.heat_below_c + NEED_MARGIN_K
    if coldest_c is not None and coldest_c > wanted_below_c:
        return Wish(
            None,
            Reason(ReasonCode.STORE_NOT_WANTED, {"coldest_c": coldest_c, "ceiling_c": view.ceiling_c}),
        )
    points = view.settings.setpoints
    return _moved(view, Demand.BANK, view.ceiling_c - view.soil_c, points.bank_above_c)


def _moved(view: LoopView, demand: Demand, difference_k: float, setpoint_c: float) -> Wish:
    """Grant the demand if the ground offers a useful difference and enough heat for the electricity."""
    fans = view.settings.fans
    needed_k = fans.useful_difference_k
    if view.running_for is not None:
        needed_k -= fans.difference_deadband_k
    if difference_k < needed_k:
        return _too_small(view, difference_k, needed_k)
    expected_w = view.plan.expected_w_per_k * difference_k
    least_w = fans.heat_per_watt * view.plan.power_w
    if view.running_for is not None:
        least_w *= needed_k / fans.useful_difference_k  # the same deadband, as heat
    if expected_w < least_w:
        return Wish(
            None, Reason(ReasonCode.HEAT_TOO_DEAR, {"heat_w": expected_w, "power_w": view.plan.power_w})
        )
    return Wish(demand, _reason(view, ReasonCode(demand.value), difference_k, setpoint_c))


def _too_small(view: LoopView, difference_k: float, needed_k: float) -> Wish:
    numbers = _temperatures(view) | {"difference_k": difference_k, "needed_k": needed_k}
    return Wish(None, Reason(ReasonCode.DIFFERENCE_SMALL, numbers))


def _reason(view: LoopView, code: ReasonCode, difference_k: float, setpoint_c: float) -> Reason:
    return Reason(
        code,
        {
            "air_c": view.air_c,
            "ceiling_c": view.ceiling_c,
            "soil_c": view.soil_c,
            "setpoint_c": setpoint_c,
            "difference_k": difference_k,
            "heat_w": view.plan.expected_w_per_k * difference_k,
            "power_w": view.plan.power_w,
        },
    )
