"""What the house wants of a loop now, and whether the ground can give it usefully."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.cooling import cooled, is_hot, purged, under_hot_roof
from controller.decision.need import (
    NEED_MARGIN_K,
    STORE_BAND_K,
    STORE_FULL_K,
    need_has_passed,
    nights_are_cold,
    store_price,
)
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Demand
from controller.decision.trial_run import tried
from controller.decision.wish import Wish

if TYPE_CHECKING:
    from controller.decision.wish import LoopView

WARMING = (Demand.HEAT, Demand.FROST)
CHARGING = (Demand.COOL, Demand.BANK)


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
    points, need = view.settings.setpoints, view.need
    full_c = points.heat_below_c + STORE_FULL_K + (STORE_BAND_K if view.running_for is Demand.BANK else 0.0)
    price = store_price(need, view.soil_c, full_c, view.settings)
    if price is not None:
        return _stored(view, price)
    numbers: dict[str, float | str] = {
        "soil_c": view.soil_c,
        "coldest_c": need.coldest_c or 0.0,
        "full_c": full_c,
        "cold_c": points.heat_below_c + NEED_MARGIN_K,
    }
    return Wish(None, Reason(ReasonCode.STORE_NOT_WANTED, numbers))


def _stored(view: LoopView, price: float) -> Wish:
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
    start_w = price * fans.heat_per_watt * view.loop.power_w
    run_k = fans.useful_difference_k - fans.difference_deadband_k
    run_w = start_w * run_k / fans.useful_difference_k  # the same deadband, as heat
    least_w = start_w if view.running_for is None else run_w
    if expected_w < least_w:
        numbers = {"heat_w": expected_w, "power_w": view.loop.power_w, "least_w": least_w}
        if not need_has_passed(view.need):
            return Wish(None, Reason(ReasonCode.HEAT_TOO_DEAR, numbers))
        return Wish(None, Reason(ReasonCode.HEAT_TOO_LATE, numbers | {"passed_k": view.need.passed_k}))
    until_k = max(run_k, run_w / view.heat_w_per_k)
    reason = _reason(view, ReasonCode.BANK, difference_k, setpoint_c)
    return Wish(Demand.BANK, reason._replace(numbers={**reason.numbers, "until_k": until_k}))


def _reason(view: LoopView, code: ReasonCode, difference_k: float, setpoint_c: float) -> Reason:
    """Why the fan runs, with where the wish for it ends."""
    band_k = view.settings.setpoints.air_deadband_k
    return Reason(
        code,
        {
            "air_c": view.air_c,
            "ceiling_c": view.ceiling_c,
            "soil_c": view.soil_c,
            "setpoint_c": setpoint_c,
            "until_c": setpoint_c + band_k,
            "difference_k": difference_k,
            "heat_w": view.heat_w_per_k * difference_k,
            "power_w": view.loop.power_w,
        },
    )
