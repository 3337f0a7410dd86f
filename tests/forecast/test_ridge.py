"""The regression that learns the nights, against numpy's."""

from __future__ import annotations

import math
from array import array

import numpy as np
import pytest

from controller.forecast.ridge import Prior, Sums, no_sums, taught, weights


def test_the_weights_are_those_of_a_ridge_regression_with_forgetting() -> None:
    """Twenty examples, older ones fading, two targets, leaning towards the prior: as numpy solves it."""
    chance = np.random.default_rng(3)
    rows, targets = chance.normal(size=(20, 4)), chance.normal(size=(20, 2))
    known, precision = chance.normal(size=(2, 4)), np.array([1.0, 2.0, 0.5, 4.0])
    sums = no_sums(4, 2)
    for row, target in zip(rows, targets, strict=True):
        sums = taught(sums, list(row), list(target), 0.9)
    fading = 0.9 ** np.arange(19, -1, -1)
    normal = (rows * fading[:, None]).T @ rows + np.diag(precision)
    prior = Prior((list(known[0]), list(known[1])), list(precision))
    for number, found in enumerate(weights(sums, prior)):
        right = (rows * fading[:, None]).T @ targets[:, number] + precision * known[number]
        assert found == pytest.approx(np.linalg.solve(normal, right))


@pytest.mark.parametrize("damage", [math.nan, math.inf, -1e9])
def test_damaged_sums_leave_the_prior(damage: float) -> None:
    """A number that no sum of squares can be costs what was learned, and nothing else."""
    prior = Prior(([1.0, 2.0],), [1.0, 1.0])
    sums = Sums(array("d", [1.0, 0.0, damage]), (array("d", [1.0, 1.0]),))
    assert weights(sums, prior) == ([1.0, 2.0],)
