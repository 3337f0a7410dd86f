"""What a grower may have fitted and works by hand or by its own small thermostat: cloth, screen, heater.

None of it is driven by the controller. Plain Python; the model runs the compiled twin.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from controller.simulator.house.state import House, Sums, WeatherNow

LIGHT_BAND = 0.8  # what was drawn or opened at a light goes back at this share of it [practice]
SHADE_BAND_K = 2.0  # cloth is taken off this far below where it was drawn [practice]


def switched(now: float, on: bool, off: bool) -> float:
    """State of something with two thresholds."""
    return 1.0 if on else 0.0 if off else now


def work_fittings(house: House, weather: WeatherNow, sums: Sums, step_s: float) -> None:
    """Draw or open cloth and screen and switch the heater, as light and bench air are now; count the time."""
    state, built = house.state, house.parameters
    light_w_m2, bench_c = weather.light_w_m2, state.bench_c
    season = built.shade_share > 0.0 and weather.shade_season > 0.5  # noqa: PLR2004 (between months)
    bright_w_m2, warm_c = built.shade_light_w_m2, built.shade_air_c
    state.shade = switched(
        state.shade,
        season and light_w_m2 >= bright_w_m2 and bench_c >= warm_c,
        not season or light_w_m2 < LIGHT_BAND * bright_w_m2 or bench_c < warm_c - SHADE_BAND_K,
    )
    fitted = built.screen_m2k_w > 0.0
    dusk_w_m2 = built.screen_light_w_m2
    state.screen = switched(
        state.screen, fitted and light_w_m2 < LIGHT_BAND * dusk_w_m2, not fitted or light_w_m2 >= dusk_w_m2
    )
    cold_c = built.heater_below_c
    state.heater = switched(
        state.heater,
        built.heater_w > 0.0 and bench_c < cold_c,
        bench_c >= cold_c + built.heater_band_k,
    )
    sums.shade_s += step_s * state.shade
    sums.screen_s += step_s * state.screen
    sums.heater_s += step_s * state.heater
