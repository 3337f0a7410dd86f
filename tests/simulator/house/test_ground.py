"""The ground's grid, and its steady state against textbook shape factors."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.sparse.linalg import spsolve

from controller.simulator.house.grid import Grid, ModelError, growing, make_cut
from controller.simulator.house.ground import Edge, Soil, build
from tests.simulator.house.buried_row import shape_factor, thin_shape_factor
from tests.simulator.house.network import conductance_matrix

ONE = Soil(0.0, 1.0, 2e6)
NO_EDGE = Edge(0.0)


def steady_shape_factor(depth_m: float, diameter_m: float, spacing_m: float, below_m: float = 4.5) -> float:
    """Heat per metre between wall and surface, per kelvin and conductivity, from the model's own arrays."""
    grid = Grid.fitting([(depth_m, diameter_m, spacing_m)], below_m)
    cut = make_cut(depth_m, diameter_m, spacing_m, grid, below_m)
    ground = build([cut], [[ONE]], NO_EDGE)
    matrix, places = conductance_matrix(ground, insulated_below=True)
    right = np.zeros(len(places))
    for face, (row, column) in enumerate(zip(ground.faces.row, ground.faces.column, strict=True)):
        place = places[row, column]
        matrix[place, place] -= ground.faces.conductance[0, face]
        right[place] -= ground.faces.conductance[0, face]
    for column in range(1, ground.across.shape[2] - 1):
        place = places[1, column]
        matrix[place, place] -= ground.surface_w_k[0] * ground.width[0, column]
    temp = spsolve(matrix.tocsr(), right)
    cells = np.array([temp[places[r, c]] for r, c in zip(ground.faces.row, ground.faces.column, strict=True)])
    return float(2.0 * np.sum(ground.faces.conductance[0] * (1.0 - cells)))


@pytest.mark.parametrize(
    ("depth_m", "diameter_m", "spacing_m"),
    [(0.8, 0.08, 0.208), (0.6, 0.10, 0.16), (0.6, 0.10, 0.4), (0.6, 0.10, 2.0), (0.8, 0.16, 0.33),
     (0.8, 0.16, 1.5), (1.2, 0.3, 0.8), (0.5, 0.3, 0.6), (0.4, 0.10, 1.0)],
)  # fmt: skip
def test_a_row_of_tubes_has_its_exact_shape_factor(
    depth_m: float, diameter_m: float, spacing_m: float
) -> None:
    """On the grid that rehearsals run on, within 1 % of the exact field of round tubes (multipoles)."""
    exact = shape_factor(depth_m, diameter_m, spacing_m)
    assert steady_shape_factor(depth_m, diameter_m, spacing_m) == pytest.approx(exact, rel=0.01)


@pytest.mark.parametrize(("depth_m", "diameter_m"), [(0.6, 0.1), (0.8, 0.16), (1.2, 0.1), (2.0, 0.3)])
def test_a_lonely_tube_has_its_textbook_shape_factor(depth_m: float, diameter_m: float) -> None:
    """2 pi / arcosh(2 z / D) for one cylinder under a plane (Incropera & DeWitt table 4.1), within 1 %."""
    exact = 2.0 * math.pi / math.acosh(2.0 * depth_m / diameter_m)
    spacing_m = 24.0
    assert steady_shape_factor(depth_m, diameter_m, spacing_m, below_m=24.0) == pytest.approx(exact, rel=0.01)


def test_the_exact_row_is_the_textbook_s_where_tubes_are_thin() -> None:
    """The reference agrees with 2 pi / ln(2 s / (pi D) sinh(2 pi z / s)) within 0.1 % for thin tubes only.

    Between close tubes that formula is up to 3 % low, because round walls bend the heat around them.
    """
    assert shape_factor(0.6, 0.1, 4.0) == pytest.approx(thin_shape_factor(0.6, 0.1, 4.0), rel=1e-3)
    assert thin_shape_factor(0.6, 0.1, 0.2) == pytest.approx(0.97 * shape_factor(0.6, 0.1, 0.2), rel=2e-3)


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
    """Heat capacity of all cells is that of the rectangle less the round tube."""
    cut = make_cut(0.8, 0.08, 0.6, Grid.fitting([(0.8, 0.08, 0.6)]))
    ground = build([cut], [[ONE]], NO_EDGE)
    half_tube_m2 = 0.125 * math.pi * 0.08**2
    assert ground.joule_per_k.sum() == pytest.approx(2e6 * (0.3 * 5.3 - half_tube_m2))


def test_layers_lie_at_their_depths() -> None:
    """The second layer's properties begin at its top; the row across the border has its share of both."""
    cut = make_cut(0.8, 0.08, 0.6, Grid.fitting([(0.8, 0.08, 0.6)]))
    ground = build([cut], [[ONE, Soil(0.3, 2.0, 3e6)]], NO_EDGE)
    capacity = ground.joule_per_k[0, 1:-1, -2] / (cut.height_m * cut.width_m[-1])
    above, below = cut.top_m + cut.height_m <= 0.3, cut.top_m >= 0.3
    assert np.all(capacity[above] == pytest.approx(2e6))
    assert np.all(capacity[below] == pytest.approx(3e6))
    assert np.sum(~above & ~below) == 1
    assert np.sum(capacity * cut.height_m) == pytest.approx(0.3 * 2e6 + (5.3 - 0.3) * 3e6)


def test_heat_goes_up_through_layers_in_series() -> None:
    """One kelvin across 5.3 m drives what the layers' resistances in series let pass, far from the tube."""
    cut = make_cut(0.8, 0.03, 6.0, Grid.fitting([(0.8, 0.03, 6.0)]))
    ground = build([cut], [[ONE, Soil(0.55, 2.5, 3e6), Soil(1.05, 0.5, 2e6)]], NO_EDGE)
    up_w_mk = ground.down[0, 2:-1, -2] / cut.width_m[-1]
    resistance = np.sum(1.0 / up_w_mk) + 1.0 / ground.surface_w_k[0] + 0.5 * cut.height_m[-1] / 0.5
    assert resistance == pytest.approx(0.55 / 1.0 + 0.5 / 2.5 + (5.3 - 1.05) / 0.5, rel=0.01)


def test_tubes_that_cannot_lie_there_are_refused() -> None:
    """Touching tubes, or one that sticks out of the bed, are an error in words."""
    with pytest.raises(ModelError, match="do not fit side by side 100 mm apart"):
        make_cut(0.8, 0.16, 0.1, Grid())
    with pytest.raises(ModelError, match=r"does not fit 0\.1 m under"):
        make_cut(0.1, 0.3, 2.0, Grid())
