"""Air in the tubes: heat, condensation and drying, with the water balance on the wall."""

from __future__ import annotations

import math

import numpy as np
import pytest

from controller.physics import moist_air, tube
from controller.simulator import tubes
from controller.simulator.indices import SEGMENTS
from tests.simulator.rig import Rig, soil_of

PRESSURE_PA = 101_325.0
STEP_S = 60.0


def stretch(air_c: float, humidity: float, soil_c: float, film_kg: float = 0.0) -> tuple[float, float, float]:
    """One stretch of 0.36 kg/s with half a transfer unit."""
    air_w = moist_air.humidity_ratio(air_c, humidity, PRESSURE_PA)
    return tubes.exchange(air_c, air_w, 0.36, 0.5, soil_c, 900.0, soil_c, film_kg, PRESSURE_PA, STEP_S)


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
        _, water_kg_s, wall_c = tubes.exchange(
            32.0, air_w, 0.36, 0.5, 15.0, 900.0, wall_c, 0.0, PRESSURE_PA, STEP_S
        )
        water.append(water_kg_s)
    assert water[0] == pytest.approx(water[-1], rel=0.1)
    assert water[1] == pytest.approx(water[-1], rel=0.005)


def test_a_tube_in_soil_that_never_warms_has_the_textbook_effectiveness() -> None:
    """Eight stretches against an unmoved wall give 1 - exp(-NTU) of the whole length."""
    air_c = 30.0
    for _ in range(SEGMENTS):
        heat_w, _, _ = tubes.exchange(air_c, 0.001, 0.36, 0.2, 10.0, 1e12, 10.0, 0.0, PRESSURE_PA, STEP_S)
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
