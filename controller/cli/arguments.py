"""What people write on the command line, read and refused in words."""

from __future__ import annotations

import argparse
import re
from datetime import UTC, datetime
from pathlib import Path

from controller.readings.said import COLDEST_LOW_C, HOTTEST_LOW_C

Commands = argparse._SubParsersAction  # noqa: SLF001 - argparse has no public name for it
DEFAULT_FILE = "/etc/hypocaust/house.toml"
LONGEST_TRIAL_S = 60.0  # long enough to feel the air at an outlet. [practice]
LONGEST_PACE_S = 900.0  # with rarer ticks fans would overshoot by kelvins. [practice]


def default_file() -> str | None:
    """The settings file of the service, None on a machine without one."""
    return DEFAULT_FILE if Path(DEFAULT_FILE).exists() else None


def add_recorded_range(parser: argparse.ArgumentParser) -> None:
    """Let a person name a history (``file``, ``history``) and a range of its time (``since``, ``until``)."""
    parser.add_argument("file", metavar="FILE", nargs="?", help=f"settings file (default: {DEFAULT_FILE})")
    parser.add_argument("--history", metavar="FILE", help="read this history file (a backup, a copy)")
    when = '"yesterday", "3 days ago", 2026-01-31 or "2026-01-31 14:00"'
    parser.add_argument("--from", dest="since", metavar="WHEN", help=f"all there is unless given: {when}")
    parser.add_argument("--to", dest="until", metavar="WHEN", help="up to here; all there is unless given")


def date(text: str) -> datetime:
    """A day written as 2026-01-31."""
    if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text) is None:
        raise argparse.ArgumentTypeError(f'"{text}" is not a date; write it as 2026-01-31')
    try:
        return datetime.strptime(text, "%Y-%m-%d").replace(tzinfo=UTC)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not in the calendar') from None


def positive(text: str) -> float:
    """A number above 0."""
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0.0 < value < 1e6:  # noqa: PLR2004 - also refuses nan and inf
        raise argparse.ArgumentTypeError(f'"{text}" is not a positive number')
    return value


def pace(text: str) -> float:
    """A time between two ticks, written as ``5 min``; in seconds."""
    return _quantity("duration", text, 1.0, LONGEST_PACE_S, '"1 s" to "15 min"')


def trial_time(text: str) -> float:
    """How long an output is tried, written as ``5 s``; in seconds."""
    return _quantity("duration", text, 1.0, LONGEST_TRIAL_S, '"1 s" to "60 s"')


def low(text: str) -> float:
    """A forecast low outdoors, written as ``18F`` or ``"-7.5 °C"``; in °C."""
    return _quantity("temperature", text, COLDEST_LOW_C, HOTTEST_LOW_C, "-80 °C to 40 °C")


def _quantity(kind: str, text: str, least: float, most: float, expected: str) -> float:
    """A value with its unit, in SI, within limits."""
    from controller.settings.schema.quantities import QuantityError, read_quantity  # noqa: PLC0415 - few commands need it

    try:
        value = read_quantity(kind, text).si
    except QuantityError as refused:
        raise argparse.ArgumentTypeError(str(refused)) from None
    if not least <= value <= most:
        raise argparse.ArgumentTypeError(f'"{text}" is out of range; expected {expected}')
    return value


def names(text: str) -> list[str]:
    """Names between commas; a file whose own name has commas is one."""
    if Path(text).is_file():
        return [text]
    return [part.strip() for part in text.split(",") if part.strip()] or [text]


def seeds(text: str) -> list[int]:
    """Whole numbers between commas."""
    try:
        return [int(part) for part in text.split(",")]
    except ValueError:
        raise argparse.ArgumentTypeError(
            f'"{text}" is not a whole number, and not several with commas between'
        ) from None


def strategies(text: str) -> list[str]:
    """Strategies between commas."""
    written = names(text)
    for name in written:
        if name not in STRATEGY_NAMES:
            raise argparse.ArgumentTypeError(
                f'"{name}" is not a strategy; expected {", ".join(STRATEGY_NAMES)}, or several after commas'
            )
    return written


# The names of ``controller.rehearsal.strategies``, which only a rehearsal loads.
STRATEGY_NAMES = ("hypocaust", "fans-off", "fans-always", "plain-thermostat", "simple-difference")
