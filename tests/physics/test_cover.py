"""Greenhouse cover against measurements, extension tables and pvlib."""

from __future__ import annotations

import math

import pytest
from pvlib import iam

from controller.physics import cover, moist_air, sky


def reflectance(cosine: float) -> float:
    """What one face turns back of unpolarised light."""
    return sum(cover.polarised_reflectances(cosine)) / 2.0


def test_the_air_between_two_films_is_the_measured_difference() -> None:
    """Mihara & Hayashi 1979: two films 3.15 + 0.17 w, one 4.87 + 0.54 w W/m²K, calm to 8 m/s."""
    for wind_m_s in (0.0, 2.0, 4.0, 8.0):
        two, one = 3.15 + 0.17 * wind_m_s, 4.87 + 0.54 * wind_m_s
        assert cover.COVERS["double film"][0] == pytest.approx(1.0 / two - 1.0 / one, rel=0.05)


def test_a_cold_roof_takes_what_natural_convection_gives() -> None:
    """Turbulent air under a cold plate, Nu = 0.15 Ra^(1/3) (Incropera & DeWitt eq. 9.31), within 15 %.

    A warm roof takes much less.
    """
    for colder_k in (2.0, 5.0, 10.0):
        mean_c = 10.0
        viscosity_m2_s = moist_air.viscosity_pa_s(mean_c) / moist_air.density_kg_m3(mean_c, 0.0, 101_325.0)
        diffusivity_m2_s = viscosity_m2_s / moist_air.prandtl(mean_c)
        rayleigh_m3 = 9.81 * colder_k / (mean_c + 273.15) / viscosity_m2_s / diffusivity_m2_s
        here = 0.15 * rayleigh_m3 ** (1.0 / 3.0) * moist_air.conductivity_w_mk(mean_c)
        assert cover.inside_convection_w_m2k(colder_k) == pytest.approx(here, rel=0.15)
    assert cover.inside_convection_w_m2k(-5.0) < 0.5 * cover.inside_convection_w_m2k(5.0)


def test_wind_takes_heat_as_flat_plates_were_measured_to_lose_it() -> None:
    """2.8 W/m²K in calm air and 3 more for each m/s (Watmuff et al. 1977)."""
    assert cover.outside_convection_w_m2k(0.0) == pytest.approx(2.8)
    assert cover.outside_convection_w_m2k(4.0) == pytest.approx(14.8)


def test_radiation_as_a_conductance_is_the_slope_of_the_black_body() -> None:
    """The difference of two black bodies 10 K apart over 10 K (Stefan and Boltzmann)."""
    difference = sky.downward_radiation_w_m2(15.0, 1.0) - sky.downward_radiation_w_m2(5.0, 1.0)
    assert cover.radiation_w_m2k(10.0, 1.0) == pytest.approx(difference / 10.0, rel=1e-3)


def test_sheets_swallow_a_few_percent_of_the_light() -> None:
    """What measured light misses of clear sheets: 4 % in one sheet, two to three times that in two."""
    one, two = (cover.absorbed_share(*cover.COVERS[name][1:]) for name in ("single glass", "double film"))
    assert one == pytest.approx(0.04, abs=0.01)
    assert 1.8 * one < two < 3.0 * one


@pytest.mark.parametrize("angle_deg", [0.0, 20.0, 40.0, 60.0, 75.0, 85.0])
def test_a_face_turns_back_what_pvlib_says(angle_deg: float) -> None:
    """The physical incidence modifier of pvlib, with nothing absorbed, is (1 - r) / (1 - r_normal)."""
    published = iam.physical(angle_deg, n=1.526, K=0.0, L=0.002)
    cosine = math.cos(math.radians(angle_deg))
    here = (1.0 - reflectance(cosine)) / (1.0 - reflectance(1.0))
    assert here == pytest.approx(published, abs=1e-6)


def test_textbook_reflectances() -> None:
    """Duffie & Beckman example 5.1.1, glass n 1.526: 0.0434 at 0°, 0.093 at 60° [memory]."""
    assert reflectance(1.0) == pytest.approx(0.0434, abs=1e-4)
    assert reflectance(0.5) == pytest.approx(0.093, abs=1e-3)


def test_clear_sheets_pass_what_the_text_says() -> None:
    """Duffie & Beckman ch. 5 [memory]: straight through two clear sheets 0.85, through one 0.92."""
    assert cover.unabsorbing_transmittance(1.0, 1) == pytest.approx(0.92, abs=0.005)
    assert cover.unabsorbing_transmittance(1.0, 2) == pytest.approx(0.85, abs=0.005)


@pytest.mark.parametrize("name", sorted(cover.COVERS))
def test_light_keeps_its_measured_value_and_fades_to_grazing(name: str) -> None:
    """Normal incidence gives the table's value back; the flatter the less, along and from behind nothing."""
    _, normal, layers = cover.COVERS[name]
    assert cover.beam_transmittance(1.0, normal, layers) == pytest.approx(normal, rel=1e-12)
    shares = [
        cover.beam_transmittance(math.cos(math.radians(angle)), normal, layers) for angle in range(0, 91, 5)
    ]
    assert shares == sorted(shares, reverse=True)
    assert cover.beam_transmittance(-0.2, normal, layers) == 0.0
    assert shares[-1] == pytest.approx(0.0, abs=1e-9)


def test_diffuse_light_is_the_hemisphere_average() -> None:
    """The beam integrated over an even sky is the 60° short cut within 2 points (Duffie & Beckman ch. 5)."""
    for _, normal, layers in cover.COVERS.values():
        steps = 2000
        average = sum(
            2.0 * (k + 0.5) / steps / steps * cover.beam_transmittance((k + 0.5) / steps, normal, layers)
            for k in range(steps)
        )
        assert cover.diffuse_transmittance(normal, layers) == pytest.approx(average, abs=0.02)


def test_leakage_grows_with_wind_and_cold_by_root_of_squares() -> None:
    """The paper's own theory gives the handbook's coefficients, within 10 % of the flow.

    Sherman & Grimsrud 1980, ASHRAE Trans. 86(2):778, constants from memory: house 2.5 m high, half the leaks
    in floor and ceiling (R = 0.5), no shielding (C' 0.324), rural terrain (0.85, 0.20).
    """
    stack = (1.0 + 0.5 / 2.0) / 3.0
    wind = 0.324 * (1.0 - 0.5) ** (1.0 / 3.0) * 0.85 * (2.5 / 10.0) ** 0.20
    area_m2 = 0.1
    cold_m3_s = area_m2 * stack * math.sqrt(9.81 * 2.5 * 40.0 / 295.0)
    windy_m3_s = area_m2 * wind * 5.0
    assert cover.leakage_flow_m3_s(area_m2, 40.0, 0.0) == pytest.approx(cold_m3_s, rel=0.1)
    assert cover.leakage_flow_m3_s(area_m2, 0.0, 5.0) == pytest.approx(windy_m3_s, rel=0.1)
    both_m3_s = math.hypot(cold_m3_s, windy_m3_s)
    assert cover.leakage_flow_m3_s(area_m2, -40.0, 5.0) == pytest.approx(both_m3_s, rel=0.1)
