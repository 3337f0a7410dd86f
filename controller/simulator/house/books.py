"""The model's books: what went in and out since the start, and how well it adds up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from controller.simulator.house import indices as at

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Books:
    """Sums since the start. Energies in J, water in m³ or kg, times in s.

    ``energy_closure`` is what the books miss over the heat that went through the house (sun, fans, heater,
    losses, half their sum), ``water_closure_m3`` what the ground and sump water books miss, and
    ``vapour_closure_kg`` the air's.
    """

    sun_j: float
    fans_j: float
    heater_j: float
    cover_j: float
    air_exchange_j: float
    evaporated_j: float
    deep_j: float
    edge_j: float
    charged_j: float
    discharged_j: float
    latent_charged_j: float
    latent_discharged_j: float
    stored_j: float
    energy_closure: float
    rain_m3: float
    run_off_m3: float
    dried_m3: float
    pumped_m3: float
    condensed_in_tubes_kg: float
    evaporated_in_tubes_kg: float
    drained_from_tubes_kg: float
    transpired_kg: float
    vented_kg: float
    water_closure_m3: float
    vapour_closure_kg: float
    film_closure_kg: float
    heater_s: float
    screen_s: float
    shade_s: float


def close(
    sums: Floats,
    *,
    edge_j: float,
    deep_j: float,
    stored_j: float,
    ground_water_m3: float,
    vapour_kg: float,
    film_kg: float,
) -> Books:
    """Close the books.

    Args:
        sums: gathered step by step.
        edge_j: heat from the ground beside the house.
        deep_j: heat from below.
        stored_j: change of the heat in air, crop, cover and ground.
        ground_water_m3: change of the water in ground, pit and tubes.
        vapour_kg: change of the vapour in the air.
        film_kg: water on the tube walls, none at the start.
    """
    latent_j = sums[at.J_FOG_LATENT] + sums[at.J_COVER_LATENT] - sums[at.J_CROP_LATENT]
    latent_j += sums[at.J_LATENT_IN] - sums[at.J_LATENT_OUT]
    given_j = sums[at.J_SUN] + sums[at.J_FANS] + sums[at.J_HEATER]
    gains_j = given_j + latent_j + edge_j + deep_j
    losses_j = sums[at.J_COVER] + sums[at.J_AIR_EXCHANGE]
    through_j = 0.5 * (given_j + abs(losses_j) + abs(latent_j))
    condensed, evaporated = sums[at.KG_TUBE_CONDENSED], sums[at.KG_TUBE_EVAPORATED]
    drained = sums[at.KG_TUBE_DRAINED]
    vapour = sums[at.KG_TRANSPIRED] + evaporated - condensed
    vapour -= sums[at.KG_VENTED] + sums[at.KG_COVER] + sums[at.KG_FOG]
    water_m3 = (
        sums[at.M3_RAIN] - sums[at.M3_RUN_OFF] - sums[at.M3_DRIED] - sums[at.M3_PUMPED] + drained / 1000.0
    )
    return Books(
        sun_j=float(sums[at.J_SUN]),
        fans_j=float(sums[at.J_FANS]),
        heater_j=float(sums[at.J_HEATER]),
        cover_j=float(sums[at.J_COVER]),
        air_exchange_j=float(sums[at.J_AIR_EXCHANGE]),
        evaporated_j=float(-latent_j),
        deep_j=deep_j,
        edge_j=edge_j,
        charged_j=float(sums[at.J_CHARGED]),
        discharged_j=float(sums[at.J_DISCHARGED]),
        latent_charged_j=float(sums[at.J_LATENT_IN]),
        latent_discharged_j=float(sums[at.J_LATENT_OUT]),
        stored_j=stored_j,
        energy_closure=float((gains_j - losses_j - stored_j) / max(through_j, 1.0)),
        rain_m3=float(sums[at.M3_RAIN]),
        run_off_m3=float(sums[at.M3_RUN_OFF]),
        dried_m3=float(sums[at.M3_DRIED]),
        pumped_m3=float(sums[at.M3_PUMPED]),
        condensed_in_tubes_kg=float(condensed),
        evaporated_in_tubes_kg=float(evaporated),
        drained_from_tubes_kg=float(drained),
        transpired_kg=float(sums[at.KG_TRANSPIRED]),
        vented_kg=float(sums[at.KG_VENTED]),
        water_closure_m3=float(water_m3 - ground_water_m3),
        vapour_closure_kg=float(vapour - vapour_kg),
        film_closure_kg=float(condensed - evaporated - drained - film_kg),
        heater_s=float(sums[at.S_HEATER]),
        screen_s=float(sums[at.S_SCREEN]),
        shade_s=float(sums[at.S_SHADE]),
    )
