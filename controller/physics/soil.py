"""Thermal properties of mineral soil by texture and wetness, its freezing, and how fast rain soaks in.

Water freezes the later, the harder the soil holds it. What a soil holds at the wilting point freezes only
below -1.2 °C and is left liquid here; what it holds besides freezes evenly on the way there. Ice conducts
better than water and holds less heat. That is left out: 2 to 7 % of the volume of a watered bed turns to ice,
which makes it conduct 3 to 10 % better (geometric mean of the parts).
"""

from __future__ import annotations

import math

CONDUCTIVITY_WATER_W_MK = 0.57  # Farouki 1981, CRREL Monograph 81-1
CONDUCTIVITY_QUARTZ_W_MK = 7.7  # same
HEAT_CAPACITY_SOLIDS_J_M3K = 1.926e6  # same
HEAT_CAPACITY_WATER_J_M3K = 4.188e6  # same
SOLIDS_DENSITY_KG_M3 = 2700.0  # same
FUSION_J_M3 = 333.4e6  # heat of melting of ice per m³ of water (IAPWS-06 at 0 °C: 333.4 kJ/kg)
WILTING_PA = 1.5e6  # suction at the permanent wilting point, by definition
# How far below 0 °C water freezes that is held with that suction: Clausius and Clapeyron, for soils Koopmans
# & Miller 1966, Soil Sci. Soc. Am. Proc. 30:680 [memory]
FREEZING_K = WILTING_PA * 273.15 / FUSION_J_M3

# texture: (porosity, sand in percent). Porosity: Clapp & Hornberger 1978, Water Resour. Res. 14:601, Table 2.
# Sand: Cosby et al. 1984, Water Resour. Res. 20:682, Table 2 (middles of the texture triangle's classes).
TEXTURES = {
    "sand": (0.395, 92.0),
    "sandy loam": (0.435, 58.0),
    "loam": (0.451, 43.0),
    "clay loam": (0.476, 32.0),
    "silty clay": (0.492, 6.0),
    "clay": (0.482, 22.0),
}

# Basic infiltration rate (m/s) of wetted soil, middle of the bands of FAO, Irrigation Water Management,
# training manual 5, Annex 2, in mm/h: sand above 30, sandy loam 20-30, loam 10-20, clay loam 5-10, clay 1-5.
# Silty clay is put with clay.
_MM_PER_H_M_S = 1e-3 / 3600.0
INFILTRATION_M_S = {
    "sand": 30.0 * _MM_PER_H_M_S,
    "sandy loam": 25.0 * _MM_PER_H_M_S,
    "loam": 15.0 * _MM_PER_H_M_S,
    "clay loam": 7.5 * _MM_PER_H_M_S,
    "silty clay": 3.0 * _MM_PER_H_M_S,
    "clay": 3.0 * _MM_PER_H_M_S,
}


def dry_conductivity_w_mk(porosity: float) -> float:
    """Conductivity of dry soil (W/mK; Johansen 1975, CRREL translation 637, natural soils)."""
    bulk_kg_m3 = SOLIDS_DENSITY_KG_M3 * (1.0 - porosity)
    return (0.135 * bulk_kg_m3 + 64.7) / (SOLIDS_DENSITY_KG_M3 - 0.947 * bulk_kg_m3)


def saturated_conductivity_w_mk(porosity: float, sand_percent: float) -> float:
    """Conductivity of water-filled soil (W/mK; Johansen 1975): geometric mean, sand taken for quartz."""
    quartz = sand_percent / 100.0
    other_w_mk = 2.0 if quartz > 0.2 else 3.0  # noqa: PLR2004
    solids_w_mk = float(CONDUCTIVITY_QUARTZ_W_MK**quartz) * float(other_w_mk ** (1.0 - quartz))
    return float(solids_w_mk ** (1.0 - porosity)) * float(CONDUCTIVITY_WATER_W_MK**porosity)


def wetness_weight(saturation: float, sand_percent: float) -> float:
    """Johansen's Kersten number (0 to 1): where between dry and water-filled the conductivity lies."""
    if sand_percent < 50.0:  # noqa: PLR2004
        return math.log10(max(saturation, 0.1)) + 1.0
    return 0.7 * math.log10(max(saturation, 0.05)) + 1.0


def conductivity_w_mk(porosity: float, sand_percent: float, saturation: float) -> float:
    """Thermal conductivity (W/mK) at a share of pores (0 to 1) filled with water (Johansen 1975); +-30 %."""
    dry = dry_conductivity_w_mk(porosity)
    wet = saturated_conductivity_w_mk(porosity, sand_percent)
    return dry + (wet - dry) * wetness_weight(saturation, sand_percent)


def heat_capacity_j_m3k(porosity: float, saturation: float) -> float:
    """Heat capacity (J/m³K) at a share of pores (0 to 1) filled with water (de Vries 1963, by volume)."""
    return (1.0 - porosity) * HEAT_CAPACITY_SOLIDS_J_M3K + porosity * saturation * HEAT_CAPACITY_WATER_J_M3K


def fusion_j_m3(porosity: float, saturation: float, wilting_saturation: float) -> float:
    """Heat of freezing (J/m³) between 0 °C and ``-FREEZING_K``, that of water beyond the wilting point."""
    return FUSION_J_M3 * porosity * max(saturation - wilting_saturation, 0.0)


def diffusivity_m2_s(porosity: float, sand_percent: float, saturation: float) -> float:
    """Thermal diffusivity (m²/s): conductivity over heat capacity."""
    return conductivity_w_mk(porosity, sand_percent, saturation) / heat_capacity_j_m3k(porosity, saturation)
