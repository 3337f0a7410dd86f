"""Shade cloth, screen and heater: when they are drawn or on, and that the books know of them."""

from __future__ import annotations

import pytest

from controller.simulator.house import fittings
from controller.simulator.house.parameters import openings_of, weather_table
from controller.simulator.house.state import House, HouseParameters, HouseState, Sums, WeatherNow, record
from tests.simulator.garden import run, settings, weather
from tests.simulator.house.test_house_weather import JANUARY, JULY, fitted


def work(state: HouseState, *, light_w_m2: float, bench_c: float, **parameters: float) -> Sums:
    """One look of a minute at light and bench air; returns the sums."""
    now, values, books = record(WeatherNow), record(HouseParameters), record(Sums)
    now.light_w_m2, now.shade_season = light_w_m2, 1.0
    for name, value in parameters.items():
        setattr(values, name, value)
    state.bench_c = bench_c
    fittings.work_fittings(House(values, state, openings_of(settings())), now, books, 60.0)
    return books


def test_cloth_is_drawn_by_light_and_warmth_and_stays_a_while() -> None:
    """Drawn only when it is bright and warm enough; taken off when either is clearly gone."""
    state = record(HouseState)
    rule = {"shade_share": 0.5, "shade_light_w_m2": 500.0, "shade_air_c": 25.0}
    drawn = []
    for light_w_m2, bench_c in ((600, 20), (400, 30), (600, 26), (450, 24), (390, 26), (600, 26), (600, 22)):
        books = work(state, light_w_m2=light_w_m2, bench_c=bench_c, **rule)
        drawn.append(state.shade)
        assert books.shade_s == 60.0 * state.shade
    assert drawn == [0.0, 0.0, 1.0, 1.0, 0.0, 1.0, 0.0]


def test_a_screen_is_drawn_at_dusk_and_opened_in_the_morning() -> None:
    """Between the two levels it stays as it is."""
    state = record(HouseState)
    drawn = []
    for light_w_m2 in (100.0, 9.0, 7.0, 9.0, 10.0):
        work(state, light_w_m2=light_w_m2, bench_c=10.0, screen_m2k_w=0.2, screen_light_w_m2=10.0)
        drawn.append(state.screen)
    assert drawn == [0.0, 0.0, 1.0, 1.0, 0.0]


def test_the_heater_has_a_dead_band() -> None:
    """On below its temperature, off a band above it."""
    state = record(HouseState)
    on = []
    for bench_c in (4.0, 2.9, 3.5, 4.0, 3.5):
        work(state, light_w_m2=0.0, bench_c=bench_c, heater_w=5e3, heater_below_c=3.0, heater_band_k=1.0)
        on.append(state.heater)
    assert on == [0.0, 1.0, 1.0, 0.0, 0.0]


def test_nothing_is_drawn_or_on_where_nothing_is_fitted() -> None:
    """The house of the example has none of it, in sun or frost."""
    state = record(HouseState)
    for light_w_m2, bench_c in ((0.0, -10.0), (900.0, 40.0)):
        books = work(state, light_w_m2=light_w_m2, bench_c=bench_c)
        assert not any((state.shade, state.screen, state.heater))
        assert not any(books)


@pytest.mark.parametrize(
    ("first", "last", "used"), [(5, 8, {5, 6, 7, 8}), (11, 2, {11, 12, 1, 2}), (1, 12, set(range(1, 13)))]
)
def test_cloth_is_used_in_its_months(first: int, last: int, used: set[int]) -> None:
    """A last month before the first counts across the new year."""
    building = settings().house.model_copy(update={"shade_from_month": first, "shade_to_month": last})
    season = weather_table(settings().model_copy(update={"house": building}), weather())["shade_season"]
    middles = {month: int((month - 0.5) * 730.0) for month in range(1, 13)}
    assert {month for month, hour in middles.items() if season[hour] == 1.0} == used


def test_books_close_with_everything_fitted() -> None:
    """Ten winter and ten summer days with cloth, screen and heater: energy and water as without them."""
    for start in (JANUARY, JULY):
        house = fitted(
            start, shade_share=0.5, shade_above_light_w_m2=300.0, screen_saving=0.4, heater_power_w=20e3
        )
        run(house, 10)
        books = house.books()
        assert abs(books.energy_closure) < 1e-9
        assert abs(books.vapour_closure_kg) < 1e-6
        assert abs(books.water_closure_m3) < 1e-6
        assert books.screen_s > 0.0
        assert books.shade_s > 0.0
        assert (books.heater_j > 0.0) is (start == JANUARY)
        assert books.heater_j == pytest.approx(20e3 * books.heater_s)


def test_a_heater_large_enough_holds_its_temperature() -> None:
    """15 kW keep every hour of January within a kelvin of the thermostat; without, it falls far below."""
    coldest_c = []
    for heater_power_w in (15e3, 0.0):
        rows = run(fitted(JANUARY, heater_power_w=heater_power_w, heater_below_c=6.0), 15)
        coldest_c.append(rows[24:, 1].min())
    assert coldest_c[0] > 5.0
    assert coldest_c[1] < 0.0
