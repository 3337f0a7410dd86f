"""A scale on which the coldest of the house follows the air outdoors evenly.

Below where the fans begin to return warmth the house falls less for each kelvin that it gets colder outdoors:
0.3 to 0.45 K instead of 0.6 to 0.8 K in the winters of ``tests.lab.winters.SETTING``. A straight regression
would mix the two. So everything is learned on a scale that is stretched below that temperature.
"""

from __future__ import annotations

STRETCH = 2.0


def stretched(air_c: float, warms_below_c: float) -> float:
    """Air of the house on the even scale.

    Args:
        air_c: in °C.
        warms_below_c: where the fans begin to return warmth, in °C.
    """
    return air_c if air_c >= warms_below_c else warms_below_c + STRETCH * (air_c - warms_below_c)


def unstretched(value: float, warms_below_c: float) -> float:
    """Back from the even scale to °C."""
    return value if value >= warms_below_c else warms_below_c + (value - warms_below_c) / STRETCH
