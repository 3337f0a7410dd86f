"""What the house wants of a loop now, and whether the ground can give it usefully."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Demand, Need
from controller.decision.trial_run import tried

if TYPE_CHECKING:
    from controller.decision.trial_run import TrialView
    from controller.settings.schema import Settings
    from controller.settings.schema.derived import DerivedLoop

# How fast a cold night is forgotten: a need of 10 K fades over a bit less than three weeks. [practice]
FORGET_K_PER_S = 0.5 / 86400.0
# Soil this much warmer than the temperature below which warmth is returned gives a loop its full worth. Below
# that, banking always pays; above it, only while nights come within a margin of that temperature. Both were
# chosen on the tuning cases of tests/lab/scoreboard.
STORE_FULL_K = 12.0
NEED_MARGIN_K = 1.0
# A fan that banks goes on this far past a full store.
STORE_BAND_K = 0.5
WARMING = (Demand.HEAT, Demand.FROST)
CHARGING = (Demand.COOL, Demand.BANK)


class LoopView(NamedTuple):
    """What the demand rule may look at.

    Attributes:
        settings: the settings in force.
        loop: what follows from them for this loop.
        ceiling_c: air at the riser intake.
        soil_c: soil at tube depth.
        air_c: air at the crop (ceiling where no bench probe can be read).
        need: how much stored heat the house has lately needed.
        running_for: what the fan runs for now, None while it is off.
        rank: where the loop stands in the order in which loops return warmth, 0 (first) to 1 (last).
        heat_w_per_k: dry heat the loop should move per kelvin between ceiling and soil, as its settings say
            and its outlet has taught.
        trial: the trial run that the fan is due for or in, None if there is none.
    """

    settings: Settings
    loop: DerivedLoop
    ceiling_c: float
    soil_c: float
    air_c: float
    need: Need
    running_for: Demand | None
    rank: float
    heat_w_per_k: float
    trial: TrialView | None = None


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


def nights_are_cold(need: Need, settings: Settings) -> bool:
    """Whether nights have lately been so cold, or so little is known, that even a full store is used."""
    return need.coldest_c is None or need.coldest_c <= settings.setpoints.heat_below_c + NEED_MARGIN_K


def heat_rule(view: LoopView) -> Wish:
    """The default rule: frost first, then heat, then cooling, then banking; a trial run if none is wanted."""
    wish = _heat_wish(view)
    if wish.demand is not None or view.trial is None:
        return wish
    reason = tried(view.trial, view.ceiling_c, view.soil_c, view.air_c, view.settings.setpoints)
    if reason is None:
        return wish
    return Wish(Demand.TRIAL if reason.code is ReasonCode.TRIAL else None, reason)


def _heat_wish(view: LoopView) -> Wish:
    points = view.settings.setpoints
    band_k = points.air_deadband_k
    air_c, running_for = view.air_c, view.running_for
    if air_c <= points.frost_limit_c + (band_k if running_for is Demand.FROST else 0.0):
        return _returned(view, Demand.FROST, points.frost_limit_c)
    below_c = points.heat_below_c - view.rank * view.settings.fans.return_spread_k
    if air_c <= below_c + (band_k if running_for in WARMING else 0.0):
        return _returned(view, Demand.HEAT, below_c)
    if air_c <= points.heat_below_c:
        numbers = {"air_c": air_c, "below_c": below_c}
        return Wish(None, Reason(ReasonCode.OTHERS_ENOUGH, numbers))
    if points.cooling and view.ceiling_c >= points.cool_above_c - (
        band_k if running_for is Demand.COOL else 0.0
    ):
        return _stored(view, Demand.COOL, points.cool_above_c)
    if air_c >= points.comfort_floor_c + (0.0 if running_for in CHARGING else band_k):
        return _bank(view)
    return Wish(None, Reason(ReasonCode.NOTHING_WANTED, _temperatures(view)))


def _temperatures(view: LoopView) -> dict[str, float | str]:
    return {"air_c": view.air_c, "ceiling_c": view.ceiling_c, "soil_c": view.soil_c}


def _returned(view: LoopView, demand: Demand, setpoint_c: float) -> Wish:
    """Warmth for a cold house, down to the last that a fan can usefully bring.

    Counted from the colder of roof and bench, as the need for it is: on a cold night they are alike, and a
    ceiling probe that reads too warm must not keep warmth from the crop.
    """
    colder_c = min(view.ceiling_c, view.air_c)
    difference_k = view.soil_c - colder_c
    numbers: dict[str, float | str] = {"air_c": colder_c, "soil_c": view.soil_c}
    if difference_k <= 0.0:
        return Wish(None, Reason(ReasonCode.NOTHING_TO_RETURN, numbers))
    needed_k = view.settings.fans.return_difference_k
    if view.running_for in WARMING:
        needed_k /= 2.0  # half of it is still warmth; between the two lies the deadband
    if difference_k < needed_k:
        numbers |= {"difference_k": difference_k, "needed_k": needed_k}
        return Wish(None, Reason(ReasonCode.LITTLE_TO_RETURN, numbers))
    return Wish(demand, _reason(view, ReasonCode(demand.value), difference_k, setpoint_c))


def _bank(view: LoopView) -> Wish:
    points, coldest_c = view.settings.setpoints, view.need.coldest_c
    full_c = points.heat_below_c + STORE_FULL_K + (STORE_BAND_K if view.running_for is Demand.BANK else 0.0)
    if coldest_c is not None and view.soil_c >= full_c and not nights_are_cold(view.need, view.settings):
        numbers: dict[str, float | str] = {
            "soil_c": view.soil_c,
            "coldest_c": coldest_c,
            "full_c": full_c,
            "cold_c": points.heat_below_c + NEED_MARGIN_K,
        }
        return Wish(None, Reason(ReasonCode.STORE_NOT_WANTED, numbers))
    return _stored(view, Demand.BANK, points.comfort_floor_c)


def _stored(view: LoopView, demand: Demand, setpoint_c: float) -> Wish:
    """Heat for the ground, if it offers a useful difference and enough heat for the electricity."""
    fans = view.settings.fans
    difference_k = view.ceiling_c - view.soil_c
    if difference_k <= 0.0:
        return Wish(None, Reason(ReasonCode.NOTHING_TO_BANK, _temperatures(view)))
    needed_k = fans.useful_difference_k
    if view.running_for is not None:
        needed_k -= fans.difference_deadband_k
    if difference_k < needed_k:
        numbers = _temperatures(view) | {"difference_k": difference_k, "needed_k": needed_k}
        return Wish(None, Reason(ReasonCode.DIFFERENCE_SMALL, numbers))
    expected_w = view.heat_w_per_k * difference_k
    least_w = fans.heat_per_watt * view.loop.power_w
    if view.running_for is not None:
        least_w *= needed_k / fans.useful_difference_k  # the same deadband, as heat
    if expected_w < least_w:
        numbers = {"heat_w": expected_w, "power_w": view.loop.power_w, "least_w": least_w}
        return Wish(None, Reason(ReasonCode.HEAT_TOO_DEAR, numbers))
    return Wish(demand, _reason(view, ReasonCode(demand.value), difference_k, setpoint_c))


def _reason(view: LoopView, code: ReasonCode, difference_k: float, setpoint_c: float) -> Reason:
    """Why the fan runs, with where the wish for it ends: ``until_c`` or, for banking, ``until_k``."""
    points, fans = view.settings.setpoints, view.settings.fans
    band_k = points.air_deadband_k
    return Reason(
        code,
        {
            "air_c": view.air_c,
            "ceiling_c": view.ceiling_c,
            "soil_c": view.soil_c,
            "setpoint_c": setpoint_c,
            "until_c": setpoint_c + (-band_k if code is ReasonCode.COOL else band_k),
            "until_k": fans.useful_difference_k - fans.difference_deadband_k,
            "difference_k": difference_k,
            "heat_w": view.heat_w_per_k * difference_k,
            "power_w": view.loop.power_w,
        },
    )
