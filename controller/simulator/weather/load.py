"""Loads a year of weather by name or file, ready for the model."""

from __future__ import annotations

import re
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from controller.physics import moist_air, sky
from controller.simulator.weather.air import shifted, sky_radiation
from controller.simulator.weather.files import read
from controller.simulator.weather.formats import HOURS, RawYear, WeatherError
from controller.simulator.weather.invented import invent_year
from controller.simulator.weather.rain import rain_mm
from controller.simulator.weather.year import PLAIN_YEAR, Weather

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

# Typical years that come with the pvlib package (NREL data).
SHIPPED = {"alaska-coast": "703165TY.csv", "carolina": "723170TYA.CSV", "miami": "12839.tm2"}
INVENTED = "invented-"
SHIFTED = re.compile(r"(?P<name>.+)(?P<by_k>[+-][0-9]+(?:\.[0-9]+)?)K")
MOST_AT_NIGHT = 0.02  # of a year's light; dawn and dusk have less. [practice]
LARGEST_SHIFT_K = 20.0  # beyond it a year of the same place means nothing


def load_weather(name_or_path: str | Path, seed: int = 0) -> Weather:
    """Load a shipped year (``alaska-coast``, ``carolina``, ``miami``) or a TMY3, EPW or TMY2 file.

    ``-8K`` (or ``+2.5K``) behind a name or path makes every hour that much colder (or warmer), ``invented-``
    before it makes a year that never was out of it (see ``invented``); both may be used at once.

    Args:
        name_or_path: name or path.
        seed: for invented years, and for the rain that is made up where a file has none.

    Raises:
        WeatherError: no such file, or one that cannot be used; with file and line.
    """
    name = str(name_or_path)
    if not _is_there(name):
        if name.startswith(INVENTED):
            return invent_year(load_weather(name.removeprefix(INVENTED), seed), seed)
        if (found := SHIFTED.fullmatch(name)) is not None:
            return shifted(load_weather(found["name"], seed), _shift_k(found["by_k"]))
    path = _shipped_directory() / SHIPPED[name] if name in SHIPPED else Path(name_or_path)
    if not _is_there(str(path)):
        raise WeatherError(
            f"{name}: no such file, and not one of {', '.join(SHIPPED)} "
            f"(also with {INVENTED} before it, or a shift such as -8K behind it)"
        )
    return _prepare(read(path), seed)


def _is_there(path: str) -> bool:
    """Whether the file exists. Names that the file system refuses count as missing."""
    try:
        return Path(path).is_file()
    except (OSError, ValueError):
        return False


def _shift_k(text: str) -> float:
    by_k = float(text)
    if abs(by_k) > LARGEST_SHIFT_K:
        raise WeatherError(
            f"a shift of {by_k:g} K is out of range; expected -{LARGEST_SHIFT_K:g}K to +{LARGEST_SHIFT_K:g}K"
        )
    return by_k


def _shipped_directory() -> Path:
    import pvlib  # noqa: PLC0415 (only the rehearsal needs it)

    return Path(pvlib.__file__).parent / "data"


def _prepare(raw: RawYear, seed: int) -> Weather:
    columns = {name: np.roll(values, 1) for name, values in raw.columns.items()}  # place 0 is midnight
    notes = list(raw.notes)
    if "rain_mm" not in columns:
        columns["rain_mm"] = np.full(HOURS, np.nan)
    humidity = _humidity(columns, notes)
    heights = _sun_heights(raw)
    at_night = float(columns["ghi"][heights == 0.0].sum() / columns["ghi"].sum())
    if at_night > MOST_AT_NIGHT:
        notes.append(
            f"{100.0 * at_night:.0f} % of the light falls while the sun is down: are time zone, latitude and "
            "longitude in the file's first line right?"
        )
    long_wave = _sky(columns, humidity[0], notes)
    rain = rain_mm(columns, humidity[1], seed, notes)
    return Weather(
        title=raw.title.strip().title(),
        notes=tuple(notes),
        latitude=raw.latitude,
        longitude=raw.longitude,
        utc_offset_h=raw.utc_offset_h,
        altitude_m=raw.altitude_m,
        air_c=columns["air_c"],
        humidity_ratio=humidity[0],
        pressure_pa=columns["pressure_pa"],
        wind_m_s=columns["wind_m_s"],
        sky_w_m2=long_wave,
        ghi_w_m2=columns["ghi"],
        dni_w_m2=columns["dni"],
        dhi_w_m2=columns["dhi"],
        sun_height=heights,
        rain_m_s=rain / 1000.0 / 3600.0,
    )


def _humidity(columns: dict[str, Floats], notes: list[str]) -> tuple[Floats, Floats]:
    """Humidity ratio and relative humidity, from whichever the file has."""
    air_c, pressure = columns["air_c"], columns["pressure_pa"]
    if not np.isnan(columns["rh"]).any():
        share = np.clip(columns["rh"], 0.01, 1.0)
        ratio = [moist_air.humidity_ratio(t, r, p) for t, r, p in zip(air_c, share, pressure, strict=True)]
        return np.array(ratio), share
    if np.isnan(columns["dew_c"]).any():
        raise WeatherError(
            "the file has neither relative humidity nor dew point for every hour; one is needed"
        )
    notes.append("humidity from the dew point")
    dew_c = np.minimum(columns["dew_c"], air_c)
    ratio = [moist_air.saturation_humidity_ratio(t, p) for t, p in zip(dew_c, pressure, strict=True)]
    pairs = zip(air_c, ratio, pressure, strict=True)
    return np.array(ratio), np.array([moist_air.relative_humidity(t, w, p) for t, w, p in pairs])


def _sky(columns: dict[str, Floats], humidity_ratio: Floats, notes: list[str]) -> Floats:
    """Long-wave radiation of the sky: measured, or from dew point and cloud (Berdahl & Martin 1984)."""
    measured = columns.get("sky_w_m2")
    if measured is not None and not np.isnan(measured).any() and measured.min() > 0.0:
        return measured
    cloud = columns["cloud"]
    if np.isnan(cloud).any():
        notes.append("sky long-wave radiation for half cover: the file has neither it nor the cloud cover")
        cloud = np.full(HOURS, 0.5)
    else:
        notes.append("sky long-wave radiation from dew point and cloud cover")
    effects = np.array([sky.sky_emissivity(0.0, share) for share in cloud])
    return sky_radiation(columns["air_c"], humidity_ratio, columns["pressure_pa"], effects)


def _sun_heights(raw: RawYear) -> Floats:
    """Sine of the sun's height, mean of six looks in the hour that ends at each place."""
    import pandas as pd  # noqa: PLC0415 (comes with pvlib)
    from pvlib import solarposition  # noqa: PLC0415

    zone = timezone(timedelta(hours=raw.utc_offset_h))
    looks = pd.date_range(datetime(PLAIN_YEAR, 1, 1, 0, 5, tzinfo=zone), periods=6 * HOURS, freq="10min")
    height = solarposition.get_solarposition(looks, raw.latitude, raw.longitude, raw.altitude_m)["elevation"]
    sine = np.maximum(np.sin(np.radians(height.to_numpy())), 0.0).reshape(HOURS, 6).mean(axis=1)
    return np.roll(sine, 1)
