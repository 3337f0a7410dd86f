"""The grid over the ground: one vertical cut across half a tube and half the soil between two tubes.

Its sides are planes of symmetry, its top is the bed surface, its bottom lies where the year hardly shows. The
round tube is a square hole of the same area, so that the soil keeps its volume.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from controller.errors import HypocaustError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SQUARE_PER_DIAMETER = 0.5 * math.sqrt(math.pi)  # side of the square of the same area
SURFACE_CELL_M = 0.01
BELOW_TUBES_M = 4.5
WALL_CELL_M = 0.03  # largest cell at the tube
WIDEST_SHARE = 0.9  # of the distance between tubes may be tube
DEEPEST_SHARE = 0.8  # of the depth may be tube
GROWTH = 1.4  # of one cell over its neighbour


class ModelError(HypocaustError, ValueError):
    """A house that the model cannot stand for; the text says why and what to change."""


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
            side_m = SQUARE_PER_DIAMETER * diameter_m
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
    def top_m(self) -> Floats:
        """Depth of the cells' upper sides."""
        return np.cumsum(self.height_m) - self.height_m

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
    side_m = SQUARE_PER_DIAMETER * diameter_m
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
