"""What the store does in the night that comes: how cold it would get without it, and how long it lasts.

Simple estimates from what the settings say of the house. The fans that will run at the coldest hour bring
what their loops move from the soil; shared out over what the house loses per kelvin, that is how much the
store raises the night's low.
"""

from __future__ import annotations

import math
from enum import Enum
from typing import NamedTuple

# Heat loss of covers in W/m²K by night, radiation to the sky included, about as ASABE EP406 has it [memory].
COVER_W_M2K = {"single film": 6.2, "double film": 4.0, "single glass": 6.3, "twin-wall": 3.3}
SHELL_PER_FLOOR_LONG = math.pi / 2.0  # a half-round section against its width [practice]
AIR_WH_M3K = 0.34  # dry air near 10 °C
# Floor and crop take up part of what the fans bring, and the soil at the tubes cools meanwhile: as if so many
# W/m²K of floor were lost. Found, with the uncertainty, on winters of ``tests.lab.winters.SETTING`` that were
# played without fans as well.
FLOOR_W_M2K = 7.0
RAISE_UNSURE_SHARE, RAISE_UNSURE_K = 0.5, 0.5


class Shell(NamedTuple):
    """What the settings say of the building, in SI units."""

    length_m: float
    width_m: float
    ridge_m: float
    cover: str
    air_changes_per_hour: float
    screen_saving: float

    def loss_w_per_k(self) -> float:
        """Heat that the house loses for each kelvin that its air is kept warmer."""
        floor_m2 = self.length_m * self.width_m
        ends_m2 = math.pi / 2.0 * self.width_m * self.ridge_m
        around_m = math.pi * math.sqrt((self.width_m**2 / 4.0 + self.ridge_m**2) / 2.0)
        skin_m2 = around_m * self.length_m + ends_m2
        volume_m3 = math.pi / 4.0 * self.width_m * self.ridge_m * self.length_m
        skin_w_k = COVER_W_M2K[self.cover] * (1.0 - self.screen_saving) * skin_m2
        leak_w_k = AIR_WH_M3K * self.air_changes_per_hour * volume_m3
        return skin_w_k + leak_w_k + FLOOR_W_M2K * floor_m2


class Store(NamedTuple):
    """What can be had from the soil.

    Attributes:
        heat_w_per_k: by loop in the order they come on, heat moved per kelvin between soil and air.
        below_c: by loop, air at which its fan comes on.
        soil_c: mean of the soils.
        least_k: soil less than this above the air gives nothing.
        fade_k_h: how much the soil cools in an hour of that, not a number while not known.
    """

    heat_w_per_k: tuple[float, ...]
    below_c: tuple[float, ...]
    soil_c: float
    least_k: float
    fade_k_h: float

    def raise_k(self, low_c: float, loss_w_per_k: float) -> float:
        """How much warmer the fans keep the coldest hour, in K."""
        room_k = self.soil_c - low_c
        if not room_k > self.least_k:
            return 0.0
        heat_w = sum(
            moved * room_k * min(max(below - low_c + 0.5, 0.0), 1.0)
            for moved, below in zip(self.heat_w_per_k, self.below_c, strict=True)
        )
        return heat_w / loss_w_per_k

    def lasts_h(self, low_c: float) -> float | None:
        """For how many hours of returning warmth the soil stays warm enough; None while not known."""
        room_k = self.soil_c - low_c - self.least_k
        if room_k <= 0.0:
            return 0.0
        if not math.isfinite(self.fade_k_h):
            return None
        return room_k / self.fade_k_h if self.fade_k_h > 0.0 else math.inf


class Lasts(Enum):
    """How long the store lasts."""

    UNKNOWN = "not known yet"
    NOT_NEEDED = "not needed"
    THE_NIGHT = "lasts the night"
    UNTIL = "lasts until"
    EMPTY = "has nothing to give"


class Heater(Enum):
    """Whether a heater will be needed for the crop limit."""

    UNKNOWN = "not known yet"
    NOT_NEEDED = "not needed"
    READY = "keep it ready"
    NEEDED = "needed"
