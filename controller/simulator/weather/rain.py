"""Rain by the hour: as the file has it, or made up where it has none."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

KNOWN_SHARE = 0.95  # of the hours must have known rain for it to be used
LONGEST_SUM_H = 24  # hours; one report may be the sum of as many, and of more it is a mistake or a code
MOST_IN_AN_HOUR_MM = (
    150.0  # beyond this, depths are tenths (the world's record hour is about 300 mm) [memory]
)
DEFAULT_YEAR_MM = 900.0  # a wet temperate year [practice]
MADE_UP_HOUR_MM = 1.4  # mean of a wet hour [practice]
DAMP = 0.88  # relative humidity from which it may rain
OVERCAST = 0.8  # cloud cover from which it may rain
KEEPS_RAINING = 0.7  # chance that a wet hour is followed by another, where both may be wet [practice]


class YearlySum(NamedTuple):
    """Rain of a year in mm: what a person asks for, and what the place is known to have; None if unknown."""

    stated_mm: float | None = None
    usual_mm: float | None = None


def rain_mm(
    columns: dict[str, Floats], relative_humidity: Floats, seed: int, year: YearlySum, notes: list[str]
) -> Floats:
    """Rain of every hour in mm; what was done about it is added to ``notes``."""
    depth = columns.get("rain_mm", np.full(relative_humidity.size, np.nan))
    depth = by_the_hour(depth, columns.get("rain_hours", np.full(depth.size, np.nan)))
    known = ~np.isnan(depth)
    total_mm = float(np.nansum(depth))
    if known.mean() >= KNOWN_SHARE and total_mm > 0.0:
        depth = np.where(known, depth, 0.0)
        if depth.max() > MOST_IN_AN_HOUR_MM:
            notes.append("rain depths taken as tenths of a millimetre: as millimetres no sky could give them")
            depth, total_mm = depth / 10.0, total_mm / 10.0
        if year.stated_mm is None:
            return depth
        notes.append(f"rain scaled from the file's {total_mm:.0f} mm a year to {year.stated_mm:.0f} mm")
        return depth * (year.stated_mm / total_mm)
    year_mm, origin = _wanted(year)
    has = f"it for {100 * known.mean():.0f} % of the year only" if total_mm > 0.0 else "none"
    notes.append(
        f"rain is made up (seed {seed}), because the file has {has}: {year_mm:.0f} mm fall in damp, overcast "
        f"hours, {origin}"
    )
    return made_up_rain_mm(relative_humidity, columns["cloud"], seed, year_mm)


def _wanted(year: YearlySum) -> tuple[float, str]:
    """How much to make up, and where the figure comes from."""
    if year.stated_mm is not None:
        return year.stated_mm, "as asked for"
    if year.usual_mm is not None:
        return year.usual_mm, "this place's usual year"
    return (
        DEFAULT_YEAR_MM,
        "which is a guess: put the yearly sum of your place behind the weather, as in NAME:750mm",
    )


def by_the_hour(depth: Floats, hours: Floats) -> Floats:
    """Depth of every hour, NaN where unknown, from reports on one hour or on several that end there.

    What a longer sum holds beyond the reports within it is spread evenly over the rest of its hours.

    Args:
        depth: what was reported, mm; NaN where nothing was.
        hours: how many hours each report is for; 0 or NaN is taken for one.
    """
    hours = np.where(np.isnan(hours) | (hours < 1.0), 1.0, hours)
    known = ~np.isnan(depth)
    single = known & (hours == 1.0)
    result: Floats = np.where(single, depth, np.nan)
    several = np.flatnonzero(known & (hours > 1.0) & (hours <= LONGEST_SUM_H))
    for at in several[np.argsort(hours[several], kind="stable")]:
        window = np.arange(at - int(hours[at]) + 1, at + 1) % depth.size
        gaps = window[np.isnan(result[window])]
        if gaps.size:
            result[gaps] = max(depth[at] - np.nansum(result[window]), 0.0) / gaps.size
    return result


def made_up_rain_mm(relative_humidity: Floats, cloud: Floats, seed: int, year_mm: float) -> Floats:
    """A plausible year of rain that falls when the file's air is damp and its sky overcast or unknown.

    Spells: a wet hour is followed by another with a fixed chance; depths are exponential; the year's sum is
        set.
    """
    random = np.random.default_rng(seed)
    may = (np.isnan(cloud) | (cloud >= OVERCAST)) & (relative_humidity >= DAMP)
    if not may.any():
        may = relative_humidity >= np.quantile(relative_humidity, 0.9)
    wanted = min(year_mm / MADE_UP_HOUR_MM / may.sum(), 0.9)
    begins = wanted * (1.0 - KEEPS_RAINING) / max(1.0 - wanted, 0.1)
    draws = random.random(may.size)
    wet = np.zeros(may.size, dtype=bool)
    for hour in range(may.size):
        wet[hour] = may[hour] and draws[hour] < (KEEPS_RAINING if wet[hour - 1] else begins)
    depth: Floats = wet * random.exponential(MADE_UP_HOUR_MM, may.size)
    return depth * (year_mm / depth.sum()) if depth.sum() > 0.0 else depth
