"""What the evening shows of the night: one row of numbers for the regression.

All temperatures are taken against the air outdoors now, so that what was learned in one cold holds in
another.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from controller.physics.daylight import year_angle

NAN = math.nan
HOURS_KEPT = 25


class Hour(NamedTuple):
    """What one full hour has shown; not a number where nothing was read.

    Attributes:
        outdoor_c: air outdoors.
        air_c: the colder of roof and bench.
        ceiling_c: air under the roof.
    """

    outdoor_c: float
    air_c: float
    ceiling_c: float


UNSEEN = Hour(NAN, NAN, NAN)


class View(NamedTuple):
    """What is known at one moment.

    Attributes:
        outdoor_c: air outdoors.
        air_c: the colder of roof and bench.
        ceiling_c: air under the roof.
        soil_c: mean of the soils at the tubes.
        low_c: coldest of the house since sunset, the air now before that; on the even scale.
        last_low_c: coldest of the house last night, on the even scale.
        last_outdoor_c: coldest outdoors last night.
        hours: the last full hours, newest last.
        utc_s: seconds since 1970, None while the clock is not set.
    """

    outdoor_c: float
    air_c: float
    ceiling_c: float
    soil_c: float
    low_c: float
    last_low_c: float
    last_outdoor_c: float
    hours: tuple[Hour, ...]
    utc_s: float | None


SIZE = 15


def features(view: View) -> list[float] | None:
    """The row, of ``SIZE`` numbers; None where what matters most cannot be read."""
    out = view.outdoor_c
    needed = (out, view.air_c, view.soil_c, view.low_c, view.last_low_c, view.last_outdoor_c)
    if not all(map(math.isfinite, needed)):
        return None
    hours = view.hours
    sine = cosine = 0.0
    if view.utc_s is not None:
        angle = year_angle(view.utc_s)
        sine, cosine = math.sin(angle), math.cos(angle)
    ceiling_c = view.ceiling_c if math.isfinite(view.ceiling_c) else view.air_c
    day = [hour.outdoor_c for hour in hours[-12:] if math.isfinite(hour.outdoor_c)]
    gains = [
        max(hour.ceiling_c - hour.outdoor_c, 0.0)
        for hour in hours
        if math.isfinite(hour.ceiling_c - hour.outdoor_c)
    ]
    return [
        1.0,
        out,
        view.soil_c - out,
        view.air_c - out,
        ceiling_c - view.air_c,
        view.low_c - out,
        view.last_low_c - out,
        view.last_outdoor_c - out,
        _since(out, hours, 3, "outdoor_c"),
        _since(view.air_c, hours, 2, "air_c"),
        _since(out, hours, 24, "outdoor_c"),
        max(day, default=out) - out,
        sum(gains) / len(gains) if gains else 0.0,
        sine,
        cosine,
    ]


def _since(now: float, hours: tuple[Hour, ...], ago: int, what: str) -> float:
    """How much more it is now than hours ago, 0 where that was not seen."""
    if len(hours) < ago:
        return 0.0
    change = now - float(getattr(hours[-ago], what))
    return change if math.isfinite(change) else 0.0
