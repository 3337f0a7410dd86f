"""Notices a soil probe and the ceiling probe that have changed places."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING, Final

from controller.faults import DAY_S
from controller.readings.reading import Good

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.readings.reading import Reading

# Soil at tube depth follows the day by a few kelvin at most, air under a roof by many [practice]
SOIL_SWING_K: Final = 5.0
TIMES_CEILING: Final = 2.0


class _Swing:
    """Lowest and highest value of today and of the day before."""

    __slots__ = ("_high_before_c", "_high_c", "_low_before_c", "_low_c")

    def __init__(self) -> None:
        self._low_before_c, self._high_before_c = inf, -inf
        self._low_c, self._high_c = inf, -inf

    def take(self, reading: Reading) -> None:
        """Count a reading, if there is one."""
        if isinstance(reading, Good):
            value_c = reading.value
            self._low_c = min(self._low_c, value_c)
            self._high_c = max(self._high_c, value_c)

    def end_day(self) -> float | None:
        """The swing of the two days in K, or None if a day had no reading; begins a new day."""
        low_c, high_c = min(self._low_c, self._low_before_c), max(self._high_c, self._high_before_c)
        complete = self._low_c < inf and self._low_before_c < inf
        self._low_before_c, self._high_before_c = self._low_c, self._high_c
        self._low_c, self._high_c = inf, -inf
        return high_c - low_c if complete else None


class SwapWatch:
    """Compares how far the soil of each loop and the ceiling have moved in two days, once a day.

    Attributes:
        suspects: loops whose soil moved far, and more than twice as far as the ceiling.

    Args:
        loops: names of the loops that have a soil probe.
    """

    __slots__ = ("_ceiling", "_day_ends_s", "_soils", "suspects")

    def __init__(self, loops: tuple[str, ...]) -> None:
        self.suspects: tuple[str, ...] = ()
        self._ceiling = _Swing()
        self._soils = {loop: _Swing() for loop in loops}
        self._day_ends_s: float | None = None

    def watch(self, ceiling: Reading, soils: Mapping[str, Reading], now_mono_s: float) -> bool:
        """Take the readings of one tick; return whether ``suspects`` may have changed.

        Args:
            ceiling: the ceiling's reading.
            soils: the soil readings, by loop.
            now_mono_s: now.
        """
        self._ceiling.take(ceiling)
        for loop, swing in self._soils.items():
            swing.take(soils[loop])
        if self._day_ends_s is None:
            self._day_ends_s = now_mono_s + DAY_S
        if now_mono_s < self._day_ends_s:
            return False
        self._day_ends_s = now_mono_s + DAY_S
        ceiling_k = self._ceiling.end_day()
        swings = {loop: swing.end_day() for loop, swing in self._soils.items()}
        self.suspects = tuple(
            loop
            for loop, soil_k in swings.items()
            if ceiling_k is not None
            and soil_k is not None
            and soil_k > SOIL_SWING_K
            and soil_k > TIMES_CEILING * ceiling_k
        )
        return True
