"""From values to places: scales of numbers with round ticks, and of time with days, weeks or months."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
HOUR = timedelta(hours=1)
# Longest spans, in days, that are divided into hours, days, weeks or months.
HOURS_UP_TO, DAYS_UP_TO, WEEKS_UP_TO = 3.0, 14.0, 70.0
QUARTERS_FROM = 800.0


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale from ``low`` to ``high``."""

    low: float
    high: float

    def share(self, value: float) -> float:
        """Where a value lies, 0 at the low end and 1 at the high one."""
        return (value - self.low) / (self.high - self.low)


def round_step(span: float, most: int) -> float:
    """The smallest of 1, 2, 2.5 and 5 times a power of ten that makes at most ``most`` parts of a span."""
    magnitude = 10.0 ** math.floor(math.log10(span / most))
    # A span of exactly as many steps may come out a hair longer.
    return next(step * magnitude for step in STEPS if span / (step * magnitude) <= most * (1.0 + 1e-9))


def scale_of(
    values: Iterable[float], most: int = 5, floor: float | None = None
) -> tuple[Scale, tuple[float, ...]]:
    """A scale that holds all values and ends at round numbers, and its ticks.

    Args:
        values: none or more; without any the scale runs from 0 to 1.
        most: parts between two ticks at most, not counting those added at the ends.
        floor: a value that always lies in the scale, such as 0 for bars.
    """
    found = [*values, *([] if floor is None else [floor])]
    low, high = (min(found), max(found)) if found else (0.0, 1.0)
    if high - low < 1e-9 * max(abs(low), abs(high), 1.0):
        high = low + 1.0
    step = round_step(high - low, most)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    ticks = tuple(round(step * number, 10) + 0.0 for number in range(first, last + 1))
    return Scale(ticks[0], ticks[-1]), ticks


@dataclass(frozen=True, slots=True)
class Tick:
    """A place on the time axis.

    Attributes:
        share: where it lies, 0 to 1.
        text: what stands there, empty for a line alone.
        line: whether a line runs across the chart there.
        spare: whether the text may be left out where there is little room.
    """

    share: float
    text: str
    line: bool
    spare: bool


@dataclass(frozen=True, slots=True)
class TimeScale:
    """Local time across a chart; both ends without a zone, because a chart counts hours as a clock does."""

    began: datetime
    ended: datetime

    def share(self, moment: datetime) -> float:
        """Where a moment lies, within the chart."""
        return min(max((moment - self.began) / (self.ended - self.began), 0.0), 1.0)

    def ticks(self, *, hours: bool = True) -> tuple[Tick, ...]:
        """Hours (where they are wanted), days, weeks or months, whichever divide the span well."""
        days = (self.ended - self.began) / timedelta(days=1)
        if hours and days <= HOURS_UP_TO:
            return tuple(self._hours(3 if days <= HOURS_UP_TO / 2 else 6))
        if days <= WEEKS_UP_TO:
            return tuple(self._days(1 if days <= DAYS_UP_TO else 7))
        return tuple(self._months(1 if days <= QUARTERS_FROM else 3))

    def _hours(self, every: int) -> list[Tick]:
        ticks = []
        moment = self.began.replace(minute=0, second=0, microsecond=0)
        while moment <= self.ended:
            if moment >= self.began and moment.hour % every == 0:
                spare = moment.hour % (2 * every) != 0
                ticks.append(Tick(self.share(moment), f"{moment:%H:%M}", line=True, spare=spare))
            moment += HOUR
        return ticks

    def _days(self, every: int) -> list[Tick]:
        """A line at midnight and the date in the middle of the day; for weeks the date at its line."""
        ticks = []
        midnight = self.began.replace(hour=0, minute=0, second=0, microsecond=0)
        number = 0
        while midnight <= self.ended:
            date_text = f"{midnight.day} {midnight:%b}"
            if every == 1:
                noon = midnight + timedelta(hours=12)
                ticks.append(Tick(self.share(midnight), "", line=True, spare=False))
                if self.began <= noon <= self.ended:
                    ticks.append(Tick(self.share(noon), date_text, line=False, spare=number % 2 == 1))
            elif midnight >= self.began:
                ticks.append(Tick(self.share(midnight), date_text, line=True, spare=number % 2 == 1))
            number += 1
            midnight += timedelta(days=every)
        return ticks

    def _months(self, every: int) -> list[Tick]:
        """A line at the first of the month and its name in the middle of what is shown of it."""
        ticks = []
        first = self.began.replace(day=1, hour=0, minute=0, second=0, microsecond=0)
        number = 0
        while first < self.ended:
            following = first
            for _ in range(every):
                following = (following + timedelta(days=31)).replace(day=1)
            left, right = self.share(first), self.share(following)
            if first >= self.began:
                ticks.append(Tick(left, "", line=True, spare=False))
            if right - left > 0.02:  # noqa: PLR2004 - a name needs some room
                name = f"{first:%b}" if every == 1 else f"{first:%b %Y}"
                ticks.append(Tick((left + right) / 2.0, name, line=False, spare=number % 2 == 1))
            number += 1
            first = following
        return ticks
