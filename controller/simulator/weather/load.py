"""Loads a year of weather by name or file, ready for the model."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from controller.physics import moist_air, sky
from controller.simulator.weather.air import humidity_ratios, shifted, sky_radiation
from controller.simulator.weather.files import read
from controller.simulator.weather.formats import HOURS, RawYear, WeatherError
from controller.simulator.weather.gaps import bridge
from controller.simulator.weather.invented import invent_year
from controller.simulator.weather.rain import YearlySum, rain_mm
from controller.simulator.weather.year import PLAIN_YEAR, Weather

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

# Typical years that come with the pvlib package (NREL data).
SHIPPED = {"alaska-coast": "703165TY.csv", "carolina": "723170TYA.CSV", "miami": "12839.tm2"}
# Rain of a usual year where the file has none: Sand Point 33 inches (Alaska's community database), Miami 55.9
# inches (normal of 1961 to 1990, the years the file was made from)
SHIPPED_RAIN_MM = {"alaska-coast": 838.0, "miami": 1420.0}
INVENTED = "invented-"
RAINY = re.compile(r"(?P<name>.+):(?P<year_mm>[0-9]{1,6}(?:\.[0-9]+)?)mm")
MOST_RAIN_MM = 15_000.0  # the wettest places on earth have 12 m a year [memory]
SELDOM = 0.5  # what is missing in a larger share of the year is not measured at this place
SHIFTED = re.compile(r"(?P<name>.+)(?P<by_k>[+-][0-9]+(?:\.[0-9]+)?)K")
MOST_AT_NIGHT = 0.02  # of a year's light; dawn and dusk have less. [practice]
LARGEST_SHIFT_K = 20.0  # beyond it a year of the same place means nothing


def load_weather(name_or_path: str | Path, seed: int = 0, year_mm: float | None = None) -> Weather:
    """Load a shipped year (``alaska-coast``, ``carolina``, ``miami``) or a TMY3, EPW or TMY2 file.

    ``-8K`` (or ``+2.5K``) behind a name or path makes every hour that much colder (or warmer), ``:1100mm``
    makes that much rain fall in the year, ``invented-`` before it makes a year that never was out of it (see
    ``invented``); all may be used at once.

    Args:
        name_or_path: name or path.
        seed: for invented years, and for the rain that is made up where a file has none.
        year_mm: rain of the year, instead of what the file has or is taken to have.

    Raises:
        WeatherError: no such file, or one that cannot be used; with file and line.
    """
    name = str(name_or_path)
    if not _is_there(name):
        if name.startswith(INVENTED):
            return invent_year(load_weather(name.removeprefix(INVENTED), seed, year_mm), seed)
        if (found := RAINY.fullmatch(name)) is not None:
            return load_weather(found["name"], seed, _rain_mm(found["year_mm"]))
        if (found := SHIFTED.fullmatch(name)) is not None:
            return shifted(load_weather(found["name"], seed, year_mm), _shift_k(found["by_k"]))
    path = _shipped_directory() / SHIPPED[name] if name in SHIPPED else Path(name_or_path)
    if not _is_there(str(path)):
        raise WeatherError(
            f"{name}: no such file, and not one of {', '.join(SHIPPED)} "
            f"(also with {INVENTED} before it, and with a shift as in -8K or a rain as in :900mm behind it)"
        )
    return _prepare(read(path), seed, YearlySum(year_mm, SHIPPED_RAIN_MM.get(name)))


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


def _rain_mm(text: str) -> float:
    year_mm = float(text)
    if year_mm > MOST_RAIN_MM:
        raise WeatherError(
            f"{year_mm:g} mm of rain in a year is out of range; expected 0mm to {MOST_RAIN_MM:.0f}mm"
        )
    return year_mm


def _shipped_directory() -> Path:
    import pvlib  # noqa: PLC0415 (only the rehearsal needs it)

    return Path(pvlib.__file__).parent / "data"


def _prepare(raw: RawYear, seed: int, year: YearlySum) -> Weather:
    raw = replace(raw, lines=np.roll(raw.lines, 1))  # place 0 is midnight
    columns = raw.columns = {name: np.roll(values, 1) for name, values in raw.columns.items()}
    notes = raw.notes
    ratio, share = _humidity(raw)
    heights, sun = _sun(raw)
    at_night = float(columns["ghi"][heights == 0.0].sum() / columns["ghi"].sum())
    if at_night > MOST_AT_NIGHT:
        notes.append(
            f"{100.0 * at_night:.0f} % of the light falls while the sun is down: are time zone, latitude and "
            "longitude in the file's first line right?"
        )
    long_wave = _sky(raw, ratio)
    rain = rain_mm(columns, share, seed, year, notes)
    return Weather(
        title=raw.title.strip().title(),
        notes=tuple(notes),
        latitude=raw.latitude,
        longitude=raw.longitude,
        utc_offset_h=raw.utc_offset_h,
        altitude_m=raw.altitude_m,
        air_c=columns["air_c"],
        humidity_ratio=ratio,
        pressure_pa=columns["pressure_pa"],
        wind_m_s=columns["wind_m_s"],
        sky_w_m2=long_wave,
        ghi_w_m2=columns["ghi"],
        dni_w_m2=columns["dni"],
        dhi_w_m2=columns["dhi"],
        sun_height=heights,
        sun=sun,
        rain_m_s=rain / 1000.0 / 3600.0,
    )


def _humidity(raw: RawYear) -> tuple[Floats, Floats]:
    """Humidity ratio and relative humidity, hour by hour from whichever the file has.

    Raises:
        WeatherError: for more hours in a row than can be bridged it has neither.
    """
    air_c, pressure, share = (raw.columns[name] for name in ("air_c", "pressure_pa", "rh"))
    lacks = np.isnan(share)
    if lacks.any():
        dew_c = np.minimum(raw.columns["dew_c"], air_c)
        from_dew = lacks & ~np.isnan(dew_c)
        share = share.copy()
        for hour in np.flatnonzero(from_dew):
            ratio = moist_air.saturation_humidity_ratio(dew_c[hour], pressure[hour])
            share[hour] = moist_air.relative_humidity(air_c[hour], ratio, pressure[hour])
        if from_dew.any():
            raw.notes.append(f"humidity from the dew point{_hours(from_dew)}")
        share = bridge(raw.path, raw.lines, "humidity (relative or dew point)", share, raw.notes)
    share = np.clip(share, 0.01, 1.0)
    return humidity_ratios(air_c, share, pressure), share


def _sky(raw: RawYear, humidity_ratio: Floats) -> Floats:
    """Long-wave radiation of the sky: measured, or else from dew point and cloud (Berdahl & Martin 1984).

    Raises:
        WeatherError: for more hours in a row than can be bridged the file has neither it nor the cloud cover,
            though it has one of them most of the year.
    """
    columns = raw.columns
    cloud = columns["cloud"]
    measured = columns.get("sky_w_m2", np.full(HOURS, np.nan))
    lacks = ~(measured > 0.0)
    if not lacks.any():
        return measured
    unknown = lacks & np.isnan(cloud)
    words = "sky long-wave radiation"
    if unknown.mean() > SELDOM:
        raw.notes.append(f"{words} for half cover{_hours(unknown)}: the file has neither it nor cloud cover")
        cloud, unknown = np.where(unknown, 0.5, cloud), np.zeros(HOURS, dtype=bool)
    if not np.array_equal(lacks, unknown):
        raw.notes.append(f"{words} from dew point and cloud cover{_hours(lacks & ~unknown)}")
    effects = np.array([sky.sky_emissivity(0.0, share) for share in cloud])
    worked_out = sky_radiation(columns["air_c"], humidity_ratio, columns["pressure_pa"], effects)
    both = np.where(lacks, worked_out, measured)
    return bridge(raw.path, raw.lines, f"{words} (or cloud cover)", both, raw.notes)


def _hours(some: NDArray[np.bool_]) -> str:
    """For how many hours something was done, where it was not all."""
    return "" if some.all() else f" in {int(some.sum())} hours"


def _sun(raw: RawYear) -> tuple[Floats, Floats]:
    """Sine of the sun's height, and the unit vector (east, north, up) to it, in the hour that ends there.

    Both are means of six looks, of the vector only of those while the sun is up.
    """
    import pandas as pd  # noqa: PLC0415 (comes with pvlib)
    from pvlib import solarposition  # noqa: PLC0415

    zone = timezone(timedelta(hours=raw.utc_offset_h))
    looks = pd.date_range(datetime(PLAIN_YEAR, 1, 1, 0, 5, tzinfo=zone), periods=6 * HOURS, freq="10min")
    found = solarposition.get_solarposition(looks, raw.latitude, raw.longitude, raw.altitude_m)
    height, azimuth = (np.radians(found[name].to_numpy()) for name in ("elevation", "azimuth"))
    vectors = np.array([np.sin(azimuth) * np.cos(height), np.cos(azimuth) * np.cos(height), np.sin(height)])
    mean = (vectors * (height > 0.0)).reshape(3, HOURS, 6).mean(axis=2)
    length = np.linalg.norm(mean, axis=0)
    return np.roll(mean[2], 1), np.roll(mean / np.where(length > 0.0, length, 1.0), 1, axis=1)
