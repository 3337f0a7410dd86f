"""The model as a whole: parameters from settings, start, edge of the house, compiled against plain code."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from controller.physics import cover
from controller.simulator.house import parameters, step
from controller.simulator.house.climate import Climate
from controller.simulator.house.grid import ModelError
from controller.simulator.house.model import Model
from controller.simulator.house.state import SEGMENTS
from tests.simulator.garden import plant, settings, weather


def changed(section: str, **values: Any) -> Any:
    """The example settings with some values of one section changed."""
    base = settings()
    part = getattr(base, section).model_copy(update=values)
    return base.model_copy(update={section: part})


def test_the_year_s_wave_is_found() -> None:
    """Mean, amplitude and coldest day of the Carolina year are those of an independent fit."""
    climate = Climate.of(weather().air_c)
    assert climate.mean_c == pytest.approx(14.42, abs=0.01)
    assert climate.amplitude_k == pytest.approx(11.41, abs=0.01)
    assert climate.coldest_day == pytest.approx(13.1, abs=0.1)


def test_the_tubes_share_the_floor() -> None:
    """All half-cells together are exactly the floor of the house."""
    model = Model(settings(), weather(), 0.0)
    loops = model.whole.tubes.parameters
    floor_m2 = SEGMENTS * float(np.sum(loops["half_metres"] * loops["half_spacing_m"]))
    assert floor_m2 == pytest.approx(settings().house.length_m * settings().house.width_m)


def test_the_tunnel_s_size() -> None:
    """18 m by 7.5 m with a ridge of 3.2 m: floor, cover and air of half an ellipse."""
    values = parameters.house_parameters(changed("house", length_m=18.0, width_m=7.5, ridge_m=3.2), weather())
    assert values.floor_m2 == pytest.approx(135.0)
    half = np.linspace(0.0, math.pi, 100_001)
    x, y = 3.75 * np.cos(half), 3.2 * np.sin(half)
    arc_m = float(np.sum(np.hypot(np.diff(x), np.diff(y))))
    ends_m2 = math.pi / 2.0 * 3.75 * 3.2 * 2.0
    assert values.cover_m2 == pytest.approx(18.0 * arc_m + ends_m2, rel=1e-4)
    assert values.air_kg == pytest.approx(18.0 * math.pi / 2.0 * 3.75 * 3.2 * 1.2, rel=0.06)


def test_light_inside_follows_the_cover() -> None:
    """Double film lets 55 to 75 % of the year's light in, bars and dirt off, and single film more."""
    shares = {}
    for kind in ("double film", "single film"):
        table = parameters.weather_table(changed("house", cover=kind), weather())
        shares[kind] = table["sun_w_m2"].sum() / weather().ghi_w_m2.sum()
    assert 0.55 < shares["double film"] < 0.75
    assert shares["double film"] < shares["single film"] < 0.85
    assert set(cover.COVERS) >= set(shares)


def test_tubes_that_do_not_fit_are_refused_in_words() -> None:
    """A house too small for its tubes says what to check."""
    with pytest.raises(ModelError, match="check \\[house\\] length and width"):
        Model(changed("house", length_m=3.0, width_m=2.0), weather(), 0.0)


def test_compiled_and_plain_code_agree() -> None:
    """Two hours with fans and pump on, stepped by the compiled twin and by the very same code uncompiled."""
    ends = []
    for plain in (False, True):
        house = plant(seed=1)
        house.model.sumps[0].soil_water_m = 0.02
        for switch in house.switches.values():
            switch.set(True)
        if plain:
            house.model._held, house.model._advance = house.model.whole, step.advance
        house.advance(2 * 600.0)
        ends.append((list(house.model.house), house.model.temp_c.copy(), list(house.model.sums)))
    for compiled, slow in zip(*ends, strict=True):
        assert compiled == pytest.approx(slow, rel=1e-9, abs=1e-9)
