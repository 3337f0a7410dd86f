"""The whole model of one house: arrays made from the settings, advanced by compiled code, and its books."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from controller.faults import DAY_S, HOUR_S
from controller.physics import cover as cover_physics
from controller.physics import fan_curve, ground_temperature, moist_air, sky, tube
from controller.simulator.compiled import compile_modules
from controller.simulator.house import (
    air,
    boundary,
    conduction,
    fittings,
    layers,
    network,
    parameters,
    step,
    tubes,
    water,
)
from controller.simulator.house import indices as at
from controller.simulator.house.books import Books, close
from controller.simulator.house.grid import ModelError

if TYPE_CHECKING:
    from types import ModuleType

    from numpy.typing import NDArray

    from controller.settings.schema import Settings
    from controller.simulator.house.grid import Grid
    from controller.simulator.weather.year import Weather

    Floats = NDArray[np.float64]

STEP_S = 60.0  # longest step of the air
GROUND_WARMER_K = 1.0  # mean of bare ground over mean of air (common practice, no source)
HOUSE_WARMER_K = 4.0  # mean of ground in the house over that outside at the start; common practice, no source


@cache
def _compiled() -> ModuleType:
    """The compiled twin of ``step``; compiling takes seconds once, then comes from the disk."""
    lower = (moist_air, sky, cover_physics, tube, fan_curve, tubes, boundary, fittings, network, air)
    modules = (*lower, water, conduction, step)
    return compile_modules(modules, keep=True)["step"]


@dataclass(frozen=True, slots=True)
class Climate:
    """The yearly wave of the air temperature, which drives the undisturbed ground."""

    mean_c: float
    amplitude_k: float
    coldest_day: float

    @staticmethod
    def of(air_c: Floats) -> Climate:
        """First harmonic of a year of hours."""
        angle = 2.0 * np.pi * np.arange(air_c.size) / air_c.size
        cosine = 2.0 * np.mean(air_c * np.cos(angle))
        sine = 2.0 * np.mean(air_c * np.sin(angle))
        coldest = math.atan2(-sine, -cosine) % (2.0 * math.pi) / (2.0 * math.pi) * 365.0
        return Climate(float(np.mean(air_c)), float(math.hypot(cosine, sine)), coldest)


class Model:
    """State and parameters of a house, and its advance in time.

    Args:
        settings: house, loops and sumps.
        weather: a year of weather.
        start_s: seconds into the weather's year at the start.
        grid: division of the ground, chosen to fit if None.
        step_s: longest step.

    Raises:
        ModelError: tubes that cannot lie in this house's ground.
    """

    def __init__(
        self,
        settings: Settings,
        weather: Weather,
        start_s: float,
        *,
        grid: Grid | None = None,
        step_s: float = STEP_S,
    ) -> None:
        self.weather = weather
        self._advance = _compiled().advance
        self.start_s = start_s
        self.loop_names = tuple(settings.loops)
        self.sump_names = tuple(settings.sumps)
        self.climate = Climate.of(weather.air_c)
        self._table = parameters.weather_table(settings, weather)
        self._house_p = parameters.house_parameters(settings, weather)
        tubing_m = sum(loop.tubes * loop.tube_length_m for loop in settings.loops.values())
        spacing_m = self._house_p[at.P_FLOOR_M2] / tubing_m
        self._loops = parameters.loop_parameters(settings, spacing_m, weather)
        self._sumps = parameters.sump_parameters(settings, self._loops)
        self.subsoil = layers.subsoil(settings.house)
        self.cuts, self.ground = parameters.ground_of(settings, spacing_m, grid)
        self._state(step_s)

    def _state(self, step_s: float) -> None:
        loops, sumps = len(self.loop_names), len(self.sump_names)
        first = np.zeros(at.WEATHER)
        step.weather_at(self._table, self.start_s, first)
        self.house = np.zeros(at.HOUSE_STATE)
        warm = [at.BENCH_C, at.CEILING_C, at.MASS_C, at.COVER_C, at.BED_C, at.BED_FELT_C]
        self.house[warm] = first[at.W_AIR_C] + 2.0
        self.house[[at.BENCH_W, at.CEILING_W]] = first[at.W_HUMIDITY]
        self.house[at.OUT_C] = first[at.W_AIR_C]
        self.loops = np.zeros((loops, at.LOOP_STATE))
        self.loops[:, at.F_INTAKE_SHARE] = 1.0
        self.sumps = np.zeros((sumps, at.SUMP_STATE))
        self.segments = np.zeros((step.SEGMENT_STATE, loops, at.SEGMENTS))
        self.switches = np.zeros(loops + sumps)
        self.books_j = np.zeros(at.BOOKS)
        self._now = first
        self._scratch = np.zeros(sumps), np.zeros(4)
        self._age = np.zeros(step.GROUND)
        self._age[step.GROUND_LIMIT_S] = self.ground.longest_step_s
        self._age[step.GROUND_STEP_S] = step_s * max(math.floor(self.ground.longest_step_s / step_s), 1)
        self._age[step.STEP_S] = step_s
        self._share_j = np.zeros((loops, self.ground.face_row.size + 1, at.SEGMENTS))
        self._start_ground()
        self.loops[:, at.F_OUTLET_C] = self.segments[step.SOIL_C, :, -1]
        self.segments[step.WALL_C] = self.segments[step.SOIL_C]
        self._stored_at_start_j = self.stored_j()
        for sump, row in zip(self.sumps, self._sumps, strict=True):
            _compiled().water.wet_ground(
                sump, row, self._table, int(self.start_s // HOUR_S), np.zeros(at.BOOKS)
            )
        self._soil_water_at_start_m3 = self._ground_water_m3()
        self._vapour_at_start_kg = self._vapour_kg()

    def undisturbed_c(self, depth_m: Floats, year_s: float) -> Floats:
        """Ground temperature beside the house (Kusuda & Achenbach 1965), subsoil throughout."""
        deep = self.subsoil
        diffusivity = deep.conductivity_w_mk / deep.capacity_j_m3k
        climate = self.climate
        values = [
            ground_temperature.ground_temperature_c(
                float(depth), year_s / DAY_S, climate.mean_c + GROUND_WARMER_K, climate.amplitude_k,
                climate.coldest_day, diffusivity,
            )
            for depth in depth_m.ravel()
        ]  # fmt: skip
        return np.array(values).reshape(depth_m.shape)

    def _start_ground(self) -> None:
        rows = self.ground.row_m
        self.temp_c = np.zeros((*self.ground.across.shape, at.SEGMENTS))
        warmer = HOUSE_WARMER_K * np.maximum(1.0 - rows / rows[:, -1:], 0.0)
        self.temp_c[:] = (self.undisturbed_c(rows, self.start_s) + warmer)[:, :, None, None]
        self._next_c = self.temp_c.reshape((*rows.shape, -1)).copy()
        self._spread = np.repeat(
            np.stack((self.ground.across, self.ground.down, self.ground.kelvin_per_j)), at.SEGMENTS, -1
        )
        self._sides = np.stack((self.ground.down, self.ground.kelvin_per_j, self.ground.edge))
        self._edge_c = np.zeros_like(rows)
        self._season_s = -math.inf
        self._follow_season(0.0)
        self._refresh()

    def _refresh(self) -> None:
        ground = self.ground
        step.refresh_soil(
            self.temp_c, ground.width, ground.half_spacing_m, ground.surface_w_k, ground.face_row,
            ground.face_column, ground.face, ground.face_sum, self._loops, self.segments, self.house,
            self._age,
        )  # fmt: skip

    def _follow_season(self, passed_s: float) -> None:
        """Bring the ground beside and below the house up to date; once a day is plenty."""
        if passed_s - self._season_s < DAY_S:
            return
        self._season_s = passed_s
        self._edge_c[:] = self.undisturbed_c(self.ground.row_m, self.start_s + passed_s)
        self.temp_c[:, -1] = self._edge_c[:, -1, None, None]

    def advance(self, passed_s: float, longest_s: float) -> float:
        """Advance by ``longest_s``, or to the next turn of a float; return the seconds that passed.

        Args:
            passed_s: weather time that has passed since the start (a leap day counts nothing).
            longest_s: at most this long.
        """
        self._follow_season(passed_s)
        ground = self.ground
        done: float = self._advance(
            float(longest_s), True, self.start_s + passed_s, self._table, self._now, self.house,
            self._house_p, self._loops, self.loops, self._sumps, self.sumps, self.switches, self.temp_c,
            self._next_c, self._spread, self._sides, self._edge_c, ground.face_row, ground.face_column,
            ground.face, ground.face_sum, ground.width, ground.half_spacing_m, ground.surface_w_k,
            self.segments, self._share_j, self._age, *self._scratch, self.books_j,
        )  # fmt: skip
        return done

    def soil_c(self, loop: int, depth_m: float) -> float:
        """Soil temperature halfway along and halfway between two tubes of a loop."""
        row, share = self.soil_place(loop, depth_m)
        above_c, below_c = self.temp_c[loop, row : row + 2, -2, at.SEGMENTS // 2]
        return float(above_c + share * (below_c - above_c))

    def soil_place(self, loop: int, depth_m: float) -> tuple[int, float]:
        """The row of soil above a depth, and how far the depth is on the way to the next, 0 to 1."""
        rows = self.ground.row_m[loop]
        below = int(np.searchsorted(rows[1:-1], depth_m)) + 1
        below = min(max(below, 2), rows.size - 2)
        share = (depth_m - rows[below - 1]) / (rows[below] - rows[below - 1])
        return below - 1, min(max(float(share), 0.0), 1.0)

    def bench_rh(self) -> float:
        """Relative humidity among the crop, 0 to 1."""
        pressure = float(self._now[at.W_PRESSURE_PA])
        return moist_air.relative_humidity(
            float(self.house[at.BENCH_C]), float(self.house[at.BENCH_W]), pressure
        )

    def sun_w_m2(self) -> float:
        """Light through the cover now."""
        return float(self._now[at.W_SUN_W_M2])

    def outdoor_mean_c(self, passed_s: float, hours: int) -> float:
        """Mean air temperature outside over the last full hours.

        Args:
            passed_s: weather time that has passed since the start.
            hours: how many.
        """
        last = math.floor((self.start_s + passed_s) / HOUR_S)
        return float(
            np.mean(self.weather.air_c[np.arange(last - hours + 1, last + 1) % self.weather.air_c.size])
        )

    def pour(self, sump: str, depth_m: float) -> None:
        """Let water of this depth soak into the ground that drains to a sump (it is booked as rain)."""
        index = self.sump_names.index(sump)
        self.sumps[index, at.B_SOIL_WATER_M] += depth_m
        self.books_j[at.M3_RAIN] += depth_m * self._sumps[index, at.S_CATCHMENT_M2]

    def stored_j(self) -> float:
        """Heat in air, crop, cover and ground over 0 °C, and on its way there; vapour is kept apart."""
        air_j_k = self._house_p[at.P_AIR_KG] * tubes.AIR_J_KGK
        floor_m2 = self._house_p[at.P_FLOOR_M2]
        air_j = air_j_k * (
            (1.0 - boundary.CEILING_SHARE) * self.house[at.BENCH_C]
            + boundary.CEILING_SHARE * self.house[at.CEILING_C]
        )
        crop = air.CROP_J_M2K * floor_m2 * self.house[at.MASS_C]
        sheets = air.COVER_J_M2K * self._house_p[at.P_COVER_M2] * self.house[at.COVER_C]
        metres = self._loops[:, at.L_HALF_METRES]
        cells = np.einsum("lrc,lrcs,l->", self.ground.joule_per_k, self.temp_c, metres)
        waiting = np.einsum("ls,l->", self.segments[step.WALL_J] + self.segments[step.SURFACE_J], metres)
        return float(air_j + crop + sheets + cells + waiting)

    def _ground_water_m3(self) -> float:
        return float(
            np.sum(
                (self.sumps[:, at.B_SOIL_WATER_M] + self.sumps[:, at.B_POND_M])
                * self._sumps[:, at.S_CATCHMENT_M2]
            )
            + np.sum(self.sumps[:, at.B_VOLUME_M3] + self.sumps[:, at.B_PIPE_M3])
        )

    def _vapour_kg(self) -> float:
        share = boundary.CEILING_SHARE
        mean = (1.0 - share) * self.house[at.BENCH_W] + share * self.house[at.CEILING_W]
        return float(self._house_p[at.P_AIR_KG] * mean)

    def books(self) -> Books:
        """Sums since the start, and how well they close."""
        metres = self._loops[:, at.L_HALF_METRES]
        return close(
            self.books_j,
            edge_j=float(np.einsum("ls,l->", self.segments[step.LATERAL_J], metres)),
            deep_j=float(np.einsum("ls,l->", self.segments[step.DEEP_J], metres)),
            stored_j=self.stored_j() - self._stored_at_start_j,
            ground_water_m3=self._ground_water_m3() - self._soil_water_at_start_m3,
            vapour_kg=self._vapour_kg() - self._vapour_at_start_kg,
            film_kg=float(np.sum(self.segments[step.FILM_KG])),
        )


__all__ = ["Books", "Climate", "Model", "ModelError"]
