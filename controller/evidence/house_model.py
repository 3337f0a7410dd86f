"""A small grey-box house: air that follows at once, its mass, and the ground; per m² of floor.

    air:   U (outdoors - s - T) + Gm (M - T) + q = 0
    mass:  Cm dM/dt = Gm (T - M) + Gs (ground - M)

``s`` is how much colder than the outdoor air the sky makes the outside, q the heat from the fans. All is
linear, so that the house without fans is the measured one less the response to q alone. In that response the
ground remembers as well: what is banked warms the mass from below for weeks, and what is taken back does not.

The form is the usual one for identifying buildings from their logs (Madsen & Holst 1995, Energy and
Buildings 22:67-79: estimation of continuous-time models for the heat dynamics of a building) [memory].
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from controller.evidence import calibration

if TYPE_CHECKING:
    from collections.abc import Sequence

# The store's memory, found on rehearsed houses other than those of the tests: heat capacity over which what
# is banked spreads, and loss to its surroundings.
STORE_J_M2K = 2.9e6
STORE_LOSS_W_M2K = 3.0


class Parameters(NamedTuple):
    """What a house is, per m² of floor.

    Attributes:
        loss_w_m2k: U, from the air to outdoors.
        mass_w_m2k: Gm, from the air to the mass.
        mass_j_m2k: Cm, heat capacity of the mass.
        ground_w_m2k: Gs, from the mass to the ground.
    """

    loss_w_m2k: float
    mass_w_m2k: float
    mass_j_m2k: float
    ground_w_m2k: float


class Night(NamedTuple):
    """Inputs of a night, step by step.

    Attributes:
        outdoors_c: air outside.
        ground_c: soil under the house.
        heat_w_m2: heat from the fans, their electricity included.
        bench_c: air among the crop as measured.
    """

    outdoors_c: Sequence[float]
    ground_c: Sequence[float]
    heat_w_m2: Sequence[float]
    bench_c: Sequence[float]


def _share(house: Parameters, step_s: float) -> float:
    """What a step with even inputs changes of the mass, in K for each W/m² into it at its beginning."""
    loss, mass, capacity, ground = house
    back = mass * loss / (loss + mass) + ground
    return -math.expm1(-back * step_s / capacity) / back


def air_of(house: Parameters, night: Night, step_s: float) -> list[float]:
    """The air through a night that began with a mass of 0 °C under a sky like the outdoor air, in °C."""
    loss, mass, _, ground = house
    share, own = _share(house, step_s), 1.0 / (loss + mass)
    mass_c, found = 0.0, []
    for outdoors_c, ground_c, heat in zip(night.outdoors_c, night.ground_c, night.heat_w_m2, strict=True):
        air_c = (loss * outdoors_c + mass * mass_c + heat) * own
        found.append(air_c)
        mass_c += share * (mass * (air_c - mass_c) + ground * (ground_c - mass_c))
    return found


def unknowns_of(house: Parameters, steps: int, step_s: float) -> tuple[list[float], list[float], list[float]]:
    """What the air would be in K by the unknowns of a night alone.

    Returns:
        For a mass 1 K warmer at its beginning, a sky 1 K colder all night, and one that gets colder through
        the night from -0.5 to 0.5 K.
    """
    loss, mass, _, ground = house
    share, own = _share(house, step_s), 1.0 / (loss + mass)
    warm_k, cold_k, colder_k = 1.0, 0.0, 0.0
    warm, cold, colder = [], [], []
    for step in range(steps):
        first = mass * warm_k * own
        second = (mass * cold_k - loss) * own
        third = (mass * colder_k - loss * (step / steps - 0.5)) * own
        warm.append(first)
        cold.append(second)
        colder.append(third)
        warm_k += share * (mass * (first - warm_k) - ground * warm_k)
        cold_k += share * (mass * (second - cold_k) - ground * cold_k)
        colder_k += share * (mass * (third - colder_k) - ground * colder_k)
    return warm, cold, colder


def raise_by(house: Parameters, heat_w_m2: Sequence[float], step_s: float) -> list[float]:
    """How much warmer in K the air is by the fans' heat, through a whole log."""
    loss, mass, _, ground = house
    share, own = _share(house, step_s), 1.0 / (loss + mass)
    stored = step_s / STORE_J_M2K
    mass_k = store_k = 0.0
    found = []
    for heat in heat_w_m2:
        air_k = (heat + mass * mass_k) * own
        found.append(air_k)
        into_mass = ground * (store_k - mass_k)
        mass_k += share * (mass * (air_k - mass_k) + into_mass)
        store_k -= stored * (heat + into_mass + STORE_LOSS_W_M2K * store_k)
    return found


def lingering(house: Parameters, heat_w_m2: Sequence[float], step_s: float) -> list[float]:
    """How much warmer in K the air still is by what the fans gave it in the last days.

    Beds, crop and walls hold what a night's heat has left in them for about a day, longer than the one mass
    of the model does. Found on rehearsed houses; heat that is banked by day leaves nothing of the kind.
    """
    share = step_s / calibration.LINGERS_S
    left_k, found = 0.0, []
    for heat in heat_w_m2:
        found.append(left_k)
        left_k += share * (calibration.LINGERING_SHARE * max(heat, 0.0) / house.loss_w_m2k - left_k)
    return found


def heater_w_m2(house: Parameters, raise_k: Sequence[float], step_s: float) -> list[float]:
    """What a heater would have to give for that raise of the air, beginning with a mass as without it."""
    loss, mass, _, ground = house
    share = _share(house, step_s)
    mass_k, found = 0.0, []
    for air_k in raise_k:
        found.append(max((loss + mass) * air_k - mass * mass_k, 0.0))
        mass_k += share * (mass * (air_k - mass_k) - ground * mass_k)
    return found
