"""Greenhouse cover: heat loss by wind, light by angle, air leaking in."""

from __future__ import annotations

import math

# cover: (heat loss in calm air W/m²K, its gain with wind W/m²K per m/s, light at normal incidence, sheets).
# Heat loss as measured by Mihara & Hayashi 1979, J. Agric. Meteorol. 35:13, average exchange with the sky
# included: PVC film 4.87+0.54w, PVC over PE film 3.15+0.17w, glass 4.41+0.40w. Twin-wall: the film pair's
# wind term, laid through the middle of the 3.4 to 4.0 W/m²K of any double glazing (extension.org, "Glazing
# Materials") at 3 m/s. Light: glass 0.88 single, 0.77 double (NGMA glazing manual), twin-wall 0.78 to 0.82
# (extension.org); film is taken to pass as much as glass (common practice, no source).
COVERS = {
    "single film": (4.87, 0.54, 0.88, 1),
    "double film": (3.15, 0.17, 0.77, 2),
    "single glass": (4.41, 0.40, 0.88, 1),
    "twin-wall": (3.20, 0.17, 0.80, 2),
}

REFRACTIVE_INDEX = 1.526  # glass (Duffie & Beckman, Solar Engineering, ch. 5); films differ little
STRONG_WIND_M_S = 8.0  # beyond it the inside of the cover governs; common practice, no source
DIFFUSE_COSINE = 0.5  # diffuse light passes like a beam at 60° (Duffie & Beckman ch. 5)
STACK_COEFFICIENT = 0.000145  # (L/s)²/(cm⁴ K), one storey (ASHRAE Fundamentals 2017 ch. 16, from memory)
WIND_COEFFICIENT = 0.000319  # (L/s)²/(cm⁴ (m/s)²), one storey, no shelter (same)


def heat_loss_w_m2k(calm_w_m2k: float, per_wind_w_m2k: float, wind_m_s: float) -> float:
    """Heat loss of the cover (W per m² of cover and K between inside and outside air) by wind.

    Held at its value for 8 m/s in stronger wind. See ``COVERS`` for the first two arguments and their source.
    """
    return calm_w_m2k + per_wind_w_m2k * min(max(wind_m_s, 0.0), STRONG_WIND_M_S)


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


def diffuse_transmittance(normal_transmittance: float, layers: int) -> float:
    """Share (0 to 1) of diffuse light that passes the cover."""
    return beam_transmittance(DIFFUSE_COSINE, normal_transmittance, layers)


def leakage_flow_m3_s(leakage_area_m2: float, difference_k: float, wind_m_s: float) -> float:
    """Air leaking in (m³/s) through cracks of this effective area at 4 Pa, wind at the nearest station.

    Sherman & Grimsrud 1980 as in ASHRAE Fundamentals 2017 ch. 16 eq. 48: A sqrt(Cs |dT| + Cw w²).
    """
    squared = STACK_COEFFICIENT * abs(difference_k) + WIND_COEFFICIENT * wind_m_s * wind_m_s
    return 10.0 * leakage_area_m2 * math.sqrt(squared)


def air_change_heat_w(
    volume_m3: float,
    air_changes_per_h: float,
    difference_k: float,
    density_kg_m3: float,
    heat_capacity_j_kgk: float,
) -> float:
    """Sensible heat (W) that leaves with exchanged air; density and heat capacity of the air exchanged."""
    return density_kg_m3 * heat_capacity_j_kgk * volume_m3 * air_changes_per_h / 3600.0 * difference_k
