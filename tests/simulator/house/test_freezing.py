"""Soil that freezes: against the exact solution of a moving front, and its books."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from controller.physics import soil
from controller.simulator.house import conduction
from controller.simulator.house.grid import Grid
from controller.simulator.house.ground import Soil
from controller.simulator.house.layers import soil_layers
from controller.simulator.house.state import SEGMENTS
from tests.simulator.garden import settings
from tests.simulator.house.rig import Rig

SATURATED_SAND = Soil(0.0, 2.4, 2.8e6, soil.FUSION_J_M3 * 0.35)
FLOOR_C = -8.0
START_C = 4.0


def neumann(soil_: Soil, front_c: float) -> float:
    """Front over the root of time (m/s^0.5) in soil that freezes at ``front_c``: Neumann, equal properties.

    Carslaw & Jaeger 1959 §11.2, frozen and thawed ground alike in conductivity and heat capacity.
    """
    diffusivity = soil_.conductivity_w_mk / soil_.capacity_j_m3k
    stefan_k = soil_.fusion_j_m3 / soil_.capacity_j_m3k

    def unbalanced(size: float) -> float:
        cold, warm = math.erf(size), math.erfc(size)
        pull = (front_c - FLOOR_C) / cold - (START_C - front_c) / warm
        return pull * math.exp(-size * size) - stefan_k * size * math.sqrt(math.pi)

    return 2.0 * math.sqrt(diffusivity) * float(brentq(unbalanced, 1e-3, 3.0))


def held_j(rig: Rig) -> float:
    """Heat in the soil over thawed soil at 0 °C, J per metre of half-cell."""
    ice = rig.ground.ice[0, :, None, None]
    thawed_c = rig.temp_c[0] + ice * np.clip(rig.temp_c[0], -soil.FREEZING_K, 0.0)
    return float(np.sum(rig.ground.joule_per_k[0, :, :, None] * thawed_c))


def test_frost_goes_down_as_fast_as_neumann_says() -> None:
    """Half of the water is ice within 3 % of the exact front of soil that freezes all at once.

    After two days and after ten, in saturated sand under a surface that is suddenly at -8 °C.
    """
    rig = Rig(
        SATURATED_SAND, 3.0, 0.03, 8.0, 6.0, ground_c=lambda depth_m: np.full_like(depth_m, START_C),
        step_s=600.0, grid=Grid(2, 3, 60, 20, 0.02),
    )  # fmt: skip
    rig.surface_c = FLOOR_C
    half_c = -0.5 * soil.FREEZING_K
    passed = 0
    for days in (2, 10):
        for _ in range((days - passed) * 144):
            rig.spread()
        passed = days
        depth_m = np.interp(half_c, rig.temp_c[0, 1:-1, -2, 0], rig.ground.row_m[0, 1:-1])
        exact_m = neumann(SATURATED_SAND, half_c) * math.sqrt(86_400.0 * days)
        assert depth_m == pytest.approx(exact_m, rel=0.03)


def test_freezing_and_thawing_lose_no_heat() -> None:
    """Frozen from the tube and thawed again: what wall and deep ground gave is what the soil holds."""
    rig = Rig(SATURATED_SAND, 0.8, 0.08, 9.0, 0.21, surface_fixed=False)
    given_j, coldest_c = 0.0, 0.0
    for watts_per_m in (-60.0, 80.0):
        for _ in range(3000):
            rig.heat(watts_per_m)
        given_j += 0.5 * watts_per_m * 3000 * 60.0 * SEGMENTS
        coldest_c = min(coldest_c, float(rig.temp_c[0, 1:-1, 1:-1].min()))
        assert held_j(rig) == pytest.approx(given_j + float(rig.deep_j.sum()), rel=1e-9)
    assert coldest_c < -soil.FREEZING_K


def test_the_ground_beside_the_house_freezes_it_by_the_same_books() -> None:
    """Heat to the cold ground outside is what a freezing cell loses, ice included."""
    temp_c = np.full((1, 3, 3, SEGMENTS), 0.3)
    gain, ice = np.full((1, 3, 3), 1e-5), np.full((1, 3), 20.0)
    lateral_j = np.zeros((1, SEGMENTS))
    edge, edge_c = np.full((1, 3, 3), 2.0), np.full((1, 3), -20.0)
    conduction.exchange_edge(temp_c, edge, gain, ice, edge_c, lateral_j, 3600.0)
    now_c = float(temp_c[0, 1, 1, 0])
    assert -soil.FREEZING_K < now_c < 0.0
    assert 1e-5 * float(lateral_j[0, 0]) == pytest.approx(now_c + 20.0 * now_c - 0.3)


@pytest.mark.parametrize("ice", [0.0, 3.0, 40.0])
@pytest.mark.parametrize("temp_c", [-30.0, -1.3, -1.0, -1e-9, 0.0, 12.0])
def test_heat_and_temperature_belong_to_each_other(temp_c: float, ice: float) -> None:
    """From temperature to heat and back is the same temperature."""
    assert conduction.frozen_c(conduction.thawed_c(temp_c, ice), ice) == pytest.approx(temp_c, abs=1e-9)


def test_water_freezes_as_hard_as_soil_holds_it() -> None:
    """Water at the wilting point freezes at about -1.2 °C, and soil as dry as that sets no heat free."""
    assert pytest.approx(1.23, abs=0.01) == soil.FREEZING_K
    house = settings().house
    dry = house.model_copy(update={"soil_moisture": "dry"})
    assert soil_layers(dry, 0.8)[1].fusion_j_m3 == 0.0
    watered = soil_layers(house, 0.8)[0]
    assert 0.05 * soil.FUSION_J_M3 < watered.fusion_j_m3 < 0.14 * soil.FUSION_J_M3
