"""Made-up nights for tests: cold and mild in turn, as outdoors decides, with a little chance."""

from __future__ import annotations

import math
import random
from typing import TYPE_CHECKING

from controller.forecast.hours import night_hour
from controller.forecast.watch import Given, Look, Nights, no_nights, watched

if TYPE_CHECKING:
    from collections.abc import Callable

LOOK_S, HOUR_S, DAY_S = 300.0, 3600.0, 86400.0
# 1 December 2026, noon UTC.
BEGAN_S = 1_796_126_400.0


class Winter:
    """A house whose air follows outdoors; each night's low outdoors is drawn."""

    def __init__(self, seed: int = 1, by_clock: bool = True) -> None:
        self.chance = random.Random(seed)  # noqa: S311 - a draw, not a secret
        self.by_clock = by_clock
        self.nights: Nights = no_nights()
        self.now_s = BEGAN_S
        self.low_out_c = 0.0
        self.lows: list[float] = []

    def look(self) -> Look:
        """What is seen now: outdoors falls from the afternoon to dawn, the house stays 4 K above it."""
        hour = self.now_s / HOUR_S % 24.0
        warmest_c = self.low_out_c + 10.0
        since = (hour - 14.0) % 24.0
        fall = min(since / 16.0, 1.0) if since <= 16.0 else (24.0 - since) / 8.0
        out = warmest_c - 10.0 * fall
        air = out + 4.0 + (12.0 if 9.0 <= hour < 15.0 else 0.0)
        where = night_hour(self.now_s if self.by_clock else None, None, hour)
        return Look(out, air, air + 1.0, 14.0, False, self.now_s if self.by_clock else None, where, -50.0)

    def pass_to(self, hour: float, change: Callable[[Look], Look] = lambda look: look) -> None:
        """Let time pass to this hour of day; a new night is drawn at noon."""
        while True:
            self.now_s += LOOK_S
            if abs(self.now_s / HOUR_S % 24.0 - 12.0) < 1e-6:
                self.lows.append(self.low_out_c)
                self.low_out_c = self.chance.uniform(-8.0, 8.0)
            self.nights = watched(self.nights, change(self.look()), self.now_s)
            if abs(self.now_s / HOUR_S % 24.0 - hour) < 1e-6:
                return

    def pass_nights(self, count: int, forecast_bias_k: float | None = None) -> None:
        """Let whole nights pass, noon to noon, with a forecast low each evening if a bias is given."""
        for _ in range(count):
            self.pass_to(15.5)
            if forecast_bias_k is not None:
                self.give(self.low_out_c + forecast_bias_k)
            self.pass_to(11.0)

    def give(self, low_c: float) -> None:
        """Give a forecast low."""
        self.nights = self.nights._replace(given=Given(low_c, self.now_s))


def finite(look: Look) -> bool:
    """Whether everything was read."""
    return all(map(math.isfinite, look[:4]))
