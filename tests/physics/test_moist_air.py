"""Moist air against the ASHRAE tables and CoolProp."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI
from CoolProp.HumidAirProp import HAPropsSI

from controller.physics import moist_air
from controller.simulator.house.tubes import LATENT_J_KG
from tests.physics.references import dew_point_c

SEA_LEVEL_PA = 101_325.0

# °C, saturation pressure Pa, saturated humidity ratio: ASHRAE Fundamentals 2017 ch. 1 tables 2 and 3.
ASHRAE = [
    (-20.0, 103.24, 0.0006373),
    (-5.0, 401.74, 0.0024863),
    (5.0, 872.6, 0.005425),
    (25.0, 3_169.7, 0.020173),
    (50.0, 12_351.3, 0.086863),
]


@pytest.mark.parametrize(("temp_c", "pressure_pa", "ratio"), ASHRAE)
def test_saturated_air_is_that_of_the_handbook(temp_c: float, pressure_pa: float, ratio: float) -> None:
    """Saturation pressure within 0.03 %, humidity ratio within 0.1 %."""
    assert moist_air.saturation_pressure_pa(temp_c) == pytest.approx(pressure_pa, rel=3e-4)
    assert moist_air.saturation_humidity_ratio(temp_c, SEA_LEVEL_PA) == pytest.approx(ratio, rel=1e-3)


def test_the_handbook_example_comes_out() -> None:
    """ASHRAE Fundamentals 2017 ch. 1 ex. 1: 40 °C, W 0.0065 -> dew 7 °C, 14 %, 0.896 m³/kg."""
    ratio = 0.0065
    assert dew_point_c(ratio, SEA_LEVEL_PA) == pytest.approx(7.0, abs=0.7)
    assert moist_air.relative_humidity(40.0, ratio, SEA_LEVEL_PA) == pytest.approx(0.14, abs=0.005)
    assert moist_air.volume_m3_kg(40.0, ratio, SEA_LEVEL_PA) == pytest.approx(0.896, abs=5e-4)


@pytest.mark.parametrize("pressure_pa", [70_000.0, SEA_LEVEL_PA])
@pytest.mark.parametrize("humidity", [0.05, 0.3, 0.6, 0.9, 1.0])
@pytest.mark.parametrize("temp_c", [-20.0, -10.0, 0.5, 10.0, 20.0, 30.0, 40.0, 50.0])
def test_coolprop_agrees_over_the_working_range(temp_c: float, humidity: float, pressure_pa: float) -> None:
    """Real-gas mixture of CoolProp (ASHRAE RP-1485): W 0.1 %, v 0.2 %, dew 0.02 K."""
    state = ("T", temp_c + 273.15, "R", humidity, "P", pressure_pa)
    ratio = HAPropsSI("W", *state)
    assert moist_air.humidity_ratio(temp_c, humidity, pressure_pa) == pytest.approx(ratio, rel=1e-3)
    assert moist_air.relative_humidity(temp_c, ratio, pressure_pa) == pytest.approx(humidity, rel=1e-3)
    volume_m3_kg = HAPropsSI("Vda", *state)
    assert moist_air.volume_m3_kg(temp_c, ratio, pressure_pa) == pytest.approx(volume_m3_kg, rel=2e-3)
    density = (1.0 + ratio) / volume_m3_kg
    assert moist_air.density_kg_m3(temp_c, ratio, pressure_pa) == pytest.approx(density, rel=2e-3)
    dew_c = HAPropsSI("D", *state) - 273.15
    assert dew_point_c(ratio, pressure_pa) == pytest.approx(dew_c, abs=0.02)


@pytest.mark.parametrize(
    ("temp_c", "pressure_pa"), [(0.01, 611.7), (10.0, 1_228.2), (20.0, 2_339.32), (30.0, 4_246.97)]
)
def test_water_follows_iapws(temp_c: float, pressure_pa: float) -> None:
    """IAPWS-95 (by CoolProp): saturation pressure within 0.03 %."""
    assert moist_air.saturation_pressure_pa(temp_c) == pytest.approx(pressure_pa, rel=3e-4)


@pytest.mark.parametrize(
    ("altitude_m", "pressure_pa"), [(0.0, 101_325.0), (500.0, 95_461.0), (1000.0, 89_875.0)]
)
def test_pressure_falls_with_height_as_in_the_handbook(altitude_m: float, pressure_pa: float) -> None:
    """ASHRAE Fundamentals 2017 ch. 1 table 1, within 1 Pa."""
    assert moist_air.standard_pressure_pa(altitude_m) == pytest.approx(pressure_pa, abs=1.0)


def test_dry_air_takes_the_room_of_the_handbook() -> None:
    """ASHRAE Fundamentals 2017 ch. 1: dry at 25 °C 0.8443 m³/kg."""
    assert moist_air.volume_m3_kg(25.0, 0.0, SEA_LEVEL_PA) == pytest.approx(0.8443, rel=5e-4)


@pytest.mark.parametrize("temp_c", [-30.0, -15.0, 0.0, 10.0, 20.0, 30.0, 45.0, 60.0])
def test_transport_properties_follow_the_reference_equations(temp_c: float) -> None:
    """Lemmon & Jacobsen 2004 (by CoolProp): viscosity and conductivity 0.2 %, cp 0.25 %, Prandtl 0.6 %."""
    state = ("T", temp_c + 273.15, "P", SEA_LEVEL_PA, "Air")
    assert moist_air.viscosity_pa_s(temp_c) == pytest.approx(PropsSI("V", *state), rel=2e-3)
    assert moist_air.conductivity_w_mk(temp_c) == pytest.approx(PropsSI("L", *state), rel=2e-3)
    assert moist_air.heat_capacity_j_kgk(0.0) == pytest.approx(PropsSI("C", *state), rel=2.5e-3)
    assert moist_air.prandtl(temp_c) == pytest.approx(PropsSI("PRANDTL", *state), rel=6e-3)


def test_warm_wet_air_cooled_in_a_tube_gives_mostly_latent_heat() -> None:
    """30 °C, 80 % to saturation at 18 °C (CoolProp): 34.55 kJ/kg, 8.68 g/kg of water, 64 % latent.

    The rehearsal's one heat of evaporation and its dropped heat of the water miss 2 % of it.
    """
    before = moist_air.humidity_ratio(30.0, 0.8, SEA_LEVEL_PA)
    after = moist_air.saturation_humidity_ratio(18.0, SEA_LEVEL_PA)
    sensible = moist_air.heat_capacity_j_kgk(before) * 12.0
    heat = sensible + (before - after) * LATENT_J_KG
    assert heat == pytest.approx(34_550.0, rel=0.025)
    assert (before - after) * 1000.0 == pytest.approx(8.68, rel=5e-3)
    assert 1.0 - sensible / heat == pytest.approx(0.64, abs=0.015)


def test_vapour_pressure_and_humidity_ratio_are_each_other_turned_round() -> None:
    """What one makes of the other comes back, so that neither can drift alone."""
    for vapour_pa in (50.0, 1_000.0, 5_000.0):
        ratio = moist_air.humidity_ratio_from_vapour_pressure(vapour_pa, SEA_LEVEL_PA)
        assert moist_air.vapour_pressure_pa(ratio, SEA_LEVEL_PA) == pytest.approx(vapour_pa, rel=1e-12)
