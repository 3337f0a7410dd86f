"""A fan against its tubes: what flow and power become when tubes or its intake are blocked.

All values are ratios to the nominal working point, where everything is open, so that the nominal flow and
power of the settings are all that need be known of the fan.

The fan's curve is the parabola p = p0 - k Q² (its falling branch; the usual fit, as for pumps in White, Fluid
Mechanics, ch. 11) [memory]. How steep it is follows from how far the nominal point lies from the best
one: at the best point, a flow of 1/sqrt(3) of that without resistance, the fan is taken to have
``PEAK_EFFICIENCY``; a fan that does less at its nominal point works to the right of the best one. A field of
few short tubes is such a fan's lot.
"""

from __future__ import annotations

import math

# Hydraulic over electric power at the best point, motor included. Regulation (EU) 327/2011 asks 37 % (forward
# curved), 42 % (mixed flow) or 46 % (axial) of total efficiency from a fan of 125 W [memory]; smaller
# ones are exempt and do worse.
PEAK_EFFICIENCY = 0.35
# More than this no fan of a greenhouse does: the best large ones (10 kW) reach 65 to 75 % (benchmarks of the
# same regulation, Annex IV) [memory], and motors of a few hundred watts lose the rest.
MOST_EFFICIENCY = 0.6
SHUT_OFF_POWER_RATIO = 0.6  # power without flow over nominal power [practice]

# Riser: intake grille 0.5, sharp entry 0.5, two bends 0.25 each, outlet into the plenum 1.0 dynamic heads
# (Idelchik, Hydraulic Resistance, rounded) at 6 m/s in 1.2 kg/m³ [practice]
RISER_PA = 2.5 * 0.5 * 1.2 * 6.0**2


def tube_share(tubes_pa: float) -> float:
    """The tubes' part (0 to 1) of the nominal resistance, the rest being the riser's."""
    return tubes_pa / (tubes_pa + RISER_PA)


def efficiency(tubes_pa: float, flow_m3_s: float, power_w: float) -> float:
    """Hydraulic over electric power at the nominal point, riser and motor included."""
    return (tubes_pa + RISER_PA) * flow_m3_s / power_w


def shut_off_ratio(nominal_efficiency: float) -> float:
    """Pressure without flow over nominal pressure: 1.5 at the best point, more to the right of it.

    With y the nominal flow over that without resistance, efficiency goes with y (1 - y²), best at 1/sqrt(3);
    y is the larger root of y³ - y + 2 s / (3 sqrt(3)) = 0, s the efficiency over the best one (a fan that
    claims more than the best is taken to have it).
    """
    share = min(nominal_efficiency / PEAK_EFFICIENCY, 1.0)
    flow = 2.0 / math.sqrt(3.0) * math.cos(math.acos(-share) / 3.0)
    return 1.0 / (1.0 - flow * flow)


def resistance_ratio(open_share: float, intake_share: float, tubes_part: float) -> float:
    """Resistance (Pa per squared flow) over its nominal value.

    Args:
        open_share: tubes that are open, above 0 to 1. The air of a blocked tube goes through the open ones,
            so that the tubes' part grows with 1/open_share².
        intake_share: area of the intake that is free, above 0 to 1; the riser's part grows likewise.
        tubes_part: the tubes' part of the nominal resistance, 0 to 1.
    """
    return (1.0 - tubes_part) / (intake_share * intake_share) + tubes_part / (open_share * open_share)


def flow_ratio(open_share: float, intake_share: float, tubes_part: float, shut_off: float) -> float:
    """Flow over nominal flow (0 to 1) at the new working point; 0 when nothing is open.

    Fan: pressure = a - (a-1) x²; tubes and riser: pressure = r x²; x the flow ratio, a the shut-off ratio.
    """
    if open_share <= 0.0 or intake_share <= 0.0:
        return 0.0
    resistance = resistance_ratio(open_share, intake_share, tubes_part)
    return math.sqrt(shut_off / (resistance + shut_off - 1.0))


def pressure_ratio(flow: float, shut_off: float) -> float:
    """Fan pressure over nominal pressure at this flow ratio (0 to 1)."""
    return shut_off - (shut_off - 1.0) * flow * flow


def power_ratio(flow: float) -> float:
    """Electric power over nominal power at this flow ratio (0 to 1): straight from the shut-off power up."""
    return SHUT_OFF_POWER_RATIO + (1.0 - SHUT_OFF_POWER_RATIO) * flow
