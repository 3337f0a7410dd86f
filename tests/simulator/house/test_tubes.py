"""Air in the tubes: heat, condensation and drying, with the water balance on the wall."""

from __future__ import annotations

import math
from datetime import datetime

import fluids
import numpy as np
import pytest
from ht import conv_internal

from controller.physics import moist_air, tube
from controller.simulator.house import tubes
from controller.simulator.house.model import Model
from controller.simulator.house.state import SEGMENTS, LoopState
from tests.simulator.garden import plant, settings, weather
from tests.simulator.house.rig import Rig, soil_of

PRESSURE_PA = 101_325.0
STEP_S = 60.0


def stretch(air_c: float, humidity: float, soil_c: float, film_kg: float = 0.0) -> tuple[float, float, float]:
    """One stretch of 0.36 kg/s with half a transfer unit."""
    air_w = moist_air.humidity_ratio(air_c, humidity, PRESSURE_PA)
    air, wall = tubes.Air(air_c, air_w, 0.36, PRESSURE_PA), tubes.Wall(soil_c, 900.0, soil_c, film_kg)
    return tubes.exchange(air, wall, 0.5, STEP_S)


def test_damp_air_leaves_water_and_its_heat_at_a_cold_wall() -> None:
    """With the dew point above the wall, water condenses and warms it beyond what the dry heat would."""
    heat_w, water_kg_s, wall_c = stretch(30.0, 0.8, 15.0)
    dry_heat_w, dry_water, dry_wall_c = stretch(30.0, 0.2, 15.0)
    assert water_kg_s > 0.0
    assert dry_water == 0.0
    assert heat_w > 0.0
    assert dry_heat_w > 0.0
    assert wall_c > dry_wall_c > 15.0


def test_a_dry_wall_cannot_give_water() -> None:
    """Dry air over a dry wall takes nothing, over a wet one it dries and cools it."""
    _, none, _ = stretch(20.0, 0.3, 20.0)
    heat_w, water_kg_s, wall_c = stretch(20.0, 0.3, 20.0, film_kg=5.0)
    assert none == 0.0
    assert water_kg_s < 0.0
    assert wall_c < 20.0
    assert heat_w > 0.0


def test_no_more_dries_than_was_there() -> None:
    """A film of a gram is used up in one step, not overdrawn."""
    _, water_kg_s, _ = stretch(30.0, 0.2, 30.0, film_kg=0.001)
    assert water_kg_s * STEP_S == pytest.approx(-0.001)


@pytest.mark.parametrize(
    ("air_c", "humidity", "film_kg"), [(30.0, 0.9, 0.0), (12.0, 0.4, 3.0), (35.0, 0.1, 0.0)]
)
def test_the_wall_is_in_balance(air_c: float, humidity: float, film_kg: float) -> None:
    """Heat and condensate from the air equal what goes into the soil, to rounding."""
    heat_w, water_kg_s, wall_c = stretch(air_c, humidity, 18.0, film_kg)
    into_soil_w = 900.0 * (wall_c - 18.0)
    assert heat_w + tubes.LATENT_J_KG * water_kg_s == pytest.approx(into_soil_w, rel=1e-9)


def test_the_straight_saturation_line_settles_at_once() -> None:
    """About the last step's wall the line is 10 % off right after a jump of the air, 0.5 % a step later."""
    air_w = moist_air.humidity_ratio(32.0, 0.85, PRESSURE_PA)
    wall_c = 15.0
    water = []
    for _ in range(4):
        air, wall = tubes.Air(32.0, air_w, 0.36, PRESSURE_PA), tubes.Wall(15.0, 900.0, wall_c, 0.0)
        _, water_kg_s, wall_c = tubes.exchange(air, wall, 0.5, STEP_S)
        water.append(water_kg_s)
    assert water[0] == pytest.approx(water[-1], rel=0.1)
    assert water[1] == pytest.approx(water[-1], rel=0.005)


def test_a_tube_in_soil_that_never_warms_has_the_textbook_effectiveness() -> None:
    """Eight stretches against an unmoved wall give 1 - exp(-NTU) of the whole length."""
    air_c = 30.0
    for _ in range(SEGMENTS):
        air, wall = tubes.Air(air_c, 0.001, 0.36, PRESSURE_PA), tubes.Wall(10.0, 1e12, 10.0, 0.0)
        heat_w, _, _ = tubes.exchange(air, wall, 0.2, STEP_S)
        air_c -= heat_w / (0.36 * tubes.AIR_J_KGK)
    assert (30.0 - air_c) / 20.0 == pytest.approx(tube.effectiveness(0.2 * SEGMENTS), rel=1e-9)


def test_the_slope_of_the_saturation_line() -> None:
    """Clausius and Clapeyron agree with the difference of the exact line within 4 %."""
    for temp_c in (2.0, 10.0, 20.0, 30.0):
        low, high = (moist_air.saturation_humidity_ratio(temp_c + d, PRESSURE_PA) for d in (-0.05, 0.05))
        saturated = moist_air.saturation_humidity_ratio(temp_c, PRESSURE_PA)
        assert tubes.saturation_slope(temp_c, saturated) == pytest.approx((high - low) / 0.1, rel=0.06)


def test_latent_share_of_a_known_greenhouse_case() -> None:
    """30 °C at 80 %, cooled by a long tube to a wall near 18 °C: two thirds of the heat is condensation.

    Worked out with psychrolib: cooled to saturation at 18 °C the latent share is 64 %.
    """
    rig = Rig(
        soil_of("sand", 1.0), 3.0, 0.1, 60.0, 6.0, flow_m3_s=0.012, ground_c=lambda z: np.full_like(z, 18.0)
    )
    air_w = moist_air.humidity_ratio(30.0, 0.8, PRESSURE_PA)
    out_c, heat_w, _ = rig.blow(30.0, air_w)
    sensible_w = rig.mass_kg_s * tubes.AIR_J_KGK * (30.0 - out_c)
    assert out_c == pytest.approx(18.0, abs=1.0)
    assert 1.0 - sensible_w / heat_w == pytest.approx(0.64, abs=0.05)
    assert math.isfinite(heat_w)


def test_latent_heat_is_part_of_what_was_charged() -> None:
    """Walls that dry while a loop charges count against the condensation: dry ones 0, wet ones below it."""
    parts = []
    for film_kg in (0.0, 50.0):
        house = plant(datetime(2026, 6, 1))  # noqa: DTZ001
        model = house.model
        model.whole.tubes.film_kg[:] = film_kg
        model.switches[0] = 1.0
        model.house.ceiling_c, model.house.ceiling_w = 45.0, 0.010
        model.advance(0.0, 60.0)
        sums = model.sums
        assert sums.charged_j > 0.0
        parts.append(float(sums.latent_in_j / sums.charged_j))
    assert parts[0] == 0.0
    assert parts[1] < 0.0


def reference_units(flow_m3_s: float, length_m: float, diameter_m: float, pressure_pa: float) -> float:
    """Transfer units of one corrugated tube by ``ht`` and ``fluids``, with their own friction factors."""
    density, viscosity = moist_air.density_kg_m3(20.0, 0.0, pressure_pa), moist_air.viscosity_pa_s(20.0)
    conductivity, pr = moist_air.conductivity_w_mk(20.0), moist_air.prandtl(20.0)
    re = fluids.Reynolds(
        V=flow_m3_s / (math.pi * diameter_m**2 / 4.0), D=diameter_m, rho=density, mu=viscosity
    )
    turbulent_re = max(re, 4000.0)
    smooth = (0.79 * math.log(turbulent_re) - 1.64) ** -2
    rough = fluids.friction_factor(Re=turbulent_re, eD=tube.corrugated_relative_roughness(diameter_m))
    turbulent = conv_internal.turbulent_Gnielinski(Re=turbulent_re, Pr=pr, fd=smooth)
    turbulent *= min(rough / smooth, 4.0) ** (0.68 * pr**0.215)
    share = min(max((re - 2300.0) / 1700.0, 0.0), 1.0)
    nusselt = (1.0 - share) * conv_internal.laminar_T_const() + share * turbulent
    return nusselt * conductivity * math.pi * length_m / (density * flow_m3_s * 1006.0)


def working_point(silted: float, intake: float, flooded: float = 0.0) -> LoopState:
    """State of the first loop of the example house with its fan on."""
    model = Model(settings(), weather(), 0.0)
    state = model.loops[0]
    state.silted, state.intake_share = silted, intake
    tubes.set_fan(state, model.whole.tubes.parameters[0], True, flooded)
    return state


def test_clean_dry_tubes_are_the_settings_working_point() -> None:
    """With everything open flow and power are those of the settings."""
    state = working_point(0.0, 1.0)
    assert state.flow_share == pytest.approx(1.0, rel=1e-12)
    assert state.power_w == pytest.approx(120.0, rel=1e-12)


@pytest.mark.parametrize("silted", [0.0, 0.3, 0.6, 0.9])
@pytest.mark.parametrize("intake", [1.0, 0.5, 0.2, 0.1, 0.05])
def test_transfer_units_are_those_of_each_open_tube_at_any_flow(silted: float, intake: float) -> None:
    """At every working point NTU is what ``ht`` gives for one open tube: Gnielinski or 3.66, gain, blend.

    The Reynolds numbers go from 1,600, laminar, to 41,000.
    """
    state = working_point(silted, intake)
    loop = next(iter(settings().loops.values()))
    flow_m3_s = loop.flow_m3_s * state.flow_share / (loop.tubes * (1.0 - silted))
    pressure_pa = float(np.mean(weather().pressure_pa))
    expected = reference_units(flow_m3_s, loop.tube_length_m, loop.tube_diameter_m, pressure_pa)
    assert state.units * SEGMENTS == pytest.approx(expected, rel=0.01)


def test_silt_and_flood_shut_tubes_alike() -> None:
    """A share of tubes shut by water does what the same share shut by silt does; shares multiply."""
    by_silt, by_water = working_point(0.4, 1.0), working_point(0.0, 1.0, 0.4)
    assert by_silt.flow_share == by_water.flow_share
    assert by_silt.units == by_water.units
    both = working_point(0.4, 1.0, 0.5)
    assert both.open_share == pytest.approx(0.3)
    assert working_point(0.0, 1.0, 1.0).flow_share == 0.0


def test_little_flow_uses_the_tube_better_until_it_is_laminar() -> None:
    """Transfer units rise as the intake clogs, and drop where flow turns laminar, far below flow^-0.2."""
    units = {share: float(working_point(0.0, share).units) for share in (1.0, 0.4, 0.08, 0.05)}
    assert units[0.4] > units[1.0]
    assert units[0.08] < 0.5 * units[1.0]
    flow = float(working_point(0.0, 0.05).flow_share)
    assert units[0.05] < 0.4 * units[1.0] * flow**-0.2


@pytest.mark.parametrize(
    ("dew_point_c", "condenses"), [(17.0, True), (15.2, True), (14.8, False), (5.0, False)]
)
def test_air_condenses_only_when_its_dew_point_is_above_the_wall(dew_point_c: float, condenses: bool) -> None:
    """Against a wall held at 15 °C; what leaves the air is between nothing and all above saturation."""
    air_w = moist_air.saturation_humidity_ratio(dew_point_c, PRESSURE_PA)
    saturated = moist_air.saturation_humidity_ratio(15.0, PRESSURE_PA)
    for _ in range(SEGMENTS):
        air, wall = tubes.Air(25.0, air_w, 0.36, PRESSURE_PA), tubes.Wall(15.0, 1e12, 15.0, 0.0)
        _, water_kg_s, _ = tubes.exchange(air, wall, 0.35, STEP_S)
        assert (water_kg_s > 0.0) is condenses
        air_w -= water_kg_s / 0.36
    assert air_w >= saturated or not condenses
    share = tube.vapour_effectiveness(0.35 * SEGMENTS)
    start_w = moist_air.saturation_humidity_ratio(dew_point_c, PRESSURE_PA)
    expected_w = start_w - share * (start_w - saturated) if condenses else start_w
    assert air_w == pytest.approx(expected_w, rel=1e-9)
