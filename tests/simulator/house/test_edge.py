"""Heat round the edge of the house, bare and behind insulating boards, against steady references."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.sparse.linalg import spsolve

from controller.simulator.house import parameters, step
from controller.simulator.house.air import FLOOR_W_M2K
from controller.simulator.house.model import Model
from tests.simulator.garden import settings, weather
from tests.simulator.house.floor_slab import brute_force_w_m2k, standard_w_m2k
from tests.simulator.house.network import conductance_matrix

FILMS_M2K_W = (1.0 / FLOOR_W_M2K, parameters.OUTSIDE_FILM_M2K_W)


def garden_with(**values: Any) -> Model:
    """The garden with other values in [house]."""
    base = settings()
    return Model(
        base.model_copy(update={"house": base.house.model_copy(update=values)}), weather(), start_s=0.0
    )


def floor_loss_w_m2k(model: Model) -> float:
    """Steady heat from house to ground per m² of floor and per kelvin over all the undisturbed ground."""
    ground = model.ground
    matrix, places = conductance_matrix(ground)
    for (row, column), place in places.items():
        matrix[place, place] -= ground.edge[0, row, column]
    right = np.zeros(len(places))
    floor_w_m2k = step.floor_w_m2k(float(ground.surface_w_k[0]))
    for column in range(1, ground.across.shape[2] - 1):
        matrix[places[1, column], places[1, column]] -= floor_w_m2k * ground.width[0, column]
        right[places[1, column]] -= floor_w_m2k * ground.width[0, column]
    faces = [
        (places[int(r), int(c)], g)
        for r, c, g in zip(ground.faces.row, ground.faces.column, ground.faces.conductance[0], strict=True)
    ]
    for place, conductance in faces:
        matrix[place, place] -= conductance
        for other, share in faces:
            matrix[place, other] += conductance * share / ground.faces.total[0]
    temp = spsolve(matrix.tocsr(), right)
    top = np.array([temp[places[1, column]] for column in range(1, ground.across.shape[2] - 1)])
    return float(np.sum(floor_w_m2k * ground.width[0, 1:-1] * (1.0 - top)) / ground.half_spacing_m[0])


@pytest.mark.parametrize("breadth_m", [3.0, 5.3, 10.0])
@pytest.mark.parametrize("conductivity_w_mk", [0.8, 2.0])
def test_the_standard_and_brute_force_agree(breadth_m: float, conductivity_w_mk: float) -> None:
    """EN ISO 13370's floor, and what boards of 0.6 m save, against finite differences: within 6 %."""
    boards = (0.6, 1.5)
    films = sum(FILMS_M2K_W)
    bare = standard_w_m2k(breadth_m, conductivity_w_mk, films)
    exact = brute_force_w_m2k(breadth_m, conductivity_w_mk, *FILMS_M2K_W)
    assert bare == pytest.approx(exact, rel=0.06)
    saved = bare - standard_w_m2k(breadth_m, conductivity_w_mk, films, *boards)
    exactly_saved = exact - brute_force_w_m2k(breadth_m, conductivity_w_mk, *FILMS_M2K_W, *boards)
    assert saved == pytest.approx(exactly_saved, rel=0.06)


@pytest.mark.parametrize(("length_m", "width_m"), [(18.0, 7.5), (24.0, 6.0)])
@pytest.mark.parametrize("soil", ["silty clay", "sandy loam"])
def test_the_floor_loses_what_two_dimensions_say(length_m: float, width_m: float, soil: str) -> None:
    """Steady loss of floor and edge within 10 %, what boards save within 15 % of the finite differences."""
    size: dict[str, Any] = {"length_m": length_m, "width_m": width_m, "soil": soil}
    bare = garden_with(**size)
    conductivity = bare.subsoil.conductivity_w_mk
    breadth_m = length_m * width_m / (length_m + width_m)
    ours = floor_loss_w_m2k(bare)
    exact = brute_force_w_m2k(breadth_m, conductivity, *FILMS_M2K_W)
    assert ours == pytest.approx(exact, rel=0.10)
    for depth_m, thickness_m in ((0.6, 0.05), (1.0, 0.1)):
        boarded = garden_with(
            edge_insulation_depth_m=depth_m, edge_insulation_thickness_m=thickness_m, **size
        )
        resistance = thickness_m / parameters.BOARD_W_MK
        exactly_saved = exact - brute_force_w_m2k(breadth_m, conductivity, *FILMS_M2K_W, depth_m, resistance)
        assert ours - floor_loss_w_m2k(boarded) == pytest.approx(exactly_saved, rel=0.15)


def test_boards_of_no_depth_change_nothing() -> None:
    """The default, 0 m, is a house without boards, whatever their thickness."""
    thick = garden_with(edge_insulation_thickness_m=0.3)
    assert np.array_equal(thick.ground.edge, garden_with().ground.edge)
