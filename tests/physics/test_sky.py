"""Sky radiation against other published correlations."""

from __future__ import annotations

import math

import pytest

from controller.physics import moist_air, sky

SEA_LEVEL_PA = 101_325.0


def daily_mean_clear(dew_c: float) -> float:
    """Clear-sky emissivity without its daily swing."""
    return 0.5 * (
        sky.clear_sky_emissivity(dew_c, 0.0, 100_000.0) + sky.clear_sky_emissivity(dew_c, 12.0, 100_000.0)
    )


@pytest.mark.parametrize("dew_c", [-10.0, 0.0, 10.0, 20.0])
def test_clear_sky_lies_near_other_papers(dew_c: float) -> None:
    """Within 0.06 of Brutsaert 1975, and between Brunt 1932 and Clark & Allen 1978 to within 0.03.

    1.24 (e/T)^(1/7), 0.52 + 0.065 sqrt(e) and 0.787 + 0.764 ln(T_dew/273), all three from memory, e in hPa,
    air 5 K above its dew point. The papers themselves lie up to 0.13 apart.
    """
    kelvin = dew_c + 5.0 + 273.15
    vapour_hpa = moist_air.saturation_pressure_water_pa(dew_c) / 100.0
    brutsaert = 1.24 * (vapour_hpa / kelvin) ** (1.0 / 7.0)
    brunt = 0.52 + 0.065 * math.sqrt(vapour_hpa)
    clark_allen = 0.787 + 0.764 * math.log((dew_c + 273.15) / 273.0)
    assert daily_mean_clear(dew_c) == pytest.approx(brutsaert, abs=0.06)
    assert brunt - 0.03 < daily_mean_clear(dew_c) < clark_allen + 0.03


def test_full_low_cloud_closes_most_of_the_gap() -> None:
    """California's compliance manual (after Martin & Berdahl): e0 + 0.784 (1 - e0) times the cloud share."""
    for cloud, clear in ((1.0, 0.7), (0.5, 0.8), (0.0, 0.75)):
        assert sky.sky_emissivity(clear, cloud) == pytest.approx(
            clear + 0.784 * (1.0 - clear) * cloud, abs=2e-4
        )


def test_night_sky_is_a_little_warmer_than_day_sky() -> None:
    """Martin & Berdahl 1984: 0.013 either way, highest at midnight; 0.012 less for 100 hPa less."""
    night = sky.clear_sky_emissivity(10.0, 0.0, 100_000.0)
    noon = sky.clear_sky_emissivity(10.0, 12.0, 100_000.0)
    assert night - noon == pytest.approx(0.026, abs=1e-9)
    assert night - sky.clear_sky_emissivity(10.0, 0.0, 90_000.0) == pytest.approx(0.012, abs=1e-9)


def test_a_clear_sky_looks_10_to_25_k_colder_than_the_air() -> None:
    """The black body that radiates as a clear sky does over air at 10 °C with a dew point of 5 °C."""
    emissivity = sky.clear_sky_emissivity(5.0, 0.0, SEA_LEVEL_PA)
    sky_w_m2 = sky.downward_radiation_w_m2(10.0, emissivity)
    assert sky.downward_radiation_w_m2(-15.0, 1.0) < sky_w_m2 < sky.downward_radiation_w_m2(0.0, 1.0)


def test_black_body_radiation() -> None:
    """Stefan and Boltzmann at 300 K: 459.3 W/m² (any heat transfer text)."""
    assert sky.downward_radiation_w_m2(26.85, 1.0) == pytest.approx(459.3, abs=0.05)
