"""Moist air: saturation, humidity, enthalpy, density and transport properties, -30 to 60 °C, 50 to 110 kPa.

``ratio`` is the humidity ratio, kg of water vapour per kg of dry air; ``humidity`` is the relative humidity,
0 to 1.
"""

from __future__ import annotations

import math

ZERO_CELSIUS_K = 273.15
GAS_CONSTANT_DRY_AIR_J_KGK = 287.042  # ASHRAE Fundamentals 2017 ch. 1: 8314.472 / 28.966
MASS_RATIO = 0.621945  # molar mass of water over that of dry air (ASHRAE Fundamentals 2017 ch. 1)
CP_DRY_AIR_J_KGK = 1006.0  # ASHRAE Fundamentals 2017 ch. 1 eq. 30
CP_VAPOUR_J_KGK = 1860.0  # same
STANDARD_PRESSURE_PA = 101_325.0  # ISO 2533


def standard_pressure_pa(altitude_m: float) -> float:
    """Pressure of the standard atmosphere (Pa), -500 to 5000 m (ASHRAE Fundamentals 2017 ch. 1 eq. 3)."""
    return STANDARD_PRESSURE_PA * float((1.0 - 2.25577e-5 * altitude_m) ** 5.2559)


def saturation_pressure_ice_pa(temp_c: float) -> float:
    """Vapour pressure over ice (Pa), -100 to 0 °C (Hyland & Wexler 1983, ASHRAE Trans. 89) [memory]."""
    kelvin = temp_c + ZERO_CELSIUS_K
    return math.exp(
        -5.6745359e3 / kelvin
        + 6.3925247
        - 9.677843e-3 * kelvin
        + 6.2215701e-7 * kelvin * kelvin
        + 2.0747825e-9 * kelvin * kelvin * kelvin
        - 9.484024e-13 * kelvin * kelvin * kelvin * kelvin
        + 4.1635019 * math.log(kelvin)
    )


def saturation_pressure_water_pa(temp_c: float) -> float:
    """Vapour pressure over water (Pa), 0 to 200 °C (Hyland & Wexler 1983, ASHRAE Trans. 89) [memory]."""
    kelvin = temp_c + ZERO_CELSIUS_K
    return math.exp(
        -5.8002206e3 / kelvin
        + 1.3914993
        - 4.8640239e-2 * kelvin
        + 4.1764768e-5 * kelvin * kelvin
        - 1.4452093e-8 * kelvin * kelvin * kelvin
        + 6.5459673 * math.log(kelvin)
    )


def saturation_pressure_pa(temp_c: float) -> float:
    """Vapour pressure (Pa) over water from 0 °C, over ice below, -100 to 200 °C."""
    if temp_c >= 0.0:
        return saturation_pressure_water_pa(temp_c)
    return saturation_pressure_ice_pa(temp_c)


def enhancement_factor(temp_c: float, pressure_pa: float) -> float:
    """How much more vapour saturated air holds than an empty space would, -40 to 50 °C (about 1.004).

    Buck 1981, J. Appl. Meteorol. 20:1527, forms e_w4 and e_i4, from memory.
    """
    pressure_hpa = pressure_pa / 100.0
    if temp_c >= 0.0:
        return 1.0 + 1e-4 * (7.2 + pressure_hpa * (0.0320 + 5.9e-6 * temp_c * temp_c))
    return 1.0 + 1e-4 * (2.2 + pressure_hpa * (0.0383 + 6.4e-6 * temp_c * temp_c))


def humidity_ratio_from_vapour_pressure(vapour_pa: float, pressure_pa: float) -> float:
    """Humidity ratio (kg/kg) of air with this vapour pressure (ASHRAE Fundamentals 2017 ch. 1 eq. 20)."""
    return MASS_RATIO * vapour_pa / (pressure_pa - vapour_pa)


def vapour_pressure_pa(ratio: float, pressure_pa: float) -> float:
    """Vapour pressure (Pa) of air with this humidity ratio (ASHRAE Fundamentals 2017 ch. 1 eq. 36)."""
    return pressure_pa * ratio / (MASS_RATIO + ratio)


def saturation_humidity_ratio(temp_c: float, pressure_pa: float) -> float:
    """Humidity ratio (kg/kg) of saturated air, -40 to 60 °C (ASHRAE Fundamentals 2017 ch. 1 eq. 21)."""
    saturated_pa = enhancement_factor(temp_c, pressure_pa) * saturation_pressure_pa(temp_c)
    return humidity_ratio_from_vapour_pressure(saturated_pa, pressure_pa)


def humidity_ratio(temp_c: float, humidity: float, pressure_pa: float) -> float:
    """Humidity ratio (kg/kg) of air at this relative humidity (0 to 1)."""
    saturated_pa = enhancement_factor(temp_c, pressure_pa) * saturation_pressure_pa(temp_c)
    return humidity_ratio_from_vapour_pressure(humidity * saturated_pa, pressure_pa)


def relative_humidity(temp_c: float, ratio: float, pressure_pa: float) -> float:
    """Relative humidity (0 to 1, above 1 means fog)."""
    saturated_pa = enhancement_factor(temp_c, pressure_pa) * saturation_pressure_pa(temp_c)
    return vapour_pressure_pa(ratio, pressure_pa) / saturated_pa


def heat_capacity_j_kgk(ratio: float) -> float:
    """Heat capacity of moist air, J/K per kg of dry air (ASHRAE Fundamentals 2017 ch. 1 eq. 30)."""
    return CP_DRY_AIR_J_KGK + CP_VAPOUR_J_KGK * ratio


def volume_m3_kg(temp_c: float, ratio: float, pressure_pa: float) -> float:
    """Volume of moist air, m³ per kg of dry air (ASHRAE Fundamentals 2017 ch. 1 eq. 26)."""
    kelvin = temp_c + ZERO_CELSIUS_K
    return GAS_CONSTANT_DRY_AIR_J_KGK * kelvin * (1.0 + ratio / MASS_RATIO) / pressure_pa


def density_kg_m3(temp_c: float, ratio: float, pressure_pa: float) -> float:
    """Density of moist air, kg of air and vapour together per m³ (ASHRAE Fundamentals 2017 ch. 1 eq. 11)."""
    return (1.0 + ratio) / volume_m3_kg(temp_c, ratio, pressure_pa)


def viscosity_pa_s(temp_c: float) -> float:
    """Dynamic viscosity of dry air (Pa s), -30 to 60 °C (power law; Lemmon & Jacobsen 2004 +-0.2 %)."""
    return 1.8194e-5 * float(((temp_c + ZERO_CELSIUS_K) / 293.15) ** 0.788)


def conductivity_w_mk(temp_c: float) -> float:
    """Conductivity of dry air (W/mK), -30 to 60 °C (power law; Lemmon & Jacobsen 2004 +-0.2 %)."""
    return 0.025858 * float(((temp_c + ZERO_CELSIUS_K) / 293.15) ** 0.852)


def prandtl(temp_c: float) -> float:
    """Prandtl number of air, -30 to 60 °C (about 0.71)."""
    return viscosity_pa_s(temp_c) * CP_DRY_AIR_J_KGK / conductivity_w_mk(temp_c)
