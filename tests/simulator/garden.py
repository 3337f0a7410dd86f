"""The school garden of the examples, and short ways to run it."""

from __future__ import annotations

from datetime import datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from controller.equipment import Kind
from controller.settings.load import load
from controller.simulator.house.model import Model
from controller.simulator.plant.plant import SimulatedPlant
from controller.simulator.weather.load import load_weather

if TYPE_CHECKING:
    from collections.abc import Callable

    from controller.settings.schema import Settings
    from controller.simulator.weather.year import Weather

EXAMPLE = Path(__file__).resolve().parents[2] / "config" / "house.toml"
MARCH = datetime(2026, 3, 1)  # noqa: DTZ001 (without a zone: local standard time of the weather's place)


@cache
def settings() -> Settings:
    """The example settings."""
    return load(EXAMPLE)


@cache
def weather(name: str = "carolina", seed: int = 0) -> Weather:
    """A shipped year, read once."""
    return load_weather(name, seed)


def plant(start: datetime = MARCH, name: str = "carolina", **options: Any) -> SimulatedPlant:
    """The garden in this weather."""
    return SimulatedPlant(settings(), weather(name), start, **options)


def set_kind(house: SimulatedPlant, kind: Kind, on: bool) -> None:
    """Drive all fans or all pumps."""
    for output, switch in house.switches.items():
        if output.kind == kind.value:
            switch.set(on)


class PlainRule:
    """A plain thermostat with a soil difference, to exercise the model.

    The real decision is tested elsewhere.
    """

    def __init__(self, house: SimulatedPlant) -> None:
        self._house = house
        self._on = False

    def __call__(self) -> None:
        """Look at the house and drive fans and pumps."""
        state = self._house.model.house
        loop = 0
        soil_c = self._house.model.soil_c(loop, self._house.model.cuts[loop].depth_m)
        least_k = 3.0 if self._on else 5.0
        ceiling_c = float(state.ceiling_c)
        warm = ceiling_c > 20.0 and ceiling_c - soil_c > least_k
        cold = float(state.bench_c) < 5.0 and soil_c - ceiling_c > least_k
        if (warm or cold) != self._on:
            self._on = not self._on
            set_kind(self._house, Kind.FAN, self._on)
        set_kind(self._house, Kind.PUMP, bool(self._house.model.sumps[0].float_wet > 0.0))


def run(
    house: SimulatedPlant, days: float, rule: Callable[[], None] | None = None, every_s: float = 300.0
) -> np.ndarray[Any, Any]:
    """Let days pass; hourly rows of outdoor, bench, ceiling and soil temperature and heat into the soil."""
    rows = []
    steps = round(days * 86_400.0 / every_s)
    hourly = round(3600.0 / every_s)
    for step in range(steps):
        if rule is not None:
            rule()
        house.advance(every_s)
        if step % hourly == 0:
            state = house.model.house
            soil_c = house.model.soil_c(0, house.model.cuts[0].depth_m)
            heat_w = float(np.sum(house.model.loops["heat_w"]))
            rows.append((state.out_c, state.bench_c, state.ceiling_c, soil_c, heat_w))
    return np.array(rows)


def finer_model(start: datetime, *, step_s: float, refine: int) -> Model:
    """A model of the garden with another step and a finer grid."""
    base = Model(settings(), weather(), 0.0)
    rows, columns = base.cuts[0].height_m.size, base.cuts[0].width_m.size
    first, after = base.cuts[0].hole_rows
    tube = base.cuts[0].hole_columns
    from controller.simulator.house.grid import Grid  # noqa: PLC0415

    grid = Grid(tube, columns - tube, first, rows - after).refined(refine)
    return Model(settings(), weather(), weather().seconds_into_year(start), grid=grid, step_s=step_s)
