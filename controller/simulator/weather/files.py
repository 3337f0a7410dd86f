"""Reading weather files: TMY3 (CSV), EnergyPlus EPW and TMY2, hour by hour, with the line of every complaint.

All three give a year of hours; a value stands at the end of its hour, radiation and rain are the hour's
mean and sum.
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

import numpy as np

from controller.simulator.weather.formats import (
    EPW,
    HOURS,
    MONTH_DAYS,
    TMY2,
    TMY2_FIELDS,
    TMY3,
    Column,
    RawYear,
    WeatherError,
)
from controller.simulator.weather.gaps import bridge
from controller.simulator.weather.text import (
    check_place,
    content_of,
    head_of,
    lines_of,
    number,
    quoted_fields,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path


def read(path: Path) -> RawYear:
    """Read a weather file of any known kind.

    Raises:
        WeatherError: it cannot be read or used.
    """
    readers: dict[str, Callable[[Path, list[str]], RawYear]] = {
        ".csv": _read_tmy3, ".epw": _read_epw, ".tm2": _read_tmy2,
    }  # fmt: skip
    reader = readers.get(path.suffix.lower())
    if reader is None:
        raise WeatherError(
            f"{path}: unknown kind of weather file {path.suffix or '(no suffix)'!r}; "
            "expected .csv (TMY3), .epw or .tm2"
        )
    content = content_of(path)
    year = reader(path, lines_of(path, content))
    _refuse_other_units(path, year)
    return year


def _refuse_other_units(path: Path, year: RawYear) -> None:
    """Values that may be in range hour by hour but cannot be a year of this earth.

    Raises:
        WeatherError: they cannot.
    """
    light_w_m2, air_c = float(year.columns["ghi"].mean()), float(year.columns["air_c"].mean())
    if light_w_m2 < DARKEST_YEAR_W_M2:
        raise WeatherError(
            f"{path}: global radiation is {light_w_m2:.2g} W/m² on the mean of the year, less than anywhere "
            "on earth; is it in kW/m² or MJ/m²?"
        )
    if air_c > HOTTEST_YEAR_C:
        raise WeatherError(
            f"{path}: air temperature is {air_c:.0f} °C on the mean of the year, more than anywhere on "
            "earth; is it in °F?"
        )


def _value(path: Path, line: int, text: str, column: Column) -> float:
    """One value in SI, NaN where the file marks it as missing."""
    if not text.strip():
        return math.nan
    value = number(path, line, text, column.words)
    if (value <= column.missing) if column.missing < 0.0 else (value >= column.missing and _all_nines(text)):
        return math.nan
    if not column.low <= value <= column.high:
        hint = f"; {column.hint}" if column.hint else ""
        raise WeatherError(
            f"{path}:{line}: {column.words} {value:g} {column.unit} is outside "
            f"{column.low:g} to {column.high:g} {column.unit}{hint}"
        )
    return value * column.scale


def _value_or_gap(path: Path, line: int, text: str, column: Column, strange: dict[str, list[str]]) -> float:
    """One value; one that makes no sense is a gap in what is not needed, and is added to ``strange``."""
    try:
        return _value(path, line, text, column)
    except WeatherError as problem:
        if column.needed:
            raise
        strange.setdefault(column.words, []).append(str(problem))
        return math.nan


def _all_nines(text: str) -> bool:
    """Whether a number is nines only, as the codes for missing values are, and not 105 °F or 283 K."""
    return re.fullmatch(r"9+(\.9*0*)?", text.strip()) is not None


def hour_of_year(month: int, day: int, hour: int) -> int | None:
    """Place of an hour (1 to 24, ending) in a year of 365 days: 1 to 8760; None on 29 February."""
    if (month, day) == (2, 29):
        return None
    return (sum(MONTH_DAYS[: month - 1]) + day - 1) * 24 + hour


def _is_hour(month: int, day: int, hour: int) -> bool:
    """Whether a year that may be a leap year has this hour (1 to 24)."""
    if not (1 <= month <= 12 and 1 <= hour <= 24):  # noqa: PLR2004
        return False
    return 1 <= day <= MONTH_DAYS[month - 1] + (month == 2)  # noqa: PLR2004


DARKEST_YEAR_W_M2 = 20.0  # Svalbard has about 75 W/m². From memory
HOTTEST_YEAR_C = 36.0  # Dallol in Ethiopia has 34 °C. From memory
EPW_FIELDS = 23  # up to the cloud cover
Row = tuple[int, int, int, int, list[str]]  # line, month, day, hour, fields in the order of the columns


def _collect(path: Path, year: RawYear, columns: tuple[Column, ...], rows: Iterator[Row]) -> RawYear:
    """Put every row into its hour; refuse doubles, wrong order, strange values and long gaps.

    Gaps in what is not needed stay: whether anything asks for them is found out later.
    """
    names = [column.name for column in columns]
    table = np.full((len(columns), HOURS + 1), np.nan)
    leap_hours = last = 0
    strange: dict[str, list[str]] = {}
    for line, month, day, hour, fields in rows:
        if not _is_hour(month, day, hour):
            raise WeatherError(f"{path}:{line}: no such hour: month {month}, day {day}, hour {hour}")
        place = hour_of_year(month, day, hour)
        if place is None:
            leap_hours += 1
            continue
        if place <= last:
            raise WeatherError(
                f"{path}:{line}: hour {hour} of {day}.{month}. comes twice or out of order; expected "
                "one line for each hour of one year"
            )
        last = place
        year.lines[place] = line
        for index, column in enumerate(columns):
            table[index, place] = _value_or_gap(path, line, fields[index], column, strange)
    if leap_hours:
        year.notes.append(f"29 February ({leap_hours} h) left out; years have 365 days here")
    year.notes += [
        f"{words}: {len(problems)} values count as missing, the first because: {problems[0]}"
        for words, problems in strange.items()
    ]
    year.columns = {name: table[index, 1:] for index, name in enumerate(names)}
    year.lines = year.lines[1:]
    for column in columns:
        if column.needed:
            values = year.columns[column.name]
            year.columns[column.name] = bridge(path, year.lines, column.words, values, year.notes)
    return year


def _empty(path: Path, title: str, place: tuple[float, float, float, float]) -> RawYear:
    return RawYear(path, title, *place, {}, np.zeros(HOURS + 1, dtype=np.int64))


def _read_tmy3(path: Path, lines: list[str]) -> RawYear:
    head = quoted_fields(path, lines[0])
    place = head_of(path, head, (4, 5, 3, 6))
    if len(lines) < 2:  # noqa: PLR2004
        raise WeatherError(
            f"{path}: ends with its first line; expected a TMY3 file with its header in line 2"
        )
    names = [name.strip() for name in lines[1].split(",")]
    wanted = ["Date (MM/DD/YYYY)", "Time (HH:MM)", *(str(column.place) for column in TMY3)]
    needed = {"Date (MM/DD/YYYY)", "Time (HH:MM)"} | {str(column.place) for column in TMY3 if column.needed}
    absent = [name for name in wanted if name in needed and name not in names]
    if absent:
        raise WeatherError(
            f"{path}:2: no column {', '.join(map(repr, absent))}; expected the header of a TMY3 file"
        )
    places = [names.index(name) if name in names else -1 for name in wanted]

    def hours() -> Iterator[Row]:
        for line, text in enumerate(lines[2:], start=3):
            if not text.strip():
                continue
            fields = text.split(",")
            if len(fields) < len(names):
                raise WeatherError(f"{path}:{line}: {len(fields)} fields where the header names {len(names)}")
            date, time = fields[places[0]].split("/"), fields[places[1]].split(":")
            try:
                month, day, hour = int(date[0]), int(date[1]), int(time[0])
            except (ValueError, IndexError):
                found = f"{fields[places[0]]} {fields[places[1]]}"
                raise WeatherError(f"{path}:{line}: expected MM/DD/YYYY and HH:MM, found {found!r}") from None
            yield line, month, day, hour, ["" if place < 0 else fields[place] for place in places[2:]]

    return _collect(path, _empty(path, head[1], place), TMY3, hours())


def _read_epw(path: Path, lines: list[str]) -> RawYear:
    head = lines[0].split(",")
    place = head_of(path, head, (6, 7, 8, 9))
    first = next(
        (
            index
            for index, line in enumerate(lines)
            if line[:4].isdigit() and line.count(",") >= EPW_FIELDS - 1
        ),
        None,
    )
    if first is None:
        raise WeatherError(f"{path}: no line of hourly data; expected an EPW file")

    def hours() -> Iterator[Row]:
        for line, text in enumerate(lines[first:], start=first + 1):
            fields = text.split(",")
            if len(fields) < EPW_FIELDS:
                if text.strip():
                    raise WeatherError(
                        f"{path}:{line}: {len(fields)} fields where an EPW line has at least {EPW_FIELDS}"
                    )
                continue
            try:
                month, day, hour = int(fields[1]), int(fields[2]), int(fields[3])
            except ValueError:
                raise WeatherError(
                    f"{path}:{line}: expected year,month,day,hour, found {text[:20]!r}"
                ) from None
            yield (
                line,
                month,
                day,
                hour,
                [fields[p] if (p := int(c.place)) < len(fields) else "" for c in EPW],
            )

    return _collect(path, _empty(path, head[1], place), EPW, hours())


def _read_tmy2(path: Path, lines: list[str]) -> RawYear:
    head = lines[0].split()
    numbers = [part for part in head if re.fullmatch(r"-?[0-9]{1,6}", part)]
    sides = [part for part in head if part in {"N", "S", "E", "W"}]
    if len(numbers) < 7 or len(sides) < 2:  # noqa: PLR2004
        raise WeatherError(
            f"{path}:1: expected station, place, time zone, latitude, longitude, altitude (TMY2)"
        )
    offset_h, lat_d, lat_m, lon_d, lon_m, altitude_m = (float(number) for number in numbers[-6:])
    latitude = (lat_d + lat_m / 60.0) * (-1.0 if sides[-2] == "S" else 1.0)
    longitude = (lon_d + lon_m / 60.0) * (-1.0 if sides[-1] == "W" else 1.0)
    place = (latitude, longitude, offset_h, altitude_m)
    check_place(path, place)
    title = " ".join(part for part in head[1:] if part not in numbers and part not in sides)

    def hours() -> Iterator[Row]:
        for line, text in enumerate(lines[1:], start=2):
            if not text.strip():
                continue
            fields = [text[first - 1 : last].strip() for first, last in TMY2_FIELDS]
            try:
                month, day, hour = int(fields[1]), int(fields[2]), int(fields[3])
            except ValueError:
                raise WeatherError(f"{path}:{line}: expected YYMMDDHH, found {text[:9]!r}") from None
            yield line, month, day, hour, [fields[int(column.place)] for column in TMY2]

    return _collect(path, _empty(path, title, place), TMY2, hours())
