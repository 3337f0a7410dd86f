"""The parameters of a house, found from its own nights by output error.

Each night is played forward from its inputs alone. What it began with, how cold its sky was and how the sky
changed are found for each night by itself (they act in a straight line, so at once), with how far they
usually vary held against them. Only the four parameters of the house and its usual sky are common. They are
found by Levenberg's and Marquardt's damped least squares, with what is usual for greenhouses held against
them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from controller.evidence.house_model import Night, Parameters, air_of, unknowns_of

if TYPE_CHECKING:
    from collections.abc import Sequence

# log U, log Gm, log Cm, log Gs and the sky: what is usual and how far it varies. U of double and single
# covers is 3 to 7 W/m²K of cover, of which there are 1.5 m² per m² of floor. [practice]
USUAL = (math.log(6.0), math.log(8.0), math.log(8e4), math.log(2.0), 2.0)
VARIES = (0.4, 0.4, 0.5, 0.5, 2.0)
SKY_VARIES_K = 2.0  # from night to night, and through a night
NOISE_K = 0.3  # what the model misses from step to step
# Neighbouring steps miss the same: so many of them count as one.
ALIKE_S = 12_000.0
ROUNDS = 25
STEP = 1e-3  # of a parameter, for slopes
LARGEST_STEP = 1.0  # of a parameter in a round, so that a log without sense leads nowhere far

Vector = list[float]
Matrix = list[Vector]


@dataclass(frozen=True, slots=True)
class Fit:
    """A house as found.

    Attributes:
        house: its parameters.
        error_k: root mean square of what the model misses in a night.
        covariance: of log U, log Gm, log Cm and log Gs.
    """

    house: Parameters
    error_k: float
    covariance: Matrix


class _Trial(NamedTuple):
    """Residuals of all nights for one set of parameters, each over its standard deviation."""

    residuals: Vector
    cost: float
    misses_k2: float


def fit(nights: Sequence[Night], step_s: float) -> Fit:
    """Find the parameters.

    Args:
        nights: at least one.
        step_s: length of their steps.
    """
    point = list(USUAL)
    best = _try(point, nights, step_s)
    damping = 1e-3
    normal: Matrix = []
    for _ in range(ROUNDS):
        normal, slope = _normal(point, best, nights, step_s)
        gained = 0.0
        while damping < 1e6:  # noqa: PLR2004 - steps are too short to matter by then
            damped = [
                [cell * (1.0 + damping) if row == column else cell for column, cell in enumerate(cells)]
                for row, cells in enumerate(normal)
            ]
            steps = (min(max(by, -LARGEST_STEP), LARGEST_STEP) for by in solve(damped, slope))
            tried_at = [now - by for now, by in zip(point, steps, strict=True)]
            tried = _try(tried_at, nights, step_s)
            if tried.cost < best.cost:
                gained = best.cost - tried.cost
                point, best, damping = tried_at, tried, damping * 0.1
                break
            damping *= 10.0
        if gained < 1e-4 * best.cost:
            break
    count = sum(len(night.bench_c) for night in nights)
    unit = [[float(row == column) for column in range(len(point))] for row in range(len(point))]
    inverse = [solve(normal, row) for row in unit]
    house = _house(point)
    return Fit(house, math.sqrt(best.misses_k2 / count), [row[:4] for row in inverse[:4]])


def solve(matrix: Matrix, right: Vector) -> Vector:
    """Solve a small set of linear equations (Gauss, with pivots)."""
    rows = [[*cells, value] for cells, value in zip(matrix, right, strict=True)]
    size = len(rows)
    for column in range(size):
        pivot = max(range(column, size), key=lambda row: abs(rows[row][column]))
        rows[column], rows[pivot] = rows[pivot], rows[column]
        head = rows[column]
        for row in rows[column + 1 :]:
            factor = row[column] / head[column]
            for place in range(column, size + 1):
                row[place] -= factor * head[place]
    found = [0.0] * size
    for column in reversed(range(size)):
        known = sum(rows[column][place] * found[place] for place in range(column + 1, size))
        found[column] = (rows[column][size] - known) / rows[column][column]
    return found


def _house(point: Sequence[float]) -> Parameters:
    return Parameters(*(math.exp(value) for value in point[:4]))


def _normal(point: Vector, best: _Trial, nights: Sequence[Night], step_s: float) -> tuple[Matrix, Vector]:
    """Slopes against each other, and against the residuals."""
    columns = []
    for index in range(len(point)):
        moved = [value + STEP * (place == index) for place, value in enumerate(point)]
        there = _try(moved, nights, step_s).residuals
        columns.append([(after - before) / STEP for after, before in zip(there, best.residuals, strict=True)])
    normal = [[_dot(one, other) for other in columns] for one in columns]
    return normal, [_dot(column, best.residuals) for column in columns]


def _try(point: Sequence[float], nights: Sequence[Night], step_s: float) -> _Trial:
    """Play all nights with these parameters."""
    house, sky_k = _house(point), point[4]
    residuals = [(value - usual) / varies for value, usual, varies in zip(point, USUAL, VARIES, strict=True)]
    weight = math.sqrt(step_s / ALIKE_S) / NOISE_K
    shapes: dict[int, _Shapes] = {}
    misses_k2 = 0.0
    for night in nights:
        steps = len(night.bench_c)
        if steps not in shapes:
            shapes[steps] = _Shapes(unknowns_of(house, steps, step_s))
        missed, held = shapes[steps].missed(night, air_of(house, night, step_s), sky_k)
        misses_k2 += _dot(missed, missed)
        residuals += [weight * miss for miss in missed]
        residuals += held
    return _Trial(residuals, _dot(residuals, residuals), misses_k2)


class _Shapes:
    """What the three unknowns of a night do to its air; the same for all nights of a length."""

    def __init__(self, shapes: tuple[Vector, Vector, Vector]) -> None:
        self._shapes = shapes
        held = (NOISE_K / SKY_VARIES_K) ** 2
        self._matrix = [[_dot(one, other) for other in shapes] for one in shapes]
        for index, more in enumerate((1e-6, held, held)):
            self._matrix[index][index] += more

    def missed(self, night: Night, played_c: Vector, sky_k: float) -> tuple[Vector, Vector]:
        """What is left of a night with its best unknowns in K, and how unusual its sky is."""
        warm, cold, colder = self._shapes
        rest = [
            bench_c - air_c - sky_k * by_sky
            for bench_c, air_c, by_sky in zip(night.bench_c, played_c, cold, strict=True)
        ]
        first, second, third = solve(self._matrix, [_dot(shape, rest) for shape in self._shapes])
        missed = [
            value - first * a - second * b - third * c
            for value, a, b, c in zip(rest, warm, cold, colder, strict=True)
        ]
        return missed, [second / SKY_VARIES_K, third / SKY_VARIES_K]


def _dot(one: Sequence[float], other: Sequence[float]) -> float:
    return sum(map(float.__mul__, one, other))
