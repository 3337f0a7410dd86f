"""Air on its way through a loop's tubes: heat and water it leaves at, or takes from, the tube wall.

Plain Python; the model runs the compiled twin. Each of the eight stretches is a heat exchanger with an even
wall temperature. The wall itself follows from its balance: heat and condensate from the air on one side,
conduction into the soil on the other; the saturation line is taken as straight over the step's change of
wall temperature.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from controller.physics import fan_curve, moist_air, tube
from controller.simulator.house.indices import (
    F_FLOODED,
    F_FLOW_SHARE,
    F_HEAT_W,
    F_INTAKE_SHARE,
    F_LATENT_W,
    F_OPEN_SHARE,
    F_OUTLET_C,
    F_OUTLET_W,
    F_POWER_W,
    F_SILTED,
    F_UNITS,
    J_CHARGED,
    J_DISCHARGED,
    J_LATENT_IN,
    J_LATENT_OUT,
    KG_TUBE_CONDENSED,
    KG_TUBE_DRAINED,
    KG_TUBE_EVAPORATED,
    L_CORRUGATED,
    L_DIAMETER_M,
    L_FILM_KG,
    L_HALF_METRES,
    L_MASS_FLOW_KG_S,
    L_POWER_W,
    L_PRESSURE_PA,
    L_SEGMENT_M,
    L_SHUT_OFF,
    L_TUBE_FLOW_M3_S,
    L_TUBE_SHARE,
    SEGMENTS,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LATENT_J_KG = (
    2.454e6  # heat of evaporation at 20 °C (IAPWS-95); one value throughout, so that the books close
)
AIR_J_KGK = 1006.0  # ASHRAE Fundamentals 2017 ch. 1; one value throughout, so that the books close
STILL_OUTLET_S = 600.0  # how slowly the still air at a floor outlet settles; common practice, no source
LEAST_FLOW_SHARE = 0.02  # less than this of the nominal flow counts as none
PROPERTIES_C = 20.0  # air properties of the transfer units; 15 K either way changes them by 1 %


def saturation_slope(temp_c: float, saturated: float) -> float:
    """Rise of the saturation humidity ratio with temperature (1/K; Clausius-Clapeyron, thin vapour)."""
    kelvin = temp_c + 273.15
    return saturated * LATENT_J_KG / (461.5 * kelvin * kelvin)


def exchange(
    air_c: float,
    air_w: float,
    mass_flow_kg_s: float,
    units: float,
    soil_c: float,
    soil_w_k: float,
    wall_c: float,
    film_kg: float,
    pressure_pa: float,
    step_s: float,
) -> tuple[float, float, float]:
    """One stretch of one loop.

    Args:
        air_c: temperature of the air that enters.
        air_w: its humidity ratio.
        mass_flow_kg_s: through all tubes of the loop.
        units: transfer units of the stretch.
        soil_c: temperature of the soil that touches the wall.
        soil_w_k: conductance from the wall to it.
        wall_c: wall temperature of the step before, about which the saturation line is laid.
        film_kg: water on the wall.
        pressure_pa: air pressure.
        step_s: length of the step.

    Returns:
        Sensible heat to the wall in W, condensing water in kg/s (negative: evaporating), wall temperature.
    """
    dry_w_k = mass_flow_kg_s * AIR_J_KGK * tube.effectiveness(units)
    wet_kg_s = mass_flow_kg_s * tube.vapour_effectiveness(units)
    saturated = moist_air.saturation_humidity_ratio(wall_c, pressure_pa)
    slope = saturation_slope(wall_c, saturated)
    latent_w_k = LATENT_J_KG * wet_kg_s * slope
    new_wall_c = (
        soil_w_k * soil_c
        + dry_w_k * air_c
        + LATENT_J_KG * wet_kg_s * (air_w - saturated)
        + latent_w_k * wall_c
    ) / (soil_w_k + dry_w_k + latent_w_k)
    condensing = wet_kg_s * (air_w - saturated - slope * (new_wall_c - wall_c))
    if condensing < -film_kg / step_s:
        condensing = -film_kg / step_s
        new_wall_c = (soil_w_k * soil_c + dry_w_k * air_c + LATENT_J_KG * condensing) / (soil_w_k + dry_w_k)
    return dry_w_k * (air_c - new_wall_c), condensing, new_wall_c


def run_loop(
    loop: int,
    air_c: float,
    air_w: float,
    pressure_pa: float,
    parameters: Floats,
    state: Floats,
    soil_c: Floats,
    face_sum: Floats,
    wall_c: Floats,
    film_kg: Floats,
    wall_j: Floats,
    books: Floats,
    step_s: float,
) -> None:
    """Send air through a loop for one step; ``wall_j`` gathers the heat for the soil.

    Blocked tubes take no part; what the open ones bring is spread over the ground of the whole loop.
    """
    flow_kg_s = parameters[loop, L_MASS_FLOW_KG_S] * state[loop, F_FLOW_SHARE]
    metres = parameters[loop, L_HALF_METRES]
    soil_w_k = face_sum[loop] * metres * state[loop, F_OPEN_SHARE]
    air_c += state[loop, F_POWER_W] / (flow_kg_s * AIR_J_KGK)
    sensible = 0.0
    latent = 0.0
    for segment in range(SEGMENTS):
        heat_w, water_kg_s, wall = exchange(
            air_c, air_w, flow_kg_s, state[loop, F_UNITS], soil_c[loop, segment], soil_w_k,
            wall_c[loop, segment], film_kg[loop, segment], pressure_pa, step_s,
        )  # fmt: skip
        air_c -= heat_w / (flow_kg_s * AIR_J_KGK)
        air_w -= water_kg_s / flow_kg_s
        wall_c[loop, segment] = wall
        wet_w = LATENT_J_KG * water_kg_s
        wall_j[loop, segment] += step_s * (heat_w + wet_w) / metres
        sensible += heat_w
        latent += wet_w
        water_kg = step_s * water_kg_s
        film_kg[loop, segment] = max(film_kg[loop, segment] + water_kg, 0.0)
        books[KG_TUBE_CONDENSED] += max(water_kg, 0.0)
        books[KG_TUBE_EVAPORATED] += max(-water_kg, 0.0)
        books[J_LATENT_IN] += max(step_s * wet_w, 0.0)
        books[J_LATENT_OUT] += max(-step_s * wet_w, 0.0)
    state[loop, F_OUTLET_C] = air_c
    state[loop, F_OUTLET_W] = air_w
    state[loop, F_HEAT_W] = sensible + latent
    state[loop, F_LATENT_W] = latent
    books[J_CHARGED] += max(step_s * (sensible + latent), 0.0)
    books[J_DISCHARGED] += max(-step_s * (sensible + latent), 0.0)


def rest_loop(loop: int, state: Floats, soil_c: Floats, wall_c: Floats, step_s: float, air_c: float) -> None:
    """Let a loop stand: its wall follows the soil, the air at its outlet settles between soil and house."""
    for segment in range(SEGMENTS):
        wall_c[loop, segment] = soil_c[loop, segment]
    settled_c = 0.5 * (soil_c[loop, SEGMENTS - 1] + air_c)
    state[loop, F_OUTLET_C] += (settled_c - state[loop, F_OUTLET_C]) * -math.expm1(-step_s / STILL_OUTLET_S)
    state[loop, F_HEAT_W] = 0.0
    state[loop, F_LATENT_W] = 0.0
    state[loop, F_POWER_W] = 0.0


def drain_films(film_kg: Floats, parameters: Floats, state: Floats, loop: int, books: Floats) -> float:
    """Let water beyond what clings to the wall run off (kg returned); a flooded loop's wall is all wet."""
    most_kg = parameters[loop, L_FILM_KG]
    drained = 0.0
    for segment in range(SEGMENTS):
        over = film_kg[loop, segment] - most_kg
        if over > 0.0:
            film_kg[loop, segment] = most_kg
            drained += over
        elif state[loop, F_FLOODED] > 0.0:
            drained += over
            film_kg[loop, segment] = most_kg
    books[KG_TUBE_DRAINED] += drained
    return drained


def set_fan(loop: int, on: bool, flooded_share: float, parameters: Floats, state: Floats) -> None:
    """Find where fan and tubes meet, with some of the tubes shut by water or silt, or the intake blocked.

    The air of shut tubes goes through the open ones. Transfer units are worked out anew when the flow has
    changed, laminar flow included.
    """
    if not on:
        state[loop, F_FLOW_SHARE] = 0.0
        state[loop, F_POWER_W] = 0.0
        return
    open_share = (1.0 - state[loop, F_SILTED]) * (1.0 - flooded_share)
    flow = fan_curve.flow_ratio(
        open_share, state[loop, F_INTAKE_SHARE], parameters[loop, L_TUBE_SHARE], parameters[loop, L_SHUT_OFF]
    )
    if flow > 0.0 and (flow != state[loop, F_FLOW_SHARE] or open_share != state[loop, F_OPEN_SHARE]):
        state[loop, F_UNITS] = tube.transfer_units(
            parameters[loop, L_TUBE_FLOW_M3_S] * flow / open_share,
            parameters[loop, L_SEGMENT_M],
            parameters[loop, L_DIAMETER_M],
            parameters[loop, L_CORRUGATED] > 0.0,
            PROPERTIES_C,
            parameters[loop, L_PRESSURE_PA],
        )
    state[loop, F_FLOW_SHARE] = flow
    state[loop, F_OPEN_SHARE] = open_share
    state[loop, F_POWER_W] = parameters[loop, L_POWER_W] * fan_curve.power_ratio(flow)
