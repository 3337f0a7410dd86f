"""What passes between the house and its surroundings, beds and crop: air, sky, vapour.

Plain Python; the model runs the compiled twin.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from controller.physics import moist_air
from controller.simulator.indices import (
    BENCH_C,
    CEILING_C,
    P_AIR_KG,
    P_COVER_M2,
    P_FLOOR_M2,
    P_LEAK_PER_S,
    P_RIDGE_M,
    P_VENT_OPEN_C,
    VENT,
    W_AIR_C,
    W_SKY_W_M2,
    W_WIND_M_S,
)
from controller.simulator.tubes import AIR_J_KGK, LATENT_J_KG

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

STEFAN_BOLTZMANN_W_M2K4 = 5.670374419e-8  # CODATA 2018
COVER_EMISSIVITY = 0.9  # wet or glass cover in the long-wave (any heat transfer text)
# Mean deficit of the night sky that measured heat losses already hold; common practice, no source.
MEAN_SKY_DEFICIT_W_M2 = 50.0
FLOOR_CONVECTION_W_M2K = 3.0  # the convective part of that, for evaporation; common practice, no source
FLOOR_WET = 0.5  # share of the bed surface that is moist; common practice, no source
# Share of the crop's light that goes into transpiration (Baille et al. 1994, A about 0.5; from memory).
LEAF_SHARE = 0.5
LEAF_W_M2_PA = 0.012  # transpiration per vapour pressure deficit (same, leaf area index about 1; from memory)
VENT_BAND_K = 4.0  # vents are wide open this far above where they start to open; common practice, no source
VENT_S = 600.0  # time constant of a wax opener; common practice, no source
VENT_SHARE = 0.15  # vent area per floor area (recommended least, ASAE EP406; from memory)
VENT_DISCHARGE = 0.64  # Boulard & Baille 1995, Agric. For. Meteorol. 74:135 (from memory)
VENT_WIND = 0.09  # same
LEAK_WIND_S_M = 0.2  # growth of leakage per m/s of wind; common practice, no source
CALM_MIXING_PER_H = 6.0  # exchanges of the ceiling layer with warm air on top; common practice, no source
OVERTURN_PER_H = 40.0  # with cold air on top; common practice, no source
CEILING_SHARE = 0.4  # of the house's air in the ceiling layer; common practice, no source


def vent_flow_kg_s(vent: float, floor_m2: float, ridge_m: float, warmer_k: float, wind_m_s: float) -> float:
    """Air through open vents (kg/s): A/2 Cd sqrt(2 g H/4 dT/T + Cw w²) (Boulard & Baille 1995)."""
    stack = 2.0 * 9.80665 * 0.25 * ridge_m * max(warmer_k, 0.0) / 293.15
    return (
        1.2 * 0.5 * VENT_SHARE * floor_m2 * vent * VENT_DISCHARGE * math.sqrt(stack + VENT_WIND * wind_m_s**2)
    )


def outside_w_m2k(wind_m_s: float) -> float:
    """Exchange of the cover's outside by wind (Watmuff et al. 1977: 2.8 + 3 w) and radiation (4.6)."""
    return 7.4 + 3.0 * wind_m_s


def sky_deficit_w_m2(air_c: float, sky_w_m2: float) -> float:
    """How much less the sky radiates than a black body at air temperature would (W/m²)."""
    return STEFAN_BOLTZMANN_W_M2K4 * (air_c + 273.15) ** 4 - sky_w_m2


def transpiration_kg_s(
    floor_m2: float, crop_sun_w: float, air_c: float, air_w: float, pressure_pa: float
) -> float:
    """Water the crop gives off: by a share of its light and by the air's dryness (Baille et al. 1994)."""
    saturated_pa = moist_air.saturation_pressure_pa(air_c)
    deficit_pa = max(saturated_pa - moist_air.vapour_pressure_pa(air_w, pressure_pa), 0.0)
    return (LEAF_SHARE * crop_sun_w + LEAF_W_M2_PA * floor_m2 * deficit_pa) / LATENT_J_KG


def floor_evaporation_kg_s(floor_m2: float, floor_c: float, air_w: float, pressure_pa: float) -> float:
    """Water the beds give off (negative: dew on them), by the analogy of heat and vapour transfer (Lewis)."""
    saturated = moist_air.saturation_humidity_ratio(floor_c, pressure_pa)
    return FLOOR_WET * FLOOR_CONVECTION_W_M2K / AIR_J_KGK * floor_m2 * (saturated - air_w)


def flows_kg_s(
    house: Floats, parameters: Floats, weather: Floats, step_s: float
) -> tuple[float, float, float]:
    """Air by vents, by leakage and between the layers; the vents' openers follow the air."""
    wanted = min(max((house[BENCH_C] - parameters[P_VENT_OPEN_C]) / VENT_BAND_K, 0.0), 1.0)
    house[VENT] += (wanted - house[VENT]) * -math.expm1(-step_s / VENT_S)
    wind = weather[W_WIND_M_S]
    vent = vent_flow_kg_s(
        house[VENT], parameters[P_FLOOR_M2], parameters[P_RIDGE_M], house[CEILING_C] - weather[W_AIR_C], wind
    )
    leak = parameters[P_AIR_KG] * parameters[P_LEAK_PER_S] * (1.0 + LEAK_WIND_S_M * wind)
    per_h = CALM_MIXING_PER_H if house[CEILING_C] > house[BENCH_C] else OVERTURN_PER_H
    return vent, leak, CEILING_SHARE * parameters[P_AIR_KG] * per_h / 3600.0


def felt_outside_c(parameters: Floats, weather: Floats) -> float:
    """Outside temperature that stands for air and sky together (sol-air temperature without the light)."""
    deficit_w_m2 = sky_deficit_w_m2(weather[W_AIR_C], weather[W_SKY_W_M2]) - MEAN_SKY_DEFICIT_W_M2
    seen = parameters[P_FLOOR_M2] / parameters[P_COVER_M2]
    cooler_k = COVER_EMISSIVITY * seen * deficit_w_m2 / outside_w_m2k(weather[W_WIND_M_S])
    return float(weather[W_AIR_C] - cooler_k)
