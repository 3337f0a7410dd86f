"""The ground around the tubes: grid, soil and starting temperatures.

One vertical cut across half a tube and half the soil between two tubes stands for a stretch of all tubes of
a loop: its sides are planes of symmetry, its top is the bed surface, its bottom lies where the year hardly
shows. Eight such cuts along the tubes carry the air's cooling on its way. Heat conduction along the tubes
is left out: over a metre of soil it takes weeks, while across to the next tube it takes hours.

The round tube is a square hole in the grid whose side is chosen so that both have the same conductance to
anything far from them: the conformal radius of a square of side a is 0.5902 a (Polya & Szego 1951,
Isoperimetric Inequalities in Mathematical Physics, table of outer radii).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Places = NDArray[np.int64]

SQUARE_RADIUS = 0.590170  # outer conformal radius of a square of side 1: Gamma(1/4)^2 / (4 pi^(3/2))
SURFACE_CELL_M = 0.01
BELOW_TUBES_M = 4.5
WALL_CELL_M = 0.025  # largest cell at the tube
WIDEST_SHARE = 0.9  # of the distance between tubes may be tube
DEEPEST_SHARE = 0.8  # of the depth may be tube
GROWTH = 1.4  # of one cell over its neighbour
STABLE_SHARE = 0.9  # of the explicit scheme's limit


class ModelError(ValueError):
    """A house that the model cannot stand for; the text says why and what to change."""


@dataclass(frozen=True, slots=True)
class Soil:
    """A layer of soil from ``top_m`` down: W/mK and J/m³K."""

    top_m: float
    conductivity_w_mk: float
    capacity_j_m3k: float


@dataclass(frozen=True, slots=True)
class Grid:
    """How finely the cut is divided.

    Cells per half tube, cells outside it each way, and the height of the topmost cell.
    """

    tube: int = 2
    across: int = 3
    above: int = 9
    below: int = 11
    surface_m: float = SURFACE_CELL_M

    @staticmethod
    def fitting(
        tubes: Sequence[tuple[float, float, float]], below_m: float = BELOW_TUBES_M, growth: float = GROWTH
    ) -> Grid:
        """Coarsest division for all (depth, diameter, spacing) whose cells grow no faster than ``growth``.

        Raises:
            ModelError: the tubes of one touch each other or the surface.
        """
        across = above = below = 3
        widest_m = max(side_of(*each) for each in tubes)
        tube = max(2, math.ceil(0.5 * widest_m / WALL_CELL_M))
        for depth_m, diameter_m, spacing_m in tubes:
            side_m = 0.5 * diameter_m / SQUARE_RADIUS
            cell_m = 0.5 * side_m / tube
            across = max(across, _cells_needed(0.5 * (spacing_m - side_m), cell_m, growth))
            above = max(
                above, 2 * _cells_needed(0.5 * (depth_m - 0.5 * side_m), max(cell_m, SURFACE_CELL_M), growth)
            )
            below = max(below, _cells_needed(below_m - 0.5 * side_m, cell_m, growth))
        return Grid(tube, across, above, below)

    def refined(self, factor: int) -> Grid:
        """The same cut with ``factor`` times as many cells each way."""
        return Grid(
            self.tube * factor,
            self.across * factor,
            self.above * factor,
            self.below * factor,
            self.surface_m / factor,
        )


@dataclass(frozen=True, slots=True)
class Cut:
    """One loop's cut: cell sizes and the two rows of middles.

    Attributes:
        width_m: cell widths from the tube's axis outward.
        height_m: cell heights from the surface downward.
        hole_rows: first row and first row after the tube.
        hole_columns: number of columns in the tube.
        depth_m: depth of the tube's axis.
        radius_m: inside radius of the tube.
    """

    width_m: Floats
    height_m: Floats
    hole_rows: tuple[int, int]
    hole_columns: int
    depth_m: float
    radius_m: float

    @property
    def row_m(self) -> Floats:
        """Depth of the cell middles."""
        return np.cumsum(self.height_m) - 0.5 * self.height_m


def _cells_needed(length_m: float, first_m: float, growth: float) -> int:
    """Number of cells from ``first_m`` on that fill a length when each is ``growth`` times the one before."""
    return max(2, math.ceil(math.log(1.0 + length_m / first_m * (growth - 1.0)) / math.log(growth)))


def growing(length_m: float, first_m: float, count: int, last_m: float | None = None) -> Floats:
    """Cell sizes over a length, growing evenly from ``first_m`` (and from ``last_m`` at the far end)."""
    steps = np.arange(count, dtype=float)
    if last_m is None:
        exponents, scale = steps, np.ones(count)
    else:
        exponents = np.minimum(steps, count - 1 - steps)
        scale = (last_m / first_m) ** (steps / (count - 1))
    low, high = 0.05, 20.0
    for _ in range(100):
        ratio = np.sqrt(low * high)
        if np.sum(first_m * scale * ratio**exponents) < length_m:
            low = ratio
        else:
            high = ratio
    sizes: Floats = first_m * scale * ratio**exponents
    return sizes * (length_m / np.sum(sizes))


def side_of(depth_m: float, diameter_m: float, spacing_m: float) -> float:
    """Side (m) of the square that stands for a tube.

    Raises:
        ModelError: the tubes touch each other or the surface.
    """
    side_m = 0.5 * diameter_m / SQUARE_RADIUS
    if side_m > WIDEST_SHARE * spacing_m:
        raise ModelError(
            f"tubes of {1000 * diameter_m:.0f} mm do not fit side by side {1000 * spacing_m:.0f} mm apart; "
            "the floor of the house divided by the length of all tubes gives this distance: check [house] "
            "length and width, and tubes and tube_length of every loop"
        )
    if 0.5 * side_m > DEEPEST_SHARE * depth_m:
        raise ModelError(f"a tube of {1000 * diameter_m:.0f} mm does not fit {depth_m:g} m under the surface")
    return side_m


def make_cut(
    depth_m: float, diameter_m: float, spacing_m: float, grid: Grid, below_m: float = BELOW_TUBES_M
) -> Cut:
    """Divide the cut of a loop into cells.

    Raises:
        ModelError: the tubes touch each other or the surface.
    """
    side_m = side_of(depth_m, diameter_m, spacing_m)
    cell_m = 0.5 * side_m / grid.tube
    outside = growing(0.5 * (spacing_m - side_m), cell_m, grid.across)
    above = growing(depth_m - 0.5 * side_m, cell_m, grid.above, grid.surface_m)[::-1]
    below = growing(below_m - 0.5 * side_m, cell_m, grid.below)
    return Cut(
        width_m=np.concatenate([np.full(grid.tube, cell_m), outside]),
        height_m=np.concatenate([above, np.full(2 * grid.tube, cell_m), below]),
        hole_rows=(grid.above, grid.above + 2 * grid.tube),
        hole_columns=grid.tube,
        depth_m=depth_m,
        radius_m=0.5 * diameter_m,
    )


@dataclass(slots=True)
class GroundArrays:
    """What the compiled conduction works on, for all loops; shapes as in ``conduction``."""

    across: Floats
    down: Floats
    kelvin_per_j: Floats
    joule_per_k: Floats
    edge: Floats
    face: Floats
    face_sum: Floats
    face_row: Places
    face_column: Places
    width: Floats
    row_m: Floats
    half_spacing_m: Floats
    surface_w_k: Floats
    longest_step_s: float


def _in_series(size_a: Floats, conductivity_a: Floats, size_b: Floats, conductivity_b: Floats) -> Floats:
    return 1.0 / (0.5 * size_a / conductivity_a + 0.5 * size_b / conductivity_b)


def _layers(cut: Cut, soils: Sequence[Soil]) -> tuple[Floats, Floats]:
    """Conductivity and heat capacity of every row."""
    tops = np.array([soil.top_m for soil in soils])
    which = np.searchsorted(tops, cut.row_m, side="right") - 1
    conductivity = np.array([soil.conductivity_w_mk for soil in soils])[which]
    capacity = np.array([soil.capacity_j_m3k for soil in soils])[which]
    return conductivity, capacity


def build(cuts: Sequence[Cut], soils: Sequence[Soil], edge_w_mk: Sequence[float]) -> GroundArrays:
    """Work out all conductances and capacities.

    Args:
        cuts: one per loop, of the same number of cells.
        soils: layers from the surface down, the first with ``top_m`` 0.
        edge_w_mk: per loop, exchange with the ground beside the house per m of depth and m² of floor, as a
            multiple of the soil's conductivity: perimeter / (floor area * way to the undisturbed ground).
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
        edge=empty.copy(),
        face=np.zeros((loops, face_row.size)),
        face_sum=np.zeros(loops),
        face_row=face_row,
        face_column=face_column,
        width=np.zeros((loops, columns)),
        row_m=np.zeros((loops, rows)),
        half_spacing_m=np.array([cut.width_m.sum() for cut in cuts]),
        surface_w_k=np.zeros(loops),
        longest_step_s=0.0,
    )
    for index, cut in enumerate(cuts):
        _fill(arrays, index, cut, soils, edge_w_mk[index])
    total = (
        arrays.across + np.roll(arrays.across, -1, axis=2) + arrays.down + np.roll(arrays.down, -1, axis=1)
    )
    for face, cell in enumerate(zip(face_row, face_column, strict=True)):
        total[(slice(None), *cell)] += arrays.face[:, face]
    rate = np.max(total * arrays.kelvin_per_j)
    arrays.longest_step_s = float(STABLE_SHARE / rate)
    return arrays


def _faces(first: int, after: int, hole: int) -> tuple[Places, Places]:
    """Cells (with rim) that touch the tube: above it, beside it, below it."""
    rows = [first] * hole + list(range(first + 1, after + 1)) + [after + 1] * hole
    columns = [*range(1, hole + 1), *([hole + 1] * (after - first)), *range(1, hole + 1)]
    return np.array(rows, dtype=np.int64), np.array(columns, dtype=np.int64)


def _fill(arrays: GroundArrays, index: int, cut: Cut, soils: Sequence[Soil], edge_w_mk: float) -> None:
    conductivity, capacity = _layers(cut, soils)
    width, height = cut.width_m, cut.height_m
    rows, columns = height.size, width.size
    soil = np.ones((rows, columns))
    soil[cut.hole_rows[0] : cut.hole_rows[1], : cut.hole_columns] = 0.0
    joule_per_k = soil * capacity[:, None] * height[:, None] * width[None, :]
    arrays.joule_per_k[index, 1:-1, 1:-1] = joule_per_k
    arrays.kelvin_per_j[index, 1:-1, 1:-1] = np.divide(
        1.0, joule_per_k, where=soil > 0.0, out=np.zeros_like(soil)
    )
    sideways = height[:, None] * conductivity[:, None] / (0.5 * (width[:-1] + width[1:]))[None, :]
    arrays.across[index, 1:-1, 2:-1] = sideways * soil[:, :-1] * soil[:, 1:]
    between = _in_series(height[:-1], conductivity[:-1], height[1:], conductivity[1:])
    arrays.down[index, 2:-1, 1:-1] = between[:, None] * width[None, :] * soil[:-1] * soil[1:]
    arrays.down[index, -1, 1:-1] = width * conductivity[-1] / (0.5 * height[-1])
    arrays.edge[index, 1:-1, 1:-1] = soil * edge_w_mk * (conductivity * height)[:, None] * width[None, :]
    for face, (row, column) in enumerate(zip(arrays.face_row - 1, arrays.face_column - 1, strict=True)):
        beside = cut.hole_rows[0] <= row < cut.hole_rows[1]
        length, half = (height[row], 0.5 * width[column]) if beside else (width[column], 0.5 * height[row])
        arrays.face[index, face] = conductivity[row] * length / half
    arrays.face_sum[index] = arrays.face[index].sum()
    arrays.width[index, 1:-1] = width
    arrays.row_m[index, 1:-1] = cut.row_m
    arrays.row_m[index, -1] = height.sum()
    arrays.surface_w_k[index] = conductivity[0] / (0.5 * height[0])
