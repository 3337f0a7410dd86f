"""Heat conduction in the soil around the tubes: one explicit step on a rectangular grid across the tubes.

Plain Python over arrays; the model runs the compiled twin. Arrays over cells carry a rim of one ghost cell
all round; conductances are in W/K per metre of half-cell. A half-cell reaches from a tube's axis to the
middle between two tubes; both of its sides are planes of symmetry.

Soil that freezes takes many times the heat per kelvin. A step moves heat as if nothing froze, at the
temperatures there are; ``settle_ice`` then turns what each cell holds into the temperature it makes. Each
belongs to one of the other, so that no heat is lost or made.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.physics.soil import FREEZING_K
from controller.simulator.house.state import SEGMENTS

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from controller.simulator.house.state import Faces, Frost, Spread

    Floats = NDArray[np.float64]


def thawed_c(temp_c: float, ice: float) -> float:
    """Temperature that the same heat would make if nothing froze.

    Args:
        temp_c: temperature.
        ice: heat that freezing adds to each kelvin from 0 °C to ``-FREEZING_K``, over that of bare cooling.
    """
    return temp_c + ice * max(min(temp_c, 0.0), -FREEZING_K)


def frozen_c(heat_c: float, ice: float) -> float:
    """The other way round: temperature from the one without freezing."""
    return heat_c - ice / (1.0 + ice) * max(min(heat_c, 0.0), -(1.0 + ice) * FREEZING_K)


def conduct(temp_c: Floats, next_c: Floats, spread: Spread, step_s: float) -> None:
    """Move heat between neighbouring cells for one step.

    A row of cells with all their segments lies in one piece, so that the processor can take several at
    once; hence the repeated conductances. The slices are taken for the same reason.

    Args:
        temp_c: temperatures, changed in place, ``[loop, depth, across * segment]``; the ghost row below the
            deepest cells holds the deep boundary's.
        next_c: scratch of the same shape.
        spread: conductance between a cell and the one before it across the tubes, between it and the one
            above it, and its warming by one joule per metre of half-cell (0 in the tube).
        step_s: must not exceed the grid's limit.
    """
    loops, rows, length = temp_c.shape
    across, down, kelvin_per_j = spread
    for loop in range(loops):
        for row in range(1, rows - 1):
            here, over, under = temp_c[loop, row], temp_c[loop, row - 1], temp_c[loop, row + 1]
            sideways, up, below = across[loop, row], down[loop, row], down[loop, row + 1]
            gain, out = kelvin_per_j[loop, row], next_c[loop, row]
            for i in range(length - 2 * SEGMENTS):
                j = i + SEGMENTS
                k = j + SEGMENTS
                at_c = here[j]
                out[j] = at_c + step_s * gain[j] * (
                    sideways[j] * (here[i] - at_c)
                    + sideways[k] * (here[k] - at_c)
                    + up[j] * (over[j] - at_c)
                    + below[j] * (under[j] - at_c)
                )
        for row in range(1, rows - 1):
            here, out = temp_c[loop, row], next_c[loop, row]
            for j in range(SEGMENTS, length - SEGMENTS):
                here[j] = out[j]


def is_cold(row_c: Floats) -> bool:
    """Whether any cell of a row is below 0 °C.

    The first rim cell, which nothing reads, gathers the coldest of every segment, so that the processor can
    take several at once.
    """
    for segment in range(SEGMENTS):
        row_c[segment] = 0.0
    for column in range(SEGMENTS, row_c.shape[0] - SEGMENTS, SEGMENTS):
        for segment in range(SEGMENTS):
            row_c[segment] = min(row_c[segment], row_c[column + segment])
    low = 0.0
    for segment in range(SEGMENTS):
        low += row_c[segment]
    return low < 0.0


def any_cold(temp_c: Floats, first: int, last: int) -> bool:
    """Whether any cell of a loop is below 0 °C in the rows from ``first`` to ``last``."""
    cold = 0
    for row in range(first, last + 1):
        cold += is_cold(temp_c[row])
    return cold > 0


def hold_ice(temp_c: Floats, frost: Frost) -> None:
    """Take down, before a step, by how much ice has kept the cells of icy loops warmer.

    Args:
        temp_c: temperatures ``[loop, depth, across * segment]``.
        frost: its ``held_c`` is written.
    """
    loops, rows, length = temp_c.shape
    ice, held_c, icy = frost
    for loop in range(loops):
        if icy[loop] > 0.0:
            for row in range(1, rows - 1):
                here, held, share = temp_c[loop, row], held_c[loop, row], ice[loop, row]
                for j in range(SEGMENTS, length - SEGMENTS):
                    held[j] = thawed_c(here[j], share) - here[j]


def settle_ice(temp_c: Floats, frost: Frost, faces: Faces) -> None:
    """Turn what a step has made, as if nothing froze, into the temperatures that there are.

    Cold comes from the surface, from a tube or from below. So in a loop without ice only what lies there has
    to be looked at.

    Args:
        temp_c: changed in place, ``[loop, depth, across * segment]``.
        frost: what the cells held before the step; whether a loop has ice now is written.
        faces: cells around the tube.
    """
    loops, rows, length = temp_c.shape
    ice, held_c, icy = frost
    first, last = faces.row[0], faces.row[-1]
    for loop in range(loops):
        cells_c = temp_c[loop]
        if icy[loop] > 0.0:
            for row in range(1, rows - 1):
                here, held, share = cells_c[row], held_c[loop, row], ice[loop, row]
                for j in range(SEGMENTS, length - SEGMENTS):
                    here[j] = frozen_c(here[j] + held[j], share)
            icy[loop] = 1.0 if any_cold(cells_c, 1, rows - 2) else 0.0
        elif is_cold(cells_c[1]) or any_cold(cells_c, first, last) or is_cold(cells_c[rows - 2]):
            for row in range(1, rows - 1):
                here, share = cells_c[row], ice[loop, row]
                for j in range(SEGMENTS, length - SEGMENTS):
                    here[j] = frozen_c(here[j], share)
            icy[loop] = 1.0


def exchange_edge(
    temp_c: Floats,
    edge: Floats,
    kelvin_per_j: Floats,
    ice: Floats,
    edge_c: Floats,
    lateral_j: Floats,
    time_s: float,
) -> None:
    """Exchange heat with the ground beside the house, in one go for a time that is short for it (an hour).

    Args:
        temp_c: temperatures ``[loop, depth, across, segment]``.
        edge: conductance from a cell to that ground ``[loop, depth, across]``.
        kelvin_per_j: warming of a cell by one joule per metre of half-cell ``[loop, depth, across]``.
        ice: as in ``thawed_c``, by loop and depth.
        edge_c: temperature of that ground by loop and depth.
        lateral_j: heat gained from it, by loop and segment (J per metre of half-cell), added to.
        time_s: how long.
    """
    loops, rows, columns = edge.shape
    for loop in range(loops):
        for row in range(1, rows - 1):
            for column in range(1, columns - 1):
                for segment in range(SEGMENTS):
                    here_c = temp_c[loop, row, column, segment]
                    heat_j = time_s * edge[loop, row, column] * (edge_c[loop, row] - here_c)
                    lateral_j[loop, segment] += heat_j
                    heat_c = thawed_c(here_c, ice[loop, row]) + kelvin_per_j[loop, row, column] * heat_j
                    temp_c[loop, row, column, segment] = frozen_c(heat_c, ice[loop, row])


def deep_heat_j(temp_c: Floats, down: Floats, deep_j: Floats, step_s: float) -> None:
    """Add the heat that comes up from the deep boundary in one step (J per metre of half-cell)."""
    loops, rows, columns = down.shape
    for loop in range(loops):
        gained = deep_j[loop]
        for column in range(1, columns - 1):
            conductance = down[loop, rows - 1, column] * step_s
            under, over = temp_c[loop, rows - 1, column], temp_c[loop, rows - 2, column]
            for segment in range(SEGMENTS):
                gained[segment] += conductance * (under[segment] - over[segment])


def wall_means_c(temp_c: Floats, faces: Faces, mean_c: Floats) -> None:
    """Mean temperature of the soil that touches the tube, weighted by conductance, by loop and segment."""
    row, column, conductance, total = faces
    for loop in range(temp_c.shape[0]):
        mean = mean_c[loop]
        mean[:] = 0.0
        for index in range(row.shape[0]):
            weight = conductance[loop, index] / total[loop]
            cell = temp_c[loop, row[index], column[index]]
            for segment in range(SEGMENTS):
                mean[segment] += weight * cell[segment]


def share_wall_heat(temp_c: Floats, faces: Faces, wall_j: Floats, share_j: Floats, step_s: float) -> None:
    """Share the heat that the tube wall takes in a step among the cells around it (J per metre of half-cell).

    The wall holds no heat itself: what it takes from air and water it passes on, to the colder cells more
    than to the warmer ones, and it evens them out even when nothing comes in.

    Args:
        temp_c: temperatures ``[loop, depth, across, segment]``.
        faces: cells around the tube.
        wall_j: heat the wall takes in the step, by loop and segment.
        share_j: becomes each cell's share ``[loop, face + 1, segment]``; the last row is scratch.
        step_s: length of the step.
    """
    row, column, conductance, total = faces
    last = row.shape[0]
    wall_means_c(temp_c, faces, share_j[:, last])
    for loop in range(temp_c.shape[0]):
        wall_c = share_j[loop, last]
        for segment in range(SEGMENTS):
            wall_c[segment] += wall_j[loop, segment] / (total[loop] * step_s)
        for index in range(last):
            weight = step_s * conductance[loop, index]
            cell = temp_c[loop, row[index], column[index]]
            share = share_j[loop, index]
            for segment in range(SEGMENTS):
                share[segment] = weight * (wall_c[segment] - cell[segment])


def give_wall_heat(temp_c: Floats, kelvin_per_j: Floats, faces: Faces, share_j: Floats) -> None:
    """Warm the cells around the tube by their shares of the wall's heat."""
    row, column = faces.row, faces.column
    for loop in range(temp_c.shape[0]):
        for index in range(row.shape[0]):
            cell = temp_c[loop, row[index], column[index]]
            share = share_j[loop, index]
            gain = kelvin_per_j[loop, row[index], column[index]]
            for segment in range(SEGMENTS):
                cell[segment] += gain * share[segment]


def warm_surface(
    temp_c: Floats,
    kelvin_per_j: Floats,
    width: Floats,
    half_spacing_m: Floats,
    surface_j: Floats,
    share: float,
) -> None:
    """Give a share of the heat gathered at the bed surface to the topmost cells."""
    for loop in range(temp_c.shape[0]):
        heat_j = surface_j[loop]
        for column in range(1, width.shape[1] - 1):
            gain = share * width[loop, column] / half_spacing_m[loop] * kelvin_per_j[loop, 1, column]
            cell = temp_c[loop, 1, column]
            for segment in range(SEGMENTS):
                cell[segment] += gain * heat_j[segment]


def surface_means_c(temp_c: Floats, width: Floats, half_spacing_m: Floats, mean_c: Floats) -> None:
    """Mean temperature of the topmost cells, into ``mean_c`` [loop, segment]."""
    for loop in range(temp_c.shape[0]):
        mean = mean_c[loop]
        mean[:] = 0.0
        for column in range(1, width.shape[1] - 1):
            weight = width[loop, column] / half_spacing_m[loop]
            cell = temp_c[loop, 1, column]
            for segment in range(SEGMENTS):
                mean[segment] += weight * cell[segment]
