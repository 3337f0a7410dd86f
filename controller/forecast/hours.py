"""Where in the night a moment lies: by place and clock, by the clock alone, or by the air of the house."""

from __future__ import annotations

import re
from typing import NamedTuple

from controller.faults import HOUR_S
from controller.physics.daylight import half_day_s, noon_s

DAY_H, NOON_H = 24.0, 12.0
# Sunset and sunrise where no place is set: those of a winter month between 40° and 50° north. [practice]
USUAL_SUNSET_H, USUAL_NIGHT_H = 17.0, 14.0


class Place(NamedTuple):
    """Where the house stands, in degrees north and east."""

    latitude: float
    longitude: float


class NightHour(NamedTuple):
    """A moment between one noon and the next.

    Attributes:
        since_h: hours since sunset, negative before it.
        length_h: hours from sunset to sunrise.
    """

    since_h: float
    length_h: float

    @property
    def share(self) -> float:
        """How much of the night is over: 0 at sunset, 1 at sunrise."""
        return self.since_h / self.length_h

    @property
    def left_h(self) -> float:
        """Hours to sunrise."""
        return self.length_h - self.since_h


def place_of(location: str) -> Place | None:
    """The place of a checked setting such as ``"46.52 N, 7.25 E"``; None of an empty one."""
    found = re.findall(r"([0-9.]+) ?([NSEW])", location)
    if not found:
        return None
    north, east = (float(number) * (-1.0 if side in "SW" else 1.0) for number, side in found)
    return Place(north, east)


def night_hour(utc_s: float | None, place: Place | None, hour: float | None) -> NightHour | None:
    """Where in the night it is, None while nothing shows it.

    Args:
        utc_s: seconds since 1970, None while the clock is not set.
        place: of the house, None where the settings do not say.
        hour: of the day at the place of the house, by a clock or by the air, None while nothing shows it.
    """
    if utc_s is not None and place is not None:
        noon = noon_s(place.longitude, utc_s - NOON_H * HOUR_S)
        sunset_s = noon + half_day_s(place.latitude, noon)
        next_noon = noon_s(place.longitude, noon + DAY_H * HOUR_S)
        sunrise_s = next_noon - half_day_s(place.latitude, next_noon)
        return NightHour((utc_s - sunset_s) / HOUR_S, (sunrise_s - sunset_s) / HOUR_S)
    if hour is None:
        return None
    return NightHour((hour - NOON_H) % DAY_H + NOON_H - USUAL_SUNSET_H, USUAL_NIGHT_H)
