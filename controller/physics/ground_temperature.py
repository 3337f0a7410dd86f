"""Undisturbed ground temperature under a surface whose temperature swings as a sine."""

from __future__ import annotations

import math

DAY_S = 86_400.0
YEAR_S = 365.0 * DAY_S  # Kusuda & Achenbach reckon a year of 365 days


def damping_depth_m(diffusivity_m2_s: float, period_s: float) -> float:
    """Depth (m) where a swing of this period is down to 1/e: sqrt(a P / pi) (Carslaw & Jaeger 1959 §2.6)."""
    return math.sqrt(diffusivity_m2_s * period_s / math.pi)


def swing_k(
    depth_m: float, time_s: float, amplitude_k: float, period_s: float, diffusivity_m2_s: float
) -> float:
    """Departure (K) from the mean at a depth, when the surface departs by -amplitude * cos(2 pi t / period).

    Half-space solution of Carslaw & Jaeger 1959 §2.6: damped and delayed by depth / damping depth. The time
    counts from the surface's coldest moment.
    """
    steps = depth_m / damping_depth_m(diffusivity_m2_s, period_s)
    return -amplitude_k * math.exp(-steps) * math.cos(2.0 * math.pi * time_s / period_s - steps)


def ground_temperature_c(
    depth_m: float,
    day_of_year: float,
    mean_c: float,
    amplitude_k: float,
    coldest_day: float,
    diffusivity_m2_s: float,
) -> float:
    """Undisturbed ground temperature (°C) through the year (Kusuda & Achenbach 1965, ASHRAE Trans. 71(1):61).

    ``mean_c`` and ``amplitude_k`` (half the swing) are the surface's, ``coldest_day`` is when it is coldest.
    """
    time_s = (day_of_year - coldest_day) * DAY_S
    return mean_c + swing_k(depth_m, time_s, amplitude_k, YEAR_S, diffusivity_m2_s)
