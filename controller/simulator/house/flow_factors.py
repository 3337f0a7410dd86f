"""How conduction between coarse cells around a tube differs from straight lines between their middles.

A row of tubes a distance s apart is a row of line sources, whose steady temperatures and heat flows are known
everywhere: they are real and imaginary part of ln sin(pi z / s) (Carslaw & Jaeger 1959 §16, by conformal
mapping). The conductance of a face is chosen to be the flow through that face over the difference between the
cells' middles, as those are, and the wall's conductance so that the wall has the temperature of a circle of
the tube's radius. Steady heat from the tubes is then exact on any grid; the idea is that of the equivalent
radius of a well in a reservoir grid (Peaceman 1978, SPE Journal 18:183).

Farther than one distance above and below the tubes the heat flows straight up and down, and the plain
conductances are right.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.simulator.house.grid import Cut

    Floats = NDArray[np.float64]
    Places = NDArray[np.int64]

ROUND_SHARE = 0.6  # up to this share of the distance the isotherm at the wall is as good as round
LEAST_DIFFERENCE = 1e-9  # of potential: less means that the face carries no heat


@dataclass(frozen=True, slots=True)
class FlowFactors:
    """What to multiply plain conductances with.

    Attributes:
        across: between neighbouring columns, ``[row, column]`` of the left one.
        down: between neighbouring rows, ``[row, column]`` of the upper one.
        above_wall: potential of the cell middles less that of the wall; None if the tubes are so wide that a
            line source cannot stand for one, and all factors are 1.
    """

    across: Floats
    down: Floats
    above_wall: Floats | None

    @staticmethod
    def of(cut: Cut) -> FlowFactors:
        """Work out the factors of a cut."""
        rows, columns = cut.height_m.size, cut.width_m.size
        across, down = np.ones((rows, columns - 1)), np.ones((rows - 1, columns))
        spacing_m = 2.0 * float(cut.width_m.sum())
        if 2.0 * cut.radius_m > ROUND_SHARE * spacing_m:
            return FlowFactors(across, down, None)
        edge_x = np.concatenate(([0.0], np.cumsum(cut.width_m)))
        edge_y = np.concatenate(([0.0], np.cumsum(cut.height_m))) - cut.depth_m
        x, y = 0.5 * (edge_x[:-1] + edge_x[1:]), 0.5 * (edge_y[:-1] + edge_y[1:])
        near = np.abs(y) < spacing_m
        potential = _potential(x[None, :] / spacing_m, y[near, None] / spacing_m)
        stream = _stream(edge_x[None, :] / spacing_m, edge_y[:, None] / spacing_m)
        through_sides = np.diff(stream[:, 1:-1], axis=0)[near]
        through_tops = np.diff(stream[1:-1], axis=1)[near[1:] & near[:-1]]
        across[near] = _ratio(
            through_sides, np.diff(potential, axis=1), np.diff(x) / cut.height_m[near, None]
        )
        down[near[1:] & near[:-1]] = _ratio(
            through_tops, np.diff(potential, axis=0), np.diff(y[near])[:, None] / cut.width_m
        )
        above_wall = np.full((rows, columns), np.nan)
        above_wall[near] = potential - math.log(math.pi * cut.radius_m / spacing_m)
        return FlowFactors(across, down, above_wall)

    def wall(self, shape: Floats, row: Places, column: Places) -> float:
        """Factor for the conductances between the wall and the cells that touch it.

        Args:
            shape: plain conductance of each over its conductivity.
            row: the cells, row.
            column: the same, column.
        """
        if self.above_wall is None:
            return 1.0
        return math.pi / float(np.sum(shape * self.above_wall[row, column]))


def _potential(x: Floats, y: Floats) -> Floats:
    """Temperature about a row of sinks one apart, as ln |sin(pi (x + i y))|."""
    potential: Floats = 0.5 * np.log(0.5 * (np.cosh(2.0 * np.pi * y) - np.cos(2.0 * np.pi * x)))
    return potential


def _stream(x: Floats, y: Floats) -> Floats:
    """Heat that flows between a point and the middle of the sink, as arg sin(pi (x + i y))."""
    stream: Floats = np.arctan2(np.cos(np.pi * x) * np.tanh(np.pi * y), np.sin(np.pi * x))
    return stream


def _ratio(flow: Floats, difference: Floats, plain_resistance: Floats) -> Floats:
    """True over plain conductance; 1 where nothing flows."""
    flows = np.abs(difference) > LEAST_DIFFERENCE
    ratio: Floats = np.where(
        flows, np.abs(flow) / np.where(flows, np.abs(difference), 1.0) * plain_resistance, 1.0
    )
    return ratio
