"""Rain by the hour: as the file has it, or made up where it has none."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

KNOWN_SHARE = 0.95  # of the hours must have hourly rain for it to be used
MOST_IN_AN_HOUR_MM = (
    150.0  # beyond this, depths are tenths (the world's record hour is about 300 mm) [memory]
)
MADE_UP_YEAR_MM = 900.0  # a wet temperate year [practice]
MADE_UP_HOUR_MM = 1.4  # mean of a wet hour [practice]
DAMP = 0.88  # relative humidity from which it may rain
OVERCAST = 0.8  # cloud cover from which it may rain
KEEPS_RAINING = 0.7  # chance that a wet hour is followed by another, where both may be wet [practice]


def rain_mm(columns: dict[str, Floats], relative_humidity: Floats, seed: int, notes: list[str]) -> Floats:
    """Rain of every hour in mm; what was done about it is added to ``notes``."""
    depth = columns["rain_mm"]
    hours = columns.get("rain_hours")
    known = ~np.isnan(depth) if hours is None else ~np.isnan(depth) & (hours == 1.0)
    if known.mean() >= KNOWN_SHARE and np.nansum(depth) > 0.0:
        depth = np.where(known, depth, 0.0)
        if depth.max() > MOST_IN_AN_HOUR_MM:
            notes.append("rain depths taken as tenths of a millimetre: as millimetres no sky could give them")
            depth = depth / 10.0
        return depth
    made = made_up_rain_mm(relative_humidity, columns["cloud"], seed)
    notes.append(
        f"rain is made up (seed {seed}): the file has hourly rain for {100 * known.mean():.0f} % of the year "
        f"only; {made.sum():.0f} mm fall in damp, overcast hours"
    )
    return made


def made_up_rain_mm(relative_humidity: Floats, cloud: Floats, seed: int) -> Floats:
    """A plausible year of rain that falls when the file's air is damp and its sky overcast.

    Spells: a wet hour is followed by another with a fixed chance; depths are exponential; the year's sum is
        set.
    """
    random = np.random.default_rng(seed)
    overcast = np.ones_like(relative_humidity, dtype=bool) if np.isnan(cloud).any() else cloud >= OVERCAST
    may = overcast & (relative_humidity >= DAMP)
    if not may.any():
        may = relative_humidity >= np.quantile(relative_humidity, 0.9)
    wanted = min(MADE_UP_YEAR_MM / MADE_UP_HOUR_MM / may.sum(), 0.9)
    begins = wanted * (1.0 - KEEPS_RAINING) / max(1.0 - wanted, 0.1)
    draws = random.random(may.size)
    wet = np.zeros(may.size, dtype=bool)
    for hour in range(may.size):
        wet[hour] = may[hour] and draws[hour] < (KEEPS_RAINING if wet[hour - 1] else begins)
    depth: Floats = wet * random.exponential(MADE_UP_HOUR_MM, may.size)
    return depth * (MADE_UP_YEAR_MM / depth.sum()) if depth.sum() > 0.0 else depth
