"""Rain, wet ground, sump, float and pump."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
import pytest

from controller.equipment import OutputId
from controller.simulator.house import water
from controller.simulator.house.state import SumpParameters, SumpState, Sums, WeatherNow, record
from tests.simulator.garden import plant

if TYPE_CHECKING:
    from controller.simulator.plant.plant import SimulatedPlant


@pytest.fixture
def parameters() -> SumpParameters:
    """A sump with 270 m² of ground, 60 L between the float's levels, and a pump of 2 L/s."""
    row = record(SumpParameters)
    row.catchment_m2 = 270.0
    row.infiltration_m_s = 3e-3 / 3600.0
    row.drain_s = 1e5
    row.rise_m3 = 0.06
    row.flood_m3 = 0.096
    row.pump_m3_s = 2e-3
    row.most_m3 = 1.0
    return row


def test_hard_rain_ponds_soaks_in_slowly_and_runs_off(parameters: SumpParameters) -> None:
    """Of 100 mm in ten hours on clay 30 mm soak in, 15 mm stand in hollows, the rest runs off."""
    sump, books, weather = record(SumpState), record(Sums), record(WeatherNow)
    weather.rain_m_s = 10e-3 / 3600.0
    drained_m3 = 0.0
    for _ in range(600):
        water.soak(sump, parameters, weather, books, 60.0)
        drained_m3 += sump.inflow_m3_s * 60.0
    assert books.rain_m3 == pytest.approx(0.1 * 270.0)
    assert books.run_off_m3 == pytest.approx((0.1 - 0.03 - 0.015) * 270.0)
    held_m3 = (sump.soil_water_m + sump.pond_m) * 270.0
    assert held_m3 + drained_m3 + books.run_off_m3 == pytest.approx(books.rain_m3)


def test_wet_ground_drains_as_a_linear_store(parameters: SumpParameters) -> None:
    """After one time constant of dry, dark weather 1/e of the water is left."""
    sump, books, weather = record(SumpState), record(Sums), record(WeatherNow)
    sump.soil_water_m = 0.02
    for _ in range(1000):
        water.soak(sump, parameters, weather, books, 100.0)
    assert sump.soil_water_m == pytest.approx(0.02 / np.e)


def test_dry_ground_stops_drying_and_never_drains(parameters: SumpParameters) -> None:
    """A sunny month takes the soil to its driest and no further; nothing flows to the sump."""
    sump, books, weather = record(SumpState), record(Sums), record(WeatherNow)
    weather.light_w_m2 = 300.0
    for _ in range(30 * 24):
        water.soak(sump, parameters, weather, books, 3600.0)
    assert sump.soil_water_m == pytest.approx(water.DRIEST_M)
    assert sump.inflow_m3_s == 0.0


def test_the_float_turns_at_its_levels_and_not_between(parameters: SumpParameters) -> None:
    """It rises to wet at 60 L, stays wet while the pump empties, and falls at 0."""
    sump, books = record(SumpState), record(Sums)
    sump.inflow_m3_s = 1e-3
    turned = [water.fill_sump(sump, parameters, 0.0, 0.0, books, 10.0) for _ in range(6)]
    assert turned == [False] * 5 + [True]
    sump.inflow_m3_s = 0.0
    turned = [water.fill_sump(sump, parameters, 1.0, 0.0, books, 10.0) for _ in range(4)]
    assert turned == [False, False, True, False]
    assert books.pumped_m3 == pytest.approx(0.06)


def test_the_time_to_the_next_turn_is_exact(parameters: SumpParameters) -> None:
    """Filling 60 L at 0.4 L/s takes 150 s; emptying them at 1.6 L/s net takes 37.5 s; otherwise never."""
    sump = record(SumpState)
    sump.inflow_m3_s = 4e-4
    assert water.seconds_to_float_edge(sump, parameters, 0.0, 1e9) == pytest.approx(150.0, rel=1e-6)
    sump.volume_m3, sump.float_wet = 0.06, 1.0
    assert water.seconds_to_float_edge(sump, parameters, 1.0, 1e9) == pytest.approx(37.5, rel=1e-6)
    assert water.seconds_to_float_edge(sump, parameters, 0.0, 60.0) == 60.0


def test_water_above_the_tubes_lowest_point_stands_in_them_and_shuts_them(parameters: SumpParameters) -> None:
    """With the pump dead the pit fills, then the tubes, and then no more comes in."""
    sump, books = record(SumpState), record(Sums)
    sump.inflow_m3_s = 1e-3
    for _ in range(2000):
        water.fill_sump(sump, parameters, 0.0, 0.0, books, 1.0)
    assert sump.volume_m3 == parameters.most_m3
    assert sump.tube_water_m3 == pytest.approx(1.0 - 0.096)
    assert books.run_off_m3 == pytest.approx(1.0)
    assert water.blocked_share(0.0, 1.0) == 0.0
    assert water.blocked_share(0.05, 1.0) == pytest.approx(1.0 / 3.0)
    assert water.blocked_share(0.9, 1.0) == 1.0


@pytest.mark.parametrize(
    ("air_c", "light_w_m2", "mm_day"),
    [(20.0, 200.0, 3.2), (5.0, 100.0, 1.0), (30.0, 250.0, 4.5), (20.0, 0.0, 0.0)],
)
def test_wet_ground_dries_as_by_makkink(air_c: float, light_w_m2: float, mm_day: float) -> None:
    """0.65 s/(s+g) K/L, s of the Magnus line and g = 0.067 kPa/K (FAO 56), worked out anew here, within 5 %.

    The form is de Bruin's of 1987, from memory. FAO 56 has grass at 3 to 5 mm on a moderate summer's day.
    """
    saturation_kpa = 0.6108 * np.exp(17.27 * air_c / (air_c + 237.3))
    slope = 4098.0 * saturation_kpa / (air_c + 237.3) ** 2
    expected = 0.65 * slope / (slope + 0.067) * light_w_m2 / 2.45e6 * 86_400.0
    got = water.drying_m_s(light_w_m2, air_c, 101_325.0) * 1000.0 * 86_400.0
    assert got == pytest.approx(expected, rel=0.05)
    assert got == pytest.approx(mm_day, abs=0.15)


def handbook_cycle_s(working_m3: float, inflow_m3_s: float, pump_m3_s: float) -> float:
    """From one start of a pump to the next: MIL-HDBK-1005/9A §2.5.3.6, (V/D)(1/(1-Q/D) + 1/(Q/D))."""
    share = inflow_m3_s / pump_m3_s
    return working_m3 / pump_m3_s * (1.0 / (1.0 - share) + 1.0 / share)


@pytest.mark.parametrize("share", [0.1, 0.3, 0.5, 0.7, 0.9])
def test_the_pump_starts_as_often_as_the_handbook_says(parameters: SumpParameters, share: float) -> None:
    """Ten cycles of 60 L and 2 L/s at a steady inflow; shortest, 4 V/D, at half the pump's flow."""
    sump, books = record(SumpState), record(Sums)
    sump.inflow_m3_s = share * parameters.pump_m3_s
    starts_s: list[float] = []
    passed_s, pumping = 0.0, 0.0
    while len(starts_s) < 11:
        step_s = water.seconds_to_float_edge(sump, parameters, pumping, 1e6)
        passed_s += step_s
        assert water.fill_sump(sump, parameters, pumping, 0.0, books, step_s)
        pumping = float(sump.float_wet)
        if pumping:
            starts_s.append(passed_s)
    cycle_s = (starts_s[-1] - starts_s[0]) / 10.0
    assert cycle_s == pytest.approx(handbook_cycle_s(0.06, sump.inflow_m3_s, 2e-3), rel=1e-4)
    assert cycle_s >= 4.0 * 0.06 / 2e-3 * (1.0 - 1e-4)


def test_runs_after_rain_are_the_water_that_drains_over_what_a_run_moves() -> None:
    """30 mm on 270 m² of soaked silty clay: most of 8.1 m³ comes out in ten dark days, 60 L a run."""
    house = plant(datetime(2026, 1, 7))  # noqa: DTZ001
    house.model.sumps[0].soil_water_m = 0.03
    start_m3 = stored_m3(house)
    pump = house.switches[OutputId.pump("main")]
    runs, passed_s = 0, 0.0
    while passed_s < 10 * 86_400.0:
        passed_s += house.advance_to_edge(3600.0)
        wet = house.truth().float_wet["main"]
        runs += wet and not pump.is_on()
        pump.set(wet)
    books = house.books()
    assert 0.06 <= books.pumped_m3 / runs < 0.064
    assert 60 <= runs <= 135
    assert start_m3 + books.rain_m3 == pytest.approx(
        books.pumped_m3 + books.dried_m3 + books.run_off_m3 + stored_m3(house), abs=1e-9
    )


def stored_m3(house: SimulatedPlant) -> float:
    """Water in the ground and the pit."""
    sumps = house.model.sumps[0]
    area = house.model.whole.sumps.parameters[0].catchment_m2
    return float((sumps.soil_water_m + sumps.pond_m) * area + sumps.volume_m3)


def test_water_behind_a_leaking_check_valve_comes_back_and_is_pumped_again(
    parameters: SumpParameters,
) -> None:
    """Of 60 L pumped with 20 L left in the pipe, 20 L return at 0.2 L/s; sums agree to the drop."""
    sump, books = record(SumpState), record(Sums)
    sump.volume_m3, sump.float_wet, sump.back_m3 = 0.06, 1.0, 0.02
    water.fill_sump(sump, parameters, 1.0, 0.0, books, 60.0)
    assert books.pumped_m3 == pytest.approx(0.04)
    assert sump.pipe_m3 == pytest.approx(0.02)
    water.fill_sump(sump, parameters, 0.0, 0.0, books, 50.0)
    assert sump.volume_m3 == pytest.approx(0.01)
    water.fill_sump(sump, parameters, 0.0, 0.0, books, 500.0)
    assert (sump.volume_m3, sump.pipe_m3) == pytest.approx((0.02, 0.0))
    assert sump.volume_m3 + books.pumped_m3 == pytest.approx(0.06)


def test_returning_water_counts_for_the_next_turn_of_the_float(parameters: SumpParameters) -> None:
    """With 40 L in the pit and 30 L on their way back at 0.2 L/s the float rises after 100 s."""
    sump = record(SumpState)
    sump.volume_m3, sump.pipe_m3 = 0.04, 0.03
    assert water.seconds_to_float_edge(sump, parameters, 0.0, 1e9) == pytest.approx(100.0, rel=1e-6)


def test_the_ground_is_as_wet_at_the_start_as_if_it_had_lived_through_the_year() -> None:
    """On 1 July it is as after a rehearsed half year, dry after spring; no rain of then is in the books."""
    july = plant(datetime(2026, 7, 1))  # noqa: DTZ001
    lived = plant(datetime(2026, 1, 1))  # noqa: DTZ001
    for _ in range(181):
        lived.advance(86_400.0)
    assert july.model.sumps[0].soil_water_m == pytest.approx(lived.model.sumps[0].soil_water_m, abs=0.002)
    assert july.model.sumps[0].soil_water_m < -0.02
    assert july.books().rain_m3 == 0.0
