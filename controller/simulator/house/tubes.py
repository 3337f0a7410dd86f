"""Air on its way through a loop's tubes: heat and water it leaves at, or takes from, the tube wall.

Plain Python; the model runs the compiled twin. Each of the eight stretches is a heat exchanger with an even
wall temperature. The wall itself follows from its balance: heat and condensate from the air on one side,
conduction into the soil on the other; the saturation line is taken as straight over the step's change of
wall temperature.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from controller.physics import fan_curve, moist_air, tube
from controller.simulator.house.state import SEGMENTS

if TYPE_CHECKING:
    from controller.simulator.house.state import Ground, LoopParameters, LoopState, Sums, Tubes

LATENT_J_KG = (
    2.454e6  # heat of evaporation at 20 °C (IAPWS-95); one value throughout, so that the books close
)
AIR_J_KGK = 1006.0  # ASHRAE Fundamentals 2017 ch. 1; one value throughout, so that the books close
STILL_OUTLET_S = 600.0  # how slowly the still air at a floor outlet settles [practice]
LEAST_FLOW_SHARE = 0.02  # less than this of the nominal flow counts as no flow
PROPERTIES_C = 20.0  # air properties of the transfer units; 15 K either way changes them by 1 %


def saturation_slope(temp_c: float, saturated: float) -> float:
    """Rise of the saturation humidity ratio with temperature (1/K; Clausius-Clapeyron, thin vapour)."""
    kelvin = temp_c + 273.15
    return saturated * LATENT_J_KG / (461.5 * kelvin * kelvin)


class Air(NamedTuple):
    """Air that enters a stretch of tubes: temperature, humidity ratio, flow through all tubes, pressure."""

    temp_c: float
    humidity: float
    flow_kg_s: float
    pressure_pa: float


class Wall(NamedTuple):
    """The wall of a stretch and the soil behind it.

    Attributes:
        soil_c: temperature of the soil that touches the wall.
        soil_w_k: conductance from the wall to it.
        wall_c: wall temperature of the step before, about which the saturation line is laid.
        film_kg: water on the wall.
    """

    soil_c: float
    soil_w_k: float
    wall_c: float
    film_kg: float


def exchange(air: Air, wall: Wall, units: float, step_s: float) -> tuple[float, float, float]:
    """One stretch of one loop.

    Args:
        air: that enters.
        wall: that it meets.
        units: transfer units of the stretch.
        step_s: length of the step.

    Returns:
        Sensible heat to the wall in W, condensing water in kg/s (negative: evaporating), wall temperature.
    """
    soil_w = wall.soil_w_k * wall.soil_c
    dry_w_k = air.flow_kg_s * AIR_J_KGK * tube.effectiveness(units)
    wet_kg_s = air.flow_kg_s * tube.vapour_effectiveness(units)
    saturated = moist_air.saturation_humidity_ratio(wall.wall_c, air.pressure_pa)
    slope = saturation_slope(wall.wall_c, saturated)
    latent_w_k = LATENT_J_KG * wet_kg_s * slope
    new_wall_c = (
        soil_w
        + dry_w_k * air.temp_c
        + LATENT_J_KG * wet_kg_s * (air.humidity - saturated)
        + latent_w_k * wall.wall_c
    ) / (wall.soil_w_k + dry_w_k + latent_w_k)
    condensing = wet_kg_s * (air.humidity - saturated - slope * (new_wall_c - wall.wall_c))
    if condensing < -wall.film_kg / step_s:
        condensing = -wall.film_kg / step_s
        new_wall_c = (soil_w + dry_w_k * air.temp_c + LATENT_J_KG * condensing) / (wall.soil_w_k + dry_w_k)
    return dry_w_k * (air.temp_c - new_wall_c), condensing, new_wall_c


def run_loop(loop: int, roof: Air, tubes: Tubes, ground: Ground, sums: Sums, step_s: float) -> None:
    """Send air through a loop for one step; the ground's ``wall_j`` gathers the heat.

    Tubes shut by water take no part; what the open ones bring is spread over the ground of all of them.
    Those shut by silt have ground of their own (``silt``).

    Args:
        loop: which.
        roof: air at the intake, before the fan warms it.
        tubes: all loops.
        ground: around them.
        sums: the books, added to.
        step_s: length of the step.
    """
    now, metres = tubes.state[loop], tubes.parameters[loop].half_metres
    wall_c, film_kg = tubes.wall_c[loop], tubes.film_kg[loop]
    soil_c, wall_j = ground.soil_c[loop], ground.wall_j[loop]
    soil_w_k = ground.faces.total[loop] * metres * now.open_share / (1.0 - now.silted)
    flow_kg_s = roof.flow_kg_s
    air_c = roof.temp_c + now.power_w / (flow_kg_s * AIR_J_KGK)
    air_w = roof.humidity
    sensible = 0.0
    latent = 0.0
    for segment in range(SEGMENTS):
        air = Air(air_c, air_w, flow_kg_s, roof.pressure_pa)
        wall = Wall(soil_c[segment], soil_w_k, wall_c[segment], film_kg[segment])
        heat_w, water_kg_s, wall_c[segment] = exchange(air, wall, now.units, step_s)
        air_c -= heat_w / (flow_kg_s * AIR_J_KGK)
        air_w -= water_kg_s / flow_kg_s
        wet_w = LATENT_J_KG * water_kg_s
        wall_j[segment] += step_s * (heat_w + wet_w) / metres
        sensible += heat_w
        latent += wet_w
        water_kg = step_s * water_kg_s
        film_kg[segment] = max(film_kg[segment] + water_kg, 0.0)
        sums.tube_condensed_kg += max(water_kg, 0.0)
        sums.tube_evaporated_kg += max(-water_kg, 0.0)
    now.outlet_c = air_c
    now.outlet_w = air_w
    now.heat_w = sensible + latent
    now.latent_w = latent
    if sensible + latent > 0.0:
        sums.charged_j += step_s * (sensible + latent)
        sums.latent_in_j += step_s * latent
    else:
        sums.discharged_j -= step_s * (sensible + latent)
        sums.latent_out_j -= step_s * latent


def rest_loop(loop: int, tubes: Tubes, ground: Ground, air_c: float, step_s: float) -> None:
    """Let a loop stand: its wall follows the soil, the air at its outlet settles between soil and house."""
    now, wall_c, soil_c = tubes.state[loop], tubes.wall_c[loop], ground.soil_c[loop]
    for segment in range(SEGMENTS):
        wall_c[segment] = soil_c[segment]
    settled_c = 0.5 * (soil_c[SEGMENTS - 1] + air_c)
    now.outlet_c += (settled_c - now.outlet_c) * -math.expm1(-step_s / STILL_OUTLET_S)
    now.heat_w = 0.0
    now.latent_w = 0.0


def drain_films(loop: int, tubes: Tubes, sums: Sums) -> float:
    """Let water beyond what clings to the wall run off (kg returned); a flooded loop's wall is all wet."""
    most_kg, flooded = tubes.parameters[loop].film_kg, tubes.state[loop].flooded
    film_kg = tubes.film_kg[loop]
    drained = 0.0
    for segment in range(SEGMENTS):
        over = film_kg[segment] - most_kg
        if over > 0.0:
            film_kg[segment] = most_kg
            drained += over
        elif flooded > 0.0:
            drained += over
            film_kg[segment] = most_kg
    sums.tube_drained_kg += drained
    return drained


def set_fan(now: LoopState, built: LoopParameters, on: bool, flooded_share: float) -> None:
    """Find where fan and tubes meet, with some of the tubes shut by water or silt, or the intake blocked.

    The air of shut tubes goes through the open ones. Transfer units are worked out anew when the flow has
    changed, laminar flow included.
    """
    if not on:
        now.flow_share = 0.0
        now.power_w = 0.0
        return
    open_share = (1.0 - now.silted) * (1.0 - flooded_share)
    flow = fan_curve.flow_ratio(open_share, now.intake_share, built.tube_share, built.shut_off)
    if flow > 0.0 and (flow != now.flow_share or open_share != now.open_share):
        now.units = tube.transfer_units(
            built.tube_flow_m3_s * flow / open_share,
            built.segment_m,
            built.diameter_m,
            built.corrugated > 0.0,
            PROPERTIES_C,
            built.pressure_pa,
        )
    now.flow_share = flow
    now.open_share = open_share
    now.power_w = built.power_w * fan_curve.power_ratio(flow)
