"""Greenhouse cover: what passes it of heat, light and air."""

from __future__ import annotations

import math

from controller.physics.sky import STEFAN_BOLTZMANN_W_M2K4, ZERO_CELSIUS_K

# cover: (resistance m²K/W, light at normal incidence, sheets). One sheet resists next to nothing (4 mm of
# glass 0.004). The air between two films is the difference that Mihara & Hayashi 1979 (J. Agric. Meteorol.
# 35:13) measured between two and one: 1/(3.15 + 0.17 w) - 1/(4.87 + 0.54 w) is 0.11 to 0.12 up to 8 m/s.
# Twin-wall is taken for the same: extension.org, "Glazing Materials", has 3.4 to 4.0 W/m²K for any double
# glazing. Light: glass 0.88 single, 0.77 double (NGMA manual), twin-wall 0.78 to 0.82 (extension.org);
# film is taken to pass as much as glass [practice]
COVERS = {
    "single film": (0.0, 0.88, 1),
    "double film": (0.115, 0.77, 2),
    "single glass": (0.004, 0.88, 1),
    "twin-wall": (0.115, 0.80, 2),
}

REFRACTIVE_INDEX = 1.526  # glass (Duffie & Beckman, Solar Engineering, ch. 5); films differ little
DIFFUSE_COSINE = 0.5  # diffuse light passes like a beam at 60° (Duffie & Beckman ch. 5)
STACK_COEFFICIENT = 0.000145  # (L/s)²/(cm⁴ K), one storey (ASHRAE Fundamentals 2017 ch. 16) [memory]
WIND_COEFFICIENT = 0.000319  # (L/s)²/(cm⁴ (m/s)²), one storey, no shelter (same)


def inside_convection_w_m2k(warmer_k: float) -> float:
    """From air to the underside of a roof that is colder by this much: 1.86 dT^(1/3), at least 1 W/m²K.

    Air that falls off a cold roof: de Zwart 1996 and Vanthoor 2011, theses, Wageningen (table 8.1 of the
    latter). Under a roof that is warmer the air lies still, hence the least [practice].
    """
    return max(1.86 * float(max(warmer_k, 0.0) ** (1.0 / 3.0)), 1.0)


def outside_convection_w_m2k(wind_m_s: float) -> float:
    """From the cover to the wind: 2.8 + 3 w (Watmuff, Charters & Proctor 1977)."""
    return 2.8 + 3.0 * max(wind_m_s, 0.0)


def radiation_w_m2k(mean_c: float, emissivity: float) -> float:
    """Long-wave exchange of two surfaces near a temperature, as a conductance: 4 e sigma T³."""
    kelvin = mean_c + ZERO_CELSIUS_K
    return 4.0 * emissivity * STEFAN_BOLTZMANN_W_M2K4 * kelvin * kelvin * kelvin


def polarised_reflectances(cos_incidence: float) -> tuple[float, float]:
    """Fresnel's reflectance of one face, for light polarised across and along the plane of incidence."""
    cos_in = min(max(cos_incidence, 0.0), 1.0)
    sin_squared = (1.0 - cos_in * cos_in) / (REFRACTIVE_INDEX * REFRACTIVE_INDEX)
    cos_out = math.sqrt(1.0 - sin_squared)
    perpendicular = (cos_in - REFRACTIVE_INDEX * cos_out) / (cos_in + REFRACTIVE_INDEX * cos_out)
    parallel = (cos_out - REFRACTIVE_INDEX * cos_in) / (cos_out + REFRACTIVE_INDEX * cos_in)
    return perpendicular * perpendicular, parallel * parallel


def unabsorbing_transmittance(cos_incidence: float, layers: int) -> float:
    """Share of light that passes clear sheets, all reflections counted (Duffie & Beckman eq. 5.1.8)."""
    perpendicular, parallel = polarised_reflectances(cos_incidence)
    faces = 2.0 * layers - 1.0
    return 0.5 * (
        (1.0 - perpendicular) / (1.0 + faces * perpendicular) + (1.0 - parallel) / (1.0 + faces * parallel)
    )


def beam_transmittance(cos_incidence: float, normal_transmittance: float, layers: int) -> float:
    """Share (0 to 1) of direct light that passes the cover at this cosine of the angle of incidence.

    What the faces turn back follows Fresnel; what the sheets swallow is whatever is then missing in the
    measured value at normal incidence, and grows with the path through them (Snell, Bouguer).
    """
    if cos_incidence <= 0.0:
        return 0.0
    cos_in = min(cos_incidence, 1.0)
    unabsorbed_normal = min(normal_transmittance / unabsorbing_transmittance(1.0, layers), 1.0)
    cos_out = math.sqrt(1.0 - (1.0 - cos_in * cos_in) / (REFRACTIVE_INDEX * REFRACTIVE_INDEX))
    return unabsorbing_transmittance(cos_in, layers) * float(unabsorbed_normal ** (1.0 / cos_out))


def absorbed_share(normal_transmittance: float, layers: int) -> float:
    """Share (0 to 1) of the light at normal incidence that stays in the sheets as heat."""
    return 1.0 - min(normal_transmittance / unabsorbing_transmittance(1.0, layers), 1.0)


def diffuse_transmittance(normal_transmittance: float, layers: int) -> float:
    """Share (0 to 1) of diffuse light that passes the cover."""
    return beam_transmittance(DIFFUSE_COSINE, normal_transmittance, layers)


def leakage_flow_m3_s(leakage_area_m2: float, difference_k: float, wind_m_s: float) -> float:
    """Air leaking in (m³/s) through cracks of this effective area at 4 Pa, wind at the nearest station.

    Sherman & Grimsrud 1980 as in ASHRAE Fundamentals 2017 ch. 16 eq. 48: A sqrt(Cs |dT| + Cw w²).
    """
    squared = STACK_COEFFICIENT * abs(difference_k) + WIND_COEFFICIENT * wind_m_s * wind_m_s
    return 10.0 * leakage_area_m2 * math.sqrt(squared)
