"""Linear regression that learns from one example after the other and forgets old ones.

Kept are the sums of the normal equations, faded by a constant factor at every example. They are solved when
somebody asks, with a prior added: ridge regression towards known weights (Hoerl & Kennard 1970,
"Ridge regression", Technometrics 12:55; recursive least squares with forgetting, Ljung 1999, "System
Identification", ch. 11) [memory]. Sums can neither drift nor lose their positive sign by rounding, so nothing
blows up in years.
"""

from __future__ import annotations

import math
from array import array
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence


class Sums(NamedTuple):
    """Faded sums over examples of ``size`` features; the arrays are never changed once made.

    Attributes:
        products: of the features with each other, the lower triangle row by row.
        targets: for each target, of the features with it.
    """

    products: array[float]
    targets: tuple[array[float], ...]


class Prior(NamedTuple):
    """What is taken to be true before anything was learned.

    Attributes:
        weights: for each target, one for each feature.
        precision: how many examples each weight is worth, by the feature's own size.
    """

    weights: tuple[Sequence[float], ...]
    precision: Sequence[float]


def no_sums(size: int, targets: int) -> Sums:
    """Nothing learned yet."""
    zeros = array("d", bytes(8 * size))
    return Sums(array("d", bytes(4 * size * (size + 1))), (zeros,) * targets)


def taught(sums: Sums, features: Sequence[float], targets: Sequence[float], keeps: float) -> Sums:
    """The sums with one more example.

    Args:
        sums: before.
        features: of the example, all finite.
        targets: of the example, all finite.
        keeps: share of the old sums that is kept.
    """
    pairs = (one * other for row, one in enumerate(features) for other in features[: row + 1])
    return Sums(
        array("d", [keeps * old + new for old, new in zip(sums.products, pairs, strict=True)]),
        tuple(
            array("d", [keeps * old + one * target for old, one in zip(kept, features, strict=True)])
            for kept, target in zip(sums.targets, targets, strict=True)
        ),
    )


def weights(sums: Sums, prior: Prior) -> tuple[list[float], ...]:
    """The weights for each target; the prior's where the sums cannot be solved."""
    size = len(prior.precision)
    factor = _cholesky(sums.products, prior.precision, size)
    if factor is None:
        return tuple(list(known) for known in prior.weights)
    return tuple(
        _solved(factor, [b + p * w for b, p, w in zip(kept, prior.precision, known, strict=True)])
        for kept, known in zip(sums.targets, prior.weights, strict=True)
    )


def _cholesky(products: array[float], precision: Sequence[float], size: int) -> list[list[float]] | None:
    """The lower factor of the sums with the prior on their diagonal; None if they are no such sums."""
    factor: list[list[float]] = []
    at = 0
    for row in range(size):
        line: list[float] = []
        for column in range(row + 1):
            value = products[at]
            at += 1
            if column == row:
                value += precision[row]
                value -= sum(known * known for known in line)
                if not 0.0 < value < math.inf:
                    return None
                line.append(math.sqrt(value))
            else:
                other = factor[column]
                value -= sum(one * two for one, two in zip(line, other, strict=False))
                line.append(value / other[column])
        factor.append(line)
    return factor


def _solved(factor: list[list[float]], right: list[float]) -> list[float]:
    """The solution of the factored equations: forwards, then backwards."""
    size = len(right)
    middle: list[float] = []
    for row in range(size):
        line = factor[row]
        middle.append((right[row] - sum(a * b for a, b in zip(line, middle, strict=False))) / line[row])
    solution = [0.0] * size
    for row in reversed(range(size)):
        rest = sum(factor[below][row] * solution[below] for below in range(row + 1, size))
        solution[row] = (middle[row] - rest) / factor[row][row]
    return solution
