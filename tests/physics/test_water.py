"""Pump cycle and soaking rain against published guidance."""

from __future__ import annotations

import math

import pytest

from controller.physics import soil, water


@pytest.mark.parametrize(("inflow_l_min", "minutes"), [(30.0, 4.0 / 3.0), (10.0, 2.40), (50.0, 2.40)])
def test_pump_cycle_of_the_handbook_formula(inflow_l_min: float, minutes: float) -> None:
    """MIL-HDBK-1005/9A §2.5.3.6 with 20 L and a 60 L/min pump: 4V/D at half flow, longer to either side."""
    cycle_s = water.pump_cycle_s(0.020, inflow_l_min / 60_000.0, 0.001)
    assert cycle_s / 60.0 == pytest.approx(minutes, abs=1e-9)


def test_ninety_litres_keep_the_pump_to_ten_starts_an_hour() -> None:
    """MIL-HDBK-1005/9A: V = t D / 4; six minutes at 60 L/min need 90 L."""
    assert water.pump_cycle_s(0.090, 0.0005, 0.001) == pytest.approx(360.0)


def test_half_the_pump_flow_is_the_worst_inflow() -> None:
    """MIL-HDBK-1005/9A: the cycle is shortest when the inflow is half the pump's flow."""
    cycles = {share: water.pump_cycle_s(0.020, share * 0.001, 0.001) for share in (0.1, 0.3, 0.5, 0.7, 0.9)}
    assert min(cycles, key=lambda share: cycles[share]) == 0.5


def test_no_cycle_without_inflow_or_beyond_the_pump() -> None:
    """A dry sump never starts the pump; an inflow beyond it never lets it stop."""
    assert water.pump_cycle_s(0.020, 0.0, 0.001) == math.inf
    assert water.pump_cycle_s(0.020, 0.001, 0.001) == math.inf


@pytest.mark.parametrize(
    ("texture", "low", "high"),
    [
        ("sand", 30.0, 100.0),
        ("sandy loam", 20.0, 30.0),
        ("loam", 10.0, 20.0),
        ("clay loam", 5.0, 10.0),
        ("clay", 1.0, 5.0),
    ],
)
def test_infiltration_rates_lie_in_the_fao_bands(texture: str, low: float, high: float) -> None:
    """FAO irrigation training manual 5, Annex 2, basic infiltration rates in mm/h."""
    assert low <= water.BASIC_INFILTRATION_MM_H[texture] <= high


def test_every_texture_soaks() -> None:
    """The textures are those of the thermal table."""
    assert set(water.BASIC_INFILTRATION_MM_H) == set(soil.TEXTURES)


def test_rain_beyond_the_capacity_runs_off() -> None:
    """A 20 mm/h shower on clay: 3 mm/h go in."""
    capacity_m_s = water.BASIC_INFILTRATION_MM_H["clay"] * water.MM_PER_H_M_S
    assert water.infiltration_m_s(20.0 * water.MM_PER_H_M_S, capacity_m_s) == capacity_m_s
    assert water.infiltration_m_s(1.0 * water.MM_PER_H_M_S, capacity_m_s) == 1.0 * water.MM_PER_H_M_S
