"""Rain, wet ground, sump, float and pump."""

from __future__ import annotations

import numpy as np
import pytest

from controller.simulator import indices as at
from controller.simulator import water


@pytest.fixture
def parameters() -> np.ndarray:
    """A sump with 270 m² of ground, 60 L between the float's levels, and a pump of 2 L/s."""
    row = np.zeros(at.SUMP_PARAMETERS)
    row[at.S_CATCHMENT_M2] = 270.0
    row[at.S_INFILTRATION_M_S] = 3e-3 / 3600.0
    row[at.S_DRAIN_S] = 1e5
    row[at.S_RISE_M3] = 0.06
    row[at.S_FLOOD_M3] = 0.096
    row[at.S_PUMP_M3_S] = 2e-3
    row[at.S_MOST_M3] = 1.0
    return row


def test_hard_rain_ponds_soaks_in_slowly_and_runs_off(parameters: np.ndarray) -> None:
    """Of 100 mm in ten hours on clay 30 mm soak in, 15 mm stand in hollows, the rest runs off."""
    sump, books, weather = np.zeros(at.SUMP_STATE), np.zeros(at.BOOKS), np.zeros(at.WEATHER)
    weather[at.W_RAIN_M_S] = 10e-3 / 3600.0
    drained_m3 = 0.0
    for _ in range(600):
        water.soak(sump, parameters, weather, books, 60.0)
        drained_m3 += sump[at.B_INFLOW_M3_S] * 60.0
    assert books[at.M3_RAIN] == pytest.approx(0.1 * 270.0)
    assert books[at.M3_RUN_OFF] == pytest.approx((0.1 - 0.03 - 0.015) * 270.0)
    held_m3 = (sump[at.B_SOIL_WATER_M] + sump[at.B_POND_M]) * 270.0
    assert held_m3 + drained_m3 + books[at.M3_RUN_OFF] == pytest.approx(books[at.M3_RAIN])


def test_wet_ground_drains_as_a_linear_store(parameters: np.ndarray) -> None:
    """After one time constant of dry, dark weather 1/e of the water is left."""
    sump, books, weather = np.zeros(at.SUMP_STATE), np.zeros(at.BOOKS), np.zeros(at.WEATHER)
    sump[at.B_SOIL_WATER_M] = 0.02
    for _ in range(1000):
        water.soak(sump, parameters, weather, books, 100.0)
    assert sump[at.B_SOIL_WATER_M] == pytest.approx(0.02 / np.e)


def test_dry_ground_stops_drying_and_never_drains(parameters: np.ndarray) -> None:
    """A sunny month takes the soil to its driest and no further; nothing flows to the sump."""
    sump, books, weather = np.zeros(at.SUMP_STATE), np.zeros(at.BOOKS), np.zeros(at.WEATHER)
    weather[at.W_LIGHT_W_M2] = 300.0
    for _ in range(30 * 24):
        water.soak(sump, parameters, weather, books, 3600.0)
    assert sump[at.B_SOIL_WATER_M] == pytest.approx(water.DRIEST_M)
    assert sump[at.B_INFLOW_M3_S] == 0.0


def test_the_float_turns_at_its_levels_and_not_between(parameters: np.ndarray) -> None:
    """It rises to wet at 60 L, stays wet while the pump empties, and falls at nought."""
    sump, books = np.zeros(at.SUMP_STATE), np.zeros(at.BOOKS)
    sump[at.B_INFLOW_M3_S] = 1e-3
    turned = [water.fill_sump(sump, parameters, 0.0, 0.0, books, 10.0) for _ in range(6)]
    assert turned == [False] * 5 + [True]
    sump[at.B_INFLOW_M3_S] = 0.0
    turned = [water.fill_sump(sump, parameters, 1.0, 0.0, books, 10.0) for _ in range(4)]
    assert turned == [False, False, True, False]
    assert books[at.M3_PUMPED] == pytest.approx(0.06)


def test_the_time_to_the_next_turn_is_exact(parameters: np.ndarray) -> None:
    """Filling 60 L at 0.4 L/s takes 150 s; emptying them at 1.6 L/s net takes 37.5 s; otherwise never."""
    sump = np.zeros(at.SUMP_STATE)
    sump[at.B_INFLOW_M3_S] = 4e-4
    assert water.seconds_to_float_edge(sump, parameters, 0.0, 1e9) == pytest.approx(150.0, rel=1e-6)
    sump[at.B_VOLUME_M3], sump[at.B_FLOAT_WET] = 0.06, 1.0
    assert water.seconds_to_float_edge(sump, parameters, 1.0, 1e9) == pytest.approx(37.5, rel=1e-6)
    assert water.seconds_to_float_edge(sump, parameters, 0.0, 60.0) == 60.0


def test_water_above_the_tubes_lowest_point_stands_in_them_and_shuts_them(parameters: np.ndarray) -> None:
    """With the pump dead the pit fills, then the tubes, and then no more comes in."""
    sump, books = np.zeros(at.SUMP_STATE), np.zeros(at.BOOKS)
    sump[at.B_INFLOW_M3_S] = 1e-3
    for _ in range(2000):
        water.fill_sump(sump, parameters, 0.0, 0.0, books, 1.0)
    assert sump[at.B_VOLUME_M3] == parameters[at.S_MOST_M3]
    assert sump[at.B_TUBE_WATER_M3] == pytest.approx(1.0 - 0.096)
    assert books[at.M3_RUN_OFF] == pytest.approx(1.0)
    assert water.blocked_share(0.0, 1.0) == 0.0
    assert water.blocked_share(0.05, 1.0) == pytest.approx(1.0 / 3.0)
    assert water.blocked_share(0.9, 1.0) == 1.0
