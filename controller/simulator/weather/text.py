"""The text of a weather file: its encoding, its numbers and its place, with the line of every complaint."""

from __future__ import annotations

import csv
import math
import stat
from typing import TYPE_CHECKING

from controller.simulator.weather.formats import WeatherError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

# The shipped years have 1 to 2 MB.
LARGEST_FILE_BYTES = 20_000_000
# What the first line says about the place, and its limits.
PLACE = {
    "latitude": (-90.0, 90.0),
    "longitude": (-180.0, 180.0),
    "time zone": (-12.0, 14.0),
    "altitude": (-450.0, 6000.0),
}


def content_of(path: Path) -> bytes:
    """What a file holds.

    Raises:
        WeatherError: it cannot be read, is a pipe or a device, or is larger than any year of hours.
    """
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise WeatherError(f"{path}: is not a file; expected a weather file")
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE_BYTES + 1)
    except OSError as error:
        raise WeatherError(f"{path}: cannot be read: {error.strerror}") from error
    if len(content) > LARGEST_FILE_BYTES:
        most = LARGEST_FILE_BYTES // 1_000_000
        raise WeatherError(f"{path}: is larger than {most} MB; expected one year of hours")
    return content


def lines_of(path: Path, content: bytes) -> list[str]:
    """The lines of a text file in UTF-8 or, failing that, Latin-1; those two are met in practice."""
    if b"\x00" in content:
        raise WeatherError(f"{path}: is not plain text; expected text in UTF-8 or Latin-1, not UTF-16")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def quoted_fields(path: Path, text: str) -> list[str]:
    """The fields of a line whose names may stand in quotes and have commas."""
    try:
        return next(csv.reader([text]), [])
    except csv.Error as problem:
        raise WeatherError(f"{path}:1: cannot be read as fields with commas between: {problem}") from None


def number(path: Path, line: int, text: str, words: str) -> float:
    """A finite number.

    Raises:
        WeatherError: it is not; with file and line.
    """
    try:
        value = float(text)
    except ValueError:
        raise WeatherError(f"{path}:{line}: {words} should be a number, found {text[:40]!r}") from None
    if not math.isfinite(value):
        raise WeatherError(f"{path}:{line}: {words} should be a finite number, found {text[:40]!r}")
    return value


def head_of(
    path: Path, fields: list[str], places: tuple[int, int, int, int]
) -> tuple[float, float, float, float]:
    """Latitude, longitude, offset from UTC in hours and altitude from the first line."""
    if len(fields) <= max(places):
        raise WeatherError(f"{path}:1: the first line should hold the place with {', '.join(PLACE)}")
    numbers = [number(path, 1, fields[place], word) for place, word in zip(places, PLACE, strict=True)]
    check_place(path, numbers)
    return numbers[0], numbers[1], numbers[2], numbers[3]


def check_place(path: Path, numbers: Sequence[float]) -> None:
    """Refuse a latitude, longitude, time zone or altitude that cannot be one.

    Raises:
        WeatherError: with file and line.
    """
    for value, (word, (low, high)) in zip(numbers, PLACE.items(), strict=True):
        if not low <= value <= high:
            raise WeatherError(f"{path}:1: {word} {value:g} is outside {low:g} to {high:g}")
