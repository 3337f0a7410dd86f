"""What rehearsals are compared by: the figures that answer a grower's questions. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

from controller.units import FAHRENHEIT_PER_KELVIN, TemperatureUnit, fahrenheit_from_celsius, temperature_text

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from controller.rehearsal.summary import Summary


class MeasureKind(Enum):
    """What sort of figure: its unit, and the words for less and more of it."""

    TEMPERATURE = ("", "colder", "warmer")
    DEGREE_HOURS = ("", "less", "more")
    HOURS = ("h", "less", "more")
    ENERGY = ("kWh", "less", "more")
    COUNT = ("", "fewer", "more")

    def unit(self, read_in: TemperatureUnit) -> str:
        """The unit of a figure, empty if it has none."""
        if self is MeasureKind.TEMPERATURE:
            return read_in.value
        return f"{_difference_unit(read_in)} h" if self is MeasureKind.DEGREE_HOURS else self.value[0]

    def unit_of_difference(self, read_in: TemperatureUnit) -> str:
        """The unit of a difference between two figures."""
        return _difference_unit(read_in) if self is MeasureKind.TEMPERATURE else self.unit(read_in)

    def words(self, difference: float) -> str:
        """What a difference is called: ``more``, ``colder``."""
        return self.value[2] if difference > 0.0 else self.value[1]


@dataclass(frozen=True, slots=True)
class Measure:
    """One figure of a summary.

    Attributes:
        part: of the house it belongs to.
        words: what people call it; may hold ``{}`` for the temperature ``limit_c``.
        column: its name in tables, with the unit.
        kind: what sort of figure.
        of: takes it out of a summary in SI units and kWh; None where it is missing.
        limit_c: a temperature in the words.
    """

    part: str
    words: str
    column: str
    kind: MeasureKind
    of: Callable[[Summary], float | None]
    limit_c: float = 0.0

    def name(self, read_in: TemperatureUnit) -> str:
        """The words with the limit in the unit people read."""
        return self.words.format(temperature_text(self.limit_c, read_in))

    def read(self, summary: Summary, read_in: TemperatureUnit) -> float | None:
        """The figure in the unit people read."""
        value = self.of(summary)
        if value is None or read_in is not TemperatureUnit.FAHRENHEIT:
            return value
        if self.kind is MeasureKind.TEMPERATURE:
            return fahrenheit_from_celsius(value)
        return value * FAHRENHEIT_PER_KELVIN if self.kind is MeasureKind.DEGREE_HOURS else value

    def places(self, values: Sequence[float | None]) -> int:
        """How many decimal places a row of such figures is worth."""
        if self.kind is MeasureKind.TEMPERATURE:
            return 1
        largest = max((abs(value) for value in values if value is not None), default=0.0)
        return 1 if self.kind is not MeasureKind.COUNT and 0.0 < largest < 100.0 else 0  # noqa: PLR2004

    def text(self, value: float | None, places: int, read_in: TemperatureUnit) -> str:
        """A figure with its unit, a dash for none."""
        return _with_unit(value, places, self.kind.unit(read_in))

    def difference_text(
        self, first: float | None, other: float | None, places: int, read_in: TemperatureUnit
    ) -> str:
        """How a figure differs from the first, in plain words; empty if it does not, or one is missing.

        Both are rounded before, so that a reader can check the difference.
        """
        if first is None or other is None or round(first, places) == round(other, places):
            return ""
        difference = round(other, places) - round(first, places)
        size = _with_unit(abs(difference), places, self.kind.unit_of_difference(read_in))
        return f"{size} {self.kind.words(difference)}"


def _with_unit(value: float | None, places: int, unit: str) -> str:
    if value is None:
        return "-"
    number = f"{value:,.{places}f}".replace(",", " ")
    return f"{number} {unit}".rstrip()


def _difference_unit(read_in: TemperatureUnit) -> str:
    return "°F" if read_in is TemperatureUnit.FAHRENHEIT else "K"


def _heat_per_kwh(summary: Summary) -> float | None:
    """Heat moved, into the soil or out of it, for each unit of electricity."""
    moved_kwh = sum(abs(sums.heat_kwh) for sums in summary.ground.by_demand.values())
    return moved_kwh / summary.fans.energy_kwh if summary.fans.energy_kwh > 0.0 else None


def _heater_kwh(summary: Summary) -> float | None:
    """Heat of the backup heater, None in a house without one."""
    heater = summary.house.fittings.get("heater")
    return None if heater is None else heater.heat_kwh


def _soil_end_c(summary: Summary) -> float:
    ends_c = [loop.soil_end_c for loop in summary.fans.by_loop.values()]
    return sum(ends_c) / len(ends_c)


HOUSE, SOIL, MOTORS, TRUST = "The house", "The soil", "Fans and pumps", "Trust"
FROST_HOURS = Measure(HOUSE, "time in frost", "frost_h", MeasureKind.HOURS, lambda s: s.house.hours_below_0c)
COLDEST = Measure(
    HOUSE, "coldest among the crop", "air_min_c", MeasureKind.TEMPERATURE, lambda s: s.house.air_min_c
)
COLD = Measure(
    HOUSE,
    "degree-hours below {}",
    "degree_hours_below_4c",
    MeasureKind.DEGREE_HOURS,
    lambda s: s.house.degree_hours_below_4c,
    4.0,
)
HOT_HOURS = Measure(
    HOUSE, "time above {}", "above_32c_h", MeasureKind.HOURS, lambda s: s.house.hours_above_32c, 32.0
)
HOT = Measure(
    HOUSE,
    "degree-hours above {}",
    "degree_hours_above_32c",
    MeasureKind.DEGREE_HOURS,
    lambda s: s.house.degree_hours_above_32c,
    32.0,
)
BANKED = Measure(
    SOIL, "heat banked", "heat_into_soil_kwh", MeasureKind.ENERGY, lambda s: s.ground.charged_kwh
)
RETURNED = Measure(
    SOIL, "heat returned", "heat_out_of_soil_kwh", MeasureKind.ENERGY, lambda s: s.ground.discharged_kwh
)
ELECTRICITY = Measure(
    MOTORS, "electricity", "fan_electricity_kwh", MeasureKind.ENERGY, lambda s: s.fans.energy_kwh
)
PER_KWH = Measure(MOTORS, "heat moved for each kWh", "heat_per_kwh", MeasureKind.ENERGY, _heat_per_kwh)
MEASURES = (
    Measure(
        HOUSE, "coldest outdoors", "outdoor_min_c", MeasureKind.TEMPERATURE, lambda s: s.house.outdoor_min_c
    ),
    COLDEST,
    FROST_HOURS,
    COLD,
    Measure(
        HOUSE, "warmest outdoors", "outdoor_max_c", MeasureKind.TEMPERATURE, lambda s: s.house.outdoor_max_c
    ),
    Measure(
        HOUSE, "warmest among the crop", "air_max_c", MeasureKind.TEMPERATURE, lambda s: s.house.air_max_c
    ),
    HOT_HOURS,
    HOT,
    BANKED,
    RETURNED,
    Measure(SOIL, "soil at the tubes, last", "soil_end_c", MeasureKind.TEMPERATURE, _soil_end_c),
    ELECTRICITY,
    PER_KWH,
    Measure(MOTORS, "heat of the heater", "heater_kwh", MeasureKind.ENERGY, _heater_kwh),
    Measure(MOTORS, "fan hours, added up", "fan_h", MeasureKind.HOURS, lambda s: s.fans.run_hours),
    Measure(MOTORS, "fan starts", "fan_starts", MeasureKind.COUNT, lambda s: s.fans.starts),
    Measure(MOTORS, "pump runs", "pump_starts", MeasureKind.COUNT, lambda s: s.pump.starts),
    Measure(
        MOTORS, "fan hours lost to water", "fan_locked_h", MeasureKind.HOURS, lambda s: s.pump.locked_hours
    ),
    Measure(
        TRUST,
        "alarms raised",
        "alarms",
        MeasureKind.COUNT,
        lambda s: sum(alarm.raised for alarm in s.alarms.values()),
    ),
    Measure(
        TRUST,
        "safety promises broken",
        "promises_broken",
        MeasureKind.COUNT,
        lambda s: len(s.promises.broken),
    ),
)
PICTURED = (COLDEST, FROST_HOURS, COLD, HOT_HOURS, HOT, BANKED, RETURNED, ELECTRICITY, PER_KWH)
