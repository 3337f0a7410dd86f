"""Kinds of values that settings have: measurements, names, paths."""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator

from controller.settings.schema.quantities import Quantity, refusal, shown
from controller.settings.schema.section import Shape
from controller.units import TemperatureUnit

# Letters that control a terminal or turn the direction of writing; a settings file needs none of them.
_UNSEEN = r"\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069"
Name = Annotated[
    str,
    Shape(
        r"[a-z][a-z0-9-]{0,23}",
        "is not a valid name; expected a small letter, then at most 23 small letters, digits or hyphens",
    ),
]
Title = Annotated[
    str, Shape(rf"[^{_UNSEEN}]{{0,80}}", "is not a valid title; expected at most 80 letters on one line")
]
# A broker may take 65535 bytes and no NUL (MQTT 5, section 1.5.4) [memory]; nobody types as many.
Account = Annotated[
    str,
    Shape(rf"[^{_UNSEEN}]{{0,128}}", "is not valid here; expected at most 128 letters on one line"),
]
Directory = Annotated[str, Shape(rf"/[^{_UNSEEN}]*", "is not a full path; expected one that starts with /")]
OptionalFile = Annotated[
    str,
    Shape(
        rf"(/[^{_UNSEEN}]*)?",
        "is not a full path; expected one that starts with /, or nothing between the quotes",
    ),
]
Host = Annotated[str, Shape(r"[A-Za-z0-9._:%\[\]-]{1,253}", "is not a host; expected a name or an address")]
BusIdentity = Annotated[
    str,
    Shape(
        r"28-[0-9a-f]{12}",
        "is not a probe identity; expected 28- and twelve digits or letters a to f (see `hypocaust probes`)",
    ),
]
Location = Annotated[
    str,
    Shape(
        r"((90|[0-8]?[0-9](\.[0-9]{1,5})?) ?[NS],? ?(180|(1[0-7][0-9]|[0-9]{1,2})(\.[0-9]{1,5})?) ?[EW])?",
        'is not a place; expected degrees north or south and east or west, as in "46.52 N, 7.25 E"',
    ),
]
TimeOfDay = Annotated[
    str,
    Shape(
        r"([01][0-9]|2[0-3]):[0-5][0-9]|24:00",
        'is not a time of day; expected hours and minutes from 00:00 to 24:00, as in "18:00"',
    ),
]

Celsius = Annotated[float, Quantity("temperature")]
CelsiusOrNever = Annotated[float, Quantity("temperature", never=True)]
Kelvin = Annotated[float, Quantity("difference")]
Seconds = Annotated[float, Quantity("duration")]
Watts = Annotated[float, Quantity("power")]
AirFlow = Annotated[float, Quantity("air flow")]
WaterFlow = Annotated[float, Quantity("water flow")]
Metres = Annotated[float, Quantity("length")]
SquareMetres = Annotated[float, Quantity("area")]
CubicMetres = Annotated[float, Quantity("volume")]
WattsPerSquareMetre = Annotated[float, Quantity("light")]
KelvinPerSecond = Annotated[float, Quantity("rate of rise")]


def _temperature_unit(written: object) -> TemperatureUnit:
    """Read the unit people want to see, with or without its degree sign."""
    for unit in TemperatureUnit:
        if written in (unit, unit.value, unit.value.removeprefix("°")):
            return unit
    raise refusal(f'{shown(written)} is not a unit for temperatures; expected "°C" or "°F"')


ShownUnit = Annotated[TemperatureUnit, BeforeValidator(_temperature_unit)]
