"""Soil and ceiling probes that have changed places."""

from __future__ import annotations

import pytest

from controller.faults import DAY_S
from controller.readings.reading import Good, Missing, Reading, Why
from controller.readings.swapped import SwapWatch

HOUR_S = 3600.0


def after_days(days: float, ceiling_c: tuple[float, float], soil_c: tuple[float, float]) -> SwapWatch:
    """A watch that saw both go up and down between two values every six hours."""
    watch = SwapWatch(("north",))
    for hour in range(int(days * 24) + 1):
        high = hour // 6 % 2
        now_s = 777.0 + hour * HOUR_S
        watch.watch(Good(ceiling_c[high], now_s), {"north": Good(soil_c[high], now_s)}, now_s)
    return watch


@pytest.mark.parametrize(
    ("ceiling_c", "soil_c", "suspects"),
    [
        ((10.0, 30.0), (14.0, 15.0), ()),
        ((14.0, 15.0), (10.0, 30.0), ("north",)),
        ((14.0, 15.0), (14.0, 18.0), ()),  # a calm house over working soil
        ((10.0, 14.0), (14.0, 20.0), ()),  # soil moves far, but not twice as far as the air
    ],
)
def test_only_a_plain_case_is_named(
    ceiling_c: tuple[float, float], soil_c: tuple[float, float], suspects: tuple[str, ...]
) -> None:
    """A soil is suspected when it moves far, and more than twice as far as the ceiling."""
    assert after_days(2.0, ceiling_c, soil_c).suspects == suspects


def test_one_day_is_not_enough() -> None:
    """The comparison needs two whole days."""
    assert after_days(1.5, (14.0, 15.0), (10.0, 30.0)).suspects == ()


@pytest.mark.parametrize(
    ("ceiling_k", "soil_k", "suspects"),
    [(0.0, 5.0, ()), (0.0, 5.5, ("north",)), (4.0, 8.0, ()), (4.0, 8.5, ("north",))],
)
def test_five_kelvin_and_twice_the_ceiling_are_the_bounds(
    ceiling_k: float, soil_k: float, suspects: tuple[str, ...]
) -> None:
    """A soil that moves by five kelvin, or just twice as far as the ceiling, is not suspected yet."""
    assert after_days(2.0, (12.0, 12.0 + ceiling_k), (12.0, 12.0 + soil_k)).suspects == suspects


def test_a_day_of_silence_is_not_made_up_for_by_the_day_before() -> None:
    """A soil that gave nothing for a whole day is not judged by what it did the day before."""
    watch = SwapWatch(("north",))
    for hour in range(49):
        now_s = hour * HOUR_S
        soil: Reading = Good(10.0 + hour % 12, now_s) if hour < 23 else Missing(Why.SILENT, 23.0 * HOUR_S)
        watch.watch(Good(15.0, now_s), {"north": soil}, now_s)
    assert watch.suspects == ()


def test_missing_readings_prove_nothing() -> None:
    """A day without a ceiling reading gives no verdict."""
    watch = SwapWatch(("north",))
    silent: Reading = Missing(Why.SILENT, 0.0)
    for day in range(4):
        for value_c in (5.0, 40.0):
            watch.watch(silent, {"north": Good(value_c, day * DAY_S)}, day * DAY_S)
    assert watch.suspects == ()
