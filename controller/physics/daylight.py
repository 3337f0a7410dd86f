"""When the sun sets and rises at a place, to about three minutes between 65° south and 65° north.

Declination and equation of time: Spencer 1971, "Fourier series representation of the position of the sun",
Search 2:172. Hour angle at which the upper edge of the sun is seen at the horizon: 90.833° from the zenith,
half a degree of sun and 34' of refraction (US Naval Observatory, "Rise, Set, and Twilight Definitions").
[memory] for both; ``tests/physics/test_daylight.py`` holds them against pvlib.
"""

from __future__ import annotations

import math

DAY_S, HOUR_S = 86400.0, 3600.0
ZENITH_AT_HORIZON = math.radians(90.833)
DAYS_A_YEAR = 365.2422
# Where the sun does not set or does not rise, a night is taken to be this short, or a day. [practice]
LEAST_HALF_DAY_H = 0.5
# Seconds of 1 January 2000 since 1970; the angle of the year is counted from a 1 January.
YEAR_2000_S = 946_684_800.0


def year_angle(utc_s: float) -> float:
    """How far the year has gone on, as an angle in radians: 0 at the start of January."""
    return math.tau * ((utc_s - YEAR_2000_S) / DAY_S / DAYS_A_YEAR % 1.0)


def noon_s(longitude: float, utc_s: float) -> float:
    """Solar noon of the day around ``utc_s`` (the nearest one), in seconds since 1970.

    Args:
        longitude: degrees east.
        utc_s: seconds since 1970.
    """
    angle = year_angle(utc_s)
    early_min = 229.18 * (
        0.000075
        + 0.001868 * math.cos(angle)
        - 0.032077 * math.sin(angle)
        - 0.014615 * math.cos(2.0 * angle)
        - 0.040849 * math.sin(2.0 * angle)
    )
    noon_of_day_s = (12.0 - longitude / 15.0) * HOUR_S - early_min * 60.0
    return noon_of_day_s + round((utc_s - noon_of_day_s) / DAY_S) * DAY_S


def half_day_s(latitude: float, utc_s: float) -> float:
    """Seconds from solar noon to sunset; bounded where the sun does not set or rise.

    Args:
        latitude: degrees north.
        utc_s: seconds since 1970, some time of that day.
    """
    angle = year_angle(utc_s)
    declination = (
        0.006918
        - 0.399912 * math.cos(angle)
        + 0.070257 * math.sin(angle)
        - 0.006758 * math.cos(2.0 * angle)
        + 0.000907 * math.sin(2.0 * angle)
        - 0.002697 * math.cos(3.0 * angle)
        + 0.00148 * math.sin(3.0 * angle)
    )
    north = math.radians(max(min(latitude, 89.9), -89.9))
    cosine = math.cos(ZENITH_AT_HORIZON) / (math.cos(north) * math.cos(declination))
    cosine -= math.tan(north) * math.tan(declination)
    hours = math.degrees(math.acos(max(min(cosine, 1.0), -1.0))) / 15.0
    return HOUR_S * max(min(hours, 12.0 - LEAST_HALF_DAY_H), LEAST_HALF_DAY_H)
