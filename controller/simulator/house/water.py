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

if TYPE_CHECKING:
    from controller.simulator.house.state import Rows, SumpParameters, SumpState, Sums, WeatherNow

DRYING_SHARE = 0.65  # of daylight's energy, with Makkink's weight (de Bruin 1987) [memory]
DRIEST_M = -0.06  # water the soil may be short of before it gives off no more [practice]
POND_M = 0.015  # water that hollows hold while it soaks in [practice]
BLOCKING_SHARE = 0.15  # of the tubes' volume in water that shuts them to air [practice]
BACK_M3_S = 2e-4  # through a leaking check valve [practice]
JUST_PAST_M3 = 1e-9  # so that a float that is due to turn does turn


def drying_m_s(light_w_m2: float, air_c: float, pressure_pa: float) -> float:
    """Water that wet, grown ground gives off, as depth per time: Makkink 1957 in de Bruin's form of 1987.

    0.65 s/(s + g) of the daylight's energy, s the slope of the saturation humidity, g = cp/latent heat.
    """
    slope = tubes.saturation_slope(air_c, moist_air.saturation_humidity_ratio(air_c, pressure_pa))
    weight = slope / (slope + tubes.AIR_J_KGK / tubes.LATENT_J_KG)
    return DRYING_SHARE * weight * light_w_m2 / (1000.0 * tubes.LATENT_J_KG)


def soak(sump: SumpState, parameters: SumpParameters, weather: WeatherNow, sums: Sums, step_s: float) -> None:
    """Rain into the ground, drying and drainage for one step; the inflow is put into the state."""
    area = parameters.catchment_m2
    rain_m = step_s * weather.rain_m_s
    pond_m = sump.pond_m + rain_m
    soaked_m = min(pond_m, step_s * parameters.infiltration_m_s)
    pond_m -= soaked_m
    sump.pond_m = min(pond_m, POND_M)
    water_m = sump.soil_water_m + soaked_m
    drying_m = step_s * drying_m_s(weather.light_w_m2, weather.air_c, weather.pressure_pa)
    drying_m = min(drying_m, max(water_m - DRIEST_M, 0.0))
    water_m -= drying_m
    drained_m = max(water_m, 0.0) * -math.expm1(-step_s / parameters.drain_s)
    sump.soil_water_m = water_m - drained_m
    sump.inflow_m3_s = drained_m * area / step_s
    sums.rain_m3 += rain_m * area
    sums.run_off_m3 += (pond_m - sump.pond_m) * area
    sums.dried_m3 += drying_m * area


def wet_ground(
    sump: SumpState, parameters: SumpParameters, table: Rows[WeatherNow], start_hour: int, sums: Sums
) -> None:
    """Make the ground as wet as the year before the start leaves it; ``table`` is that year, hour by hour."""
    hours = table.shape[0]
    for hour in range(start_hour, start_hour + hours):
        soak(sump, parameters, table[hour % hours], sums, 3600.0)


def seconds_to_float_edge(
    sump: SumpState, parameters: SumpParameters, pumping: float, longest_s: float
) -> float:
    """Time until the float turns if inflow and pump stay as they are, at most ``longest_s``."""
    net_m3_s = sump.inflow_m3_s - pumping * parameters.pump_m3_s
    if pumping == 0.0 and sump.pipe_m3 > 0.0:
        net_m3_s += BACK_M3_S
    volume = sump.volume_m3
    if sump.float_wet == 0.0 and net_m3_s > 0.0:
        return float(min(longest_s, (parameters.rise_m3 + JUST_PAST_M3 - volume) / net_m3_s))
    if sump.float_wet == 1.0 and net_m3_s < 0.0:
        return float(min(longest_s, (volume + JUST_PAST_M3) / -net_m3_s))
    return longest_s


def fill_sump(
    sump: SumpState,
    parameters: SumpParameters,
    pumping: float,
    condensate_kg: float,
    sums: Sums,
    step_s: float,
) -> bool:
    """Move the sump's level for one step; return whether its float turned: wet when risen, dry when empty."""
    was_wet = sump.float_wet
    volume = sump.volume_m3 + step_s * sump.inflow_m3_s + condensate_kg / 1000.0
    wanted = step_s * pumping * parameters.pump_m3_s
    pumped = min(wanted, volume)
    volume -= pumped
    if pumping > 0.0:
        kept = min(pumped, max(sump.back_m3 - sump.pipe_m3, 0.0))
        sump.pipe_m3 += kept
        pumped -= kept
    else:
        back = min(sump.pipe_m3, step_s * BACK_M3_S)
        sump.pipe_m3 -= back
        volume += back
    over = max(volume - parameters.most_m3, 0.0)  # tubes and pit are full: the ground around takes no more
    volume -= over
    sump.volume_m3 = volume
    sums.pumped_m3 += pumped
    sums.run_off_m3 += over
    if volume >= parameters.rise_m3:
        sump.float_wet = 1.0
    elif volume <= JUST_PAST_M3:
        sump.float_wet = 0.0
    sump.tube_water_m3 = max(volume - parameters.flood_m3, 0.0)
    return bool(sump.float_wet != was_wet)


def blocked_share(tube_water_m3: float, tube_volume_m3: float) -> float:
    """Share of a loop's air flow that water in its tubes takes away: all of it well before they are full."""
    return min(tube_water_m3 / (BLOCKING_SHARE * tube_volume_m3), 1.0)
