"""The model's books: what went in and out since the start, and how well it adds up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from controller.simulator.house.state import Sums


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
    sums: Sums,
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
    latent_j = sums.fog_latent_j + sums.cover_latent_j - sums.crop_latent_j
    latent_j += sums.latent_in_j - sums.latent_out_j
    given_j = sums.sun_j + sums.fans_j + sums.heater_j
    gains_j = given_j + latent_j + edge_j + deep_j
    losses_j = sums.cover_j + sums.air_exchange_j
    through_j = 0.5 * (given_j + abs(losses_j) + abs(latent_j))
    condensed, evaporated = sums.tube_condensed_kg, sums.tube_evaporated_kg
    drained = sums.tube_drained_kg
    vapour = sums.transpired_kg + evaporated - condensed
    vapour -= sums.vented_kg + sums.cover_kg + sums.fog_kg
    water_m3 = sums.rain_m3 - sums.run_off_m3 - sums.dried_m3 - sums.pumped_m3 + drained / 1000.0
    return Books(
        sun_j=float(sums.sun_j),
        fans_j=float(sums.fans_j),
        heater_j=float(sums.heater_j),
        cover_j=float(sums.cover_j),
        air_exchange_j=float(sums.air_exchange_j),
        evaporated_j=float(-latent_j),
        deep_j=deep_j,
        edge_j=edge_j,
        charged_j=float(sums.charged_j),
        discharged_j=float(sums.discharged_j),
        latent_charged_j=float(sums.latent_in_j),
        latent_discharged_j=float(sums.latent_out_j),
        stored_j=stored_j,
        energy_closure=float((gains_j - losses_j - stored_j) / max(through_j, 1.0)),
        rain_m3=float(sums.rain_m3),
        run_off_m3=float(sums.run_off_m3),
        dried_m3=float(sums.dried_m3),
        pumped_m3=float(sums.pumped_m3),
        condensed_in_tubes_kg=float(condensed),
        evaporated_in_tubes_kg=float(evaporated),
        drained_from_tubes_kg=float(drained),
        transpired_kg=float(sums.transpired_kg),
        vented_kg=float(sums.vented_kg),
        water_closure_m3=float(water_m3 - ground_water_m3),
        vapour_closure_kg=float(vapour - vapour_kg),
        film_closure_kg=float(condensed - evaporated - drained - film_kg),
        heater_s=float(sums.heater_s),
        screen_s=float(sums.screen_s),
        shade_s=float(sums.shade_s),
    )
