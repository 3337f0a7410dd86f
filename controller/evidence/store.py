"""Heat in the soil around the tubes above a reference temperature, day by day."""

from __future__ import annotations

import math
from collections import defaultdict
from typing import TYPE_CHECKING

from controller.evidence.accounting import PROBE_K, K
from controller.evidence.interval import around
from controller.evidence.series import day_of
from controller.physics import soil

if TYPE_CHECKING:
    from datetime import date

    from controller.evidence.interval import Interval
    from controller.evidence.series import LocalOffset, Series
    from controller.settings.schema import Settings

# Share of the pores that is full of water: at the wilting point, at field capacity, and under water; the
# middle of what soils hold from loam to clay. [practice]
WETNESS = {"dry": 0.45, "moist": 0.8, "saturated": 1.0}
CAPACITY_SHARE = 0.15  # of the heat capacity, for wetness and texture, standard uncertainty [practice]


def stored_heat(
    series: Series, settings: Settings, offset: LocalOffset, reference_c: float
) -> dict[date, Interval]:
    """Heat of the layer of soil that the tubes lie in, over a reference, mean of each local day, in J.

    The layer is as thick as the tubes are deep, half of it above them and half below; its temperature is that
    of the probes at the tubes. It is the middle of the store, not all that heat ever reaches. Intervals hold
    95 of 100.

    Args:
        series: the log.
        settings: soil, floor and loops.
        offset: of local time.
        reference_c: temperature from which heat counts, such as the lowest that the tubes can use.
    """
    house = settings.house
    depths_m = [loop.depth_m for loop in settings.loops.values()]
    volume_m3 = house.length_m * house.width_m * sum(depths_m) / len(depths_m)
    porosity, _ = soil.TEXTURES[house.soil]
    j_per_k = volume_m3 * soil.heat_capacity_j_m3k(porosity, WETNESS[house.soil_moisture])
    by_day: dict[date, list[float]] = defaultdict(list)
    soil_c = series.mean(settings.derived.groups.soils)
    for local_s, value_c in zip(series.local_s(offset), soil_c, strict=True):
        if value_c is not None:
            by_day[day_of(local_s)].append(value_c)
    probe_k = PROBE_K / math.sqrt(max(len(settings.derived.groups.soils), 1))
    found = {}
    for day, values_c in by_day.items():
        over_k = sum(values_c) / len(values_c) - reference_c
        found[day] = around(j_per_k * over_k, K * j_per_k * math.hypot(probe_k, CAPACITY_SHARE * over_k))
    return found
