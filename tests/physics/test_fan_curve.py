"""Fan against blocked tubes and a blocked intake."""

from __future__ import annotations

import math

import fluids
import numpy as np
import pytest
from scipy.optimize import brentq

from controller.physics import fan_curve, tube

LENGTH_M, DIAMETER_M, TUBES, FLOW_M3_S, POWER_W = 9.0, 0.08, 24, 0.30, 120.0
SHUT_OFF = 3.7


def reference_drop_pa(flow_m3_s: float, tubes: int) -> float:
    """The tubes' pressure drop by the fluids library alone: Colebrook, sharp entry and exit."""
    velocity = flow_m3_s / tubes / (math.pi * DIAMETER_M**2 / 4.0)
    re = fluids.Reynolds(V=velocity, D=DIAMETER_M, rho=1.2046, mu=1.8206e-5)
    friction = fluids.friction_factor(Re=re, eD=tube.corrugated_relative_roughness(DIAMETER_M))
    losses = fluids.K_from_f(fd=friction, L=LENGTH_M, D=DIAMETER_M) + 1.5
    return float(fluids.dP_from_K(losses, rho=1.2046, V=velocity))


@pytest.mark.parametrize("intake_share", [1.0, 0.5, 0.25])
@pytest.mark.parametrize("open_tubes", [24, 20, 16, 12, 8, 4, 2])
def test_working_point_is_where_fan_and_tubes_meet(open_tubes: int, intake_share: float) -> None:
    """The formula finds the crossing that a root finder finds with the fluids library's tubes, within 3 %."""
    tubes_pa = reference_drop_pa(FLOW_M3_S, TUBES)
    nominal_pa = tubes_pa + fan_curve.RISER_PA

    def surplus_pa(ratio: float) -> float:
        fan_pa = nominal_pa * fan_curve.pressure_ratio(ratio, SHUT_OFF)
        riser_pa = fan_curve.RISER_PA * (ratio / intake_share) ** 2
        return fan_pa - riser_pa - reference_drop_pa(ratio * FLOW_M3_S, open_tubes)

    crossing = brentq(surplus_pa, 0.01, 1.2)
    flow = fan_curve.flow_ratio(open_tubes / TUBES, intake_share, fan_curve.tube_share(tubes_pa), SHUT_OFF)
    assert flow == pytest.approx(crossing, rel=0.03)


def test_nominal_point_is_the_nominal_point() -> None:
    """With everything open, flow, pressure and power are the nominal ones, whatever the tubes' share."""
    for tubes_part in (0.0, 0.4, 1.0):
        for shut_off in (1.5, 3.7, 20.0):
            assert fan_curve.flow_ratio(1.0, 1.0, tubes_part, shut_off) == pytest.approx(1.0, rel=1e-12)
            assert fan_curve.pressure_ratio(1.0, shut_off) == pytest.approx(1.0, rel=1e-12)
    assert fan_curve.power_ratio(1.0) == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize("efficiency", [0.02, 0.1, 0.2, 0.3, 0.34])
def test_the_curve_has_its_best_efficiency_where_and_as_high_as_it_should(efficiency: float) -> None:
    """Along the curve p Q / P peaks at 1/sqrt(3) of the free flow, and there it is the peak efficiency.

    Power is held at its nominal value for that: the peak is a property of the pressure curve alone.
    """
    shut_off = fan_curve.shut_off_ratio(efficiency)
    flows = np.linspace(0.0, math.sqrt(shut_off / (shut_off - 1.0)), 20_001)
    along = efficiency * flows * np.array([fan_curve.pressure_ratio(flow, shut_off) for flow in flows])
    assert along.max() == pytest.approx(fan_curve.PEAK_EFFICIENCY, rel=1e-6)
    assert flows[along.argmax()] / flows[-1] == pytest.approx(1.0 / math.sqrt(3.0), abs=1e-3)
    assert flows[along.argmax()] < 1.0


def test_a_fan_that_claims_more_than_the_best_sits_at_its_best_point() -> None:
    """From the peak efficiency on, the shut-off pressure is 1.5 times the nominal one."""
    for claimed in (fan_curve.PEAK_EFFICIENCY, 0.5, 0.9):
        assert fan_curve.shut_off_ratio(claimed) == pytest.approx(1.5)


def test_the_fan_of_the_example_house_is_one_that_can_be_bought() -> None:
    """0.30 m³/s at 120 W: 85 Pa in all, 20 to 25 % overall, 400 J/m³ (EN 13779 SFP 1: below 500 J/m³)."""
    tubes_pa = reference_drop_pa(FLOW_M3_S, TUBES)
    assert tubes_pa + fan_curve.RISER_PA == pytest.approx(85.0, abs=3.0)
    assert 0.20 < fan_curve.efficiency(tubes_pa, FLOW_M3_S, POWER_W) < 0.25
    assert POWER_W / FLOW_M3_S < 500.0


def test_blocked_tubes_take_flow_and_some_power() -> None:
    """The more tubes are flooded, the less air and the less power; nothing flows when all are."""
    flows = [fan_curve.flow_ratio(share, 1.0, 0.8, SHUT_OFF) for share in (1.0, 0.75, 0.5, 0.25, 0.0)]
    assert flows == sorted(flows, reverse=True)
    assert flows[-1] == 0.0
    assert fan_curve.flow_ratio(1.0, 0.0, 0.8, SHUT_OFF) == 0.0
    powers = [fan_curve.power_ratio(flow) for flow in flows]
    assert powers == sorted(powers, reverse=True)
    assert powers[-1] == fan_curve.SHUT_OFF_POWER_RATIO


def test_resistance_of_half_the_tubes_is_four_times_theirs() -> None:
    """Parallel square-law resistances (any hydraulics text): half of them drop four times as much."""
    assert fan_curve.resistance_ratio(0.5, 1.0, 1.0) == pytest.approx(4.0)
    assert fan_curve.resistance_ratio(0.5, 1.0, 0.5) == pytest.approx(2.5)
    assert fan_curve.resistance_ratio(1.0, 0.5, 0.5) == pytest.approx(2.5)
