"""The ground's equations as a matrix, for solvers that are not ours."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import lil_matrix

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from scipy.sparse import csc_matrix

    from controller.simulator.house.ground import GroundArrays


def conductance_matrix(
    ground: GroundArrays, *, loop: int = 0, insulated_below: bool = False
) -> tuple[lil_matrix, dict[tuple[int, int], int]]:
    """Conductances between the soil cells of a cut, and the row of each cell.

    In W/K per metre of half-cell: a row times the temperatures is the heat its cell gains. The deep boundary
    stands at 0 K unless it is insulated.
    """
    rows, columns = ground.across.shape[1:]
    cells = [
        (row, column)
        for row in range(1, rows - 1)
        for column in range(1, columns - 1)
        if ground.kelvin_per_j[loop, row, column] > 0.0
    ]
    places = {cell: index for index, cell in enumerate(cells)}
    matrix = lil_matrix((len(cells), len(cells)))
    for (row, column), place in places.items():
        neighbours = (
            (ground.across[loop, row, column], (row, column - 1)),
            (ground.across[loop, row, column + 1], (row, column + 1)),
            (ground.down[loop, row, column], (row - 1, column)),
            (ground.down[loop, row + 1, column], (row + 1, column)),
        )
        for conductance, other in neighbours:
            if other in places:
                matrix[place, places[other]] += conductance
                matrix[place, place] -= conductance
            elif other[0] == rows - 1 and not insulated_below:
                matrix[place, place] -= conductance
    return matrix, places


def heated_by_wall(
    ground: GroundArrays, watts_per_m: float
) -> tuple[csc_matrix, NDArray[np.float64], dict[tuple[int, int], int]]:
    """The equations of the first cut with heat at its tube, as a general solver takes them.

    The wall has no mass and joins its cells: g_i (T_wall - T_i).

    Returns:
        Rates (1/s), warming by the heat (K/s), and the row of each cell.
    """
    matrix, places = conductance_matrix(ground)
    source = np.zeros(len(places))
    capacity = np.array([ground.joule_per_k[0, row, column] for row, column in places])
    faces = [
        (places[int(r), int(c)], g)
        for r, c, g in zip(ground.faces.row, ground.faces.column, ground.faces.conductance[0], strict=True)
    ]
    for place, conductance in faces:
        source[place] += conductance / ground.faces.total[0] * 0.5 * watts_per_m
        for other, share in faces:
            matrix[place, other] += conductance * share / ground.faces.total[0]
        matrix[place, place] -= conductance
    return (matrix.tocsr().T / capacity).T.tocsc(), source / capacity, places
