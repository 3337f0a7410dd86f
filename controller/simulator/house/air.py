"""Air, moisture, light and losses of the house: two layers of air, crop, cover and bed surface.

Plain Python; the model runs the compiled twin. The bench layer holds the crop and the tubes' outlets, the
ceiling layer the fans' intakes. All temperatures are found together at the end of the step.

What makes it warm under the roof by day and even at night: the air over sunlit crop and beds rises and gives
most of its heat to the upper layer, structure under the roof takes light there, and warm air on top hardly
mixes with what lies below. The cover cools the air by convection only; crop and beds radiate to it straight.
Where colder air comes to lie on top, it falls at once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

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
from controller.simulator.house.indices import (
    BED_C,
    BED_FELT_C,
    BENCH_C,
    BENCH_W,
    CEILING_C,
    CEILING_W,
    COVER_C,
    FLOOR_C,
    HEATER,
    J_AIR_EXCHANGE,
    J_COVER,
    J_COVER_LATENT,
    J_CROP_LATENT,
    J_FOG_LATENT,
    J_HEATER,
    J_SUN,
    KG_COVER,
    KG_FOG,
    KG_TRANSPIRED,
    KG_VENTED,
    MASS_C,
    OUT_C,
    P_AIR_KG,
    P_COVER_M2,
    P_FLOOR_M2,
    P_HEATER_W,
    P_SHADE_SHARE,
    SHADE,
    W_AIR_C,
    W_HUMIDITY,
    W_PRESSURE_PA,
    W_SUN_W_M2,
)
from controller.simulator.house.network import carry, gain, hold, join, reach, solve
from controller.simulator.house.tubes import AIR_J_KGK, LATENT_J_KG, saturation_slope

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

BENCH, CEILING, CROP, COVER, BED = range(5)  # nodes; moisture has the first two
CEILING_COVER_SHARE = 0.65  # of the cover above that layer; common practice, no source
COVER_J_M2K = 1_500.0  # sheets and the water that clings to them; common practice, no source
CROP_J_M2K = 17_000.0  # 4 kg of water in plants and pots per m² of floor; common practice, no source
CROP_W_M2K = 12.0  # convection from crop and pots per m² of floor; common practice, no source
FLOOR_CONVECTION_W_M2K = 3.0  # bed surface to air, between 1.7 dT^(1/3) warm and 1.3 dT^(1/4) cold (Vanthoor)
INSIDE_EMISSIVITY = 0.86  # 1 / (1/0.95 + 1/0.9 - 1): crop or soil against a wet cover
RADIATION_W_M2K = 4.4  # that at 10 °C
FLOOR_W_M2K = FLOOR_CONVECTION_W_M2K + RADIATION_W_M2K  # ISO 6946 has 7.7 for a wall
# Who sees whom, per m² of floor: half of the bed surface looks up at the cover, half at the crop; a crop of a
# metre and the beds together have a hull of 1.3 times the floor. Common practice, no source.
BED_SEES_COVER, BED_SEES_CROP, CROP_SEES_COVER = 0.5, 0.5, 0.8
# Share of what rises from warm surfaces that reaches the upper layer: in rooms aired from below 0.295 of the
# heat of people and machines stays between feet and head (Chen & Glicksman 2003, ASHRAE RP-949; from memory).
RISING_SHARE = 0.7
FLOOR_SUN = 0.35  # of the light that enters: taken up by bed surface
CROP_SUN = 0.40  # by crop and pots
CEILING_SUN = 0.08  # by structure under the roof; the rest leaves again; common practice, no source


def clear_fog(house: Floats, temperature: int, humidity: int, air_kg: float, pressure_pa: float) -> float:
    """Let vapour beyond saturation fall out of a layer and warm it; return the water (kg)."""
    saturated = moist_air.saturation_humidity_ratio(house[temperature], pressure_pa)
    over = house[humidity] - saturated
    if over <= 0.0:
        return 0.0
    over /= 1.0 + LATENT_J_KG * saturation_slope(house[temperature], saturated) / AIR_J_KGK
    house[humidity] -= over
    house[temperature] += over * LATENT_J_KG / AIR_J_KGK
    return float(over * air_kg)


def add_layers(
    net: Floats,
    house: Floats,
    places: tuple[int, int],
    flows: tuple[float, float, float, float],
    out: float,
    capacity: float,
    air_kg_s: float,
) -> None:
    """Both layers with the air that flows between them and from outside (low by vents, everywhere by leaks).

    Args:
        net: network whose first two nodes the layers are.
        house: state.
        places: where the state has the bench's value and the ceiling's.
        flows: by vents, by leaks, up and down (kg/s).
        out: value outside.
        capacity: what a kilogram of air holds per unit of value.
        air_kg_s: all the air over the step.
    """
    vent, leak, up, down = flows
    hold(net, BENCH, (1.0 - CEILING_SHARE) * capacity * air_kg_s, house[places[0]])
    hold(net, CEILING, CEILING_SHARE * capacity * air_kg_s, house[places[1]])
    carry(net, BENCH, CEILING, capacity * up)
    carry(net, CEILING, BENCH, capacity * down)
    reach(net, BENCH, capacity * (vent + (1.0 - CEILING_SHARE) * leak), out)
    reach(net, CEILING, capacity * CEILING_SHARE * leak, out)


def left_with_air(
    flows: tuple[float, float, float, float], bench: float, ceiling: float, out: float
) -> float:
    """What exchanged air takes out of the house, value times kg/s; by the vents it leaves under the roof."""
    vent, leak, _, _ = flows
    return (vent + CEILING_SHARE * leak) * (ceiling - out) + (1.0 - CEILING_SHARE) * leak * (bench - out)


def cover_convection_w_k(house: Floats, cover_m2: float) -> tuple[float, float]:
    """From the bench layer and from the ceiling layer to the cover."""
    return (
        (1.0 - CEILING_COVER_SHARE)
        * cover_m2
        * cover.inside_convection_w_m2k(house[BENCH_C] - house[COVER_C]),
        CEILING_COVER_SHARE * cover_m2 * cover.inside_convection_w_m2k(house[CEILING_C] - house[COVER_C]),
    )


def rising_share(house: Floats, surface: int) -> float:
    """Share of a surface's convection that reaches the ceiling layer: none unless it is warmer than that."""
    return RISING_SHARE if house[surface] > house[CEILING_C] else 0.0


def step_moisture(
    house: Floats,
    parameters: Floats,
    weather: Floats,
    flows: tuple[float, float, float, float],
    cover_w_k: tuple[float, float],
    sources_kg_s: tuple[float, float],
    books: Floats,
    step_s: float,
) -> float:
    """Advance the vapour in both layers by one step; return what condenses on the cover (kg/s)."""
    out = weather[W_HUMIDITY]
    saturated = moist_air.saturation_humidity_ratio(house[COVER_C], weather[W_PRESSURE_PA])
    bench_kg_s = cover_w_k[0] / AIR_J_KGK if house[BENCH_W] > saturated else 0.0
    ceiling_kg_s = cover_w_k[1] / AIR_J_KGK if house[CEILING_W] > saturated else 0.0
    net = np.zeros((2, 3))
    add_layers(net, house, (BENCH_W, CEILING_W), flows, out, 1.0, parameters[P_AIR_KG] / step_s)
    reach(net, BENCH, bench_kg_s, saturated)
    reach(net, CEILING, ceiling_kg_s, saturated)
    gain(net, BENCH, sources_kg_s[0])
    gain(net, CEILING, sources_kg_s[1])
    bench, ceiling = solve(net)
    house[BENCH_W], house[CEILING_W] = bench, ceiling
    condensing = bench_kg_s * (bench - saturated) + ceiling_kg_s * (ceiling - saturated)
    books[KG_VENTED] += step_s * left_with_air(flows, bench, ceiling, out)
    books[KG_COVER] += step_s * condensing
    return float(condensing)


def add_surfaces(
    net: Floats, house: Floats, parameters: Floats, cover_w_k: tuple[float, float], step_s: float
) -> None:
    """Crop, beds and cover: what they hold, their convection with the air, and what they radiate."""
    floor_m2 = parameters[P_FLOOR_M2]
    hold(net, CROP, CROP_J_M2K * floor_m2 / step_s, house[MASS_C])
    hold(net, COVER, COVER_J_M2K * parameters[P_COVER_M2] / step_s, house[COVER_C])
    join(net, COVER, BENCH, cover_w_k[0])
    join(net, COVER, CEILING, cover_w_k[1])
    rising = rising_share(house, MASS_C)
    join(net, CROP, BENCH, (1.0 - rising) * CROP_W_M2K * floor_m2)
    join(net, CROP, CEILING, rising * CROP_W_M2K * floor_m2)
    rising = rising_share(house, BED_C)
    join(net, BED, BENCH, (1.0 - rising) * FLOOR_CONVECTION_W_M2K * floor_m2)
    join(net, BED, CEILING, rising * FLOOR_CONVECTION_W_M2K * floor_m2)
    radiation_w_k = floor_m2 * cover.radiation_w_m2k(house[MASS_C], INSIDE_EMISSIVITY)
    join(net, BED, COVER, BED_SEES_COVER * radiation_w_k)
    join(net, BED, CROP, BED_SEES_CROP * radiation_w_k)
    join(net, CROP, COVER, CROP_SEES_COVER * radiation_w_k)


def step_heat(
    house: Floats,
    parameters: Floats,
    weather: Floats,
    flows: tuple[float, float, float, float],
    cover_w_k: tuple[float, float],
    gains_w: tuple[float, float, float, float, float],
    floor_w_k: float,
    books: Floats,
    step_s: float,
) -> None:
    """Advance all temperatures by one step; ``gains_w`` in the order of the nodes."""
    out_c = weather[W_AIR_C]
    air_kg_s = parameters[P_AIR_KG] / step_s
    out_w_k, felt_c = through_cover(house, parameters, weather)
    soil_w_k = 1.0 / (1.0 / floor_w_k - 1.0 / (FLOOR_W_M2K * parameters[P_FLOOR_M2]))
    net = np.zeros((5, 6))
    add_layers(net, house, (BENCH_C, CEILING_C), flows, out_c, AIR_J_KGK, air_kg_s)
    add_surfaces(net, house, parameters, cover_w_k, step_s)
    reach(net, COVER, out_w_k, felt_c)
    reach(net, BED, soil_w_k, house[FLOOR_C])
    for node in range(5):
        gain(net, node, gains_w[node])
    bench, ceiling, crop, sheet, bed = solve(net)
    house[BENCH_C], house[CEILING_C], house[MASS_C] = bench, ceiling, crop
    house[COVER_C], house[BED_C] = sheet, bed
    house[BED_FELT_C] = house[FLOOR_C] + soil_w_k * (bed - house[FLOOR_C]) / floor_w_k
    books[J_COVER] += step_s * out_w_k * (sheet - felt_c)
    books[J_AIR_EXCHANGE] += step_s * AIR_J_KGK * left_with_air(flows, bench, ceiling, out_c)


def step_house(
    house: Floats,
    parameters: Floats,
    weather: Floats,
    fan_kg_s: float,
    fan_w: float,
    tube_sensible_w: float,
    tube_water_kg_s: float,
    floor_w_k: float,
    books: Floats,
    step_s: float,
) -> None:
    """Advance air, moisture, crop and cover by one step, and what the topmost soil then feels.

    Args:
        house: state, changed in place.
        parameters: the house.
        weather: the weather now.
        fan_kg_s: air through all tubes, from ceiling to bench.
        fan_w: electricity that ends up as heat in that air.
        tube_sensible_w: sensible heat it leaves in the tubes.
        tube_water_kg_s: water it leaves in the tubes.
        floor_w_k: conductance from the room to the topmost soil, whose mean temperature is in the state.
        books: sums, added to.
        step_s: length of the step.
    """
    floor_m2, air_kg, pressure = parameters[P_FLOOR_M2], parameters[P_AIR_KG], weather[W_PRESSURE_PA]
    work_fittings(house, parameters, weather, books, step_s)
    sun_w = weather[W_SUN_W_M2] * floor_m2 * (1.0 - house[SHADE] * parameters[P_SHADE_SHARE])
    heater_w = house[HEATER] * parameters[P_HEATER_W]
    fog_kg = clear_fog(house, BENCH_C, BENCH_W, (1.0 - CEILING_SHARE) * air_kg, pressure)
    fog_kg += clear_fog(house, CEILING_C, CEILING_W, CEILING_SHARE * air_kg, pressure)
    vent, leak, mixing = flows_kg_s(house, parameters, weather, step_s)
    flows = (vent, leak, fan_kg_s + vent + mixing, fan_kg_s + mixing)
    cover_w_k = cover_convection_w_k(house, parameters[P_COVER_M2])
    transpired = transpiration_kg_s(floor_m2, CROP_SUN * sun_w, house[BENCH_C], house[BENCH_W], pressure)
    evaporated = floor_evaporation_kg_s(
        floor_m2, FLOOR_CONVECTION_W_M2K, house[BED_C], house[BENCH_W], pressure
    )
    high = rising_share(house, MASS_C) * transpired + rising_share(house, BED_C) * evaporated
    condensing = step_moisture(
        house, parameters, weather, flows, cover_w_k,
        (transpired + evaporated - high - tube_water_kg_s, high), books, step_s,
    )  # fmt: skip
    gains_w = (
        fan_w - tube_sensible_w + heater_w,
        CEILING_SUN * sun_w,
        CROP_SUN * sun_w - transpired * LATENT_J_KG,
        condensing * LATENT_J_KG,
        FLOOR_SUN * sun_w - evaporated * LATENT_J_KG,
    )
    step_heat(house, parameters, weather, flows, cover_w_k, gains_w, floor_w_k, books, step_s)
    books[KG_FOG] += fog_kg
    books[J_FOG_LATENT] += fog_kg * LATENT_J_KG
    books[J_SUN] += step_s * sun_w * (FLOOR_SUN + CROP_SUN + CEILING_SUN)
    books[J_HEATER] += step_s * heater_w
    books[J_COVER_LATENT] += step_s * condensing * LATENT_J_KG
    books[J_CROP_LATENT] += step_s * (transpired + evaporated) * LATENT_J_KG
    books[KG_TRANSPIRED] += step_s * (transpired + evaporated)
    house[OUT_C] = weather[W_AIR_C]
