"""Quantities as people write them: a number with its unit, turned into SI."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pydantic_core import PydanticCustomError, core_schema

from controller.errors import HypocaustError
from controller.units import CFM_M3_S, FAHRENHEIT_PER_KELVIN, FOOT_M, INCH_M, US_GALLON_M3

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler

UNIT_SUFFIXES = ("_w_m2", "_m3_s", "_k_s", "_m2", "_m3", "_c", "_k", "_s", "_w", "_m")
LITRE_M3 = 1e-3  # by definition (SI brochure, 9th ed., table 8)
MINUTE_S = 60.0
HOUR_S = 3600.0
DAY_S = 86400.0
FAHRENHEIT_ZERO_C = -32.0 / FAHRENHEIT_PER_KELVIN

NUMBER_AND_UNIT = re.compile(r"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)\s*(.*)", re.DOTALL)
DECIMAL_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]")
# What keyboards and word processors put in place of the degree sign, the minus sign and raised digits.
LOOKALIKES = str.maketrans({"º": "°", "˚": "°", "−": "-", "²": "2", "³": "3", "\u00a0": " ", "\u202f": " "})
LONGEST_SHOWN = 40
HUGE = "a huge number"
NEVER = "never"
DIGITS_SHOWN = 6
LARGEST_SHOWN = 10**15


@dataclass(frozen=True, slots=True)
class Unit:
    """How a unit becomes SI: ``si = value * factor + zero``; ``name`` is how messages write it."""

    name: str
    factor: float
    zero: float = 0.0

    def to_si(self, value: float) -> float:
        """A number in this unit as SI."""
        return value * self.factor + self.zero

    def from_si(self, value_si: float) -> float:
        """An SI number in this unit."""
        return (value_si - self.zero) / self.factor


@dataclass(frozen=True, slots=True)
class QuantityKind:
    """What can be measured: an example for messages, two or more accepted units, and other spellings."""

    example: str
    units: tuple[Unit, ...]
    spellings: dict[str, str]

    def unit(self, written: str) -> Unit | None:
        """The unit a person wrote, or None where this kind does not have it."""
        name = self.spellings.get(written, written)
        return next((unit for unit in self.units if unit.name == name), None)

    def unit_names(self) -> str:
        """The accepted units for a message: ``°C or °F``."""
        names = [unit.name for unit in self.units]
        return f"{', '.join(names[:-1])} or {names[-1]}"


_DEGREES = {"C": "°C", "F": "°F"}
_LITRE = {"l": "L"}
_LITRE_PER_SECOND = {"l/s": "L/s", "l/min": "L/min"}

KINDS = {
    "temperature": QuantityKind(
        "26 °C", (Unit("°C", 1.0), Unit("°F", 1.0 / FAHRENHEIT_PER_KELVIN, FAHRENHEIT_ZERO_C)), _DEGREES
    ),
    "difference": QuantityKind(
        "5 K", (Unit("K", 1.0), Unit("°C", 1.0), Unit("°F", 1.0 / FAHRENHEIT_PER_KELVIN)), _DEGREES
    ),
    "duration": QuantityKind(
        "10 min",
        (Unit("s", 1.0), Unit("min", MINUTE_S), Unit("h", HOUR_S), Unit("d", DAY_S), Unit("ms", 1e-3)),
        {},
    ),
    "power": QuantityKind("150 W", (Unit("W", 1.0), Unit("kW", 1e3)), {}),
    "air flow": QuantityKind(
        "0.35 m3/s",
        (Unit("m3/s", 1.0), Unit("m3/h", 1.0 / HOUR_S), Unit("L/s", LITRE_M3), Unit("cfm", CFM_M3_S)),
        {**_LITRE_PER_SECOND, "CFM": "cfm"},
    ),
    "water flow": QuantityKind(
        "2 L/s",
        (
            Unit("L/s", LITRE_M3),
            Unit("L/min", LITRE_M3 / MINUTE_S),
            Unit("m3/h", 1.0 / HOUR_S),
            Unit("gpm", US_GALLON_M3 / MINUTE_S),
        ),
        {**_LITRE_PER_SECOND, "GPM": "gpm"},
    ),
    "length": QuantityKind(
        "9 m",
        (Unit("m", 1.0), Unit("cm", 1e-2), Unit("mm", 1e-3), Unit("ft", FOOT_M), Unit("in", INCH_M)),
        {},
    ),
    "area": QuantityKind("1.6 m2", (Unit("m2", 1.0), Unit("ft2", FOOT_M**2)), {}),
    "volume": QuantityKind("60 L", (Unit("L", LITRE_M3), Unit("m3", 1.0), Unit("gal", US_GALLON_M3)), _LITRE),
    "light": QuantityKind("300 W/m2", (Unit("W/m2", 1.0), Unit("kW/m2", 1e3)), {}),
    "rate of rise": QuantityKind(
        "5 K/min",
        (
            Unit("K/min", 1.0 / MINUTE_S),
            Unit("°C/min", 1.0 / MINUTE_S),
            Unit("°F/min", 1.0 / (FAHRENHEIT_PER_KELVIN * MINUTE_S)),
        ),
        {"C/min": "°C/min", "F/min": "°F/min"},
    ),
}


def plain_key(attribute: str) -> str:
    """The key in the settings file for an attribute name: ``heat_below_c`` -> ``heat_below``."""
    for suffix in UNIT_SUFFIXES:
        if attribute.endswith(suffix):
            return attribute.removesuffix(suffix)
    return attribute


def shown(value: object) -> str:
    """A value from the file as a message quotes it: one line, printable, not longer than a line can bear.

    What is inside a list or a table is not quoted: it stood there for something else, a password perhaps.
    """
    if isinstance(value, dict | list):
        return "a table" if isinstance(value, dict) else "a list"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) > LARGEST_SHOWN:
        return HUGE
    text = f'"{value}"' if isinstance(value, str) else f"{value}"
    text = "".join(letter if letter.isprintable() else "?" for letter in text)
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}…"


def number_text(value: float) -> str:
    """A number as messages write it, to six digits."""
    return f"{value:.{DIGITS_SHOWN}g}"


@dataclass(frozen=True, slots=True)
class WrittenQuantity:
    """A quantity as it was written: the SI number, and the unit it was written in."""

    si: float
    unit: Unit

    def text_of(self, other_si: float) -> str:
        """Another SI number of the same kind, in the unit this one was written in."""
        return f"{number_text(self.unit.from_si(other_si))} {self.unit.name}"


class QuantityError(HypocaustError, ValueError):
    """What was written is not such a quantity; the text says what is wrong and what was expected."""


def read_quantity(kind: str, written: object) -> WrittenQuantity:
    """Read a quantity.

    Args:
        kind: a key of ``KINDS``.
        written: what stands in the file.

    Raises:
        QuantityError: it is not such a quantity.
    """
    number, unit_text = _split(written, KINDS[kind].example)
    unit = KINDS[kind].unit(unit_text)
    if unit is None:
        trouble = _unit_trouble(kind, unit_text)
        raise QuantityError(f"{shown(written)} {trouble}; expected {KINDS[kind].unit_names()}")
    si = unit.to_si(float(number))
    if not math.isfinite(si):
        raise QuantityError(f"{shown(written)} is larger than any number that can be worked with")
    return WrittenQuantity(si, unit)


def _split(written: object, example: str) -> tuple[str, str]:
    """The number and the unit of a written quantity, both as text."""
    if not isinstance(written, str):
        bare = isinstance(written, int | float) and not isinstance(written, bool)
        trouble = "has no unit" if bare else "is not a quantity"
        raise QuantityError(f'{shown(written)} {trouble}; write for example "{example}"')
    text = written.translate(LOOKALIKES).strip()
    if DECIMAL_COMMA.match(text):
        raise QuantityError(f"{shown(written)} has a comma in the number; expected a point, as in 0.35")
    found = NUMBER_AND_UNIT.fullmatch(text)
    if found is None:
        raise QuantityError(f'{shown(written)} does not start with a number; write for example "{example}"')
    number, unit_text = found.groups()
    if not unit_text:
        raise QuantityError(f'{shown(written)} has no unit; write for example "{example}"')
    return number, unit_text


def _unit_trouble(kind: str, written: str) -> str:
    """What is wrong with a unit that this kind does not have."""
    if kind == "temperature" and written == "K":
        return "is in K, which is for differences between temperatures, and this is a temperature"
    near = [unit.name for unit in KINDS[kind].units if unit.name.casefold() == written.casefold()]
    if near:
        return f'has the unit {shown(written)} (did you mean "{near[0]}"?)'
    if re.search(r"[0-9]", re.sub("m[23]|ft2", "", written)):
        return "is more than one number with one unit"
    return f"has the unit {shown(written)}, which is not one for this {kind}"


@dataclass(frozen=True, slots=True)
class Quantity:
    """Type annotation for a number that people write with its unit: ``Annotated[float, Quantity("power")]``.

    Validation takes the written text and gives the SI number. Where ``never`` holds, the word "never" is good
    as well and is a value that nothing reaches: infinity.
    """

    kind: str
    never: bool = False

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Make pydantic read the text instead of expecting a float."""
        return core_schema.no_info_plain_validator_function(self._read)

    def _read(self, written: object) -> float:
        """Read a quantity for pydantic."""
        if self.never and written == NEVER:
            return math.inf
        try:
            return read_quantity(self.kind, written).si
        except QuantityError as trouble:
            otherwise = f' or "{NEVER}"' if self.never else ""
            raise refusal(f"{trouble}{otherwise}") from None


def refusal(message: str) -> PydanticCustomError:
    """An error that pydantic collects and shows word for word."""
    return PydanticCustomError("refused", "{message}", {"message": message})
