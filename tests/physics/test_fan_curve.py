"""Fan against blocked tubes."""

from __future__ import annotations

import math

import fluids
import pytest
from scipy.optimize import brentq

from controller.physics import fan_curve, tube

LENGTH_M, DIAMETER_M, TUBES, FLOW_M3_S = 9.0, 0.08, 24, 0.30


def reference_drop_pa(flow_m3_s: float, tubes: int) -> float:
    """The tubes' pressure drop by the fluids library alone: Colebrook, sharp entry and exit."""
    velocity = flow_m3_s / tubes / (math.pi * DIAMETER_M**2 / 4.0)
    re = fluids.Reynolds(V=velocity, D=DIAMETER_M, rho=1.2046, mu=1.8206e-5)
    friction = fluids.friction_factor(Re=re, eD=tube.corrugated_relative_roughness(DIAMETER_M))
    losses = fluids.K_from_f(fd=friction, L=LENGTH_M, D=DIAMETER_M) + 1.5
    return float(fluids.dP_from_K(losses, rho=1.2046, V=velocity))


@pytest.mark.parametrize("open_tubes", [24, 20, 16, 12, 8, 4, 2])
def test_working_point_is_where_fan_and_tubes_meet(open_tubes: int) -> None:
    """The formula finds the crossing that a root finder finds with the fluids library's tubes, within 2 %."""
    nominal_pa = reference_drop_pa(FLOW_M3_S, TUBES)

    def surplus_pa(ratio: float) -> float:
        fan_pa = nominal_pa * fan_curve.pressure_ratio(ratio)
        return fan_pa - reference_drop_pa(ratio * FLOW_M3_S, open_tubes)

    crossing = brentq(surplus_pa, 0.01, 1.2)
    assert fan_curve.flow_ratio(open_tubes / TUBES, 1.0) == pytest.approx(crossing, rel=0.02)


def test_nominal_point_is_the_nominal_point() -> None:
    """With every tube open, flow, pressure and power are the nominal ones, whatever the tubes' share."""
    for tube_share in (0.0, 0.4, 1.0):
        assert fan_curve.flow_ratio(1.0, tube_share) == pytest.approx(1.0, rel=1e-12)
    assert fan_curve.pressure_ratio(1.0) == pytest.approx(1.0, rel=1e-12)
    assert fan_curve.power_ratio(1.0) == pytest.approx(1.0, rel=1e-12)


def test_blocked_tubes_take_flow_and_some_power() -> None:
    """The more tubes are flooded, the less air and the less power; nothing flows when all are."""
    flows = [fan_curve.flow_ratio(share, 0.8) for share in (1.0, 0.75, 0.5, 0.25, 0.0)]
    assert flows == sorted(flows, reverse=True)
    assert flows[-1] == 0.0
    powers = [fan_curve.power_ratio(flow) for flow in flows]
    assert powers == sorted(powers, reverse=True)
    assert powers[-1] == fan_curve.SHUT_OFF_POWER_RATIO


def test_resistance_of_half_the_tubes_is_four_times_theirs() -> None:
    """Parallel square-law resistances (any hydraulics text): half of them drop four times as much."""
    assert fan_curve.resistance_ratio(0.5, 1.0) == pytest.approx(4.0)
    assert fan_curve.resistance_ratio(0.5, 0.5) == pytest.approx(2.5)
