"""The yearly wave of the air temperature, which drives the undisturbed ground."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Climate:
    """The yearly wave of the air temperature, which drives the undisturbed ground."""

    mean_c: float
    amplitude_k: float
    coldest_day: float

    @staticmethod
    def of(air_c: Floats) -> Climate:
        """First harmonic of a year of hours."""
        angle = 2.0 * np.pi * np.arange(air_c.size) / air_c.size
        cosine = 2.0 * np.mean(air_c * np.cos(angle))
        sine = 2.0 * np.mean(air_c * np.sin(angle))
        coldest = math.atan2(-sine, -cosine) % (2.0 * math.pi) / (2.0 * math.pi) * 365.0
        return Climate(float(np.mean(air_c)), float(math.hypot(cosine, sine)), coldest)
