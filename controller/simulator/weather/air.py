"""Weather made warmer or colder: the air's humidity and the sky's radiation go along."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from controller.physics import moist_air, sky

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.simulator.weather.year import Weather

    Floats = NDArray[np.float64]

TABLE_C = tuple(0.1 * step for step in range(-600, 600))
DRIEST = 0.05  # relative humidity; drier air is not met near the ground. [practice]


def shifted(weather: Weather, by_k: float) -> Weather:
    """The same year warmer or colder by as much in every hour.

    Relative humidity is kept, as climate models find it nearly is (Held & Soden 2000, Annu. Rev. Energy
    Environ. 25:441) [memory], and so are cloud, light, wind, pressure and rain.

    Args:
        weather: a year.
        by_k: K, above 0 for warmer.
    """
    air_c = weather.air_c + by_k
    ratio = humidity_ratios(air_c, relative_humidities(weather), weather.pressure_pa)
    words = f"{abs(by_k):g} K {'warmer' if by_k > 0.0 else 'colder'}"
    return replace(
        weather,
        title=f"{weather.title}, {words}",
        notes=(*weather.notes, f"{words} than the file, at its relative humidity, cloud, light and rain"),
        air_c=air_c,
        humidity_ratio=ratio,
        sky_w_m2=sky_radiation(air_c, ratio, weather.pressure_pa, cloud_effects(weather)),
    )


def relative_humidities(weather: Weather) -> Floats:
    """Relative humidity of every hour, 0.05 to 1."""
    triples = zip(weather.air_c, weather.humidity_ratio, weather.pressure_pa, strict=True)
    shares = np.array([moist_air.relative_humidity(*triple) for triple in triples])
    limited: Floats = np.clip(shares, DRIEST, 1.0)
    return limited


def humidity_ratios(air_c: Floats, shares: Floats, pressure_pa: Floats) -> Floats:
    """Kilograms of water per kilogram of dry air at these relative humidities."""
    triples = zip(air_c, shares, pressure_pa, strict=True)
    return np.array([moist_air.humidity_ratio(*triple) for triple in triples])


def cloud_effects(weather: Weather) -> Floats:
    """By which share clouds close the gap between a clear sky and a black one, hour by hour.

    Below 0 where a measured sky is colder than the formula's clear one.
    """
    black = _radiation(weather.air_c, np.ones(weather.air_c.size))
    clear = _clear(weather.humidity_ratio, weather.pressure_pa)
    effects: Floats = (weather.sky_w_m2 / black - clear) / (1.0 - clear)
    return effects


def sky_radiation(air_c: Floats, ratio: Floats, pressure_pa: Floats, effects: Floats) -> Floats:
    """Long-wave radiation (W/m²) of skies with these cloud effects over this air."""
    clear = _clear(ratio, pressure_pa)
    return _radiation(air_c, np.minimum(clear + (1.0 - clear) * effects, 1.0))


def dew_points_c(ratio: Floats, pressure_pa: Floats) -> Floats:
    """Dew or frost points, from a table for the mean pressure; within 0.01 K of the exact ones."""
    mean_pa = float(np.mean(pressure_pa))
    saturated_pa = [
        moist_air.vapour_pressure_pa(moist_air.saturation_humidity_ratio(temp_c, mean_pa), mean_pa)
        for temp_c in TABLE_C
    ]
    pairs = zip(ratio, pressure_pa, strict=True)
    return np.interp([moist_air.vapour_pressure_pa(*pair) for pair in pairs], saturated_pa, TABLE_C)


def _clear(ratio: Floats, pressure_pa: Floats) -> Floats:
    """Emissivity of a cloudless sky; the arrays begin at a midnight."""
    triples = zip(dew_points_c(ratio, pressure_pa), range(ratio.size), pressure_pa, strict=True)
    return np.array(
        [sky.clear_sky_emissivity(dew_c, hour % 24, pressure) for dew_c, hour, pressure in triples]
    )


def _radiation(air_c: Floats, emissivity: Floats) -> Floats:
    pairs = zip(air_c, emissivity, strict=True)
    return np.array([sky.downward_radiation_w_m2(*pair) for pair in pairs])
