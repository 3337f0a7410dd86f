"""One call of the model: weather, water, tubes, house and ground, step by step, until the time is up.

Plain Python; the model runs the compiled twin.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from controller.simulator.house import air, conduction, tubes, water
from controller.simulator.house.indices import (
    B_TUBE_WATER_M3,
    BED_FELT_C,
    BENCH_C,
    CEILING_C,
    CEILING_W,
    F_FLOODED,
    F_FLOW_SHARE,
    F_HEAT_W,
    F_LATENT_W,
    F_POWER_W,
    FLOOR_C,
    J_FANS,
    L_HALF_METRES,
    L_HALF_SPACING_M,
    L_MASS_FLOW_KG_S,
    L_SUMP,
    L_VOLUME_M3,
    SEGMENTS,
    W_LIGHT_W_M2,
    W_PRESSURE_PA,
    W_RAIN_M_S,
    W_SUN_W_M2,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Places = NDArray[np.int64]

HOUR_S = 3600.0
SHORTEST_STEP_S = 0.01
NEARLY_S = 1e-6
GROUND_AGE, GROUND_LIMIT_S, GROUND_STEP_S, FLOOR_W_K, EDGE_AGE, STEP_S = range(
    6
)  # places in the ``ground`` array
GROUND = 6
WALL_C, FILM_KG, WALL_J, SURFACE_J, LATERAL_J, DEEP_J, SOIL_C, TOP_C = range(
    8
)  # places in the ``segments`` array
SEGMENT_STATE = 8


def weather_at(table: Floats, time_s: float, now: Floats) -> None:
    """Weather at a time.

    Straight lines between hours, for light between the middles of hours; rain is steady within an hour.
    """
    hours = table.shape[0]
    position = time_s / HOUR_S
    first = math.floor(position)
    share = position - first
    before = first % hours
    after = (first + 1) % hours
    for column in range(W_SUN_W_M2):
        now[column] = table[before, column] + share * (table[after, column] - table[before, column])
    now[W_RAIN_M_S] = table[after, W_RAIN_M_S]
    position += 0.5
    first = math.floor(position)
    share = position - first
    before = first % hours
    after = (first + 1) % hours
    now[W_SUN_W_M2] = table[before, W_SUN_W_M2] + share * (
        table[after, W_SUN_W_M2] - table[before, W_SUN_W_M2]
    )
    now[W_LIGHT_W_M2] = table[before, W_LIGHT_W_M2] + share * (
        table[after, W_LIGHT_W_M2] - table[before, W_LIGHT_W_M2]
    )


def refresh_soil(
    temp_c: Floats,
    width: Floats,
    half_spacing_m: Floats,
    surface_w_k: Floats,
    face_row: Places,
    face_column: Places,
    face: Floats,
    face_sum: Floats,
    loops: Floats,
    segments: Floats,
    house_state: Floats,
    ground: Floats,
) -> None:
    """Work out what air and tubes feel of the ground until its next step."""
    conduction.wall_means_c(temp_c, face_row, face_column, face, face_sum, segments[SOIL_C])
    conduction.surface_means_c(temp_c, width, half_spacing_m, segments[TOP_C])
    total = 0.0
    weighted = 0.0
    for loop in range(temp_c.shape[0]):
        conductance = floor_w_m2k(surface_w_k[loop]) * half_spacing_m[loop] * loops[loop, L_HALF_METRES]
        for segment in range(SEGMENTS):
            total += conductance
            weighted += conductance * segments[TOP_C, loop, segment]
    ground[FLOOR_W_K] = total
    house_state[FLOOR_C] = weighted / total


def floor_w_m2k(surface_w_m2k: float) -> float:
    """From the room to the middle of the topmost cells, W/m²K."""
    return 1.0 / (1.0 / air.FLOOR_W_M2K + 1.0 / surface_w_m2k)


def advance_ground(
    temp_c: Floats,
    next_c: Floats,
    spread: Floats,
    sides: Floats,
    edge_c: Floats,
    segments: Floats,
    face_row: Places,
    face_column: Places,
    face: Floats,
    face_sum: Floats,
    width: Floats,
    half_spacing_m: Floats,
    share_j: Floats,
    ground: Floats,
) -> None:
    """Give the gathered heat to the ground and let it spread for the time in which it was gathered."""
    time_s = ground[GROUND_AGE]
    down, kelvin_per_j, edge = sides[0], sides[1], sides[2]
    loops, rows, columns = down.shape
    flat_c = temp_c.reshape((loops, rows, columns * SEGMENTS))
    steps = math.ceil(time_s / ground[GROUND_LIMIT_S] - NEARLY_S)
    part_s = time_s / steps
    wall_j = segments[WALL_J] / steps
    for _ in range(steps):  # all heat flows of a part step follow from its start: plain forward Euler
        conduction.share_wall_heat(temp_c, face_row, face_column, face, face_sum, wall_j, share_j, part_s)
        conduction.deep_heat_j(temp_c, down, segments[DEEP_J], part_s)
        conduction.conduct(flat_c, next_c, spread[0], spread[1], spread[2], part_s)
        conduction.give_wall_heat(temp_c, kelvin_per_j, face_row, face_column, share_j)
        conduction.warm_surface(temp_c, kelvin_per_j, width, half_spacing_m, segments[SURFACE_J], 1.0 / steps)
    segments[WALL_J] = 0.0
    segments[SURFACE_J] = 0.0
    ground[EDGE_AGE] += time_s
    if ground[EDGE_AGE] >= HOUR_S:
        conduction.exchange_edge(temp_c, edge, kelvin_per_j, edge_c, segments[LATERAL_J], ground[EDGE_AGE])
        ground[EDGE_AGE] = 0.0
    ground[GROUND_AGE] = 0.0


def run_tubes(
    loops: Floats,
    loop_state: Floats,
    sump_state: Floats,
    switches: Floats,
    house_state: Floats,
    pressure_pa: float,
    segments: Floats,
    face_sum: Floats,
    condensate_kg: Floats,
    totals: Floats,
    books: Floats,
    step_s: float,
) -> None:
    """All loops for one step.

    ``totals`` becomes air flow (kg/s), fan power, sensible and latent heat to the tubes (W).
    """
    soil_c, wall_c, film_kg = segments[SOIL_C], segments[WALL_C], segments[FILM_KG]
    totals[:] = 0.0
    condensate_kg[:] = 0.0
    for loop in range(loops.shape[0]):
        sump = int(loops[loop, L_SUMP])
        water_m3 = sump_state[sump, B_TUBE_WATER_M3]
        loop_state[loop, F_FLOODED] = 1.0 if water_m3 > 0.0 else 0.0
        blocked = water.blocked_share(water_m3, loops[loop, L_VOLUME_M3])
        tubes.set_fan(loop, switches[loop] > 0.0, blocked, loops, loop_state)
        if loop_state[loop, F_FLOW_SHARE] > tubes.LEAST_FLOW_SHARE:
            tubes.run_loop(
                loop, house_state[CEILING_C], house_state[CEILING_W], pressure_pa, loops, loop_state, soil_c,
                face_sum, wall_c, film_kg, segments[WALL_J], books, step_s,
            )  # fmt: skip
            totals[0] += loops[loop, L_MASS_FLOW_KG_S] * loop_state[loop, F_FLOW_SHARE]
            totals[1] += loop_state[loop, F_POWER_W]
            totals[2] += loop_state[loop, F_HEAT_W] - loop_state[loop, F_LATENT_W]
            totals[3] += loop_state[loop, F_LATENT_W]
        else:
            power_w = loop_state[loop, F_POWER_W]
            tubes.rest_loop(loop, loop_state, soil_c, wall_c, step_s, house_state[BENCH_C])
            totals[1] += power_w  # a fan against water still warms the house
            loop_state[loop, F_POWER_W] = power_w
        condensate_kg[sump] += tubes.drain_films(film_kg, loops, loop_state, loop, books)
    books[J_FANS] += totals[1] * step_s


def warm_floor(loops: Floats, surface_w_k: Floats, felt_c: float, segments: Floats, step_s: float) -> None:
    """Gather the heat that the topmost soil takes in one step from what it feels of air, cover and sun."""
    for loop in range(loops.shape[0]):
        floor_w_k = floor_w_m2k(surface_w_k[loop])
        for segment in range(SEGMENTS):
            heat_w_m2 = floor_w_k * (felt_c - segments[TOP_C, loop, segment])
            segments[SURFACE_J, loop, segment] += step_s * heat_w_m2 * loops[loop, L_HALF_SPACING_M]


def next_step_s(
    left_s: float, ground: Floats, sumps: Floats, sump_state: Floats, switches: Floats, fans: int
) -> float:
    """Longest next step: the air's step, the time left, the ground's turn or a float's turn."""
    step_s = min(ground[STEP_S], left_s, ground[GROUND_STEP_S] - ground[GROUND_AGE])
    edge_s = step_s
    for sump in range(sumps.shape[0]):
        turn_s = water.seconds_to_float_edge(sump_state[sump], sumps[sump], switches[fans + sump], step_s)
        edge_s = min(edge_s, turn_s)
    return float(min(max(edge_s, SHORTEST_STEP_S), step_s))


def advance(
    longest_s: float,
    to_edge: bool,
    weather_s: float,
    table: Floats,
    now: Floats,
    house_state: Floats,
    house_p: Floats,
    loops: Floats,
    loop_state: Floats,
    sumps: Floats,
    sump_state: Floats,
    switches: Floats,
    temp_c: Floats,
    next_c: Floats,
    spread: Floats,
    sides: Floats,
    edge_c: Floats,
    face_row: Places,
    face_column: Places,
    face: Floats,
    face_sum: Floats,
    width: Floats,
    half_spacing_m: Floats,
    surface_w_k: Floats,
    segments: Floats,
    share_j: Floats,
    ground: Floats,
    condensate_kg: Floats,
    totals: Floats,
    books: Floats,
) -> float:
    """Advance everything by ``longest_s`` or to the next turn of a float; return the seconds that passed."""
    passed_s = 0.0
    fans = loops.shape[0]
    turned = False
    while passed_s < longest_s - NEARLY_S and not (turned and to_edge):
        step_s = next_step_s(longest_s - passed_s, ground, sumps, sump_state, switches, fans)
        weather_at(table, weather_s + passed_s + 0.5 * step_s, now)
        run_tubes(
            loops, loop_state, sump_state, switches, house_state, now[W_PRESSURE_PA], segments, face_sum,
            condensate_kg, totals, books, step_s,
        )  # fmt: skip
        air.step_house(
            house_state, house_p, now, totals[0], totals[1], totals[2], totals[3] / tubes.LATENT_J_KG,
            ground[FLOOR_W_K], books, step_s,
        )  # fmt: skip
        warm_floor(loops, surface_w_k, house_state[BED_FELT_C], segments, step_s)
        for sump in range(sumps.shape[0]):
            water.soak(sump_state[sump], sumps[sump], now, books, step_s)
            turned |= water.fill_sump(
                sump_state[sump], sumps[sump], switches[fans + sump], condensate_kg[sump], books, step_s
            )
        passed_s += step_s
        ground[GROUND_AGE] += step_s
        if ground[GROUND_AGE] >= ground[GROUND_STEP_S] - NEARLY_S:
            advance_ground(
                temp_c, next_c, spread, sides, edge_c, segments, face_row, face_column, face, face_sum, width,
                half_spacing_m, share_j, ground,
            )  # fmt: skip
            refresh_soil(
                temp_c, width, half_spacing_m, surface_w_k, face_row, face_column, face, face_sum, loops,
                segments, house_state, ground,
            )  # fmt: skip
    return passed_s
