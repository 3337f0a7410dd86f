"""How much stored heat the house needs, as its own air has shown it, and what heat for the store is worth.

No clock is asked: a house shows by its coldest nights whether autumn, winter or spring it is. New lows mean
that the store will be drawn on; nights that have come up well above the season's coldest mean that most of
the need has passed, and what is stored then is mostly lost again before the next winter.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.state import Need
from controller.faults import DAY_S

if TYPE_CHECKING:
    from controller.settings.schema import Settings

# How fast a cold night is forgotten: a need of 10 K fades over a bit less than three weeks. [practice]
FORGET_K_PER_S = 0.5 / DAY_S
# How fast the coldest of the season is. Nights count as at most PASSED_MOST_K above it, so that a probe that
# once read far too low is as good as forgotten once the air has stopped warming for three months. [practice]
SEASON_FORGET_K_PER_S = 0.05 / DAY_S
PASSED_MOST_K = 6.0
# Soil this much warmer than the temperature below which warmth is returned gives a loop its full worth, and
# nights within a margin of that temperature are cold.
STORE_FULL_K = 12.0
NEED_MARGIN_K = 1.0
# A fan that banks goes on this far past a full store.
STORE_BAND_K = 0.5
# The warmer the soil, the more of what is added leaks away unused: at heat_below heat for the ground must
# bring heat_per_watt, and with each of these kelvins above it as much again.
DEARER_EVERY_K = 10.0
# So many times dearer does it become while nights rise from PASSED_FROM_K to PASSED_MOST_K above the season's
# coldest: most of what is stored then is lost before the next winter.
PASSED_FROM_K = 2.0
PASSED_PRICE = 2.0
# Before the winter a full store is filled further, with cheap heat: each of these kelvins that soil and
# nights together are warmer than they need be asks for as much again; beyond the most none is wanted.
SPARE_EVERY_K = 4.0
SPARE_MOST_K = 16.0
# The numbers were chosen on the long house of tests/lab/scoreboard in three winters (Carolina, 8 K colder,
# and 6 K colder with the sun of 50 degrees north).


def updated_need(need: Need, air_c: float, now_mono_s: float) -> Need:
    """Remember the coldest air of late and of the season, forgetting them slowly and very slowly."""
    if need.coldest_c is None:
        return Need(air_c, now_mono_s)
    gone_s = now_mono_s - need.at_s
    coldest_c = min(air_c, need.coldest_c + FORGET_K_PER_S * gone_s)
    season_c = need.coldest_c - need.passed_k + SEASON_FORGET_K_PER_S * gone_s
    passed_k = max(coldest_c - season_c, 0.0)
    return Need(coldest_c, now_mono_s, min(passed_k, PASSED_MOST_K))


def nights_are_cold(need: Need, settings: Settings) -> bool:
    """Whether nights have lately been so cold, or so little is known, that even a full store is used."""
    return need.coldest_c is None or need.coldest_c <= settings.setpoints.heat_below_c + NEED_MARGIN_K


def need_has_passed(need: Need) -> bool:
    """Whether nights have come up from the season's coldest, so that heat for the store is less wanted."""
    return need.passed_k > PASSED_FROM_K


def store_price(need: Need, soil_c: float, full_c: float, settings: Settings) -> float | None:
    """What heat for the store must bring now, in ``heat_per_watt``; None if it is not wanted at any price.

    Args:
        need: the house's need for stored heat.
        soil_c: soil at tube depth.
        full_c: soil temperature of a full store.
        settings: the settings in force.
    """
    points, coldest_c = settings.setpoints, need.coldest_c
    above_k = min(max(soil_c - points.heat_below_c, 0.0), STORE_FULL_K)
    price = 1.0 + above_k / DEARER_EVERY_K
    if coldest_c is None or soil_c < full_c or nights_are_cold(need, settings):
        passed = max(need.passed_k - PASSED_FROM_K, 0.0) / (PASSED_MOST_K - PASSED_FROM_K)
        return price * (1.0 + (PASSED_PRICE - 1.0) * min(passed, 1.0))
    spare_k = soil_c - full_c + coldest_c - points.heat_below_c - NEED_MARGIN_K
    too_warm_c = points.cool_above_c - settings.fans.cooling_difference_k  # to cool the house
    if need_has_passed(need) or spare_k > SPARE_MOST_K or soil_c >= too_warm_c:
        return None
    return price * (1.0 + spare_k / SPARE_EVERY_K)
