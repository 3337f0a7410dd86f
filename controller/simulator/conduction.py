"""Heat conduction in the soil around the tubes: one explicit step on a rectangular grid across the tubes.

Plain Python over arrays; the model runs the compiled twin. Arrays over cells carry a rim of one ghost cell
all round; conductances are in W/K per metre of half-cell. A half-cell reaches from a tube's axis to the
middle between two tubes; both of its sides are planes of symmetry.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.simulator.indices import SEGMENTS

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Places = NDArray[np.int64]


def conduct(
    temp_c: Floats, next_c: Floats, across: Floats, down: Floats, kelvin_per_j: Floats, step_s: float
) -> None:
    """Move heat between neighbouring cells for one step.

    A row of cells with all their segments lies in one piece, so that the processor can take several at
    once; hence the repeated conductances. The slices are taken for the same reason.

    Args:
        temp_c: temperatures, changed in place, ``[loop, depth, across * segment]``; the ghost row below the
            deepest cells holds the deep boundary's.
        next_c: scratch of the same shape.
        across: conductance between a cell and the one before it across the tubes, repeated for every segment.
        down: the same between a cell and the one above it.
        kelvin_per_j: warming of a cell by one joule per metre of half-cell, repeated; nought in the tube.
        step_s: must not exceed the grid's limit.
    """
    loops, rows, length = temp_c.shape
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


def exchange_edge(
    temp_c: Floats, edge: Floats, kelvin_per_j: Floats, edge_c: Floats, lateral_j: Floats, time_s: float
) -> None:
    """Exchange heat with the ground beside the house, in one go for a time that is short for it (an hour).

    Args:
        temp_c: temperatures ``[loop, depth, across, segment]``.
        edge: conductance from a cell to that ground ``[loop, depth, across]``.
        kelvin_per_j: warming of a cell by one joule per metre of half-cell ``[loop, depth, across]``.
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
                    temp_c[loop, row, column, segment] = here_c + kelvin_per_j[loop, row, column] * heat_j


def deep_heat_j(temp_c: Floats, down: Floats, deep_j: Floats, step_s: float) -> None:
    """Add the heat that comes up from the deep boundary in one step (J per metre of half-cell)."""
    loops, rows, columns = down.shape
    for loop in range(loops):
        for column in range(1, columns - 1):
            conductance = down[loop, rows - 1, column] * step_s
            for segment in range(SEGMENTS):
                deep_j[loop, segment] += conductance * (
                    temp_c[loop, rows - 1, column, segment] - temp_c[loop, rows - 2, column, segment]
                )


def wall_mean_c(
    temp_c: Floats, face_row: Places, face_column: Places, face: Floats, loop: int, segment: int
) -> float:
    """Conductance-weighted temperature of the soil cells that touch the tube."""
    total = 0.0
    weighted = 0.0
    for index in range(face_row.shape[0]):
        conductance = face[loop, index]
        total += conductance
        weighted += conductance * temp_c[loop, face_row[index], face_column[index], segment]
    return weighted / total


def warm_wall(
    temp_c: Floats,
    kelvin_per_j: Floats,
    face_row: Places,
    face_column: Places,
    face: Floats,
    face_sum: Floats,
    wall_j: Floats,
    step_s: float,
) -> None:
    """Give the heat that the tube wall has gathered (J per metre of half-cell) to the cells around it.

    The wall holds no heat itself: what it takes from air and water it passes on, to the colder cells more
    than to the warmer ones, and it evens them out even when nothing comes in.
    """
    faces = face_row.shape[0]
    for loop in range(temp_c.shape[0]):
        for segment in range(SEGMENTS):
            mean_c = wall_mean_c(temp_c, face_row, face_column, face, loop, segment)
            wall_c = mean_c + wall_j[loop, segment] / (face_sum[loop] * step_s)
            for index in range(faces):
                row = face_row[index]
                column = face_column[index]
                heat_j = step_s * face[loop, index] * (wall_c - temp_c[loop, row, column, segment])
                temp_c[loop, row, column, segment] += kelvin_per_j[loop, row, column] * heat_j
            wall_j[loop, segment] = 0.0


def warm_surface(
    temp_c: Floats, kelvin_per_j: Floats, width: Floats, half_spacing_m: Floats, surface_j: Floats
) -> None:
    """Give the heat gathered at the bed surface (J per metre of half-cell) to the topmost cells by width."""
    columns = kelvin_per_j.shape[2]
    for loop in range(temp_c.shape[0]):
        for segment in range(SEGMENTS):
            heat_j_m = surface_j[loop, segment] / half_spacing_m[loop]
            for column in range(1, columns - 1):
                temp_c[loop, 1, column, segment] += (
                    heat_j_m * width[loop, column] * kelvin_per_j[loop, 1, column]
                )
            surface_j[loop, segment] = 0.0


def surface_mean_c(temp_c: Floats, width: Floats, half_spacing_m: float, loop: int, segment: int) -> float:
    """Mean temperature of the topmost cells."""
    total = 0.0
    for column in range(1, width.shape[1] - 1):
        total += width[loop, column] * temp_c[loop, 1, column, segment]
    return total / half_spacing_m
