"""Numbers, days and times as the person reads them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from controller.units import (
    FAHRENHEIT_PER_KELVIN,
    TemperatureUnit,
    difference_text,
    fahrenheit_from_celsius,
    temperature_text,
)

if TYPE_CHECKING:
    from datetime import date, datetime

    from controller.report.calendar import Calendar
    from controller.report.data import Interval

MINUS = "\N{MINUS SIGN}"
NO_BREAK = "\N{NO-BREAK SPACE}"
NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True)
class Reader:
    """Who the page is for.

    Attributes:
        unit: of temperatures.
        calendar: of the house.
    """

    unit: TemperatureUnit
    calendar: Calendar

    def plotted(self, value_c: float) -> float:
        """A temperature as a number on an axis."""
        return fahrenheit_from_celsius(value_c) if self.unit is TemperatureUnit.FAHRENHEIT else value_c

    def degrees(self, value: float) -> str:
        """A number on an axis of temperatures."""
        return minus(f"{value:g}°")

    def temperature(self, value_c: float | None) -> str:
        """A temperature to a tenth."""
        return NOT_KNOWN if value_c is None else together(temperature_text(value_c, self.unit))

    def cell(self, value_c: float | None) -> str:
        """A temperature in a table whose head names the unit."""
        return "–" if value_c is None else minus(f"{self.plotted(value_c):.1f}")

    def difference(self, value_k: float) -> str:
        """A difference to a tenth."""
        return together(difference_text(value_k, self.unit))

    def fine_difference(self, value_k: float) -> str:
        """A small difference to a hundredth."""
        factor, unit = (
            (FAHRENHEIT_PER_KELVIN, "°F") if self.unit is TemperatureUnit.FAHRENHEIT else (1.0, "K")
        )
        return f"{value_k * factor:.2f}{NO_BREAK}{unit}"

    def differences(self, found: Interval) -> str:
        """The two ends of an interval of differences."""
        return f"{self.difference(found.low)} to {self.difference(found.high)}"

    def moment(self, at: datetime) -> str:
        """A day and a time, such as ``6 Jan 06:15``."""
        local = self.calendar.local(at)
        return f"{local.day} {local:%b} {local:%H:%M}"

    def clock(self, at: datetime) -> str:
        """A time of day."""
        return f"{self.calendar.local(at):%H:%M}"


def together(text: str) -> str:
    """A number and its unit, which no line may part."""
    return minus(text).replace(" ", NO_BREAK)


def kilowatt_hours(value: float) -> str:
    """An amount of heat or electricity."""
    return f"{whole(value)}{NO_BREAK}kWh"


def minus(text: str) -> str:
    """A number with a minus as long as a plus."""
    return text.replace("-", MINUS)


def day_text(day: date) -> str:
    """A day, such as ``6 January``."""
    return f"{day.day} {day:%B}"


def days_text(first: date, last: date) -> str:
    """A range of days, its year once."""
    if first == last:
        return f"{day_text(first)} {first.year}"
    year = "" if first.year == last.year else f" {first.year}"
    return f"{day_text(first)}{year} to {day_text(last)} {last.year}"


def whole(value: float) -> str:
    """A number without a fraction, thousands set apart so that they can be read."""
    text = f"{abs(value):,.0f}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    return f"{MINUS}{text}" if round(value) < 0 else text


def wholes(found: Interval) -> str:
    """The two ends of an interval without fractions."""
    return f"{whole(found.low)} to {whole(found.high)}"


def tenths(value: float) -> str:
    """A number to a tenth."""
    return minus(f"{value:.1f}")


def counted(number: int, one: str, many: str | None = None) -> str:
    """A number with its noun."""
    return f"{whole(number)}{NO_BREAK}{one if number == 1 else many or one + 's'}"


def listed(words: list[str]) -> str:
    """Words with commas, and "and" before the last."""
    if len(words) < 2:  # noqa: PLR2004
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"
