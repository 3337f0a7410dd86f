"""Hours that a weather file lacks: short gaps are bridged, long ones in what is needed refuse the file."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from controller.simulator.weather.formats import LONGEST_GAP, WeatherError

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def bridge(path: Path, lines: NDArray[np.int64], words: str, values: Floats, notes: list[str]) -> Floats:
    """A year of values without gaps; what was bridged is added to ``notes``.

    Args:
        path: the file.
        lines: its line for every hour, 0 where it has none.
        words: what people call the quantity.
        values: a ring of hours, NaN where missing.
        notes: for the summary.

    Raises:
        WeatherError: more hours in a row are missing than a straight line can stand for.
    """
    missing = np.isnan(values)
    if not missing.any():
        return values
    if missing.all():
        raise WeatherError(f"{path}: holds no {words} at all; it is needed")
    first, longest = longest_gap(missing)
    if longest > LONGEST_GAP:
        near = int(lines[first] or lines[first - 1])
        raise WeatherError(
            f"{path}:{near}: {words} is missing for {longest} hours from here; "
            f"gaps of up to {LONGEST_GAP} hours are bridged, longer ones need another file"
        )
    hours = np.arange(values.size)
    notes.append(f"{words}: {int(missing.sum())} missing hours bridged by straight lines")
    return np.interp(hours, hours[~missing], values[~missing], period=values.size)


def longest_gap(missing: NDArray[np.bool_]) -> tuple[int, int]:
    """First hour and length of the longest gap in a ring of hours, some of which are known."""
    start = int(np.argmin(missing))  # begin behind a known hour
    longest = run = end = 0
    for index, gone in enumerate(np.roll(missing, -start)):
        run = run + 1 if gone else 0
        if run > longest:
            longest, end = run, index
    return (end - longest + 1 + start) % missing.size, longest
