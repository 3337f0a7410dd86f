"""What thermometers show of the true temperatures: lag, offset, noise, and steps of 1/16 K.

Plain Python; the probes run the compiled twin.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Places = NDArray[np.int64]

STEP_PER_K = 16.0  # DS18B20 data sheet: 12-bit readings in sixteenths of a kelvin

# Where a thermometer hangs, one row of ``places`` each: in what, and where in it.
IN, WHICH, ROW = 0, 1, 2
IN_AIR, IN_OUTLET, IN_SOIL = 0, 1, 2
PLACE = 3

# What is known of a thermometer, one row of ``probes`` each.
SHARE, LAG_S, OFFSET_K, FELT_C, SHOWN_C, STEPPED_C = 0, 1, 2, 3, 4, 5
PROBE = 6


def true_c(place: Places, share: float, air_c: Floats, outlets_c: Floats, soil_c: Floats) -> float:
    """The true temperature at a place; in soil between two rows, ``share`` of the way to the lower one.

    Args:
        place: a row of ``places``.
        share: 0 to 1.
        air_c: the state of the house, by index.
        outlets_c: by loop.
        soil_c: by loop and row.
    """
    which = place[WHICH]
    if place[IN] == IN_AIR:
        return float(air_c[which])
    if place[IN] == IN_OUTLET:
        return float(outlets_c[which])
    row = place[ROW]
    above_c = soil_c[which, row]
    return float(above_c + share * (soil_c[which, row + 1] - above_c))


def stepped_c(shown_c: float) -> float:
    """The nearest temperature that a thermometer can give."""
    return math.floor(shown_c * STEP_PER_K + 0.5) / STEP_PER_K


def read_all(
    passed_s: float,
    places: Places,
    probes: Floats,
    noise_k: Floats,
    turn: int,
    air_c: Floats,
    outlets_c: Floats,
    soil_c: Floats,
) -> int:
    """Read every thermometer; what it feels and shows is put into ``probes``.

    Args:
        passed_s: time since they were last read.
        places: where they hang.
        probes: what is known of them.
        noise_k: noise of single readings, used one after the other and over again.
        turn: the one used last.
        air_c: the state of the house, by index.
        outlets_c: by loop.
        soil_c: by loop and row.

    Returns:
        The noise used last.
    """
    for index in range(probes.shape[0]):
        probe = probes[index]
        now_c = true_c(places[index], probe[SHARE], air_c, outlets_c, soil_c)
        if probe[LAG_S] > 0.0:
            probe[FELT_C] += (now_c - probe[FELT_C]) * -math.expm1(-passed_s / probe[LAG_S])
        else:
            probe[FELT_C] = now_c
        turn = (turn + 1) % noise_k.size
        probe[SHOWN_C] = probe[FELT_C] + probe[OFFSET_K] + noise_k[turn]
        probe[STEPPED_C] = stepped_c(probe[SHOWN_C])
    return turn
