"""The outlook on the night in one line, as people read it in the evening."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.diagnosis.evening import FRESH_S
from controller.faults import HOUR_S
from controller.forecast.store import Heater, Lasts
from controller.units import clock_text, duration_text, temperature_text

if TYPE_CHECKING:
    from controller.diagnosis.evening import Evening, Expected
    from controller.units import TemperatureUnit


def notice_now(evening: Evening, hour: float | None, now_s: float, unit: TemperatureUnit) -> str:
    """The notice of an outlook that is still fresh, else nothing.

    Args:
        evening: what is expected, and since when.
        hour: of the day now, None while the clock is not set.
        now_s: monotonic time.
        unit: that people read.
    """
    age_s = now_s - evening.at_s
    if isinstance(evening.expected, str) or age_s > FRESH_S:
        return ""
    return notice(evening.expected, None if hour is None else hour - age_s / HOUR_S, unit)


def notice(expected: Expected, hour: float | None, unit: TemperatureUnit) -> str:
    """Such as: Tonight about 3.1 °C (0.8 to 5.4). Without the store about 0.4 °C. Heater: not needed.

    Args:
        expected: the outlook.
        hour: of the day when it was expected, None while the clock is not set; then hours are counted.
        unit: that people read.
    """
    night = expected.night
    low = f"Tonight about {temperature_text(night.low_c, unit)}"
    if night.from_c is not None and night.to_c is not None:
        low += f" ({_number(night.from_c, unit)} to {_number(night.to_c, unit)})"
    said = [low, *_store(expected, hour, unit)]
    if expected.heater is not Heater.UNKNOWN:
        when = _when(expected.heater_s, hour, "from", "in") if expected.heater is Heater.NEEDED else ""
        said.append(f"Heater: {expected.heater.value}{when}")
    return ". ".join(said)


def _store(expected: Expected, hour: float | None, unit: TemperatureUnit) -> list[str]:
    if expected.without_c is None:
        return []
    if expected.lasts is Lasts.NOT_NEEDED:
        return ["The store is not needed"]
    without = f"Without the store about {temperature_text(expected.without_c, unit)}"
    words = {
        Lasts.THE_NIGHT: "The store lasts the night",
        Lasts.EMPTY: "The store has nothing to give",
        Lasts.UNTIL: f"The store lasts{_when(expected.lasts_s, hour, 'until', 'for')}",
    }.get(expected.lasts)
    return [without] if words is None else [without, words]


def _when(seconds: float, hour: float | None, at: str, after: str) -> str:
    """About when something is, by the clock, to ten minutes; without a clock in how long."""
    if hour is None:
        return f" {after} about {duration_text(seconds)}"
    return f" {at} about {clock_text(round((hour + seconds / HOUR_S) * 6.0) / 6.0)}"


def _number(celsius: float, unit: TemperatureUnit) -> str:
    """A temperature without its unit."""
    return temperature_text(celsius, unit).removesuffix(unit.value).strip()
