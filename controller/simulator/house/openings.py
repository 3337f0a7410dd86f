"""Vents and doors: who works them, and the air that warmth and wind drive through them.

Plain Python; the model runs the compiled twin. Every opening is two halves, one above the other. Air leaves
by the halves above the neutral plane and enters by those below, and what leaves equals what enters. For one
opening that is the half-opening rule of Boulard & Baille (1995), for a low and a high one the equation of
Kittas et al. (1997); more of them, and warmer air under the roof than below, follow from the same balance
(Andersen 2003, Build. Environ. 38:1281) [memory].
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from controller.simulator.house.fittings import switched

if TYPE_CHECKING:
    from controller.simulator.house.state import House, WeatherNow

GRAVITY_M_S2 = 9.80665  # standard gravity, CGPM 1901
AIR_K = 293.15  # to divide a difference by, for its buoyancy
DISCHARGE = 0.64  # Boulard & Baille 1995, Agric. For. Meteorol. 74:135 [memory]
WIND = 0.09  # same; on half the area of all openings (Kittas et al. 1997, J. Agric. Eng. Res. 67:135)
OPENER_BAND_K = 4.0  # an opener has its vents wide open this far above where it begins [practice]
OPENER_S = 600.0  # time constant of a wax opener [practice]
PERSON_BAND_K = 5.0  # within their hours people shut again when the bench is this much colder [practice]
HALVINGS = 24  # of the span in which the neutral plane is sought


class Driven(NamedTuple):
    """What buoyancy drives through all openings, in m² times the root of kelvin times metres.

    Attributes:
        net: out less in.
        out: what leaves.
        high: the part of it that leaves from the ceiling layer.
    """

    net: float
    out: float
    high: float


def work_openings(house: House, weather: WeatherNow, step_s: float) -> None:
    """Let openers follow the bench air, and people open and shut between their hours."""
    state, built, opened = house.state, house.openings.parameters, house.openings.opened
    area_m2 = 0.0
    open_m2 = 0.0
    for index in range(opened.size):
        one = built[index]
        if one.by_person > 0.0:
            there = one.from_s <= weather.day_s < one.until_s
            cold = state.bench_c < one.above_c - PERSON_BAND_K
            opened[index] = switched(opened[index], there and state.bench_c >= one.above_c, cold or not there)
        else:
            wanted = min(max((state.bench_c - one.above_c) / OPENER_BAND_K, 0.0), 1.0)
            opened[index] += (wanted - opened[index]) * -math.expm1(-step_s / OPENER_S)
        area_m2 += one.area_m2
        open_m2 += one.area_m2 * opened[index]
    state.vent = open_m2 / area_m2 if area_m2 > 0.0 else 0.0


def buoyancy_km(height_m: float, layer_m: float, bench_k: float, ceiling_k: float) -> float:
    """How much warmer than outside the air is, summed from the floor up to a height, in K m.

    Args:
        height_m: above the floor.
        layer_m: where the ceiling layer begins.
        bench_k: how much warmer than outside the air is below that.
        ceiling_k: the same above it.
    """
    return bench_k * min(height_m, layer_m) + ceiling_k * max(height_m - layer_m, 0.0)


def driven(house: House, out_c: float, neutral_km: float) -> Driven:
    """What buoyancy drives through the openings if inside and outside balance where it is ``neutral_km``."""
    layer_m = house.parameters.layer_m
    bench_k, ceiling_k = house.state.bench_c - out_c, house.state.ceiling_c - out_c
    halves, opened = house.openings.halves, house.openings.opened
    net = 0.0
    out = 0.0
    high = 0.0
    for index in range(halves.shape[0]):
        half = halves[index]
        over_km = buoyancy_km(half.height_m, layer_m, bench_k, ceiling_k) - neutral_km
        flow = half.area_m2 * opened[index // 2] * math.sqrt(abs(over_km))
        if over_km > 0.0:
            net += flow
            out += flow
            high += flow * half.high_share
        else:
            net -= flow
    return Driven(net, out, high)


def neutral_plane_km(house: House, out_c: float) -> float:
    """The buoyancy where inside and outside balance: as much air leaves above as enters below."""
    layer_m, halves = house.parameters.layer_m, house.openings.halves
    bench_k, ceiling_k = house.state.bench_c - out_c, house.state.ceiling_c - out_c
    low = math.inf
    high = -math.inf
    for index in range(halves.shape[0]):
        there_km = buoyancy_km(halves[index].height_m, layer_m, bench_k, ceiling_k)
        low, high = min(low, there_km), max(high, there_km)
    for _ in range(HALVINGS if halves.shape[0] > 2 else 0):  # noqa: PLR2004 (of one opening it is the middle)
        middle = 0.5 * (low + high)
        if driven(house, out_c, middle).net > 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def aired_m3_s(house: House, weather: WeatherNow) -> tuple[float, float]:
    """Air through all openings, and the part of it that leaves from the ceiling layer (m³/s).

    Warmth and wind together: the root of the sum of squares. Wind drives air in by half of the open area and
    out by the other half, wherever it is.
    """
    if house.state.vent <= 0.0:
        return 0.0, 0.0
    by_warmth = driven(house, weather.air_c, neutral_plane_km(house, weather.air_c))
    root = math.sqrt(2.0 * GRAVITY_M_S2 / AIR_K)
    stack, stack_high = root * by_warmth.out, root * by_warmth.high
    wind = 0.0
    wind_high = 0.0
    for index in range(house.openings.halves.shape[0]):
        half = house.openings.halves[index]
        by_wind = 0.5 * half.area_m2 * house.openings.opened[index // 2] * math.sqrt(WIND) * weather.wind_m_s
        wind += by_wind
        wind_high += by_wind * half.high_share
    together = math.sqrt(stack**2 + wind**2)
    if together <= 0.0:
        return 0.0, 0.0
    high = (stack * stack_high + wind * wind_high) / together
    return DISCHARGE * together, DISCHARGE * high
