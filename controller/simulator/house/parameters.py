"""The numbers the compiled model works with, made from the settings and the weather."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from controller.physics import cover, fan_curve, moist_air, soil, tube
from controller.settings.schema.openings import Opening
from controller.simulator.house.air import FLOOR_W_M2K
from controller.simulator.house.boundary import COVER_EMISSIVITY
from controller.simulator.house.grid import Grid, make_cut
from controller.simulator.house.ground import Edge, build
from controller.simulator.house.layers import soil_layers
from controller.simulator.house.light import SECTION, beam_kept
from controller.simulator.house.state import (
    SEGMENTS,
    HalfOpening,
    HouseParameters,
    LoopParameters,
    OpeningParameters,
    Openings,
    SumpParameters,
    WeatherNow,
    record,
    rows,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from controller.settings.schema import House, Settings
    from controller.simulator.house.grid import Cut
    from controller.simulator.house.ground import GroundArrays
    from controller.simulator.house.state import Rows
    from controller.simulator.weather.year import Weather

LAYER_SHARE = 0.492  # of the ridge: above it lie the 0.4 of that ellipse which are the ceiling layer
DOOR_M = 1.0  # middle of a door that is left open [practice]
VENT_TALL_M = 1.0  # from the lower to the upper edge of an open vent; a door reaches the ground [practice]
# Of light, by leaf area (Baille et al. 1994 for pot plants; Stanghellini 1987 has 0.64 for tomato) [memory]
EXTINCTION = 0.64
STRUCTURE_LIGHT = 0.9  # light that bars, gutters and dirt let pass [practice]
LEAK_K = 20.0  # warmer inside than out in the calm night that the setting for leakage speaks of
SCREEN_WIND_M_S = 3.0  # wind at which a screen saves what is claimed of it [practice]
INSIDE_W_M2K = 8.0  # inside of a cover, convection and radiation, there (ISO 6946: 1/0.13, rounded)
BOARD_W_MK = 0.035  # foam boards in the ground (EN 13164 boards: 0.033 to 0.037) [memory]
OUTSIDE_FILM_M2K_W = 0.04  # EN ISO 6946, surface resistance to outdoor air
FILM_KG_M2 = 0.06  # water that clings to a plastic wall before it runs [practice]
CATCHMENT_PER_FLOOR = 2.0  # ground that drains to the sumps, per m² of floor [practice]
FLOOD_RATIO = 1.6  # sump volume at the tubes' lowest point over that at the float's rise
DRAIN_S = {  # how slowly wet ground drains [practice]
    "sand": 8e3,
    "sandy loam": 2e4,
    "loam": 4e4,
    "clay loam": 8e4,
    "silty clay": 1.2e5,
    "clay": 1.5e5,
}


def weather_table(settings: Settings, weather: Weather) -> Rows[WeatherNow]:
    """The hourly table the compiled code reads; light is what comes into this house and stays."""
    _, normal, layers = cover.COVERS[settings.house.cover]
    diffuse = cover.diffuse_transmittance(normal, layers)
    table = rows(WeatherNow, weather.air_c.size)
    table["air_c"] = weather.air_c
    table["humidity"] = weather.humidity_ratio
    table["pressure_pa"] = weather.pressure_pa
    table["wind_m_s"] = weather.wind_m_s
    table["sky_w_m2"] = weather.sky_w_m2
    months = np.arange(weather.air_c.size, dtype="m8[h]") + np.datetime64(weather.start_of_year.date(), "h")
    table["shade_season"] = _in_season(settings.house, months.astype("M8[M]").astype(int) % 12 + 1)
    beam = beam_kept(settings.house, weather.sun)
    table["sun_w_m2"] = STRUCTURE_LIGHT * (beam * weather.dni_w_m2 + diffuse * weather.dhi_w_m2)
    table["rain_m_s"] = weather.rain_m_s
    table["light_w_m2"] = weather.ghi_w_m2
    return table


def _in_season(building: House, month: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether shade cloth is used in a month, 1 to 12."""
    first, last = building.shade_from_month, building.shade_to_month
    if first <= last:
        return (month >= first) & (month <= last)
    return (month >= first) | (month <= last)


def _screen_resistance_m2k_w(saving: float, cover_m2k_w: float) -> float:
    """What a screen must add to the cover's resistance to save this share of its heat loss in some wind."""
    outside_w_m2k = cover.outside_convection_w_m2k(SCREEN_WIND_M_S) + cover.radiation_w_m2k(
        0.0, COVER_EMISSIVITY
    )
    return saving / (1.0 - saving) * (1.0 / INSIDE_W_M2K + cover_m2k_w + 1.0 / outside_w_m2k)


def house_parameters(settings: Settings, weather: Weather) -> HouseParameters:
    """What the compiled code needs to know of the house: a half-elliptic tunnel with two ends."""
    building = settings.house
    resistance, normal, layers = cover.COVERS[building.cover]
    half, ridge = 0.5 * building.width_m, building.ridge_m
    floor_m2 = building.length_m * building.width_m
    # Half of Ramanujan's circumference of an ellipse (1914, Q. J. Math. 45:350).
    arc_m = 0.5 * math.pi * (3.0 * (half + ridge) - math.sqrt((3.0 * half + ridge) * (half + 3.0 * ridge)))
    volume_m3 = SECTION * ridge * floor_m2
    values = record(HouseParameters)
    values.floor_m2 = floor_m2
    values.cover_m2 = arc_m * building.length_m + 2.0 * SECTION * ridge * building.width_m
    values.air_kg = volume_m3 * moist_air.density_kg_m3(15.0, 0.008, float(np.mean(weather.pressure_pa)))
    values.ridge_m = ridge
    values.leak_m2 = (
        building.air_changes_per_hour * volume_m3 / 3600.0 / cover.leakage_flow_m3_s(1.0, LEAK_K, 0.0)
    )
    values.layer_m = LAYER_SHARE * ridge
    values.leaf_area = building.leaf_area
    values.crop_cover = -math.expm1(-EXTINCTION * building.leaf_area)
    values.bed_wet = building.bed_wetness
    values.cover_m2k_w = resistance
    values.cover_dark = cover.absorbed_share(normal, layers)
    values.shade_share = building.shade_share
    values.shade_light_w_m2 = building.shade_above_light_w_m2
    values.shade_air_c = building.shade_above_c
    values.screen_m2k_w = _screen_resistance_m2k_w(building.screen_saving, resistance)
    values.screen_light_w_m2 = building.screen_below_light_w_m2
    values.heater_w = building.heater_power_w
    values.heater_below_c = building.heater_below_c
    values.heater_band_k = building.heater_band_k
    return values


def openings_of(settings: Settings, *, spare_door: bool = False) -> Openings:
    """What the compiled code needs to know of vents and doors, all shut; last, a door with no area yet."""
    named = [*settings.all_openings().values()]
    if spare_door:
        named.append(Opening.model_construct(kind="door", area_m2=0.0, height_m=DOOR_M, worked="never"))
    layer_m = LAYER_SHARE * settings.house.ridge_m
    table, halves = rows(OpeningParameters, len(named)), rows(HalfOpening, 2 * len(named))
    for index, opening in enumerate(named):
        row = table[index]
        row.area_m2 = opening.area_m2
        row.above_c = math.inf if opening.worked == "never" else opening.open_above_c
        row.by_person = float(opening.worked == "person")
        row.from_s, row.until_s = day_s(opening.open_from), day_s(opening.open_until)
        tall_m = (
            2.0 * opening.height_m if opening.kind == "door" else min(VENT_TALL_M, 2.0 * opening.height_m)
        )
        for side in (0, 1):
            half = halves[2 * index + side]
            half.area_m2 = 0.5 * opening.area_m2
            half.height_m = opening.height_m + (side - 0.5) * 0.5 * tall_m
            over_m = half.height_m + 0.25 * tall_m - layer_m
            half.high_share = min(max(over_m / (0.5 * tall_m), 0.0), 1.0)
    return Openings(table, halves, np.zeros(len(named)))


def day_s(written: str) -> float:
    """A time of day such as 08:30, in seconds since midnight."""
    hours, _, minutes = written.partition(":")
    return 3600.0 * int(hours) + 60.0 * int(minutes)


def loop_parameters(settings: Settings, spacing_m: float, weather: Weather) -> Rows[LoopParameters]:
    """What the compiled code needs to know of the loops."""
    pressure = float(np.mean(weather.pressure_pa))
    sumps = list(settings.sumps)
    table = rows(LoopParameters, len(settings.loops))
    for index, loop in enumerate(settings.loops.values()):
        row = table[index]
        segment_m = loop.tube_length_m / SEGMENTS
        row.mass_flow_kg_s = loop.flow_m3_s * moist_air.density_kg_m3(20.0, 0.008, pressure)
        row.power_w = loop.power_w
        row.half_metres = 2.0 * loop.tubes * segment_m
        row.film_kg = FILM_KG_M2 * math.pi * loop.tube_diameter_m * segment_m * loop.tubes
        row.volume_m3 = 0.25 * math.pi * loop.tube_diameter_m**2 * loop.tube_length_m * loop.tubes
        row.sump = sumps.index(loop.sump)
        row.half_spacing_m = 0.5 * spacing_m
        corrugated = loop.tube_wall == "corrugated"
        drop_pa = tube.loop_pressure_drop_pa(
            loop.flow_m3_s, loop.tubes, loop.tube_length_m, loop.tube_diameter_m, corrugated, 20.0, pressure
        )
        row.tube_share = fan_curve.tube_share(drop_pa)
        row.shut_off = fan_curve.shut_off_ratio(fan_curve.efficiency(drop_pa, loop.flow_m3_s, loop.power_w))
        row.tube_flow_m3_s = loop.flow_m3_s / loop.tubes
        row.segment_m = segment_m
        row.diameter_m = loop.tube_diameter_m
        row.corrugated = float(corrugated)
        row.pressure_pa = pressure
    return table


def sump_parameters(settings: Settings, loops: Rows[LoopParameters]) -> Rows[SumpParameters]:
    """What the compiled code needs to know of the sumps."""
    building = settings.house
    table = rows(SumpParameters, len(settings.sumps))
    for index in range(len(settings.sumps)):
        row = table[index]
        mine = loops["sump"] == index
        floor_m2 = SEGMENTS * np.sum(loops["half_metres"][mine] * loops["half_spacing_m"][mine])
        row.catchment_m2 = CATCHMENT_PER_FLOOR * floor_m2
        row.infiltration_m_s = soil.INFILTRATION_M_S[building.soil]
        row.drain_s = DRAIN_S[building.soil]
        row.rise_m3 = building.sump_volume_m3
        row.flood_m3 = FLOOD_RATIO * building.sump_volume_m3
        row.pump_m3_s = building.pump_flow_m3_s
        row.most_m3 = row.flood_m3 + np.sum(loops["volume_m3"][mine])
    return table


def ground_of(
    settings: Settings, spacing_m: float, grid: Grid | None, may_silt: Sequence[str] = ()
) -> tuple[list[Cut], GroundArrays]:
    """The loops' cuts and the arrays of the whole ground; last, those around tubes that silt may shut.

    Raises:
        ModelError: tubes that cannot lie in this house's ground.
    """
    house = settings.house
    loops = [*settings.loops.values(), *(settings.loops[name] for name in may_silt)]
    if grid is None:
        grid = Grid.fitting([(loop.depth_m, loop.tube_diameter_m, spacing_m) for loop in loops])
    cuts = [make_cut(loop.depth_m, loop.tube_diameter_m, spacing_m, grid) for loop in loops]
    soils = [soil_layers(house, loop.depth_m) for loop in loops]
    floor_m2 = house.length_m * house.width_m
    perimeter_m = 2.0 * (house.length_m + house.width_m)
    edge = Edge(
        per_floor_1_m=perimeter_m / floor_m2,
        films_m2k_w=1.0 / FLOOR_W_M2K + OUTSIDE_FILM_M2K_W,
        boards_m=house.edge_insulation_depth_m,
        boards_m2k_w=house.edge_insulation_thickness_m / BOARD_W_MK,
    )
    return cuts, build(cuts, soils, edge)
