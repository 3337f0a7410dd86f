"""A year of weather, in SI, as the model takes it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

PLAIN_YEAR = 2026  # a year of 365 days; weather files have no year of their own


@dataclass(frozen=True, slots=True)
class Weather:
    """A year of hours, as a ring: place ``h`` is ``h`` hours after the year's start (local standard time).

    Temperatures and their like stand at the hour; radiation and rain are means of the hour that ends there.

    Attributes:
        title: the place.
        notes: what was filled in or made up, for the summary.
        latitude: degrees north.
        longitude: degrees east.
        utc_offset_h: local standard time minus UTC.
        altitude_m: above the sea.
        air_c: air temperature.
        humidity_ratio: kg of water per kg of dry air.
        pressure_pa: air pressure.
        wind_m_s: wind speed.
        sky_w_m2: long-wave radiation of the sky.
        ghi_w_m2: global radiation on the level.
        dni_w_m2: direct radiation.
        dhi_w_m2: diffuse radiation.
        sun_height: sine of the sun's mean height in the hour, 0 while it is down.
        sun: unit vectors to the sun while it is up in the hour, east, north and up, [3, hours]; 0 if down.
        rain_m_s: rain.
    """

    title: str
    notes: tuple[str, ...]
    latitude: float
    longitude: float
    utc_offset_h: float
    altitude_m: float
    air_c: Floats
    humidity_ratio: Floats
    pressure_pa: Floats
    wind_m_s: Floats
    sky_w_m2: Floats
    ghi_w_m2: Floats
    dni_w_m2: Floats
    dhi_w_m2: Floats
    sun_height: Floats
    sun: Floats
    rain_m_s: Floats

    @property
    def zone(self) -> timezone:
        """Local standard time."""
        return timezone(timedelta(hours=self.utc_offset_h))

    @property
    def start_of_year(self) -> datetime:
        """Where the ring begins, in a year without 29 February."""
        return datetime(PLAIN_YEAR, 1, 1, tzinfo=self.zone)

    def seconds_into_year(self, moment: datetime) -> float:
        """How far into the file's year a moment lies; one without a zone is local standard time.

        29 February lives through 28 February's weather again.
        """
        local = moment.replace(tzinfo=self.zone) if moment.tzinfo is None else moment.astimezone(self.zone)
        if (local.month, local.day) == (2, 29):
            local -= timedelta(days=1)
        plain = local.replace(year=PLAIN_YEAR)
        return (plain - self.start_of_year).total_seconds()
