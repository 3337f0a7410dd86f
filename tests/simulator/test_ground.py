"""The ground's grid, and its steady state against textbook shape factors."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.sparse.linalg import spsolve

from controller.simulator.ground import (
    SQUARE_RADIUS,
    Grid,
    ModelError,
    Soil,
    build,
    growing,
    make_cut,
)
from tests.simulator.network import conductance_matrix

ONE = Soil(0.0, 1.0, 2e6)


def steady_shape_factor(depth_m: float, diameter_m: float, spacing_m: float, below_m: float = 4.5) -> float:
    """Heat per metre between wall and surface, per kelvin and conductivity, from the model's own arrays."""
    grid = Grid.fitting([(depth_m, diameter_m, spacing_m)], below_m)
    cut = make_cut(depth_m, diameter_m, spacing_m, grid, below_m)
    ground = build([cut], [ONE], [0.0])
    matrix, places = conductance_matrix(ground, insulated_below=True)
    right = np.zeros(len(places))
    for face, (row, column) in enumerate(zip(ground.face_row, ground.face_column, strict=True)):
        place = places[row, column]
        matrix[place, place] -= ground.face[0, face]
        right[place] -= ground.face[0, face]
    for column in range(1, ground.across.shape[2] - 1):
        place = places[1, column]
        matrix[place, place] -= ground.surface_w_k[0] * ground.width[0, column]
    temp = spsolve(matrix.tocsr(), right)
    cells = np.array([temp[places[r, c]] for r, c in zip(ground.face_row, ground.face_column, strict=True)])
    return float(2.0 * np.sum(ground.face[0] * (1.0 - cells)))


@pytest.mark.parametrize(
    ("depth_m", "diameter_m", "spacing_m"),
    [(0.8, 0.08, 0.208), (0.6, 0.10, 0.4), (0.6, 0.10, 2.0), (0.8, 0.16, 1.5)],
)
def test_a_row_of_tubes_has_its_textbook_shape_factor(
    depth_m: float, diameter_m: float, spacing_m: float
) -> None:
    """Per tube: 2 pi / ln(2 s / (pi D) sinh(2 pi z / s)), an isothermal row at even depth, within 2 %.

    Source: VDI Heat Atlas, shape coefficients; Incropera & DeWitt table 4.1, case of equally spaced
        cylinders.
    """
    exact = (
        2.0
        * math.pi
        / math.log(2.0 * spacing_m / (math.pi * diameter_m) * math.sinh(2.0 * math.pi * depth_m / spacing_m))
    )
    assert steady_shape_factor(depth_m, diameter_m, spacing_m) == pytest.approx(exact, rel=0.02)


def test_a_lonely_tube_has_its_textbook_shape_factor() -> None:
    """2 pi / arcosh(2 z / D) for one cylinder under a plane, within 3 % on the grid of a year."""
    exact = 2.0 * math.pi / math.acosh(2.0 * 0.6 / 0.1)
    assert steady_shape_factor(0.6, 0.1, 12.0, below_m=12.0) == pytest.approx(exact, rel=0.03)


def test_the_square_stands_for_the_round_tube() -> None:
    """The square's conformal radius is Gamma(1/4)² / (4 pi^(3/2))."""
    assert pytest.approx(math.gamma(0.25) ** 2 / (4.0 * math.pi**1.5), abs=1e-6) == SQUARE_RADIUS


def test_cells_fill_the_cut_and_grow_gently() -> None:
    """Sizes add up to the length, begin as asked, and no cell is more than about 1.5 times its neighbour."""
    cut = make_cut(0.8, 0.08, 0.6, Grid.fitting([(0.8, 0.08, 0.6)]))
    assert cut.width_m.sum() == pytest.approx(0.3)
    assert cut.height_m.sum() == pytest.approx(0.8 + 4.5)
    for sizes in (cut.width_m, cut.height_m):
        ratio = sizes[1:] / sizes[:-1]
        assert np.all((ratio > 0.64) & (ratio < 1.56))
    assert growing(1.0, 0.02, 9, 0.05).sum() == pytest.approx(1.0)


def test_the_soil_keeps_its_volume_apart_from_the_tube() -> None:
    """Heat capacity of all cells is that of the rectangle less the square."""
    cut = make_cut(0.8, 0.08, 0.6, Grid.fitting([(0.8, 0.08, 0.6)]))
    ground = build([cut], [ONE], [0.0])
    side_m = 0.04 / SQUARE_RADIUS
    assert ground.joule_per_k.sum() == pytest.approx(2e6 * (0.3 * 5.3 - 0.5 * side_m**2))


def test_layers_lie_at_their_depths() -> None:
    """The second layer's properties begin at its top."""
    cut = make_cut(0.8, 0.08, 0.6, Grid.fitting([(0.8, 0.08, 0.6)]))
    ground = build([cut], [ONE, Soil(0.3, 2.0, 3e6)], [0.0])
    capacity = ground.joule_per_k[0, 1:-1, -2] / (cut.height_m * cut.width_m[-1])
    assert np.all(capacity[cut.row_m < 0.3] == pytest.approx(2e6))
    assert np.all(capacity[cut.row_m > 0.3] == pytest.approx(3e6))


def test_tubes_that_cannot_lie_there_are_refused() -> None:
    """Touching tubes, or one that sticks out of the bed, are an error in words."""
    with pytest.raises(ModelError, match="do not fit side by side 100 mm apart"):
        make_cut(0.8, 0.16, 0.1, Grid())
    with pytest.raises(ModelError, match=r"does not fit 0\.1 m under"):
        make_cut(0.1, 0.3, 2.0, Grid())
