"""Water around and in the tubes: rain, wet ground, sump, float and pump.

Plain Python; the model runs the compiled twin. Rain on the ground that drains to a sump stands in hollows,
soaks in as fast as the soil takes it, dries off again, and what is beyond the soil's hold drains to the
sump (a linear store). Above the tubes' lowest point the sump's water stands in the tubes. The pump moves what
it moves whatever the level: between full and empty its head changes by a small part of the lift. Behind a
leaking check valve the water in the discharge pipe runs back when the pump stops.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from controller.physics import moist_air
from controller.simulator.house import tubes
from controller.simulator.house.indices import (
    B_BACK_M3,
    B_FLOAT_WET,
    B_INFLOW_M3_S,
    B_PIPE_M3,
    B_POND_M,
    B_SOIL_WATER_M,
    B_TUBE_WATER_M3,
    B_VOLUME_M3,
    M3_DRIED,
    M3_PUMPED,
    M3_RAIN,
    M3_RUN_OFF,
    S_CATCHMENT_M2,
    S_DRAIN_S,
    S_FLOOD_M3,
    S_INFILTRATION_M_S,
    S_MOST_M3,
    S_PUMP_M3_S,
    S_RISE_M3,
    W_AIR_C,
    W_LIGHT_W_M2,
    W_PRESSURE_PA,
    W_RAIN_M_S,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

DRYING_SHARE = 0.65  # of daylight's energy, with Makkink's weight (de Bruin 1987; from memory)
DRIEST_M = -0.06  # water the soil may be short of before it gives off no more; common practice, no source
POND_M = 0.015  # water that hollows hold while it soaks in; common practice, no source
BLOCKING_SHARE = 0.15  # of the tubes' volume in water that shuts them to air; common practice, no source
BACK_M3_S = 2e-4  # through a leaking check valve; common practice, no source
JUST_PAST_M3 = 1e-9  # so that a float that is due to turn does turn


def drying_m_s(light_w_m2: float, air_c: float, pressure_pa: float) -> float:
    """Water that wet, grown ground gives off, as depth per time: Makkink 1957 in de Bruin's form of 1987.

    0.65 s/(s + g) of the daylight's energy, s the slope of the saturation humidity, g = cp/latent heat.
    """
    slope = tubes.saturation_slope(air_c, moist_air.saturation_humidity_ratio(air_c, pressure_pa))
    weight = slope / (slope + tubes.AIR_J_KGK / tubes.LATENT_J_KG)
    return DRYING_SHARE * weight * light_w_m2 / (1000.0 * tubes.LATENT_J_KG)


def soak(sump: Floats, parameters: Floats, weather: Floats, books: Floats, step_s: float) -> None:
    """Rain into the ground, drying and drainage for one step; the inflow is put into the state."""
    area = parameters[S_CATCHMENT_M2]
    rain_m = step_s * weather[W_RAIN_M_S]
    pond_m = sump[B_POND_M] + rain_m
    soaked_m = min(pond_m, step_s * parameters[S_INFILTRATION_M_S])
    pond_m -= soaked_m
    sump[B_POND_M] = min(pond_m, POND_M)
    water_m = sump[B_SOIL_WATER_M] + soaked_m
    drying_m = step_s * drying_m_s(weather[W_LIGHT_W_M2], weather[W_AIR_C], weather[W_PRESSURE_PA])
    drying_m = min(drying_m, max(water_m - DRIEST_M, 0.0))
    water_m -= drying_m
    drained_m = max(water_m, 0.0) * -math.expm1(-step_s / parameters[S_DRAIN_S])
    sump[B_SOIL_WATER_M] = water_m - drained_m
    sump[B_INFLOW_M3_S] = drained_m * area / step_s
    books[M3_RAIN] += rain_m * area
    books[M3_RUN_OFF] += (pond_m - sump[B_POND_M]) * area
    books[M3_DRIED] += drying_m * area


def wet_ground(sump: Floats, parameters: Floats, table: Floats, start_hour: int, books: Floats) -> None:
    """Make the ground as wet as the year before the start leaves it; ``table`` is that year, hour by hour."""
    hours = table.shape[0]
    for hour in range(start_hour, start_hour + hours):
        soak(sump, parameters, table[hour % hours], books, 3600.0)


def seconds_to_float_edge(sump: Floats, parameters: Floats, pumping: float, longest_s: float) -> float:
    """Time until the float turns if inflow and pump stay as they are, at most ``longest_s``."""
    net_m3_s = sump[B_INFLOW_M3_S] - pumping * parameters[S_PUMP_M3_S]
    if pumping == 0.0 and sump[B_PIPE_M3] > 0.0:
        net_m3_s += BACK_M3_S
    volume = sump[B_VOLUME_M3]
    if sump[B_FLOAT_WET] == 0.0 and net_m3_s > 0.0:
        return float(min(longest_s, (parameters[S_RISE_M3] + JUST_PAST_M3 - volume) / net_m3_s))
    if sump[B_FLOAT_WET] == 1.0 and net_m3_s < 0.0:
        return float(min(longest_s, (volume + JUST_PAST_M3) / -net_m3_s))
    return longest_s


def fill_sump(
    sump: Floats, parameters: Floats, pumping: float, condensate_kg: float, books: Floats, step_s: float
) -> bool:
    """Move the sump's level for one step; return whether its float turned: wet when risen, dry when empty."""
    was_wet = sump[B_FLOAT_WET]
    volume = sump[B_VOLUME_M3] + step_s * sump[B_INFLOW_M3_S] + condensate_kg / 1000.0
    wanted = step_s * pumping * parameters[S_PUMP_M3_S]
    pumped = min(wanted, volume)
    volume -= pumped
    if pumping > 0.0:
        kept = min(pumped, max(sump[B_BACK_M3] - sump[B_PIPE_M3], 0.0))
        sump[B_PIPE_M3] += kept
        pumped -= kept
    else:
        back = min(sump[B_PIPE_M3], step_s * BACK_M3_S)
        sump[B_PIPE_M3] -= back
        volume += back
    over = max(volume - parameters[S_MOST_M3], 0.0)  # tubes and pit are full: the ground around takes no more
    volume -= over
    sump[B_VOLUME_M3] = volume
    books[M3_PUMPED] += pumped
    books[M3_RUN_OFF] += over
    if volume >= parameters[S_RISE_M3]:
        sump[B_FLOAT_WET] = 1.0
    elif volume <= JUST_PAST_M3:
        sump[B_FLOAT_WET] = 0.0
    sump[B_TUBE_WATER_M3] = max(volume - parameters[S_FLOOD_M3], 0.0)
    return bool(sump[B_FLOAT_WET] != was_wet)


def blocked_share(tube_water_m3: float, tube_volume_m3: float) -> float:
    """Share of a loop's air flow that water in its tubes takes away: all of it well before they are full."""
    return min(tube_water_m3 / (BLOCKING_SHARE * tube_volume_m3), 1.0)
