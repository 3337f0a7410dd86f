"""Air, moisture, light and losses of the house: two layers of air, the crop's mass, the cover.

Plain Python; the model runs the compiled twin. The bench layer holds the crop and the tubes' outlets, the
ceiling layer the fans' intakes. Their temperatures and the crop's are found together at the end of the step
(backward Euler), so that a step of a minute is stable whatever the vents do.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.physics import cover, moist_air
from controller.simulator.boundary import (
    CEILING_SHARE,
    felt_outside_c,
    floor_evaporation_kg_s,
    flows_kg_s,
    transpiration_kg_s,
)
from controller.simulator.indices import (
    BENCH_C,
    BENCH_W,
    CEILING_C,
    CEILING_W,
    FLOOR_C,
    J_AIR_EXCHANGE,
    J_COVER,
    J_COVER_LATENT,
    J_CROP_LATENT,
    J_FOG_LATENT,
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
    P_LOSS_CALM,
    P_LOSS_WIND,
    W_AIR_C,
    W_HUMIDITY,
    W_PRESSURE_PA,
    W_SUN_W_M2,
    W_WIND_M_S,
)
from controller.simulator.tubes import AIR_J_KGK, LATENT_J_KG, saturation_slope

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

CEILING_COVER_SHARE = 0.65  # of the cover above that layer; common practice, no source
CROP_J_M2K = 17_000.0  # 4 kg of water in plants and pots per m² of floor; common practice, no source
CROP_W_M2K = 12.0  # exchange of crop and pots with the air per m² of floor; common practice, no source
FLOOR_W_M2K = 7.0  # bed surface to air and crop, convection and radiation (ISO 6946: 1/0.13, rounded down)
INSIDE_COVER_W_M2K = 8.0  # air and crop to the cover's inside, convection and radiation (ISO 6946: 1/0.13)
INSIDE_CONVECTION_W_M2K = 3.5  # its convective part, for condensation; common practice, no source
FLOOR_SUN = 0.35  # of the light that enters: taken up by bed surface
CROP_SUN = 0.40  # by crop and pots
CEILING_SUN = 0.08  # by structure under the roof; the rest leaves again; common practice, no source


def two_layers(
    bench_store: float,
    ceiling_store: float,
    bench: float,
    ceiling: float,
    up: float,
    down: float,
    bench_in: float,
    ceiling_in: float,
    cover: float,
    out: float,
    at_cover: float,
    bench_gain: float,
    ceiling_gain: float,
    step_s: float,
    bench_loss: float = 0.0,
) -> tuple[float, float]:
    """Values of both layers (temperature or humidity ratio) at the end of a step, by backward Euler.

    Args:
        bench_store: what the bench layer holds per unit of value (J/K or kg).
        ceiling_store: the same of the ceiling layer.
        bench: value now.
        ceiling: value now.
        up: flow from bench to ceiling (W/K or kg/s).
        down: flow from ceiling to bench.
        bench_in: flow from outside into the bench layer.
        ceiling_in: the same into the ceiling layer.
        cover: exchange of the ceiling layer with the cover.
        out: value outside.
        at_cover: value at the cover.
        bench_gain: further gains of the bench layer (W or kg/s).
        ceiling_gain: the same of the ceiling layer.
        step_s: length of the step.
        bench_loss: further losses of the bench layer per unit of value.
    """
    bench_own = bench_store / step_s + down + bench_in + bench_loss
    ceiling_own = ceiling_store / step_s + up + ceiling_in + cover
    bench_right = bench_store / step_s * bench + bench_in * out + bench_gain
    ceiling_right = ceiling_store / step_s * ceiling + ceiling_in * out + cover * at_cover + ceiling_gain
    determinant = bench_own * ceiling_own - up * down
    return (
        (bench_right * ceiling_own + down * ceiling_right) / determinant,
        (ceiling_right * bench_own + up * bench_right) / determinant,
    )


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


def step_moisture(
    house: Floats,
    parameters: Floats,
    weather: Floats,
    vent: float,
    leak: float,
    up: float,
    down: float,
    inside_share: float,
    felt_c: float,
    source_kg_s: float,
    books: Floats,
    step_s: float,
) -> float:
    """Advance the vapour in both layers by one step; return what condenses on the cover (kg/s)."""
    air_kg = parameters[P_AIR_KG]
    bench_in = vent + (1.0 - CEILING_SHARE) * leak
    ceiling_in = CEILING_SHARE * leak
    cover_c = house[CEILING_C] - inside_share * (house[CEILING_C] - felt_c)
    saturated = moist_air.saturation_humidity_ratio(cover_c, weather[W_PRESSURE_PA])
    cover_kg_s = 0.0
    if house[CEILING_W] > saturated:
        cover_kg_s = INSIDE_CONVECTION_W_M2K / AIR_J_KGK * parameters[P_COVER_M2]
    out = weather[W_HUMIDITY]
    bench, ceiling = two_layers(
        (1.0 - CEILING_SHARE) * air_kg, CEILING_SHARE * air_kg, house[BENCH_W], house[CEILING_W],
        up, down, bench_in, ceiling_in, cover_kg_s, out, saturated, source_kg_s, 0.0, step_s,
    )  # fmt: skip
    house[BENCH_W], house[CEILING_W] = bench, ceiling
    condensing = cover_kg_s * (ceiling - saturated)
    leaving = vent * (ceiling - out) + (bench_in - vent) * (bench - out) + ceiling_in * (ceiling - out)
    books[KG_VENTED] += step_s * leaving
    books[KG_COVER] += step_s * condensing
    return condensing


def step_heat(
    house: Floats,
    parameters: Floats,
    weather: Floats,
    vent: float,
    leak: float,
    up: float,
    down: float,
    inside_share: float,
    felt_c: float,
    bench_w: float,
    floor_w_k: float,
    crop_w: float,
    ceiling_w: float,
    books: Floats,
    step_s: float,
) -> None:
    """Advance the temperatures of both layers and of the crop."""
    loss_w_k = inside_share * INSIDE_COVER_W_M2K * parameters[P_COVER_M2]
    ceiling_loss = CEILING_COVER_SHARE * loss_w_k
    bench_loss = loss_w_k - ceiling_loss
    store = parameters[P_AIR_KG] * AIR_J_KGK
    crop_w_k = CROP_W_M2K * parameters[P_FLOOR_M2]
    crop_j_k = CROP_J_M2K * parameters[P_FLOOR_M2]
    follow = step_s * crop_w_k / (crop_j_k + step_s * crop_w_k)  # crop afterwards = follow * bench + rest
    rest_c = (crop_j_k * house[MASS_C] + step_s * crop_w) / (crop_j_k + step_s * crop_w_k)
    bench_w += crop_w_k * rest_c + floor_w_k * house[FLOOR_C] + bench_loss * felt_c
    out_c = weather[W_AIR_C]
    bench_in = (vent + (1.0 - CEILING_SHARE) * leak) * AIR_J_KGK
    ceiling_in = CEILING_SHARE * leak * AIR_J_KGK
    bench, ceiling = two_layers(
        (1.0 - CEILING_SHARE) * store, CEILING_SHARE * store, house[BENCH_C], house[CEILING_C], up *
        AIR_J_KGK, down * AIR_J_KGK, bench_in, ceiling_in, ceiling_loss, out_c, felt_c, bench_w, ceiling_w,
        step_s, crop_w_k * (1.0 - follow) + floor_w_k + bench_loss,
    )  # fmt: skip
    house[BENCH_C], house[CEILING_C], house[MASS_C] = bench, ceiling, rest_c + follow * bench
    vent_w_k = vent * AIR_J_KGK
    books[J_COVER] += step_s * (ceiling_loss * (ceiling - felt_c) + bench_loss * (bench - felt_c))
    books[J_AIR_EXCHANGE] += step_s * (
        vent_w_k * (ceiling - out_c)
        + (bench_in - vent_w_k) * (bench - out_c)
        + ceiling_in * (ceiling - out_c)
    )


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
) -> float:
    """Advance air, moisture and crop by one step.

    Args:
        house: state, changed in place.
        parameters: the house.
        weather: the weather now.
        fan_kg_s: air through all tubes, from ceiling to bench.
        fan_w: electricity that ends up as heat in that air.
        tube_sensible_w: sensible heat it leaves in the tubes.
        tube_water_kg_s: water it leaves in the tubes.
        floor_w_k: conductance from the bench air to the topmost soil, whose mean temperature is in the state.
        books: sums, added to.
        step_s: length of the step.

    Returns:
        Heat that the beds spend on evaporation (W).
    """
    floor_m2 = parameters[P_FLOOR_M2]
    pressure = weather[W_PRESSURE_PA]
    sun_w = weather[W_SUN_W_M2] * floor_m2
    air_kg = parameters[P_AIR_KG]
    fog_kg = clear_fog(house, BENCH_C, BENCH_W, (1.0 - CEILING_SHARE) * air_kg, pressure)
    fog_kg += clear_fog(house, CEILING_C, CEILING_W, CEILING_SHARE * air_kg, pressure)
    vent, leak, mixing = flows_kg_s(house, parameters, weather, step_s)
    up, down = fan_kg_s + vent + mixing, fan_kg_s + mixing
    loss_w_m2k = cover.heat_loss_w_m2k(parameters[P_LOSS_CALM], parameters[P_LOSS_WIND], weather[W_WIND_M_S])
    inside_share = loss_w_m2k / INSIDE_COVER_W_M2K
    felt_c = felt_outside_c(parameters, weather)
    transpired = transpiration_kg_s(floor_m2, CROP_SUN * sun_w, house[BENCH_C], house[BENCH_W], pressure)
    evaporated = floor_evaporation_kg_s(floor_m2, house[FLOOR_C], house[BENCH_W], pressure)
    condensing = step_moisture(
        house, parameters, weather, vent, leak, up, down, inside_share, felt_c, transpired + evaporated -
        tube_water_kg_s, books, step_s,
    )  # fmt: skip
    cover_w = condensing * LATENT_J_KG
    step_heat(
        house, parameters, weather, vent, leak, up, down, inside_share, felt_c, fan_w - tube_sensible_w,
        floor_w_k, CROP_SUN * sun_w - transpired * LATENT_J_KG, CEILING_SUN * sun_w + (1.0 - inside_share) *
        cover_w, books, step_s,
    )  # fmt: skip
    books[KG_FOG] += fog_kg
    books[J_FOG_LATENT] += fog_kg * LATENT_J_KG
    books[J_SUN] += step_s * sun_w * (FLOOR_SUN + CROP_SUN + CEILING_SUN)
    books[J_COVER] += step_s * inside_share * cover_w
    books[J_COVER_LATENT] += step_s * cover_w
    books[J_CROP_LATENT] += step_s * (transpired + evaporated) * LATENT_J_KG
    books[KG_TRANSPIRED] += step_s * (transpired + evaporated)
    house[OUT_C] = weather[W_AIR_C]
    return evaporated * LATENT_J_KG
