"""Air, moisture, light and losses of the house: two layers of air, crop, cover and bed surface.

Plain Python; the model runs the compiled twin. The bench layer holds the crop and the tubes' outlets, the
ceiling layer the fans' intakes. All temperatures are found together at the end of the step.

What makes it warm under the roof by day and even at night: the air over sunlit crop and beds rises and gives
most of its heat to the upper layer, structure under the roof takes light there, and warm air on top hardly
mixes with what lies below. The cover cools the air by convection only; crop and beds radiate to it straight.
Where colder air comes to lie on top, it falls at once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from controller.physics import cover, moist_air
from controller.simulator.house.boundary import (
    CEILING_SHARE,
    floor_evaporation_kg_s,
    flows_kg_s,
    through_cover,
    transpiration_kg_s,
)
from controller.simulator.house.fittings import work_fittings
from controller.simulator.house.network import carry, gain, hold, join, reach, solve
from controller.simulator.house.tubes import AIR_J_KGK, LATENT_J_KG, saturation_slope

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.simulator.house.state import (
        AllTubes,
        House,
        HouseParameters,
        HouseState,
        Sums,
        WeatherNow,
    )

    Floats = NDArray[np.float64]

BENCH, CEILING, CROP, COVER, BED = range(5)  # nodes; moisture has the first two
CEILING_COVER_SHARE = 0.65  # of the cover above that layer [practice]
COVER_J_M2K = 1_500.0  # sheets and the water that clings to them [practice]
CROP_J_M2K = 17_000.0  # 4 kg of water in plants and pots per m² of floor [practice]
CROP_W_M2K = 10.0  # convection per leaf area: two sides of 5 W/m²K (De Zwart 1996, in Vanthoor 2011)
FLOOR_CONVECTION_W_M2K = 3.0  # bed surface to air, between 1.7 dT^(1/3) warm and 1.3 dT^(1/4) cold (Vanthoor)
INSIDE_EMISSIVITY = 0.86  # 1 / (1/0.95 + 1/0.9 - 1): crop or soil against a wet cover
RADIATION_W_M2K = 4.4  # that at 10 °C
FLOOR_W_M2K = FLOOR_CONVECTION_W_M2K + RADIATION_W_M2K  # ISO 6946 has 7.7 for a wall
# Who sees whom, per m² of floor: the beds look up at the leaves, and past them at the sheets; the hull of a
# crop is this many times what it covers (1.3 floors for half a floor of crop and the beds). [practice]
CROP_HULL = 1.56
# Share of what rises from warm surfaces that reaches the upper layer: in rooms aired from below 0.295 of the
# heat of people and machines stays between feet and head (Chen & Glicksman 2003, ASHRAE RP-949) [memory]
RISING_SHARE = 0.7
LOW_SUN = 0.75  # of the light that enters: taken up by crop and beds
CEILING_SUN = 0.08  # by structure under the roof; the rest leaves again [practice]


class Flows(NamedTuple):
    """Air that flows (kg/s).

    Attributes:
        vent: through the openings.
        high: the part of it that leaves from the ceiling layer; the rest leaves from the bench layer.
        leak: by leaks, everywhere.
        up: to the ceiling layer.
        down: from it.
    """

    vent: float
    high: float
    leak: float
    up: float
    down: float


def clear_fog(air_c: float, humidity: float, pressure_pa: float) -> tuple[float, float, float]:
    """Let vapour beyond saturation fall out of a layer and warm it.

    Returns:
        Temperature, humidity ratio, and water that fell out, per kilogram of air.
    """
    saturated = moist_air.saturation_humidity_ratio(air_c, pressure_pa)
    over = humidity - saturated
    if over <= 0.0:
        return air_c, humidity, 0.0
    over /= 1.0 + LATENT_J_KG * saturation_slope(air_c, saturated) / AIR_J_KGK
    return air_c + over * LATENT_J_KG / AIR_J_KGK, humidity - over, over


def clear_layers(state: HouseState, air_kg: float, pressure_pa: float) -> float:
    """Clear the fog of both layers; return the water (kg)."""
    state.bench_c, state.bench_w, bench = clear_fog(state.bench_c, state.bench_w, pressure_pa)
    state.ceiling_c, state.ceiling_w, ceiling = clear_fog(state.ceiling_c, state.ceiling_w, pressure_pa)
    return bench * ((1.0 - CEILING_SHARE) * air_kg) + ceiling * (CEILING_SHARE * air_kg)


def add_layers(
    net: Floats, now: tuple[float, float], flows: Flows, out: float, capacity: float, air_kg_s: float
) -> None:
    """Both layers with the air that flows between them and from outside (sinking in, or by leaks everywhere).

    Args:
        net: network whose first two nodes the layers are.
        now: values of the bench layer and of the ceiling layer.
        flows: between them and from outside.
        out: value outside.
        capacity: what a kilogram of air holds per unit of value.
        air_kg_s: all the air over the step.
    """
    hold(net, BENCH, (1.0 - CEILING_SHARE) * capacity * air_kg_s, now[0])
    hold(net, CEILING, CEILING_SHARE * capacity * air_kg_s, now[1])
    carry(net, BENCH, CEILING, capacity * flows.up)
    carry(net, CEILING, BENCH, capacity * flows.down)
    reach(net, BENCH, capacity * (flows.vent + (1.0 - CEILING_SHARE) * flows.leak), out)
    reach(net, CEILING, capacity * CEILING_SHARE * flows.leak, out)


def left_with_air(flows: Flows, bench: float, ceiling: float, out: float) -> float:
    """What exchanged air takes out of the house, value times kg/s."""
    high = (flows.high + CEILING_SHARE * flows.leak) * (ceiling - out)
    return high + (flows.vent - flows.high + (1.0 - CEILING_SHARE) * flows.leak) * (bench - out)


def cover_convection_w_k(house: HouseState, cover_m2: float) -> tuple[float, float]:
    """From the bench layer and from the ceiling layer to the cover."""
    return (
        (1.0 - CEILING_COVER_SHARE) * cover_m2 * cover.inside_convection_w_m2k(house.bench_c - house.cover_c),
        CEILING_COVER_SHARE * cover_m2 * cover.inside_convection_w_m2k(house.ceiling_c - house.cover_c),
    )


def rising_share(surface_c: float, ceiling_c: float) -> float:
    """Share of a surface's convection that reaches the ceiling layer: 0 unless it is warmer than that."""
    return RISING_SHARE if surface_c > ceiling_c else 0.0


def step_moisture(
    house: House,
    weather: WeatherNow,
    flows: Flows,
    cover_w_k: tuple[float, float],
    sources_kg_s: tuple[float, float],
    sums: Sums,
    step_s: float,
) -> float:
    """Advance the vapour in both layers by one step; return what condenses on the cover (kg/s)."""
    state, out = house.state, weather.humidity
    saturated = moist_air.saturation_humidity_ratio(state.cover_c, weather.pressure_pa)
    bench_kg_s = cover_w_k[0] / AIR_J_KGK if state.bench_w > saturated else 0.0
    ceiling_kg_s = cover_w_k[1] / AIR_J_KGK if state.ceiling_w > saturated else 0.0
    net = np.zeros((2, 3))
    add_layers(net, (state.bench_w, state.ceiling_w), flows, out, 1.0, house.parameters.air_kg / step_s)
    reach(net, BENCH, bench_kg_s, saturated)
    reach(net, CEILING, ceiling_kg_s, saturated)
    gain(net, BENCH, sources_kg_s[0])
    gain(net, CEILING, sources_kg_s[1])
    bench, ceiling = solve(net)
    state.bench_w, state.ceiling_w = bench, ceiling
    condensing = bench_kg_s * (bench - saturated) + ceiling_kg_s * (ceiling - saturated)
    sums.vented_kg += step_s * left_with_air(flows, bench, ceiling, out)
    sums.cover_kg += step_s * condensing
    return float(condensing)


def add_surfaces(
    net: Floats, now: HouseState, built: HouseParameters, cover_w_k: tuple[float, float], step_s: float
) -> None:
    """Crop, beds and cover: what they hold, their convection with the air, and what they radiate."""
    floor_m2 = built.floor_m2
    hold(net, CROP, CROP_J_M2K * floor_m2 / step_s, now.crop_c)
    hold(net, COVER, COVER_J_M2K * built.cover_m2 / step_s, now.cover_c)
    join(net, COVER, BENCH, cover_w_k[0])
    join(net, COVER, CEILING, cover_w_k[1])
    rising = rising_share(now.crop_c, now.ceiling_c)
    join(net, CROP, BENCH, (1.0 - rising) * CROP_W_M2K * built.leaf_area * floor_m2)
    join(net, CROP, CEILING, rising * CROP_W_M2K * built.leaf_area * floor_m2)
    rising = rising_share(now.bed_c, now.ceiling_c)
    join(net, BED, BENCH, (1.0 - rising) * FLOOR_CONVECTION_W_M2K * floor_m2)
    join(net, BED, CEILING, rising * FLOOR_CONVECTION_W_M2K * floor_m2)
    radiation_w_k = floor_m2 * cover.radiation_w_m2k(now.crop_c, INSIDE_EMISSIVITY)
    join(net, BED, COVER, (1.0 - built.crop_cover) * radiation_w_k)
    join(net, BED, CROP, built.crop_cover * radiation_w_k)
    join(net, CROP, COVER, CROP_HULL * built.crop_cover * radiation_w_k)


def step_heat(
    house: House,
    weather: WeatherNow,
    flows: Flows,
    cover_w_k: tuple[float, float],
    gains_w: tuple[float, float, float, float, float],
    floor_w_k: float,
    sums: Sums,
    step_s: float,
) -> None:
    """Advance all temperatures by one step; ``gains_w`` in the order of the nodes."""
    now, built, out_c = house.state, house.parameters, weather.air_c
    out_w_k, felt_c = through_cover(house, weather)
    soil_w_k = 1.0 / (1.0 / floor_w_k - 1.0 / (FLOOR_W_M2K * built.floor_m2))
    net = np.zeros((5, 6))
    add_layers(net, (now.bench_c, now.ceiling_c), flows, out_c, AIR_J_KGK, built.air_kg / step_s)
    add_surfaces(net, now, built, cover_w_k, step_s)
    reach(net, COVER, out_w_k, felt_c)
    reach(net, BED, soil_w_k, now.floor_c)
    for node in range(5):
        gain(net, node, gains_w[node])
    bench, ceiling, crop, sheet, bed = solve(net)
    now.bench_c, now.ceiling_c, now.crop_c = bench, ceiling, crop
    now.cover_c, now.bed_c = sheet, bed
    now.bed_felt_c = now.floor_c + soil_w_k * (bed - now.floor_c) / floor_w_k
    sums.cover_j += step_s * out_w_k * (sheet - felt_c)
    sums.air_exchange_j += step_s * AIR_J_KGK * left_with_air(flows, bench, ceiling, out_c)


def step_house(
    house: House, weather: WeatherNow, tubes: AllTubes, floor_w_k: float, sums: Sums, step_s: float
) -> None:
    """Advance air, moisture, crop and cover by one step, and what the topmost soil then feels.

    Args:
        house: its state is changed in place.
        weather: the weather now.
        tubes: air through all tubes, from ceiling to bench, and what it takes up and leaves on the way.
        floor_w_k: conductance from the room to the topmost soil, whose mean temperature is in the state.
        sums: the books, added to.
        step_s: length of the step.
    """
    now, built, pressure_pa = house.state, house.parameters, weather.pressure_pa
    work_fittings(house, weather, sums, step_s)
    sun_w = weather.sun_w_m2 * built.floor_m2 * (1.0 - now.shade * built.shade_share)
    heater_w = now.heater * built.heater_w
    fog_kg = clear_layers(now, built.air_kg, pressure_pa)
    vent, vent_high, leak, mixing = flows_kg_s(house, weather, step_s)
    flows = Flows(vent, vent_high, leak, tubes.air_kg_s + vent_high + mixing, tubes.air_kg_s + mixing)
    cover_w_k = cover_convection_w_k(now, built.cover_m2)
    crop_sun_w = built.crop_cover * LOW_SUN * sun_w
    bed_sun_w = LOW_SUN * sun_w - crop_sun_w
    wet_m2 = built.bed_wet * built.floor_m2
    leaf_m2 = built.leaf_area * built.floor_m2
    transpired = transpiration_kg_s(leaf_m2, crop_sun_w, now.bench_c, now.bench_w, pressure_pa)
    evaporated = floor_evaporation_kg_s(wet_m2, FLOOR_CONVECTION_W_M2K, now.bed_c, now.bench_w, pressure_pa)
    high = rising_share(now.crop_c, now.ceiling_c) * transpired
    high += rising_share(now.bed_c, now.ceiling_c) * evaporated
    low = transpired + evaporated - high - tubes.latent_w / LATENT_J_KG
    condensing = step_moisture(house, weather, flows, cover_w_k, (low, high), sums, step_s)
    gains_w = (
        tubes.fan_w - tubes.sensible_w + heater_w,
        CEILING_SUN * sun_w,
        crop_sun_w - transpired * LATENT_J_KG,
        condensing * LATENT_J_KG,
        bed_sun_w - evaporated * LATENT_J_KG,
    )
    step_heat(house, weather, flows, cover_w_k, gains_w, floor_w_k, sums, step_s)
    sums.fog_kg += fog_kg
    sums.fog_latent_j += fog_kg * LATENT_J_KG
    sums.sun_j += step_s * sun_w * (LOW_SUN + CEILING_SUN)
    sums.heater_j += step_s * heater_w
    sums.cover_latent_j += step_s * condensing * LATENT_J_KG
    sums.crop_latent_j += step_s * (transpired + evaporated) * LATENT_J_KG
    sums.transpired_kg += step_s * (transpired + evaporated)
    now.out_c = weather.air_c
