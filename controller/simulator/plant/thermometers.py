"""What thermometers show of the true temperatures: lag, offset, noise, and steps of 1/16 K.

Plain Python; the probes run the compiled twin.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from controller.simulator.house.state import HouseState, Rows

    Floats = NDArray[np.float64]

STEP_PER_K = 16.0  # DS18B20 data sheet: 12-bit readings in sixteenths of a kelvin
BENCH, CEILING, OUTDOORS, OUTLET, SOIL = range(5)  # where a thermometer hangs


class Thermometer:
    """What is known of a thermometer.

    Attributes:
        place: where it hangs.
        loop: whose outlet or soil, if it hangs there.
        row: of the soil above it.
        share: how far it is on the way from that row to the next, 0 to 1.
        lag_s: how slowly it follows.
        offset_k: how much too warm it reads.
        felt_c: temperature of the sensor.
        shown_c: that with offset and noise.
        stepped_c: what it answers.
    """

    place: float
    loop: float
    row: float
    share: float
    lag_s: float
    offset_k: float
    felt_c: float
    shown_c: float
    stepped_c: float


def true_c(probe: Thermometer, house: HouseState, outlets_c: Floats, soil_c: Floats) -> float:
    """The true temperature where a thermometer hangs.

    Args:
        probe: the thermometer.
        house: the air.
        outlets_c: by loop.
        soil_c: by loop and row.
    """
    if probe.place == BENCH:
        return house.bench_c
    if probe.place == CEILING:
        return house.ceiling_c
    if probe.place == OUTDOORS:
        return house.out_c
    loop, row = int(probe.loop), int(probe.row)
    if probe.place == OUTLET:
        return float(outlets_c[loop])
    above_c = soil_c[loop, row]
    return float(above_c + probe.share * (soil_c[loop, row + 1] - above_c))


def stepped_c(shown_c: float) -> float:
    """The nearest temperature that a thermometer can give."""
    return math.floor(shown_c * STEP_PER_K + 0.5) / STEP_PER_K


def read_all(
    passed_s: float,
    probes: Rows[Thermometer],
    noise_k: Floats,
    turn: int,
    house: Rows[HouseState],
    outlets_c: Floats,
    soil_c: Floats,
) -> int:
    """Read every thermometer; what it feels and shows is put into ``probes``.

    Args:
        passed_s: time since they were last read.
        probes: what is known of them.
        noise_k: noise of single readings, used one after the other and over again.
        turn: the one used last.
        house: the air, a single row: compiled code takes an array in less time than a record.
        outlets_c: by loop.
        soil_c: by loop and row.

    Returns:
        The noise used last.
    """
    for index in range(probes.shape[0]):
        probe = probes[index]
        now_c = true_c(probe, house[0], outlets_c, soil_c)
        if probe.lag_s > 0.0:
            probe.felt_c += (now_c - probe.felt_c) * -math.expm1(-passed_s / probe.lag_s)
        else:
            probe.felt_c = now_c
        turn = (turn + 1) % noise_k.size
        probe.shown_c = probe.felt_c + probe.offset_k + noise_k[turn]
        probe.stepped_c = stepped_c(probe.shown_c)
    return turn
