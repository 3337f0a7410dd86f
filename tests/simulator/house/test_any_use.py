"""Whatever is switched, whenever, and however time is cut, the model stays sane and its books close."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.simulator.garden import MARCH, plant

ACTIONS = st.lists(
    st.tuples(
        st.lists(st.booleans(), min_size=4, max_size=4),  # outputs: three fans, one pump
        st.floats(min_value=0.05, max_value=20_000.0),  # seconds
        st.floats(min_value=0.0, max_value=0.05),  # rain poured on the ground, m
    ),
    min_size=1,
    max_size=12,
)


@settings(max_examples=40, deadline=None)
@given(actions=ACTIONS)
def test_books_close_and_nothing_runs_away(actions: list[tuple[list[bool], float, float]]) -> None:
    """Energy, water, vapour and films close, air and soil stay in nature, no store is overdrawn."""
    house = plant(MARCH)
    model = house.model
    for outputs, seconds, rain_m in actions:
        for switch, on in zip(house.switches.values(), outputs, strict=True):
            switch.set(on)
        model.pour(model.sump_names[0], rain_m)
        before_s = house.now_s
        house.advance(seconds)
        assert abs(house.now_s - before_s - seconds) < 1e-3
    books = house.books()
    through_j = 0.5 * (
        books.sun_j + books.fans_j + abs(books.cover_j + books.air_exchange_j) + abs(books.evaporated_j)
    )
    assert abs(books.energy_closure) * through_j < 1e-3  # of 10 GJ in the ground: rounding
    assert abs(books.water_closure_m3) < 1e-9
    assert abs(books.vapour_closure_kg) < 1e-7
    assert abs(books.film_closure_kg) < 1e-7
    now = model.house
    for values, low, high in (
        (np.array([now.bench_c, now.ceiling_c, now.crop_c]), -30.0, 70.0),
        (np.array([now.bench_w, now.ceiling_w]), 0.0, 0.1),
        (model.temp_c[model.ground.kelvin_per_j > 0.0], -20.0, 50.0),
        (model.whole.tubes.film_kg, 0.0, 50.0),
        (model.sumps["volume_m3"], 0.0, 20.0),
    ):
        assert np.all((values >= low) & (values <= high))
