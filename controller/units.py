"""Unit conversions. Inside the program every number is SI with its unit in its name; people choose theirs."""

from __future__ import annotations

from enum import Enum

ZERO_CELSIUS_K = 273.15  # by definition of the degree Celsius (SI brochure, 9th ed.)
FAHRENHEIT_PER_KELVIN = 1.8  # by definition
CFM_M3_S = 0.3048**3 / 60.0  # one cubic foot a minute; the foot is 0.3048 m by definition
INCH_M = 0.0254  # by definition
FOOT_M = 0.3048  # by definition
US_GALLON_M3 = 3.785411784e-3  # 231 cubic inches, by definition


class TemperatureUnit(Enum):
    """What people want to read; machines always get degrees Celsius and kelvin."""

    CELSIUS = "°C"
    FAHRENHEIT = "°F"


def fahrenheit_from_celsius(value_c: float) -> float:
    """Convert a temperature in °C to °F."""
    return value_c * FAHRENHEIT_PER_KELVIN + 32.0


def temperature_text(value_c: float, unit: TemperatureUnit) -> str:
    """A temperature as people read it, to a tenth of a degree: ``29.4 °C`` or ``84.9 °F``."""
    if unit is TemperatureUnit.FAHRENHEIT:
        return f"{fahrenheit_from_celsius(value_c):.1f} °F"
    return f"{value_c:.1f} °C"


def difference_text(value_k: float, unit: TemperatureUnit) -> str:
    """A temperature difference as people read it: ``13.3 K`` or ``23.9 °F``."""
    if unit is TemperatureUnit.FAHRENHEIT:
        return f"{value_k * FAHRENHEIT_PER_KELVIN:.1f} °F"
    return f"{value_k:.1f} K"


def power_text(value_w: float) -> str:
    """A power: ``120 W``, ``1.9 kW``."""
    return f"{value_w / 1000.0:.1f} kW" if abs(value_w) >= 1000.0 else f"{value_w:.0f} W"  # noqa: PLR2004


def duration_text(value_s: float) -> str:
    """A duration in the two largest units that matter: ``40 s``, ``12 min``, ``3 h 05 min``, ``2 d 4 h``."""
    seconds = max(round(value_s), 0)
    if seconds < 120:  # noqa: PLR2004
        return f"{seconds} s"
    minutes = round(seconds / 60)
    if minutes < 120:  # noqa: PLR2004
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    if hours < 48:  # noqa: PLR2004
        return f"{hours} h {minutes:02d} min"
    days, hours = divmod(hours, 24)
    return f"{days} d {hours} h"


def clock_text(hour: float) -> str:
    """A time of day: 7.66 is 07:40."""
    minutes = round(hour * 60.0) % (24 * 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"
