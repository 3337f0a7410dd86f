"""The house's air: layers, losses, vents, vapour."""

from __future__ import annotations

import math

import numpy as np
import pytest

from controller.physics import moist_air
from controller.simulator import boundary, house
from controller.simulator import indices as at
from controller.simulator.model import Model
from tests.simulator.garden import plant, settings, weather

LENGTH_M, WIDTH_M = 18.0, 7.5


def dark_weather(out_c: float) -> np.ndarray:
    """Night with the mean sky that measured heat losses hold, no wind, damp."""
    now = np.zeros(at.WEATHER)
    now[at.W_AIR_C] = out_c
    now[at.W_HUMIDITY] = moist_air.humidity_ratio(out_c, 0.8, 101_325.0)
    now[at.W_PRESSURE_PA] = 101_325.0
    black_w_m2 = boundary.STEFAN_BOLTZMANN_W_M2K4 * (out_c + 273.15) ** 4
    now[at.W_SKY_W_M2] = black_w_m2 - boundary.MEAN_SKY_DEFICIT_W_M2
    return now


def test_both_layers_keep_what_they_share() -> None:
    """Without outside, mixing only moves: the sum stays, and both end at the mean."""
    bench, ceiling = 10.0, 20.0
    for _ in range(200):
        bench, ceiling = house.two_layers(
            3.0, 2.0, bench, ceiling, 0.1, 0.1, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 60.0
        )
    assert 3.0 * bench + 2.0 * ceiling == pytest.approx(70.0)
    assert bench == pytest.approx(ceiling, abs=1e-6)


def test_one_layer_follows_the_exact_decay() -> None:
    """Small steps of the implicit scheme run down to outside as exp(-t/T) says."""
    bench = ceiling = 20.0
    for _ in range(1000):
        bench, ceiling = house.two_layers(
            500.0, 500.0, bench, ceiling, 0.0, 0.0, 0.5, 0.5, 0.0, 5.0, 0.0, 0.0, 0.0, 1.0
        )
    assert bench == pytest.approx(5.0 + 15.0 * math.exp(-1.0), rel=1e-3)
    assert ceiling == pytest.approx(bench)


def test_a_dark_house_loses_what_its_cover_and_leaks_say() -> None:
    """At 10 K over outside the losses are U A dT and the air's heat."""
    parameters = Model(settings(), weather(), 0.0)._house_p
    loss_w_k = parameters[at.P_LOSS_CALM] * parameters[at.P_COVER_M2]
    state, books, now = np.zeros(at.HOUSE_STATE), np.zeros(at.BOOKS), dark_weather(0.0)
    state[[at.BENCH_C, at.CEILING_C, at.MASS_C, at.FLOOR_C]] = 10.0
    state[[at.BENCH_W, at.CEILING_W]] = now[at.W_HUMIDITY]
    mixing = 1e3  # so that both layers stay alike
    leak = parameters[at.P_AIR_KG] * parameters[at.P_LEAK_PER_S]
    house.step_heat(
        state, parameters, now, 0.0, leak, mixing, mixing, loss_w_k / parameters[at.P_COVER_M2] / 8.0, 0.0,
        0.0, 0.0, 0.0, 0.0, books, 1.0,
    )  # fmt: skip
    assert books[at.J_COVER] == pytest.approx(loss_w_k * 10.0, rel=0.03)
    assert books[at.J_AIR_EXCHANGE] == pytest.approx(leak * 1006.0 * 10.0, rel=0.03)


def test_leakage_agrees_with_the_published_worked_case() -> None:
    """944 m³ of air changed once an hour at 33.3 K take 10.55 kW (30 by 100 ft house, extension text)."""
    air_kg = 944.0 * 1.2
    assert air_kg / 3600.0 * 1006.0 * 33.3 == pytest.approx(10_550.0, rel=0.01)
    parameters = np.zeros(at.HOUSE_PARAMETERS)
    parameters[[at.P_AIR_KG, at.P_LEAK_PER_S, at.P_FLOOR_M2]] = air_kg, 1.0 / 3600.0, 279.0
    state = np.zeros(at.HOUSE_STATE)
    vent, leak, _ = boundary.flows_kg_s(state, parameters, np.zeros(at.WEATHER), 60.0)
    assert vent == 0.0
    assert leak * 1006.0 * 33.3 == pytest.approx(10_550.0, rel=0.01)


def test_vents_follow_the_air_slowly_and_breathe_with_sun_and_wind() -> None:
    """Vents two thirds open after ten minutes at 4 K over their point, driven by warmth and wind."""
    parameters = Model(settings(), weather(), 0.0)._house_p
    state, now = np.zeros(at.HOUSE_STATE), dark_weather(15.0)
    state[at.BENCH_C] = state[at.CEILING_C] = parameters[at.P_VENT_OPEN_C] + boundary.VENT_BAND_K
    for _ in range(10):
        boundary.flows_kg_s(state, parameters, now, 60.0)
    assert state[at.VENT] == pytest.approx(1.0 - math.exp(-1.0))
    still, warm, windy = (
        boundary.vent_flow_kg_s(1.0, 135.0, 3.2, k, w) for k, w in ((0.0, 0.0), (5.0, 0.0), (5.0, 3.0))
    )
    assert still == 0.0
    assert 0.0 < warm < windy
    per_hour = windy / 1.2 * 3600.0 / (0.785 * 135.0 * 3.2)
    assert 20.0 < per_hour < 120.0  # practice knows about 60 air changes an hour in summer


def test_a_clear_sky_feels_colder_and_wind_hides_it() -> None:
    """The cover feels the sky below the air's temperature, the less the more wind there is."""
    parameters = Model(settings(), weather(), 0.0)._house_p
    clear = dark_weather(0.0)
    clear[at.W_SKY_W_M2] -= 50.0
    windy = clear.copy()
    windy[at.W_WIND_M_S] = 6.0
    assert boundary.felt_outside_c(parameters, dark_weather(0.0)) == pytest.approx(0.0)
    calm_c, windy_c = boundary.felt_outside_c(parameters, clear), boundary.felt_outside_c(parameters, windy)
    assert -6.0 < calm_c < windy_c < 0.0


def test_fog_falls_out_and_warms() -> None:
    """Oversaturated air ends saturated within a few steps; the heat of the water that fell stays in it."""
    state = np.zeros(at.HOUSE_STATE)
    state[at.BENCH_C], state[at.BENCH_W] = 10.0, 0.0082
    before_j = 1006.0 * 10.0 + 2.454e6 * 0.0082
    fog_kg = sum(house.clear_fog(state, at.BENCH_C, at.BENCH_W, 1.0, 101_325.0) for _ in range(2))
    saturated = moist_air.saturation_humidity_ratio(float(state[at.BENCH_C]), 101_325.0)
    assert fog_kg > 0.0
    assert state[at.BENCH_W] == pytest.approx(saturated, rel=0.005)
    assert 1006.0 * state[at.BENCH_C] + 2.454e6 * state[at.BENCH_W] == pytest.approx(before_j, rel=1e-9)


def test_crop_and_beds_give_water_by_light_and_dryness() -> None:
    """More light, drier air, more water; saturated air in the dark takes none; cold beds gather dew."""
    wet_w = moist_air.saturation_humidity_ratio(20.0, 101_325.0)
    dark, dry, light = (
        boundary.transpiration_kg_s(100.0, sun_w, 20.0, w, 101_325.0)
        for sun_w, w in ((0.0, wet_w), (0.0, 0.5 * wet_w), (10_000.0, 0.5 * wet_w))
    )
    assert dark == pytest.approx(0.0, abs=1e-5)
    assert 0.0 < dry < light
    assert boundary.floor_evaporation_kg_s(100.0, 25.0, wet_w, 101_325.0) > 0.0
    assert boundary.floor_evaporation_kg_s(100.0, 10.0, wet_w, 101_325.0) < 0.0


def test_a_sunny_day_is_hot_under_the_roof_and_open_vents_bound_it() -> None:
    """In a June week in Carolina the ceiling runs ahead of the bench and vents keep that under 45 °C."""
    from datetime import datetime  # noqa: PLC0415

    house_plant = plant(datetime(2026, 6, 10))  # noqa: DTZ001
    tops, gaps = [], []
    for _ in range(7 * 24):
        house_plant.advance(3600.0)
        truth = house_plant.truth()
        tops.append(truth.bench_c)
        gaps.append(truth.ceiling_c - truth.bench_c)
    assert 30.0 < max(tops) < 45.0
    assert max(gaps) > 0.5
    assert min(gaps) < 0.0
