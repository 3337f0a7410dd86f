"""One call of the model: weather, water, tubes, house and ground, step by step, until the time is up.

Plain Python; the model runs the compiled twin.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from controller.simulator.house import air, conduction, tubes, water
from controller.simulator.house.state import SEGMENTS

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from controller.simulator.house.state import (
        Ground,
        GroundPace,
        House,
        HouseState,
        LoopParameters,
        Rows,
        Sumps,
        Sums,
        Tubes,
        Weather,
        WeatherNow,
        Whole,
    )

    Floats = NDArray[np.float64]

HOUR_S = 3600.0
DAY_S = 24.0 * HOUR_S
SHORTEST_STEP_S = 0.01
NEARLY_S = 1e-6


def between(before: float, after: float, share: float) -> float:
    """A share of the way from one value to the next."""
    return before + share * (after - before)


def weather_at(weather: Weather, time_s: float) -> None:
    """Let the weather be that of a time.

    Straight lines between hours, for light between the middles of hours; rain is steady within an hour.
    """
    table, now = weather.table, weather.now
    hours = table.shape[0]
    now.day_s = time_s % DAY_S
    position = time_s / HOUR_S
    first = math.floor(position)
    share = position - first
    before, after = table[first % hours], table[(first + 1) % hours]
    now.air_c = between(before.air_c, after.air_c, share)
    now.humidity = between(before.humidity, after.humidity, share)
    now.pressure_pa = between(before.pressure_pa, after.pressure_pa, share)
    now.wind_m_s = between(before.wind_m_s, after.wind_m_s, share)
    now.sky_w_m2 = between(before.sky_w_m2, after.sky_w_m2, share)
    now.shade_season = between(before.shade_season, after.shade_season, share)
    now.rain_m_s = after.rain_m_s
    position += 0.5
    first = math.floor(position)
    share = position - first
    before, after = table[first % hours], table[(first + 1) % hours]
    now.sun_w_m2 = between(before.sun_w_m2, after.sun_w_m2, share)
    now.light_w_m2 = between(before.light_w_m2, after.light_w_m2, share)


def refresh_soil(ground: Ground, loops: Rows[LoopParameters], house: House) -> None:
    """Work out what air and tubes feel of the ground until its next step."""
    conduction.wall_means_c(ground.temp_c, ground.faces, ground.soil_c)
    conduction.surface_means_c(ground.temp_c, ground.width, ground.half_spacing_m, ground.top_c)
    total = 0.0
    weighted = 0.0
    for loop in range(ground.temp_c.shape[0]):
        conductance = (
            floor_w_m2k(ground.surface_w_k[loop]) * ground.half_spacing_m[loop] * loops[loop].half_metres
        )
        for segment in range(SEGMENTS):
            total += conductance
            weighted += conductance * ground.top_c[loop, segment]
    ground.pace.floor_w_k = total
    house.state.floor_c = weighted / total


def floor_w_m2k(surface_w_m2k: float) -> float:
    """From the room to the middle of the topmost cells, W/m²K."""
    return 1.0 / (1.0 / air.FLOOR_W_M2K + 1.0 / surface_w_m2k)


def advance_ground(ground: Ground) -> None:
    """Give the gathered heat to the ground and let it spread for the time in which it was gathered."""
    temp_c, pace = ground.temp_c, ground.pace
    loops, rows, columns = ground.down.shape
    flat_c = temp_c.reshape((loops, rows, columns * SEGMENTS))
    steps = math.ceil(pace.age_s / pace.limit_s - NEARLY_S)
    part_s = pace.age_s / steps
    wall_j = ground.wall_j / steps
    for _ in range(steps):  # all heat flows of a part step follow from its start: plain forward Euler
        conduction.share_wall_heat(temp_c, ground.faces, wall_j, ground.share_j, part_s)
        conduction.deep_heat_j(temp_c, ground.down, ground.deep_j, part_s)
        conduction.conduct(flat_c, ground.next_c, ground.spread, part_s)
        conduction.give_wall_heat(temp_c, ground.kelvin_per_j, ground.faces, ground.share_j)
        conduction.warm_surface(
            temp_c, ground.kelvin_per_j, ground.width, ground.half_spacing_m, ground.surface_j, 1.0 / steps
        )
    ground.wall_j[:] = 0.0
    ground.surface_j[:] = 0.0
    pace.edge_age_s += pace.age_s
    if pace.edge_age_s >= HOUR_S:
        conduction.exchange_edge(
            temp_c, ground.edge, ground.kelvin_per_j, ground.edge_c, ground.lateral_j, pace.edge_age_s
        )
        pace.edge_age_s = 0.0
    pace.age_s = 0.0


def run_tubes(
    loops: Tubes,
    sumps: Sumps,
    ground: Ground,
    house: HouseState,
    pressure_pa: float,
    sums: Sums,
    step_s: float,
) -> None:
    """All loops for one step; ``loops.all`` and the sumps' ``condensate_kg`` become what all of them did."""
    parameters, states, condensate_kg = loops.parameters, loops.state, sumps.condensate_kg
    flow_kg_s = 0.0
    fans_w = 0.0
    sensible_w = 0.0
    latent_w = 0.0
    condensate_kg[:] = 0.0
    for loop in range(states.shape[0]):
        built, now = parameters[loop], states[loop]
        sump = int(built.sump)
        water_m3 = sumps.state[sump].tube_water_m3
        now.flooded = 1.0 if water_m3 > 0.0 else 0.0
        blocked = water.blocked_share(water_m3, built.volume_m3)
        tubes.set_fan(now, built, loops.on[loop] > 0.0, blocked)
        if now.flow_share > tubes.LEAST_FLOW_SHARE:
            loop_kg_s = built.mass_flow_kg_s * now.flow_share
            roof = tubes.Air(house.ceiling_c, house.ceiling_w, loop_kg_s, pressure_pa)
            tubes.run_loop(loop, roof, loops, ground, sums, step_s)
            flow_kg_s += loop_kg_s
            sensible_w += now.heat_w - now.latent_w
            latent_w += now.latent_w
        else:
            tubes.rest_loop(loop, loops, ground, house.bench_c, step_s)
        fans_w += now.power_w  # a fan against water still warms the house
        condensate_kg[sump] += tubes.drain_films(loop, loops, sums)
    together = loops.all
    together.air_kg_s, together.fan_w = flow_kg_s, fans_w
    together.sensible_w, together.latent_w = sensible_w, latent_w
    sums.fans_j += fans_w * step_s


def warm_floor(ground: Ground, loops: Rows[LoopParameters], felt_c: float, step_s: float) -> None:
    """Gather the heat that the topmost soil takes in one step from what it feels of air, cover and sun."""
    top_c, surface_j = ground.top_c, ground.surface_j
    for loop in range(loops.shape[0]):
        floor_w_k = floor_w_m2k(ground.surface_w_k[loop])
        for segment in range(SEGMENTS):
            heat_w_m2 = floor_w_k * (felt_c - top_c[loop, segment])
            surface_j[loop, segment] += step_s * heat_w_m2 * loops[loop].half_spacing_m


def next_step_s(longest_s: float, pace: GroundPace, sumps: Sumps) -> float:
    """Longest next step: what is asked for, the ground's turn or a float's turn."""
    step_s = min(longest_s, pace.step_s - pace.age_s)
    edge_s = step_s
    for sump in range(sumps.state.shape[0]):
        turn_s = water.seconds_to_float_edge(
            sumps.state[sump], sumps.parameters[sump], sumps.pumping[sump], step_s
        )
        edge_s = min(edge_s, turn_s)
    return float(min(max(edge_s, SHORTEST_STEP_S), step_s))


def move_water(sumps: Sumps, weather: WeatherNow, sums: Sums, step_s: float) -> bool:
    """Rain, ground and sumps for one step; return whether a float turned."""
    turned = False
    for sump in range(sumps.state.shape[0]):
        state, built = sumps.state[sump], sumps.parameters[sump]
        water.soak(state, built, weather, sums, step_s)
        turned |= water.fill_sump(state, built, sumps.pumping[sump], sumps.condensate_kg[sump], sums, step_s)
    return turned


def advance(whole: Whole, weather_s: float, longest_s: float) -> float:
    """Advance everything by ``longest_s`` or to the next turn of a float; return the seconds that passed.

    Args:
        whole: the model.
        weather_s: seconds into the weather's year at the start.
        longest_s: at most this long.
    """
    weather, house, loops, sumps, ground, sums, longest_step_s = whole
    now, pace = weather.now, ground.pace
    passed_s = 0.0
    turned = False
    while passed_s < longest_s - NEARLY_S and not turned:
        step_s = next_step_s(min(longest_step_s, longest_s - passed_s), pace, sumps)
        weather_at(weather, weather_s + passed_s + 0.5 * step_s)
        run_tubes(loops, sumps, ground, house.state, now.pressure_pa, sums, step_s)
        air.step_house(house, now, loops.all, pace.floor_w_k, sums, step_s)
        warm_floor(ground, loops.parameters, house.state.bed_felt_c, step_s)
        turned = move_water(sumps, now, sums, step_s)
        passed_s += step_s
        pace.age_s += step_s
        if pace.age_s >= pace.step_s - NEARLY_S:
            advance_ground(ground)
            refresh_soil(ground, loops.parameters, house)
    return passed_s
