"""What simulated thermometers show, plain and compiled."""

from __future__ import annotations

import math

import numpy as np
import pytest

from controller.simulator.compiled import compile_modules
from controller.simulator.plant import thermometers
from controller.simulator.plant.thermometers import STEP_PER_K
from tests.simulator.garden import plant, settings

AIR_C = np.array([20.0, 5.0])
OUTLETS_C = np.array([11.0, 12.0])
SOIL_C = np.array([[10.0, 12.0, 16.0], [8.0, 9.0, 10.0]])


def test_soil_between_two_rows_is_read_between_them():
    """A quarter of the way from 12 to 16 °C is 13 °C."""
    place = np.array([thermometers.IN_SOIL, 0, 1])
    assert thermometers.true_c(place, 0.25, AIR_C, OUTLETS_C, SOIL_C) == 13.0


def test_a_thermometer_lags_as_its_time_constant_says():
    """After one time constant it has come 1 - 1/e of the way; one without lag is there at once."""
    probes = np.zeros((2, thermometers.PROBE))
    probes[0, thermometers.LAG_S] = 60.0
    places = np.zeros((2, thermometers.PLACE), dtype=np.int64)
    thermometers.read_all(60.0, places, probes, np.zeros(3), 0, AIR_C, OUTLETS_C, SOIL_C)
    assert probes[0, thermometers.FELT_C] == pytest.approx(20.0 * (1.0 - math.exp(-1.0)))
    assert probes[1, thermometers.FELT_C] == 20.0


def test_readings_come_in_sixteenths_of_a_kelvin():
    """A shown temperature is the nearest sixteenth, below zero as well."""
    assert thermometers.stepped_c(20.04) == 20.0625
    assert thermometers.stepped_c(-0.04) == -0.0625


def test_the_compiled_twin_reads_the_same():
    """Random thermometers read several times give the same in Python and compiled, noise in turn included."""
    random = np.random.default_rng(1)
    twin = compile_modules((thermometers,))["thermometers"]
    probes = random.uniform(0.0, 1.0, (6, thermometers.PROBE))
    probes[:, thermometers.LAG_S] = [0.0, 60.0, 0.0, 30.0, 0.0, 90.0]
    places = np.array([[0, 0, 0], [0, 1, 0], [1, 0, 0], [1, 1, 0], [2, 0, 0], [2, 1, 1]])
    noise_k = random.normal(0.0, 0.03, 7)
    same, turns = probes.copy(), [0, 0]
    for passed_s in (math.inf, 60.0, 0.5):
        truth = AIR_C + passed_s % 7.0 if passed_s < math.inf else AIR_C
        for which, (module, state) in enumerate(((thermometers, probes), (twin, same))):
            turns[which] = module.read_all(
                passed_s, places, state, noise_k, turns[which], truth, OUTLETS_C, SOIL_C
            )
        np.testing.assert_allclose(same, probes, rtol=1e-14)
    assert turns == [4, 4]


def test_exact_probes_show_the_true_temperatures_to_half_a_step():
    """Every soil and air probe of the garden shows what the house really has."""
    house = plant(exact_probes=True)
    house.advance(3600.0)
    truth, samples = house.truth(), house.temperatures.latest()
    for name, probe in settings().probes.items():
        if probe.place == "soil":
            true_c = truth.soil_c[probe.loop]
        elif probe.place == "outlet":
            true_c = truth.outlet_c[probe.loop]
        elif probe.place == "root-zone":
            loop = house.model.loop_names.index(probe.loop)
            true_c = house.model.soil_c(loop, 0.25)
        else:
            true_c = {"ceiling": truth.ceiling_c, "bench": truth.bench_c, "outdoor": truth.outdoor_c}[
                probe.place
            ]
        shown_c = samples[name].value_c + probe.offset_k
        assert abs(shown_c - true_c) <= 0.5 / STEP_PER_K + 1e-9
