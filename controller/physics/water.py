"""Water: how fast rain soaks in, and how often a sump pump starts."""

from __future__ import annotations

import math

MM_PER_H_M_S = 1e-3 / 3600.0

# Basic infiltration rate (mm/h) of wetted soil, middle of the bands of FAO, Irrigation Water Management,
# training manual 5, Annex 2: sand above 30, sandy loam 20-30, loam 10-20, clay loam 5-10, clay 1-5. Silty
# clay is put with clay.
BASIC_INFILTRATION_MM_H = {
    "sand": 30.0,
    "sandy loam": 25.0,
    "loam": 15.0,
    "clay loam": 7.5,
    "silty clay": 3.0,
    "clay": 3.0,
}


def infiltration_m_s(rain_m_s: float, capacity_m_s: float) -> float:
    """Rain (m/s of depth) that soaks in: all of it up to the soil's capacity; the rest runs off."""
    return min(rain_m_s, capacity_m_s)


def pump_cycle_s(working_volume_m3: float, inflow_m3_s: float, pump_flow_m3_s: float) -> float:
    """Time (s) from one start of a sump pump to the next (MIL-HDBK-1005/9A §2.5.3.6).

    (V/D) (1/(1 - Q/D) + 1/(Q/D)), V the water between start and stop level. Infinite without inflow (it never
    starts) and when the inflow reaches the pump's flow (it never stops).
    """
    if inflow_m3_s <= 0.0 or inflow_m3_s >= pump_flow_m3_s:
        return math.inf
    share = inflow_m3_s / pump_flow_m3_s
    return working_volume_m3 / pump_flow_m3_s * (1.0 / (1.0 - share) + 1.0 / share)
