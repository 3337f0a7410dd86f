"""The whole model of one house: arrays made from the settings, advanced by compiled code, and its books."""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from controller.faults import DAY_S, HOUR_S
from controller.physics import cover as cover_physics
from controller.physics import fan_curve, ground_temperature, moist_air, sky, soil, tube
from controller.simulator.compiled import compile_modules, is_kept
from controller.simulator.house import (
    air,
    boundary,
    conduction,
    fittings,
    held,
    layers,
    network,
    openings,
    parameters,
    state,
    step,
    tubes,
    water,
)
from controller.simulator.house.books import Books, close
from controller.simulator.house.climate import Climate
from controller.simulator.house.grid import ModelError
from controller.simulator.house.silt import Silting
from controller.simulator.house.state import SEGMENTS, record, rows

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from types import ModuleType

    from numpy.typing import NDArray

    from controller.settings.schema import Settings
    from controller.simulator.house.grid import Grid
    from controller.simulator.weather.year import Weather

    Floats = NDArray[np.float64]

STEP_S = 60.0  # longest step of the air
GROUND_WARMER_K = 1.0  # mean of bare ground over mean of air [practice]
HOUSE_WARMER_K = 4.0  # mean of ground in the house over that outside at the start [practice]


PHYSICS = (moist_air, sky, cover_physics, tube, fan_curve)
COMPILED = (state, *PHYSICS, tubes, fittings, openings, boundary, network, air, water, conduction, step, held)


@cache
def _compiled() -> Mapping[str, ModuleType]:
    """The compiled twins; compiling takes a while once, then comes from the disk."""
    return compile_modules(COMPILED, keep=True)


def is_prepared() -> bool:
    """Whether the compiled model is kept from an earlier start; making it takes half a minute."""
    return is_kept(COMPILED, "held.advance")


class Model:
    """State and parameters of a house, and its advance in time.

    Args:
        settings: house, loops and sumps.
        weather: a year of weather.
        start_s: seconds into the weather's year at the start.
        grid: division of the ground, chosen to fit if None.
        step_s: longest step.
        may_silt: loops whose tubes may be shut by silt; the ground around those tubes is kept apart.
        spare_door: whether a door may be left open besides the openings of the settings.

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
        may_silt: Sequence[str] = (),
        spare_door: bool = False,
    ) -> None:
        self.weather = weather
        self.start_s = start_s
        self.loop_names = tuple(settings.loops)
        self.sump_names = tuple(settings.sumps)
        self.climate = Climate.of(weather.air_c)
        self.subsoil = layers.subsoil(settings.house)
        house = parameters.house_parameters(settings, weather)
        tubing_m = sum(loop.tubes * loop.tube_length_m for loop in settings.loops.values())
        spacing_m = house.floor_m2 / tubing_m
        loops = parameters.loop_parameters(settings, spacing_m, weather)
        sumps = parameters.sump_parameters(settings, loops)
        self._silting = Silting(settings.loops, may_silt)
        self.cuts, self.ground = parameters.ground_of(settings, spacing_m, grid, may_silt)
        openings = parameters.openings_of(settings, spare_door=spare_door)
        self.has_spare_door = spare_door
        self.switches = np.zeros(len(self.loop_names) + len(self.sump_names))
        self.whole = state.Whole(
            weather=state.Weather(parameters.weather_table(settings, weather), record(state.WeatherNow)),
            house=state.House(house, record(state.HouseState), openings),
            tubes=self._tubes(self._silting.with_shut(loops)),
            sumps=self._sumps(sumps),
            ground=self._ground(step_s),
            sums=record(state.Sums),
            step_s=step_s,
        )
        self.house, self.sums = self.whole.house.state, self.whole.sums
        self.loops, self.sumps = self.whole.tubes.state, self.whole.sumps.state
        self.temp_c = self.whole.ground.temp_c
        self._season_s = -math.inf
        self._start()
        twin = _compiled()["held"]
        self._held, self._advance = twin.hold(self.whole), twin.advance

    def _tubes(self, loops: state.Rows[state.LoopParameters]) -> state.Tubes:
        count = len(self.loop_names)
        return state.Tubes(
            parameters=loops,
            state=rows(state.LoopState, count),
            on=self.switches[:count],
            wall_c=np.zeros((count, SEGMENTS)),
            film_kg=np.zeros((count, SEGMENTS)),
            all=record(state.AllTubes),
        )

    def _sumps(self, sumps: state.Rows[state.SumpParameters]) -> state.Sumps:
        count = len(self.sump_names)
        return state.Sumps(
            parameters=sumps,
            state=rows(state.SumpState, count),
            pumping=self.switches[len(self.loop_names) :],
            condensate_kg=np.zeros(count),
        )

    def _ground(self, step_s: float) -> state.Ground:
        cells = self.ground
        by_segment = (len(self.cuts), SEGMENTS)
        flat = (*cells.row_m.shape, -1)
        pace = record(state.GroundPace)
        pace.limit_s = cells.longest_step_s
        pace.step_s = step_s * max(math.floor(cells.longest_step_s / step_s), 1)
        temp_c = np.zeros((*cells.across.shape, SEGMENTS))
        warmer = HOUSE_WARMER_K * np.maximum(1.0 - cells.row_m / cells.row_m[:, -1:], 0.0)
        temp_c[:] = (self.undisturbed_c(cells.row_m, self.start_s) + warmer)[:, :, None, None]
        return state.Ground(
            temp_c=temp_c,
            edge_c=np.zeros_like(cells.row_m),
            spread=state.Spread(
                np.repeat(cells.across, SEGMENTS, -1),
                np.repeat(cells.down, SEGMENTS, -1),
                np.repeat(cells.kelvin_per_j, SEGMENTS, -1),
            ),
            down=cells.down,
            kelvin_per_j=cells.kelvin_per_j,
            frost=state.Frost(cells.ice, np.zeros_like(temp_c.reshape(flat)), np.ones(len(self.cuts))),
            edge=cells.edge,
            faces=cells.faces,
            width=cells.width,
            half_spacing_m=cells.half_spacing_m,
            surface_w_k=cells.surface_w_k,
            soil_c=np.zeros(by_segment),
            top_c=np.zeros(by_segment),
            wall_j=np.zeros(by_segment),
            surface_j=np.zeros(by_segment),
            lateral_j=np.zeros(by_segment),
            deep_j=np.zeros(by_segment),
            next_c=temp_c.reshape(flat).copy(),
            share_j=np.zeros((by_segment[0], cells.faces.row.size + 1, SEGMENTS)),
            pace=pace,
        )

    def _start(self) -> None:
        """Put air, water and walls in the state they start from."""
        step.weather_at(self.whole.weather, self.start_s)
        first, house, ground = self.whole.weather.now, self.house, self.whole.ground
        house.bench_c = house.ceiling_c = house.crop_c = first.air_c + 2.0
        house.cover_c = house.bed_c = house.bed_felt_c = first.air_c + 2.0
        house.bench_w = house.ceiling_w = first.humidity
        house.out_c = first.air_c
        self._follow_season(0.0)
        step.refresh_soil(ground, self.whole.tubes.parameters, self.whole.house)
        self.loops["intake_share"][:] = 1.0
        loops = len(self.loop_names)
        self.loops["outlet_c"][:] = ground.soil_c[:loops, -1]
        self.whole.tubes.wall_c[:] = ground.soil_c[:loops]
        self._stored_at_start_j = self.stored_j()
        for sump in range(len(self.sump_names)):
            _compiled()["water"].wet_ground(
                self.sumps[sump],
                self.whole.sumps.parameters[sump],
                self.whole.weather.table,
                int(self.start_s // HOUR_S),
                record(state.Sums),
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

    def _follow_season(self, passed_s: float) -> None:
        """Bring the ground beside and below the house up to date; once a day is plenty."""
        if passed_s - self._season_s < DAY_S:
            return
        self._season_s = passed_s
        edge_c = self.whole.ground.edge_c
        edge_c[:] = self.undisturbed_c(self.ground.row_m, self.start_s + passed_s)
        self.temp_c[:, -1] = edge_c[:, -1, None, None]

    def advance(self, passed_s: float, longest_s: float) -> float:
        """Advance by ``longest_s``, or to the next turn of a float; return the seconds that passed.

        Args:
            passed_s: weather time that has passed since the start (a leap day counts nothing).
            longest_s: at most this long.
        """
        self._follow_season(passed_s)
        done: float = self._advance(self._held, self.start_s + passed_s, float(longest_s))
        return done

    def soil_c(self, loop: int, depth_m: float) -> float:
        """Soil temperature halfway along and halfway between two tubes of a loop."""
        row, share = self.soil_place(loop, depth_m)
        above_c, below_c = self.temp_c[loop, row : row + 2, -2, SEGMENTS // 2]
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
        pressure_pa = float(self.whole.weather.now.pressure_pa)
        return moist_air.relative_humidity(float(self.house.bench_c), float(self.house.bench_w), pressure_pa)

    def silt(self, loop: int, share: float) -> int:
        """Let silt shut this share of a loop's tubes, those beside its probes in the soil first.

        Returns:
            The row of the ground in which those probes now stand.

        Raises:
            KeyError: the model was made without silt in this loop.
        """
        self.loops[loop].silted = share
        return self._silting.silt(self.loop_names[loop], share, self.whole)

    def leave_open(self, area_m2: float) -> None:
        """Let the spare door stand open this wide, or shut it (0)."""
        doors, halves = self.whole.house.openings.parameters, self.whole.house.openings.halves
        doors[-1].above_c = -math.inf if area_m2 > 0.0 else math.inf
        if area_m2 > 0.0:
            doors[-1].area_m2 = area_m2
            halves["area_m2"][-2:] = 0.5 * area_m2

    def sun_w_m2(self) -> float:
        """Light through the cover now."""
        return float(self.whole.weather.now.sun_w_m2)

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
        self.sumps[index].soil_water_m += depth_m
        self.sums.rain_m3 += depth_m * self.whole.sumps.parameters[index].catchment_m2

    def stored_j(self) -> float:
        """Heat in air, crop, cover and ground over 0 °C (thawed), and on its way; vapour is kept apart."""
        built, now, ground = self.whole.house.parameters, self.house, self.whole.ground
        air_j_k = built.air_kg * tubes.AIR_J_KGK
        air_j = air_j_k * (
            (1.0 - boundary.CEILING_SHARE) * now.bench_c + boundary.CEILING_SHARE * now.ceiling_c
        )
        crop = air.CROP_J_M2K * built.floor_m2 * now.crop_c
        sheets = air.COVER_J_M2K * built.cover_m2 * now.cover_c
        metres = self.whole.tubes.parameters["half_metres"]
        ice = ground.frost.ice[:, :, None, None]
        thawed_c = self.temp_c + ice * np.clip(self.temp_c, -soil.FREEZING_K, 0.0)
        cells = np.einsum("lrc,lrcs,l->", self.ground.joule_per_k, thawed_c, metres)
        waiting = np.einsum("ls,l->", ground.wall_j + ground.surface_j, metres)
        return float(air_j + crop + sheets + cells + waiting)

    def _ground_water_m3(self) -> float:
        sumps = self.sumps
        area_m2 = self.whole.sumps.parameters["catchment_m2"]
        in_ground = np.sum((sumps["soil_water_m"] + sumps["pond_m"]) * area_m2)
        return float(in_ground + np.sum(sumps["volume_m3"] + sumps["pipe_m3"]))

    def _vapour_kg(self) -> float:
        share = boundary.CEILING_SHARE
        mean = (1.0 - share) * self.house.bench_w + share * self.house.ceiling_w
        return float(self.whole.house.parameters.air_kg * mean)

    def books(self) -> Books:
        """Sums since the start, and how well they close."""
        metres, ground = self.whole.tubes.parameters["half_metres"], self.whole.ground
        return close(
            self.sums,
            edge_j=float(np.einsum("ls,l->", ground.lateral_j, metres)),
            deep_j=float(np.einsum("ls,l->", ground.deep_j, metres)),
            stored_j=self.stored_j() - self._stored_at_start_j,
            ground_water_m3=self._ground_water_m3() - self._soil_water_at_start_m3,
            vapour_kg=self._vapour_kg() - self._vapour_at_start_kg,
            film_kg=float(np.sum(self.whole.tubes.film_kg)),
        )


__all__ = ["Books", "Model", "ModelError"]
