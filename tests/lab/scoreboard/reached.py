"""What a year in a house came to, in the measures of the scoreboard."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from controller.rehearsal.tracker import HOT_C

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.settings.schema import Settings

HOTTEST_H = 50
DAY_H = 24


class Half(StrEnum):
    """What is fought: the frost of winter or the heat of summer."""

    WINTER = "winter"
    SUMMER = "summer"


@dataclass(frozen=True, slots=True)
class Reached:
    """What a year came to. "Air" is the air among the crop.

    Attributes:
        cold_kh: degree-hours of air below 4 °C.
        hot_kh: degree-hours of air above 32 °C.
        hottest_c: mean of the hottest 50 hours.
        band_h: hours with air from ``frost_limit`` to ``cool_above``.
        warming_kwh: electricity of the fans on all other days.
        cooling_kwh: electricity of the fans on days that get hotter than 32 °C, so that cool hours count in
            which a fan cools the soil for the hot ones.
    """

    cold_kh: float
    hot_kh: float
    hottest_c: float
    band_h: float
    warming_kwh: float
    cooling_kwh: float

    @property
    def fans_kwh(self) -> float:
        """All electricity of the fans."""
        return self.warming_kwh + self.cooling_kwh

    def kh(self, half: Half) -> float:
        """What is left of the frost or the heat."""
        return self.cold_kh if half is Half.WINTER else self.hot_kh

    def kwh(self, half: Half) -> float:
        """Electricity spent against it."""
        return self.warming_kwh if half is Half.WINTER else self.cooling_kwh


def reached(
    settings: Settings, cold_kh: float, hot_kh: float, bench_c: Sequence[float], kwh: Sequence[float]
) -> Reached:
    """Sum up a year.

    Args:
        settings: whose limits the hours in the band are counted by.
        cold_kh: degree-hours below 4 °C.
        hot_kh: degree-hours above 32 °C.
        bench_c: air among the crop at the end of each hour, from a midnight on.
        kwh: electricity of the fans in each hour.
    """
    air_c, electricity = np.asarray(bench_c), np.asarray(kwh)
    points = settings.setpoints
    day = np.arange(air_c.size) // DAY_H
    on_hot_day = np.isin(day, day[air_c > HOT_C])
    cooling_kwh = float(electricity[on_hot_day].sum())
    return Reached(
        cold_kh,
        hot_kh,
        hottest_c=float(np.sort(air_c)[-HOTTEST_H:].mean()),
        band_h=float(np.sum((air_c >= points.frost_limit_c) & (air_c <= points.cool_above_c))),
        warming_kwh=float(electricity.sum()) - cooling_kwh,
        cooling_kwh=cooling_kwh,
    )
