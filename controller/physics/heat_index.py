"""How hot moist air feels to a person in the shade, and what that risks.

The regression and its limits: US National Weather Service, "The Heat Index Equation" (Rothfusz 1990, SR
90-23); the bounds of risk: US OSHA, heat index guide for employers (moderate from 91 °F, high from 103 °F,
very high to extreme above 115 °F) [memory]. Sun, hard work and protective clothing add to it.
"""

from __future__ import annotations

# Colder air is no matter of heat, and the regression does not hold for it.
HOLDS_FROM_C = 26.7
HIGH_C, EXTREME_C = (103.0 - 32.0) / 1.8, (115.0 - 32.0) / 1.8


def heat_index_c(air_c: float, humidity_percent: float) -> float:
    """What the air feels like.

    Args:
        air_c: air temperature; below ``HOLDS_FROM_C`` it is given back as it is.
        humidity_percent: relative humidity, 0 to 100; the regression is meant for 40 and more.
    """
    if air_c < HOLDS_FROM_C:
        return air_c
    t, r = 1.8 * air_c + 32.0, humidity_percent
    felt_f = (
        -42.379
        + 2.04901523 * t
        + 10.14333127 * r
        - 0.22475541 * t * r
        - 6.83783e-3 * t * t
        - 5.481717e-2 * r * r
        + 1.22874e-3 * t * t * r
        + 8.5282e-4 * t * r * r
        - 1.99e-6 * t * t * r * r
    )
    return (felt_f - 32.0) / 1.8


def heat_risk(air_c: float, humidity_percent: float) -> str | None:
    """The risk for people at work, "high" or "extreme"; None below that."""
    felt_c = heat_index_c(air_c, humidity_percent)
    if felt_c >= EXTREME_C:
        return "extreme"
    return "high" if felt_c >= HIGH_C else None
