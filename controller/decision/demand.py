"""What the house wants of a loop now, and whether the ground can give it usefully."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.cooling import cooled, is_hot, purged, under_hot_roof
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Demand, Need
from controller.decision.trial_run import tried
from controller.decision.wish import Wish

if TYPE_CHECKING:
    from controller.decision.wish import LoopView
    from controller.settings.schema import Settings

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
    """The default rule: frost first, then heat, cooling, banking, a purge by night; last a trial run."""
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
    return _warm_house(view)


def _warm_house(view: LoopView) -> Wish:
    """What a house that needs no warmth wants: cooling before banking, and a purge only where neither is."""
    points, band_k = view.settings.setpoints, view.settings.setpoints.air_deadband_k
    cool = cooled(view) if is_hot(view) else None
    if cool is not None and cool.demand is not None:
        return cool
    wish = Wish(None, Reason(ReasonCode.NOTHING_WANTED, _temperatures(view)))
    if view.air_c >= points.comfort_floor_c + (0.0 if view.running_for in CHARGING else band_k):
        wish = _bank(view)
        if wish.demand is not None:
            return wish
    if cool is not None:
        return cool
    purge = None
    if points.night_purge and points.cooling and not nights_are_cold(view.need, view.settings):
        purge = purged(view, points.heat_below_c + STORE_FULL_K)
    if purge is not None:
        return purge
    if wish.reason.code is ReasonCode.STORE_NOT_WANTED and view.ceiling_c >= points.cool_above_c:
        return Wish(None, under_hot_roof(view))
    return wish


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
    return _stored(view)


def _stored(view: LoopView) -> Wish:
    """Heat for the ground, if it offers a useful difference and enough heat for the electricity."""
    fans, setpoint_c = view.settings.fans, view.settings.setpoints.comfort_floor_c
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
    return Wish(Demand.BANK, _reason(view, ReasonCode.BANK, difference_k, setpoint_c))


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
            "until_c": setpoint_c + band_k,
            "until_k": fans.useful_difference_k - fans.difference_deadband_k,
            "difference_k": difference_k,
            "heat_w": view.heat_w_per_k * difference_k,
            "power_w": view.loop.power_w,
        },
    )
