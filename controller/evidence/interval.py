"""A figure with its uncertainty."""

from __future__ import annotations

import math
from typing import NamedTuple


class Interval(NamedTuple):
    """A figure and the range that holds the truth in 90 of 100 cases (95 for heat, see ``accounting``)."""

    value: float
    low: float
    high: float

    @property
    def half_width(self) -> float:
        """Half of the range."""
        return 0.5 * (self.high - self.low)

    def times(self, factor: float) -> Interval:
        """In another unit; the factor is positive."""
        return Interval(self.value * factor, self.low * factor, self.high * factor)

    def holds(self, truth: float) -> bool:
        """Whether the truth lies in the range."""
        return self.low <= truth <= self.high


def around(value: float, half_width: float, least: float = -math.inf) -> Interval:
    """The range of this half width on both sides, cut off at the least that is possible."""
    return Interval(max(value, least), max(value - half_width, least), max(value + half_width, least))
