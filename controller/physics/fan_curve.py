"""A fan against its tubes: what flow and power become when some tubes are blocked.

All values are ratios to the nominal working point, where every tube is open, so that the nominal flow and
power of the settings are all that need be known of the fan.
"""

from __future__ import annotations

import math

SHUT_OFF_PRESSURE_RATIO = 1.6  # pressure without flow over nominal pressure; common practice, no source
SHUT_OFF_POWER_RATIO = 0.6  # power without flow over nominal power; common practice, no source


def resistance_ratio(open_share: float, tube_share: float) -> float:
    """Resistance (Pa per squared flow) over its nominal value with this share of tubes open (above 0, to 1).

    The air of a blocked tube goes through the open ones, so that the tubes' part of the nominal resistance,
    ``tube_share`` (0 to 1), grows with 1/open_share²; the rest (riser, plenum) stays.
    """
    return 1.0 - tube_share + tube_share / (open_share * open_share)


def flow_ratio(open_share: float, tube_share: float) -> float:
    """Flow over nominal flow (0 to 1) at the new working point; 0 when every tube is blocked.

    Fan: pressure = a - (a-1) x²; tubes: pressure = r x²; x the flow ratio, a the shut-off pressure ratio.
    """
    if open_share <= 0.0:
        return 0.0
    resistance = resistance_ratio(min(open_share, 1.0), tube_share)
    return math.sqrt(SHUT_OFF_PRESSURE_RATIO / (resistance + SHUT_OFF_PRESSURE_RATIO - 1.0))


def pressure_ratio(flow: float) -> float:
    """Fan pressure over nominal pressure at this flow ratio (0 to 1)."""
    return SHUT_OFF_PRESSURE_RATIO - (SHUT_OFF_PRESSURE_RATIO - 1.0) * flow * flow


def power_ratio(flow: float) -> float:
    """Electric power over nominal power at this flow ratio (0 to 1): straight from the shut-off power up."""
    return SHUT_OFF_POWER_RATIO + (1.0 - SHUT_OFF_POWER_RATIO) * flow
