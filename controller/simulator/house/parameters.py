"""The numbers the compiled model works with, made from the settings and the weather."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from controller.physics import cover, fan_curve, moist_air, soil, tube
from controller.simulator.house import indices as at
from controller.simulator.house.air import FLOOR_W_M2K
from controller.simulator.house.boundary import COVER_EMISSIVITY
from controller.simulator.house.grid import Grid, make_cut
from controller.simulator.house.ground import Edge, build
from controller.simulator.house.layers import soil_layers

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.settings.schema import House, Settings
    from controller.simulator.house.grid import Cut
    from controller.simulator.house.ground import GroundArrays
    from controller.simulator.weather.year import Weather

    Floats = NDArray[np.float64]

SHAPE = math.pi / 4.0  # section of the house over width times ridge: half an ellipse
STRUCTURE_LIGHT = 0.9  # light that bars, gutters and dirt let pass; common practice, no source
LEAK_K = 20.0  # warmer inside than out in the calm night that the setting for leakage speaks of
SCREEN_WIND_M_S = 3.0  # wind at which a screen saves what is claimed of it; common practice, no source
INSIDE_W_M2K = 8.0  # inside of a cover, convection and radiation, there (ISO 6946: 1/0.13, rounded)
BOARD_W_MK = 0.035  # foam boards in the ground (EN 13164 boards: 0.033 to 0.037; from memory)
OUTSIDE_FILM_M2K_W = 0.04  # EN ISO 6946, surface resistance to outdoor air
FILM_KG_M2 = 0.06  # water that clings to a plastic wall before it runs; common practice, no source
CATCHMENT_PER_FLOOR = 2.0  # ground that drains to the sumps, per m² of floor; common practice, no source
FLOOD_RATIO = 1.6  # sump volume at the tubes' lowest point over that at the float's rise
DRAIN_S = {  # how slowly wet ground drains; common practice, no source
    "sand": 8e3,
    "sandy loam": 2e4,
    "loam": 4e4,
    "clay loam": 8e4,
    "silty clay": 1.2e5,
    "clay": 1.5e5,
}


def weather_table(settings: Settings, weather: Weather) -> Floats:
    """The hourly table the compiled code reads; light is what passes this house's cover."""
    _, normal, layers = cover.COVERS[settings.house.cover]
    height = weather.sun_height
    # A curved or pitched roof always turns part of itself to the sun; common practice, no source.
    angles = 0.4 + 0.6 * height
    beam = np.array([cover.beam_transmittance(float(cosine), normal, layers) for cosine in angles])
    diffuse = cover.diffuse_transmittance(normal, layers)
    table = np.zeros((weather.air_c.size, at.WEATHER))
    table[:, at.W_AIR_C] = weather.air_c
    table[:, at.W_HUMIDITY] = weather.humidity_ratio
    table[:, at.W_PRESSURE_PA] = weather.pressure_pa
    table[:, at.W_WIND_M_S] = weather.wind_m_s
    table[:, at.W_SKY_W_M2] = weather.sky_w_m2
    months = np.arange(weather.air_c.size, dtype="m8[h]") + np.datetime64(weather.start_of_year.date(), "h")
    table[:, at.W_SHADE_SEASON] = _in_season(settings.house, months.astype("M8[M]").astype(int) % 12 + 1)
    table[:, at.W_SUN_W_M2] = STRUCTURE_LIGHT * (
        beam * np.maximum(weather.ghi_w_m2 - weather.dhi_w_m2, 0.0) + diffuse * weather.dhi_w_m2
    )
    table[:, at.W_RAIN_M_S] = weather.rain_m_s
    table[:, at.W_LIGHT_W_M2] = weather.ghi_w_m2
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


def house_parameters(settings: Settings, weather: Weather) -> Floats:
    """What the compiled code needs to know of the house: a half-elliptic tunnel with two ends."""
    building = settings.house
    resistance, normal, layers = cover.COVERS[building.cover]
    half, ridge = 0.5 * building.width_m, building.ridge_m
    floor_m2 = building.length_m * building.width_m
    # Half of Ramanujan's circumference of an ellipse (1914, Q. J. Math. 45:350).
    arc_m = 0.5 * math.pi * (3.0 * (half + ridge) - math.sqrt((3.0 * half + ridge) * (half + 3.0 * ridge)))
    volume_m3 = SHAPE * ridge * floor_m2
    values = np.zeros(at.HOUSE_PARAMETERS)
    values[at.P_FLOOR_M2] = floor_m2
    values[at.P_COVER_M2] = arc_m * building.length_m + 2.0 * SHAPE * ridge * building.width_m
    values[at.P_AIR_KG] = volume_m3 * moist_air.density_kg_m3(
        15.0, 0.008, float(np.mean(weather.pressure_pa))
    )
    values[at.P_RIDGE_M] = ridge
    values[at.P_LEAK_M2] = (
        building.air_changes_per_hour * volume_m3 / 3600.0 / cover.leakage_flow_m3_s(1.0, LEAK_K, 0.0)
    )
    values[at.P_VENT_OPEN_C] = building.vents_open_above_c
    values[at.P_COVER_M2K_W] = resistance
    values[at.P_COVER_DARK] = cover.absorbed_share(normal, layers)
    values[at.P_SHADE_SHARE] = building.shade_share
    values[at.P_SHADE_LIGHT_W_M2] = building.shade_above_light_w_m2
    values[at.P_SHADE_AIR_C] = building.shade_above_c
    values[at.P_SCREEN_M2K_W] = _screen_resistance_m2k_w(building.screen_saving, resistance)
    values[at.P_SCREEN_LIGHT_W_M2] = building.screen_below_light_w_m2
    values[at.P_HEATER_W] = building.heater_power_w
    values[at.P_HEATER_BELOW_C] = building.heater_below_c
    values[at.P_HEATER_BAND_K] = building.heater_band_k
    return values


def loop_parameters(settings: Settings, spacing_m: float, weather: Weather) -> Floats:
    """What the compiled code needs to know of the loops."""
    pressure = float(np.mean(weather.pressure_pa))
    sumps = list(settings.sumps)
    table = np.zeros((len(settings.loops), at.LOOP_PARAMETERS))
    for row, loop in zip(table, settings.loops.values(), strict=True):
        segment_m = loop.tube_length_m / at.SEGMENTS
        row[at.L_MASS_FLOW_KG_S] = loop.flow_m3_s * moist_air.density_kg_m3(20.0, 0.008, pressure)
        row[at.L_POWER_W] = loop.power_w
        row[at.L_HALF_METRES] = 2.0 * loop.tubes * segment_m
        row[at.L_FILM_KG] = FILM_KG_M2 * math.pi * loop.tube_diameter_m * segment_m * loop.tubes
        row[at.L_VOLUME_M3] = 0.25 * math.pi * loop.tube_diameter_m**2 * loop.tube_length_m * loop.tubes
        row[at.L_SUMP] = sumps.index(loop.sump)
        row[at.L_HALF_SPACING_M] = 0.5 * spacing_m
        corrugated = loop.tube_wall == "corrugated"
        drop_pa = tube.loop_pressure_drop_pa(
            loop.flow_m3_s, loop.tubes, loop.tube_length_m, loop.tube_diameter_m, corrugated, 20.0, pressure
        )
        row[at.L_TUBE_SHARE] = fan_curve.tube_share(drop_pa)
        row[at.L_SHUT_OFF] = fan_curve.shut_off_ratio(
            fan_curve.efficiency(drop_pa, loop.flow_m3_s, loop.power_w)
        )
        row[at.L_TUBE_FLOW_M3_S] = loop.flow_m3_s / loop.tubes
        row[at.L_SEGMENT_M] = segment_m
        row[at.L_DIAMETER_M] = loop.tube_diameter_m
        row[at.L_CORRUGATED] = float(corrugated)
        row[at.L_PRESSURE_PA] = pressure
    return table


def sump_parameters(settings: Settings, loops: Floats) -> Floats:
    """What the compiled code needs to know of the sumps."""
    building = settings.house
    table = np.zeros((len(settings.sumps), at.SUMP_PARAMETERS))
    for index, row in enumerate(table):
        mine = loops[:, at.L_SUMP] == index
        floor_m2 = at.SEGMENTS * np.sum(loops[mine, at.L_HALF_METRES] * loops[mine, at.L_HALF_SPACING_M])
        row[at.S_CATCHMENT_M2] = CATCHMENT_PER_FLOOR * floor_m2
        row[at.S_INFILTRATION_M_S] = soil.INFILTRATION_M_S[building.soil]
        row[at.S_DRAIN_S] = DRAIN_S[building.soil]
        row[at.S_RISE_M3] = building.sump_volume_m3
        row[at.S_FLOOD_M3] = FLOOD_RATIO * building.sump_volume_m3
        row[at.S_PUMP_M3_S] = building.pump_flow_m3_s
        row[at.S_MOST_M3] = row[at.S_FLOOD_M3] + np.sum(loops[mine, at.L_VOLUME_M3])
    return table


def ground_of(settings: Settings, spacing_m: float, grid: Grid | None) -> tuple[list[Cut], GroundArrays]:
    """The loops' cuts and the arrays of the whole ground.

    Raises:
        ModelError: tubes that cannot lie in this house's ground.
    """
    house = settings.house
    loops = settings.loops.values()
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
