"""Sunset and sunrise, against pvlib."""

from __future__ import annotations

import pandas as pd
import pytest
from pvlib import solarposition

from controller.physics.daylight import half_day_s, noon_s

DAY_S = 86400.0


@pytest.mark.parametrize(
    ("latitude", "longitude"), [(36.1, -79.95), (59.5, -139.6), (25.8, -80.3), (-45.0, 170.0), (64.0, 20.0)]
)
def test_sunset_and_sunrise_are_within_three_minutes_of_pvlib(latitude: float, longitude: float) -> None:
    """All year, both halves of the Earth (SPA: Reda & Andreas 2004, as pvlib has it)."""
    days = pd.date_range("2027-01-01", "2027-12-31", freq="9D", tz="UTC")
    sun = solarposition.sun_rise_set_transit_spa(days, latitude, longitude)
    for transit, rise, fall in zip(sun["transit"], sun["sunrise"], sun["sunset"], strict=True):
        noon = noon_s(longitude, transit.timestamp())
        half_s = half_day_s(latitude, noon)
        for found, expected in ((noon + half_s, fall), (noon - half_s, rise)):
            off_s = (found - expected.timestamp() + DAY_S / 2.0) % DAY_S - DAY_S / 2.0
            assert abs(off_s) < 180.0


@pytest.mark.parametrize("latitude", [-90.0, 80.0, 90.0])
def test_there_is_a_night_and_a_day_where_the_sun_stays_up_or_down(latitude: float) -> None:
    """Both last an hour at least, so that nothing is divided by them in vain."""
    for day in range(0, 365, 7):
        assert 1800.0 <= half_day_s(latitude, 1_800_000_000.0 + day * DAY_S) <= 11.5 * 3600.0
