"""A bare loop of tubes in soil, without house or weather.

What measured rigs and textbook solutions are held against.

It runs the very functions the model runs, with the geometry, soil and inlet air that a case asks for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from controller.physics import fan_curve, moist_air, soil, tube
from controller.simulator.compiled import compile_modules
from controller.simulator.house import conduction, tubes
from controller.simulator.house.grid import Grid, make_cut
from controller.simulator.house.ground import Edge, Soil, build
from controller.simulator.house.state import SEGMENTS, Frost, Spread

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import ModuleType

    from numpy.typing import NDArray

    Floats = NDArray[Any]


@cache
def compiled() -> dict[str, ModuleType]:
    """The compiled twins, once for all tests of a process."""
    return compile_modules((moist_air, tube, fan_curve, tubes, conduction), keep=True)


def soil_of(texture: str, wetness: float) -> Soil:
    """One layer of a texture with this share of its pores full of water."""
    porosity, sand = soil.TEXTURES[texture]
    return Soil(
        0.0, soil.conductivity_w_mk(porosity, sand, wetness), soil.heat_capacity_j_m3k(porosity, wetness)
    )


@dataclass
class Rig:
    """Tubes in soil.

    Attributes:
        soil: around them.
        depth_m: of the tubes.
        diameter_m: inside.
        length_m: of each.
        spacing_m: between them.
        count: how many.
        flow_m3_s: through all of them.
        corrugated: kind of wall.
        ground_c: undisturbed temperature at a depth, all round and at the start.
        step_s: length of a step.
        grid: division of the soil, chosen to fit if None.
        below_m: soil below the tubes.
    """

    soil: Soil
    depth_m: float
    diameter_m: float
    length_m: float
    spacing_m: float
    count: int = 1
    flow_m3_s: float = 0.0
    corrugated: bool = False
    ground_c: Callable[[Floats], Floats] = field(default=lambda depth_m: np.full_like(depth_m, 0.0))
    step_s: float = 60.0
    grid: Grid | None = None
    below_m: float = 4.5
    surface_fixed: bool = True

    def __post_init__(self) -> None:
        grid = self.grid or Grid.fitting([(self.depth_m, self.diameter_m, self.spacing_m)], self.below_m)
        self.cut = make_cut(self.depth_m, self.diameter_m, self.spacing_m, grid, self.below_m)
        self.ground = build([self.cut], [[self.soil]], Edge(0.0))
        self.metres = 2.0 * self.count * self.length_m / SEGMENTS
        rows = self.ground.row_m
        self.temp_c = np.zeros((*self.ground.across.shape, SEGMENTS))
        self.temp_c[:] = self.ground_c(rows)[:, :, None, None]
        self.surface_c = float(self.ground_c(np.zeros(1))[0])
        self.wall_c = conductance_mean(self)
        self.film_kg = np.zeros(SEGMENTS)
        self.wall_j = np.zeros((1, SEGMENTS))
        self.surface_j = np.zeros((1, SEGMENTS))
        self.share_j = np.zeros((1, self.ground.faces.row.size + 1, SEGMENTS))
        self.deep_j = np.zeros((1, SEGMENTS))
        self._next = self.temp_c.reshape((*rows.shape, -1)).copy()
        self._spread = Spread(
            *(
                np.repeat(part, SEGMENTS, -1)
                for part in (self.ground.across, self.ground.down, self.ground.kelvin_per_j)
            )
        )
        self._frost = Frost(self.ground.ice, np.zeros_like(self._next), np.ones(1))
        pressure = moist_air.STANDARD_PRESSURE_PA
        self.mass_kg_s = self.flow_m3_s * moist_air.density_kg_m3(20.0, 0.008, pressure)
        self.units = 0.0
        if self.flow_m3_s > 0.0:
            self.units = tube.transfer_units(
                self.flow_m3_s / self.count,
                self.length_m / SEGMENTS,
                self.diameter_m,
                self.corrugated,
                20.0,
                pressure,
            )

    def blow(self, air_c: float, air_w: float = 0.0) -> tuple[float, float, Floats]:
        """One step with air: outlet temperature, heat to the soil (W), temperatures between segments."""
        exchange = compiled()["tubes"].exchange
        start_c = air_c
        latent_w = 0.0
        stations = [air_c]
        mean_c = conductance_mean(self)
        for segment in range(SEGMENTS):
            heat_w, water_kg_s, wall_c = exchange(
                tubes.Air(air_c, air_w, self.mass_kg_s, moist_air.STANDARD_PRESSURE_PA),
                tubes.Wall(
                    float(mean_c[segment]),
                    float(self.ground.faces.total[0]) * self.metres,
                    float(self.wall_c[segment]),
                    float(self.film_kg[segment]),
                ),
                self.units,
                self.step_s,
            )
            air_c -= heat_w / (self.mass_kg_s * tubes.AIR_J_KGK)
            air_w -= water_kg_s / self.mass_kg_s
            self.wall_c[segment] = wall_c
            self.film_kg[segment] = max(self.film_kg[segment] + water_kg_s * self.step_s, 0.0)
            self.wall_j[0, segment] += self.step_s * (heat_w + tubes.LATENT_J_KG * water_kg_s) / self.metres
            latent_w += tubes.LATENT_J_KG * water_kg_s
            stations.append(air_c)
        self.spread()
        return air_c, self.mass_kg_s * tubes.AIR_J_KGK * (start_c - air_c) + latent_w, np.array(stations)

    def heat(self, watts_per_m: float) -> None:
        """One step with a steady heat from the tube's wall, per metre of tube."""
        self.wall_j[0] += 0.5 * watts_per_m * self.step_s
        self.spread()

    def spread(self) -> None:
        """Let the gathered heat spread for one step."""
        run = compiled()["conduction"]
        ground = self.ground
        steps = math.ceil(self.step_s / ground.longest_step_s)
        part_s = self.step_s / steps
        flat_c = self.temp_c.reshape(self._next.shape)
        for _ in range(steps):
            run.share_wall_heat(self.temp_c, ground.faces, self.wall_j / steps, self.share_j, part_s)
            if self.surface_fixed:
                conductance = ground.surface_w_k[0] * ground.width[0, 1:-1, None]
                gain = conductance * (self.surface_c - self.temp_c[0, 1, 1:-1])
                self.surface_j[0] = part_s * np.sum(gain, axis=0)
            run.deep_heat_j(self.temp_c, ground.down, self.deep_j, part_s)
            run.hold_ice(flat_c, self._frost)
            run.conduct(flat_c, self._next, self._spread, part_s)
            run.give_wall_heat(self.temp_c, ground.kelvin_per_j, ground.faces, self.share_j)
            run.warm_surface(
                self.temp_c, ground.kelvin_per_j, ground.width, ground.half_spacing_m, self.surface_j, 1.0
            )
            run.settle_ice(flat_c, self._frost, ground.faces)
        self.wall_j[:] = 0.0

    def wall_mean_c(self, watts_per_m: float) -> float:
        """Wall temperature in the middle of the tube under this steady heat."""
        return float(conductance_mean(self)[SEGMENTS // 2] + 0.5 * watts_per_m / self.ground.faces.total[0])


def conductance_mean(rig: Rig) -> Floats:
    """Temperature of the soil that touches the wall, by segment."""
    ground = rig.ground
    cells = rig.temp_c[0, ground.faces.row, ground.faces.column]
    return ground.faces.conductance[0] @ cells / ground.faces.total[0]
