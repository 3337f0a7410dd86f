"""What a stored cell says. SQLite keeps no checksums, so a card that alters a bit is noticed only here."""

from __future__ import annotations

import json
import math
from typing import Any

from controller.errors import HypocaustError

# In thousandths of a degree; far outside what a probe can say (DS18B20 data sheet: -55 to 125 °C).
LARGEST_MILLI_C = 1_000_000


class AlteredError(HypocaustError, ValueError):
    """A cell does not hold what this program writes there."""


def text(cell: object) -> str:
    """A text.

    Raises:
        AlteredError: it is not.
    """
    if not isinstance(cell, str):
        raise AlteredError(f"{cell!r} is not text")
    return cell


def number(cell: object) -> float:
    """A finite number.

    Raises:
        AlteredError: it is not.
    """
    if isinstance(cell, bool) or not isinstance(cell, int | float) or not math.isfinite(cell):
        raise AlteredError(f"{cell!r} is not a number")
    return cell


def number_or_none(cell: object) -> float | None:
    """A finite number, or None where none was known.

    Raises:
        AlteredError: it is neither.
    """
    return None if cell is None else number(cell)


def names_of(cell: object) -> list[str]:
    """The names of a set of probes.

    Raises:
        AlteredError: it is no list of texts.
    """
    return [text(name) for name in _list_of(cell)]


def values_of(cell: object) -> list[int | str]:
    """The values of a set of probes: thousandths of a degree Celsius, or the word for why it is missing.

    Raises:
        AlteredError: it is no list of those.
    """
    values = _list_of(cell)
    kinds = set(map(type, values))  # exactly: a truth value is an instance of int, too
    numbers = values if kinds == {int} else [value for value in values if type(value) is int]
    if not kinds <= {int, str} or any(abs(value) > LARGEST_MILLI_C for value in _extremes(numbers)):
        raise AlteredError(f"{cell!r} holds something that is not a reading")
    return values


def numbers_of(cell: object) -> dict[str, float | str]:
    """The numbers that belong to a reason, by name; a few are words.

    Raises:
        AlteredError: it is no table of those.
    """
    found = _loaded(cell)
    if not isinstance(found, dict):
        raise AlteredError(f"{cell!r} is not a table of numbers")
    return {name: value if isinstance(value, str) else number(value) for name, value in found.items()}


def _extremes(numbers: list[int]) -> tuple[int, ...]:
    return (min(numbers), max(numbers)) if numbers else ()


def _list_of(cell: object) -> list[Any]:
    found = _loaded(cell)
    if not isinstance(found, list):
        raise AlteredError(f"{cell!r} is not a list")
    return found


def _loaded(cell: object) -> Any:
    if not isinstance(cell, str | bytes):
        raise AlteredError(f"{cell!r} is not text")
    try:
        return json.loads(cell)
    except (ValueError, RecursionError) as problem:
        raise AlteredError(f"{cell!r} cannot be read: {problem}") from problem
