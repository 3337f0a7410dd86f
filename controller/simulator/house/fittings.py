"""What a grower may have fitted and works by hand or by its own small thermostat: cloth, screen, heater.

None of it is driven by the controller. Plain Python; the model runs the compiled twin.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.simulator.house.indices import (
    BENCH_C,
    HEATER,
    P_HEATER_BAND_K,
    P_HEATER_BELOW_C,
    P_HEATER_W,
    P_SCREEN_LIGHT_W_M2,
    P_SCREEN_M2K_W,
    P_SHADE_AIR_C,
    P_SHADE_LIGHT_W_M2,
    P_SHADE_SHARE,
    S_HEATER,
    S_SCREEN,
    S_SHADE,
    SCREEN,
    SHADE,
    W_LIGHT_W_M2,
    W_SHADE_SEASON,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LIGHT_BAND = (
    0.8  # what was drawn or opened at a light goes back at this share of it; common practice, no source
)
SHADE_BAND_K = 2.0  # cloth is taken off this far below where it was drawn; common practice, no source


def switched(now: float, on: bool, off: bool) -> float:
    """State of something with two thresholds."""
    return 1.0 if on else 0.0 if off else now


def work_fittings(house: Floats, parameters: Floats, weather: Floats, books: Floats, step_s: float) -> None:
    """Draw or open cloth and screen and switch the heater, as light and bench air are now; count the time."""
    light_w_m2, bench_c = weather[W_LIGHT_W_M2], house[BENCH_C]
    season = parameters[P_SHADE_SHARE] > 0.0 and weather[W_SHADE_SEASON] > 0.5  # noqa: PLR2004 (between months)
    bright_w_m2, warm_c = parameters[P_SHADE_LIGHT_W_M2], parameters[P_SHADE_AIR_C]
    house[SHADE] = switched(
        house[SHADE],
        season and light_w_m2 >= bright_w_m2 and bench_c >= warm_c,
        not season or light_w_m2 < LIGHT_BAND * bright_w_m2 or bench_c < warm_c - SHADE_BAND_K,
    )
    fitted = parameters[P_SCREEN_M2K_W] > 0.0
    dusk_w_m2 = parameters[P_SCREEN_LIGHT_W_M2]
    house[SCREEN] = switched(
        house[SCREEN], fitted and light_w_m2 < LIGHT_BAND * dusk_w_m2, not fitted or light_w_m2 >= dusk_w_m2
    )
    cold_c = parameters[P_HEATER_BELOW_C]
    house[HEATER] = switched(
        house[HEATER],
        parameters[P_HEATER_W] > 0.0 and bench_c < cold_c,
        bench_c >= cold_c + parameters[P_HEATER_BAND_K],
    )
    books[S_SHADE] += step_s * house[SHADE]
    books[S_SCREEN] += step_s * house[SCREEN]
    books[S_HEATER] += step_s * house[HEATER]
