"""Which soil lies at what depth under the house, and how wet it is."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from controller.physics import soil
from controller.simulator.house.ground import Soil

if TYPE_CHECKING:
    from controller.settings.schema import House

TOPSOIL_M = 0.3  # depth of what is watered and dug [practice]
# texture: water in percent of the volume at the wilting point, at field capacity and with all pores full.
# Saxton & Rawls 2006, Soil Sci. Soc. Am. J. 70:1569, Table 3 (2.5 % organic matter).
WATER_HELD = {
    "sand": (5.0, 10.0, 46.0),
    "sandy loam": (8.0, 18.0, 45.0),
    "loam": (14.0, 28.0, 46.0),
    "clay loam": (22.0, 36.0, 48.0),
    "silty clay": (27.0, 41.0, 52.0),
    "clay": (30.0, 42.0, 50.0),
}


def saturation_of(texture: str, moisture: str) -> float:
    """Share of the pores full of water (0 to 1).

    Args:
        texture: one of ``soil.TEXTURES``.
        moisture: "dry" (wilting point), "watered" (halfway from there to field capacity, as beds are kept),
            "moist" (field capacity) or "saturated".
    """
    wilting, field, full = WATER_HELD[texture]
    held = {"dry": wilting, "watered": 0.5 * (wilting + field), "moist": field, "saturated": full}
    return held[moisture] / full


def subsoil(house: House) -> Soil:
    """The soil below what is watered, in the house and beside it."""
    return _layer(TOPSOIL_M, house.soil, house.soil_moisture)


def soil_layers(house: House, depth_m: float) -> tuple[Soil, ...]:
    """Watered topsoil, the soil below it, and the bed of tubes at this depth, from the surface down."""
    layers = [_layer(0.0, house.soil, "watered"), subsoil(house)]
    if house.tube_bed != "none":
        top_m, end_m = depth_m - 0.5 * house.tube_bed_thickness_m, depth_m + 0.5 * house.tube_bed_thickness_m
        under = replace([layer for layer in layers if layer.top_m <= end_m][-1], top_m=end_m)
        layers = [
            *(layer for layer in layers if layer.top_m < top_m),
            _layer(top_m, house.tube_bed, house.tube_bed_moisture),
            under,
            *(layer for layer in layers if layer.top_m > end_m),
        ]
    return tuple(layers)


def _layer(top_m: float, texture: str, moisture: str) -> Soil:
    porosity, sand = soil.TEXTURES[texture]
    wetness = saturation_of(texture, moisture)
    return Soil(
        top_m,
        soil.conductivity_w_mk(porosity, sand, wetness),
        soil.heat_capacity_j_m3k(porosity, wetness),
        soil.fusion_j_m3(porosity, wetness, saturation_of(texture, "dry")),
    )
