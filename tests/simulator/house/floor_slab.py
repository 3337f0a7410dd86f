"""Steady heat from a floor through the ground, by other people's formula and by brute force."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

FAR_M = 30.0
FINEST_M = 0.01
GROWTH = 1.12
BOARD_ROW_M = 0.02


def standard_w_m2k(
    breadth_m: float,
    conductivity_w_mk: float,
    films_m2k_w: float,
    boards_m: float = 0.0,
    boards_m2k_w: float = 0.0,
) -> float:
    """EN ISO 13370, slab on ground with vertical edge insulation [memory]; no wall, thin boards.

    ``breadth_m`` is the standard's characteristic dimension, floor over half the edge.
    """
    thickness_m = conductivity_w_mk * films_m2k_w
    bare = (
        2.0 * conductivity_w_mk / (math.pi * breadth_m + thickness_m)
        * math.log(math.pi * breadth_m / thickness_m + 1.0)
    )  # fmt: skip
    behind_m = thickness_m + conductivity_w_mk * boards_m2k_w
    saved_w_mk = (
        conductivity_w_mk / math.pi
        * (math.log(2.0 * boards_m / thickness_m + 1.0) - math.log(2.0 * boards_m / behind_m + 1.0))
    )  # fmt: skip
    return bare - 2.0 * saved_w_mk / breadth_m


def brute_force_w_m2k(
    breadth_m: float,
    conductivity_w_mk: float,
    inside_m2k_w: float,
    outside_m2k_w: float,
    boards_m: float = 0.0,
    boards_m2k_w: float = 0.0,
) -> float:
    """The same for an endless strip on a half-space, by finite differences on half of it."""
    inside = _growing(0.5 * breadth_m)[::-1]
    width = np.concatenate((inside, _growing(FAR_M)))
    boarded = round(boards_m / BOARD_ROW_M)
    height = np.concatenate((np.full(max(boarded, 1), BOARD_ROW_M), _growing(FAR_M)))
    rows, columns = height.size, width.size
    place = np.arange(rows * columns).reshape(rows, columns)
    sideways_m2k_w = np.tile(0.5 * (width[1:] + width[:-1]) / conductivity_w_mk, (rows, 1))
    sideways_m2k_w[:boarded, inside.size - 1] += boards_m2k_w
    across = height[:, None] / sideways_m2k_w
    down = width / (0.5 * (height[1:] + height[:-1]) / conductivity_w_mk)[:, None]
    film = np.where(np.arange(columns) < inside.size, inside_m2k_w, outside_m2k_w)
    top = width / (film + 0.5 * height[0] / conductivity_w_mk)
    one = np.concatenate((place[:, :-1].ravel(), place[:-1].ravel()))
    other = np.concatenate((place[:, 1:].ravel(), place[1:].ravel()))
    between = np.concatenate((across.ravel(), down.ravel()))
    diagonal: Any = np.bincount(one, between, place.size) + np.bincount(other, between, place.size)
    diagonal[:columns] += top
    matrix = coo_matrix(
        (
            np.concatenate((diagonal, -between, -between)),
            (np.concatenate((place.ravel(), one, other)), np.concatenate((place.ravel(), other, one))),
        )
    )
    source = np.zeros(place.size)
    source[: inside.size] = top[: inside.size]
    temp = spsolve(matrix.tocsc(), source)
    return float(np.sum(top[: inside.size] * (1.0 - temp[: inside.size])) / (0.5 * breadth_m))


def _growing(length_m: float) -> Any:
    """Cells from the finest on that fill a length."""
    count = math.ceil(math.log(1.0 + length_m / FINEST_M * (GROWTH - 1.0)) / math.log(GROWTH))
    sizes = FINEST_M * GROWTH ** np.arange(count)
    return sizes * (length_m / sizes.sum())
