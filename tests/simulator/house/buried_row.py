"""Steady heat from a row of round tubes under a plane, solved exactly, for comparison with the grid."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Complexes = NDArray[Any]
    Floats = NDArray[Any]

POINTS = 128
POLES = 8
IMAGES = 300  # of a tube on either side, where a series is summed
NO_POLE, FIRST, SECOND = range(3)


def shape_factor(depth_m: float, diameter_m: float, spacing_m: float) -> float:
    """Heat of one tube per metre, over conductivity and difference between wall and surface.

    The walls have one temperature, the surface has another, deep below no heat flows. The field is a sum of
    line sources and multipoles in every tube and its mirror image (method of multipoles: Claesson & Hellstrom
    2011, HVAC&R Research 17:895), fitted to one temperature all round the wall.
    """
    around = 0.5 * diameter_m * np.exp(2j * np.pi * np.arange(POINTS) / POINTS)
    mirrored = np.conj(around - 2j * depth_m)
    columns = [_field(NO_POLE, around, spacing_m) - _field(NO_POLE, mirrored, spacing_m)]
    for order in range(1, POLES + 1):
        strength = (0.5j * diameter_m) ** order  # the phase that is even about the vertical
        columns.append(
            np.real(strength * _field(order, around, spacing_m))
            - np.real(strength * _field(order, mirrored, spacing_m))
        )
    matrix = np.array(columns).T
    parts = np.linalg.lstsq(matrix, np.ones(POINTS), rcond=None)[0]
    assert np.abs(matrix @ parts - 1.0).max() < 1e-4, "the wall must come out at one temperature"
    return float(-2.0 * math.pi * parts[0])


def thin_shape_factor(depth_m: float, diameter_m: float, spacing_m: float) -> float:
    """The textbook's formula for thin tubes (VDI Heat Atlas, shape coefficients; Incropera & DeWitt)."""
    inside = 2.0 * spacing_m / (math.pi * diameter_m) * math.sinh(2.0 * math.pi * depth_m / spacing_m)
    return 2.0 * math.pi / math.log(inside)


def _field(order: int, place: Complexes, spacing_m: float) -> Any:
    """A source or a pole of some order in each tube of an endless row."""
    angle = np.pi * place / spacing_m
    if order == NO_POLE:
        return np.log(np.abs(np.sin(angle)))
    if order == FIRST:
        return np.pi / spacing_m / np.tan(angle)
    if order == SECOND:
        return (np.pi / spacing_m / np.sin(angle)) ** 2
    row = np.arange(-IMAGES, IMAGES + 1) * spacing_m
    return np.sum((place[:, None] - row) ** -float(order), axis=1)
