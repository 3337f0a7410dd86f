"""When the fans cool a hot house into the soil, when they cool the soil by night, and why they do not."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Demand
from controller.decision.wish import Wish

if TYPE_CHECKING:
    from controller.decision.wish import LoopView

# A purge goes on this far past the soil temperature from which it starts.
PURGE_BAND_K = 0.5


def is_hot(view: LoopView) -> bool:
    """Whether the crop is so hot that the fans should cool, in a run down through the deadband."""
    points = view.settings.setpoints
    band_k = points.air_deadband_k if view.running_for is Demand.COOL else 0.0
    return view.air_c >= points.cool_above_c - band_k


def cooled(view: LoopView) -> Wish:
    """Cooling of a hot house: the soil must be clearly cooler than the roof, and the heat worth its price."""
    points, fans = view.settings.setpoints, view.settings.fans
    numbers = _numbers(view, view.ceiling_c - view.soil_c)
    if not points.cooling:
        return Wish(None, Reason(ReasonCode.COOLING_OFF, numbers))
    needed_k = fans.cooling_difference_k
    if view.running_for is not None:
        needed_k -= fans.difference_deadband_k
    lacking_k = view.soil_c + needed_k - view.ceiling_c
    if lacking_k > 0.0:
        numbers |= {"needed_k": needed_k, "lacking_k": lacking_k}
        return Wish(None, Reason(ReasonCode.SOIL_TOO_WARM, numbers))
    least_w = _least_w(view, needed_k / fans.cooling_difference_k)
    if view.heat_w_per_k * (view.ceiling_c - view.soil_c) < least_w:
        return Wish(None, Reason(ReasonCode.HEAT_TOO_DEAR, numbers | {"least_w": least_w}))
    numbers |= {"setpoint_c": points.cool_above_c, "until_c": points.cool_above_c - points.air_deadband_k}
    return Wish(Demand.COOL, Reason(ReasonCode.COOL, numbers))


def purged(view: LoopView, full_c: float) -> Wish | None:
    """A purge by night of soil that could not cool the house by day; None where it is not worth its price.

    Soil is cool enough if it is ``cooling_difference`` below ``cool_above``: then even air under the roof
    that is no warmer than the crop can be cooled. It is never cooled below a full store.

    Args:
        view: what the rule may look at.
        full_c: soil temperature of a full store.
    """
    points, fans = view.settings.setpoints, view.settings.fans
    over_k = view.soil_c - view.ceiling_c
    aim_c = max(points.cool_above_c - fans.cooling_difference_k, full_c)
    needed_k = fans.night_purge_difference_k
    if view.running_for is Demand.NIGHT_PURGE:
        needed_k -= fans.difference_deadband_k
    else:
        aim_c += PURGE_BAND_K
    if view.soil_c < aim_c or over_k < needed_k:
        return None
    if view.heat_w_per_k * over_k < _least_w(view, needed_k / fans.night_purge_difference_k):
        return None
    until_c = aim_c if view.running_for is Demand.NIGHT_PURGE else aim_c - PURGE_BAND_K
    numbers = _numbers(view, over_k) | {"until_c": until_c}
    return Wish(Demand.NIGHT_PURGE, Reason(ReasonCode.NIGHT_PURGE, numbers))


def under_hot_roof(view: LoopView) -> Reason:
    """Why the fans stand while the roof is hot and the crop is not."""
    points = view.settings.setpoints
    numbers = _numbers(view, view.ceiling_c - view.soil_c)
    if not points.cooling:
        return Reason(ReasonCode.COOLING_OFF, numbers)
    return Reason(ReasonCode.NOT_HOT_YET, numbers | {"setpoint_c": points.cool_above_c})


def _least_w(view: LoopView, share: float) -> float:
    """Heat that pays for the fan; a run may go on with as small a share of it as of its difference."""
    return share * view.settings.fans.heat_per_watt * view.loop.power_w


def _numbers(view: LoopView, difference_k: float) -> dict[str, float | str]:
    return {
        "probe": view.air_probe,
        "air_c": view.air_c,
        "ceiling_c": view.ceiling_c,
        "soil_c": view.soil_c,
        "difference_k": difference_k,
        "heat_w": view.heat_w_per_k * max(difference_k, 0.0),
        "power_w": view.loop.power_w,
    }
