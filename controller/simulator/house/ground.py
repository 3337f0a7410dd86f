"""The ground around the tubes: conductances and heat capacities of its cells.

One cut (see ``grid``) stands for a stretch of all tubes of a loop; eight such cuts along the tubes carry the
air's cooling on its way. Heat conduction along the tubes is left out: over a metre of soil it takes weeks,
while across to the next tube it takes hours.

Plain conductances take temperatures for straight lines between cells, which they are not around a tube.
``flow_factors`` puts that right.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from controller.physics.soil import FREEZING_K
from controller.simulator.house.flow_factors import FlowFactors
from controller.simulator.house.state import Faces

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from controller.simulator.house.grid import Cut

    Floats = NDArray[np.float64]
    Places = NDArray[np.int64]

ARC = 2.3  # way round the edge over depth; within 10 % of the two-dimensional solution for 3 to 6 m houses
STABLE_SHARE = 0.9  # of the explicit scheme's limit


@dataclass(frozen=True, slots=True)
class Soil:
    """A layer of soil from ``top_m`` down: W/mK, J/m³K, and heat of freezing in J/m³."""

    top_m: float
    conductivity_w_mk: float
    capacity_j_m3k: float
    fusion_j_m3: float = 0.0


@dataclass(frozen=True, slots=True)
class Edge:
    """The way from the ground under the house round its edge to the ground beside it.

    Steady heat goes in arcs from the floor to the open: at a depth z below the edge an arc is pi z long, and
    the films of air at its ends count as well (EN ISO 13370 rests on the same picture). Part of the arc is
    the way down that the cut has already; what is left, ``ARC`` z, was fitted to a two-dimensional solution.

    Attributes:
        per_floor_1_m: edge of the house per m² of floor.
        films_m2k_w: resistance of the air's films, inside and outside.
        boards_m: depth down to which insulating boards stand in that way.
        boards_m2k_w: their resistance.
    """

    per_floor_1_m: float
    films_m2k_w: float = 0.0
    boards_m: float = 0.0
    boards_m2k_w: float = 0.0

    def conductance_w_m3k(self, cut: Cut, conductivity: Floats) -> Floats:
        """From every row of a cut to the ground beside the house at the same depth, per m³ of soil."""
        bare_m2k_w = ARC * cut.row_m / conductivity + self.films_m2k_w
        share = np.clip((self.boards_m - cut.top_m) / cut.height_m, 0.0, 1.0)
        result: Floats = self.per_floor_1_m * (
            share / (bare_m2k_w + self.boards_m2k_w) + (1.0 - share) / bare_m2k_w
        )
        return result


@dataclass(slots=True)
class GroundArrays:
    """What the compiled conduction works on, for all loops; shapes as in ``conduction``."""

    across: Floats
    down: Floats
    kelvin_per_j: Floats
    joule_per_k: Floats
    ice: Floats
    edge: Floats
    faces: Faces
    width: Floats
    row_m: Floats
    half_spacing_m: Floats
    surface_w_k: Floats
    longest_step_s: float


def _in_series(size_a: Floats, conductivity_a: Floats, size_b: Floats, conductivity_b: Floats) -> Floats:
    return 1.0 / (0.5 * size_a / conductivity_a + 0.5 * size_b / conductivity_b)


def _layers(cut: Cut, soils: Sequence[Soil]) -> tuple[Floats, Floats, Floats, Floats]:
    """Conductivity of every row sideways and upright, its heat capacity, and its heat of freezing.

    A row that two layers share has their mean, for the heat that goes up through both of them in series.
    """
    tops = np.array([soil.top_m for soil in soils])
    ends = np.append(tops[1:], np.inf)
    bottom_m = cut.top_m + cut.height_m
    overlap_m = np.minimum(bottom_m[:, None], ends) - np.maximum(cut.top_m[:, None], tops)
    share = np.maximum(overlap_m, 0.0) / cut.height_m[:, None]
    conductivity = np.array([soil.conductivity_w_mk for soil in soils])
    capacity = np.array([soil.capacity_j_m3k for soil in soils])
    fusion = np.array([soil.fusion_j_m3 for soil in soils])
    return share @ conductivity, 1.0 / (share @ (1.0 / conductivity)), share @ capacity, share @ fusion


def build(cuts: Sequence[Cut], soils: Sequence[Sequence[Soil]], edge: Edge) -> GroundArrays:
    """Work out all conductances and capacities.

    Args:
        cuts: one per loop, of the same number of cells.
        soils: per loop, layers from the surface down, the first with ``top_m`` 0.
        edge: way to the ground beside the house.
    """
    loops, rows, columns = len(cuts), cuts[0].height_m.size + 2, cuts[0].width_m.size + 2
    (first, after), hole = cuts[0].hole_rows, cuts[0].hole_columns
    face_row, face_column = _faces(first, after, hole)
    empty = np.zeros((loops, rows, columns))
    arrays = GroundArrays(
        across=empty.copy(),
        down=empty.copy(),
        kelvin_per_j=empty.copy(),
        joule_per_k=empty.copy(),
        ice=np.zeros((loops, rows)),
        edge=empty.copy(),
        faces=Faces(face_row, face_column, np.zeros((loops, face_row.size)), np.zeros(loops)),
        width=np.zeros((loops, columns)),
        row_m=np.zeros((loops, rows)),
        half_spacing_m=np.array([cut.width_m.sum() for cut in cuts]),
        surface_w_k=np.zeros(loops),
        longest_step_s=0.0,
    )
    for index, cut in enumerate(cuts):
        _fill(arrays, index, cut, soils[index], edge)
    total = (
        arrays.across + np.roll(arrays.across, -1, axis=2) + arrays.down + np.roll(arrays.down, -1, axis=1)
    )
    for face, cell in enumerate(zip(face_row, face_column, strict=True)):
        total[(slice(None), *cell)] += arrays.faces.conductance[:, face]
    rate = np.max(total * arrays.kelvin_per_j)
    arrays.longest_step_s = float(STABLE_SHARE / rate)
    return arrays


def _faces(first: int, after: int, hole: int) -> tuple[Places, Places]:
    """Cells (with rim) that touch the tube: above it, beside it, below it."""
    rows = [first] * hole + list(range(first + 1, after + 1)) + [after + 1] * hole
    columns = [*range(1, hole + 1), *([hole + 1] * (after - first)), *range(1, hole + 1)]
    return np.array(rows, dtype=np.int64), np.array(columns, dtype=np.int64)


def _fill(arrays: GroundArrays, index: int, cut: Cut, soils: Sequence[Soil], edge: Edge) -> None:
    conductivity, upright, capacity, fusion = _layers(cut, soils)
    width, height = cut.width_m, cut.height_m
    rows, columns = height.size, width.size
    factors = FlowFactors.of(cut)
    soil = np.ones((rows, columns))
    soil[cut.hole_rows[0] : cut.hole_rows[1], : cut.hole_columns] = 0.0
    joule_per_k = soil * capacity[:, None] * height[:, None] * width[None, :]
    arrays.joule_per_k[index, 1:-1, 1:-1] = joule_per_k
    arrays.ice[index, 1:-1] = fusion / (capacity * FREEZING_K)
    arrays.kelvin_per_j[index, 1:-1, 1:-1] = np.divide(
        1.0, joule_per_k, where=soil > 0.0, out=np.zeros_like(soil)
    )
    sideways = height[:, None] * conductivity[:, None] / (0.5 * (width[:-1] + width[1:]))[None, :]
    arrays.across[index, 1:-1, 2:-1] = sideways * factors.across * soil[:, :-1] * soil[:, 1:]
    between = _in_series(height[:-1], upright[:-1], height[1:], upright[1:])
    arrays.down[index, 2:-1, 1:-1] = between[:, None] * width[None, :] * factors.down * soil[:-1] * soil[1:]
    arrays.down[index, -1, 1:-1] = width * upright[-1] / (0.5 * height[-1])
    beside_w_m2k = edge.conductance_w_m3k(cut, conductivity) * height
    arrays.edge[index, 1:-1, 1:-1] = soil * beside_w_m2k[:, None] * width[None, :]
    row, column = arrays.faces.row - 1, arrays.faces.column - 1
    beside = (cut.hole_rows[0] <= row) & (row < cut.hole_rows[1])
    half_to_length = np.where(beside, 0.5 * width[column] / height[row], 0.5 * height[row] / width[column])
    conductance = conductivity[row] / half_to_length * factors.wall(1.0 / half_to_length, row, column)
    arrays.faces.conductance[index] = conductance
    arrays.faces.total[index] = conductance.sum()
    arrays.width[index, 1:-1] = width
    arrays.row_m[index, 1:-1] = cut.row_m
    arrays.row_m[index, -1] = height.sum()
    arrays.surface_w_k[index] = upright[0] / (0.5 * height[0])
