"""What passes between the house and its surroundings, beds and crop: air, sky, vapour.

Plain Python; the model runs the compiled twin.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from controller.physics import cover, moist_air, sky
from controller.simulator.house.openings import AIR_K, GRAVITY_M_S2, aired_m3_s, work_openings
from controller.simulator.house.tubes import AIR_J_KGK, LATENT_J_KG

if TYPE_CHECKING:
    from controller.simulator.house.state import House, WeatherNow

AIR_KG_M3 = 1.2  # at 20 °C and sea level (any heat transfer text)
COVER_EMISSIVITY = 0.9  # wet or glass cover in the long-wave (any heat transfer text)
# Share of the crop's light that goes into transpiration (Baille et al. 1994, A about 0.5) [memory]
LEAF_SHARE = 0.5
LEAF_W_M2_PA = 0.010  # transpiration per leaf area and vapour pressure deficit (same, B) [memory]
CALM_MIXING_PER_H = 6.0  # exchanges of the ceiling layer with warm air on top [practice]
# Cold air over warm air: what sinks and rises through a level opening as large as the floor, per area:
# 0.055 sqrt(g dT/T) D^(5/2) for a circle of width D (Epstein 1988, J. Heat Transfer 110:885) [memory]
OVERTURN = 0.055 / (0.25 * math.pi)
CEILING_SHARE = 0.4  # of the house's air in the ceiling layer [practice]


def overturn_kg_s(floor_m2: float, colder_k: float) -> float:
    """Air that sinks (and as much that rises) while the ceiling is colder than the bench by this much."""
    wide_m = math.sqrt(floor_m2 / (0.25 * math.pi))
    return AIR_KG_M3 * floor_m2 * OVERTURN * math.sqrt(GRAVITY_M_S2 * colder_k / AIR_K * wide_m)


def transpiration_kg_s(
    leaf_m2: float, crop_sun_w: float, air_c: float, air_w: float, pressure_pa: float
) -> float:
    """Water the crop gives off: by a share of its light and by the air's dryness (Baille et al. 1994)."""
    saturated_pa = moist_air.saturation_pressure_pa(air_c)
    deficit_pa = max(saturated_pa - moist_air.vapour_pressure_pa(air_w, pressure_pa), 0.0)
    return (LEAF_SHARE * crop_sun_w + LEAF_W_M2_PA * leaf_m2 * deficit_pa) / LATENT_J_KG


def floor_evaporation_kg_s(
    wet_m2: float, convection_w_m2k: float, floor_c: float, air_w: float, pressure_pa: float
) -> float:
    """Water the beds give off (negative: dew on them), by the analogy of heat and vapour transfer (Lewis)."""
    saturated = moist_air.saturation_humidity_ratio(floor_c, pressure_pa)
    return convection_w_m2k / AIR_J_KGK * wet_m2 * (saturated - air_w)


def flows_kg_s(house: House, weather: WeatherNow, step_s: float) -> tuple[float, float, float, float]:
    """Air by openings, the part of it that leaves under the roof, by leakage and between the layers.

    Openings are worked as the air is now.
    """
    state, built = house.state, house.parameters
    work_openings(house, weather, step_s)
    vent_m3_s, high_m3_s = aired_m3_s(house, weather)
    leak = AIR_KG_M3 * cover.leakage_flow_m3_s(built.leak_m2, state.bench_c - weather.air_c, weather.wind_m_s)
    mixing = CEILING_SHARE * built.air_kg * CALM_MIXING_PER_H / 3600.0
    colder_k = state.bench_c - state.ceiling_c
    if colder_k > 0.0:
        mixing += overturn_kg_s(built.floor_m2, colder_k)
    return AIR_KG_M3 * vent_m3_s, AIR_KG_M3 * high_m3_s, leak, mixing


def through_cover(house: House, weather: WeatherNow) -> tuple[float, float]:
    """From the inside of the cover outwards: conductance (W/K), and the temperature it is felt against.

    That temperature stands for the air, the sky and the light that the cover swallows (sol-air temperature).
    A tilted cover sees less of the cold sky, and its warmer parts: ((1 + cos tilt) / 2)^1.5 (Walton 1983, as
    in the EnergyPlus engineering reference) [memory]; the mean cosine is floor area over cover area.
    """
    built = house.parameters
    air_c, cover_m2 = weather.air_c, built.cover_m2
    mean_c = 0.5 * (house.state.cover_c + air_c)
    outside = cover.outside_convection_w_m2k(weather.wind_m_s)
    outside += cover.radiation_w_m2k(mean_c, COVER_EMISSIVITY)
    level = built.floor_m2 / cover_m2
    deficit_w_m2 = sky.downward_radiation_w_m2(air_c, 1.0) - weather.sky_w_m2
    swallowed_w_m2 = built.cover_dark * level * weather.light_w_m2
    cooler_k = (COVER_EMISSIVITY * (0.5 + 0.5 * level) ** 1.5 * deficit_w_m2 - swallowed_w_m2) / outside
    resistance = built.cover_m2k_w + house.state.screen * built.screen_m2k_w + 1.0 / outside
    return cover_m2 / resistance, float(air_c - cooler_k)
