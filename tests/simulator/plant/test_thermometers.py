"""What simulated thermometers show, plain and compiled."""

from __future__ import annotations

import math

import numpy as np
import pytest

from controller.simulator.compiled import compile_modules
from controller.simulator.house.state import HouseState, bare, record, rows
from controller.simulator.plant import thermometers
from controller.simulator.plant.thermometers import STEP_PER_K, Thermometer
from tests.simulator.garden import plant, settings

OUTLETS_C = np.array([11.0, 12.0])
SOIL_C = np.array([[10.0, 12.0, 16.0], [8.0, 9.0, 10.0]])


def house(warmer_k=0.0):
    """A house of 20 °C among the crop, 30 °C under the roof and 5 °C outdoors, or all that warmer."""
    state = record(HouseState)
    state.bench_c, state.ceiling_c, state.out_c = 20.0 + warmer_k, 30.0 + warmer_k, 5.0 + warmer_k
    return state


def test_soil_between_two_rows_is_read_between_them():
    """A quarter of the way from 12 to 16 °C is 13 °C."""
    probe = record(Thermometer)
    probe.place, probe.loop, probe.row, probe.share = thermometers.SOIL, 0, 1, 0.25
    assert thermometers.true_c(probe, house(), OUTLETS_C, SOIL_C) == 13.0


def test_a_thermometer_lags_as_its_time_constant_says():
    """After one time constant it has come 1 - 1/e of the way; one without lag is there at once."""
    probes = rows(Thermometer, 2)
    probes[0].lag_s = 60.0
    thermometers.read_all(60.0, probes, np.zeros(3), 0, bare(house()), OUTLETS_C, SOIL_C)
    assert probes[0].felt_c == pytest.approx(20.0 * (1.0 - math.exp(-1.0)))
    assert probes[1].felt_c == 20.0


def test_readings_come_in_sixteenths_of_a_kelvin():
    """A shown temperature is the nearest sixteenth, below zero as well."""
    assert thermometers.stepped_c(20.04) == 20.0625
    assert thermometers.stepped_c(-0.04) == -0.0625


def test_the_compiled_twin_reads_the_same():
    """Random thermometers read several times give the same in Python and compiled, noise in turn included."""
    random = np.random.default_rng(1)
    twin = compile_modules((thermometers,))["thermometers"]
    probes, same = rows(Thermometer, 7), rows(Thermometer, 7)
    for name in Thermometer.__annotations__:
        probes[name] = random.uniform(0.0, 1.0, 7)
    probes["lag_s"] = np.array([0.0, 60.0, 0.0, 30.0, 0.0, 90.0, 0.0])
    probes["place"] = np.array([0, 1, 2, 3, 3, 4, 4])
    probes["loop"] = np.array([0, 0, 0, 0, 1, 0, 1])
    probes["row"] = np.array([0, 0, 0, 0, 0, 0, 1])
    same[:] = probes
    noise_k = random.normal(0.0, 0.03, 8)
    turns = [0, 0]
    for passed_s in (math.inf, 60.0, 0.5):
        truth = bare(house(passed_s % 7.0 if passed_s < math.inf else 0.0))
        for which, (module, state) in enumerate(((thermometers, probes), (twin, same))):
            turns[which] = module.read_all(passed_s, state, noise_k, turns[which], truth, OUTLETS_C, SOIL_C)
        for name in Thermometer.__annotations__:
            np.testing.assert_allclose(same[name], probes[name], rtol=1e-14)
    assert turns == [5, 5]


def test_exact_probes_show_the_true_temperatures_to_half_a_step():
    """Every soil and air probe of the garden shows what the house really has."""
    garden = plant(exact_probes=True)
    garden.advance(3600.0)
    truth, samples = garden.truth(), garden.temperatures.latest()
    for name, probe in settings().probes.items():
        if probe.place == "soil":
            true_c = truth.soil_c[probe.loop]
        elif probe.place == "outlet":
            true_c = truth.outlet_c[probe.loop]
        elif probe.place == "root-zone":
            loop = garden.model.loop_names.index(probe.loop)
            true_c = garden.model.soil_c(loop, 0.25)
        else:
            true_c = {"ceiling": truth.ceiling_c, "bench": truth.bench_c, "outdoor": truth.outdoor_c}[
                probe.place
            ]
        shown_c = samples[name].value_c + probe.offset_k
        assert abs(shown_c - true_c) <= 0.5 / STEP_PER_K + 1e-9
