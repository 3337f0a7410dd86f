"""Weather files: read in SI, short gaps bridged, everything else refused with its line."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pvlib
import pytest

from controller.simulator.weather.files import hour_of_year, read
from controller.simulator.weather.formats import HOURS, MONTH_DAYS, WeatherError

if TYPE_CHECKING:
    from collections.abc import Callable

SHIPPED = Path(pvlib.__file__).parent / "data"
CAROLINA = (SHIPPED / "723170TYA.CSV").read_text(encoding="latin-1").splitlines()
HEADER = CAROLINA[1].split(",")


def tmy3(tmp_path: Path, change: Callable[[list[str]], list[str]]) -> Path:
    """The Carolina file with some lines changed."""
    path = tmp_path / "changed.csv"
    path.write_text("\n".join(change(list(CAROLINA))), encoding="latin-1")
    return path


def with_value(line: int, column: str, value: str) -> Callable[[list[str]], list[str]]:
    """Replace one field (line counted from 1)."""

    def change(lines: list[str]) -> list[str]:
        fields = lines[line - 1].split(",")
        fields[HEADER.index(column)] = value
        lines[line - 1] = ",".join(fields)
        return lines

    return change


def epw(tmp_path: Path, days: tuple[int, ...] = MONTH_DAYS, sky: str = "300") -> Path:
    """A small EnergyPlus file: 10 °C in January, one more each month."""
    path = tmp_path / "made.epw"
    lines = ["LOCATION,Made Up,-,XXX,none,0,52.0,-1.5,0.0,100.0"] + ["HEADER"] * 7
    for month, length in enumerate(days, start=1):
        for day in range(1, length + 1):
            for hour in range(1, 25):
                fields = [
                    "2001",
                    str(month),
                    str(day),
                    str(hour),
                    "60",
                    "?",
                    str(9 + month),
                    "5",
                    "70",
                    "100000",
                ]
                fields += [
                    "0",
                    "0",
                    sky,
                    "50",
                    "20",
                    "40",
                    "0",
                    "0",
                    "0",
                    "0",
                    "180",
                    "3.5",
                    "5",
                    "5",
                    "9",
                    "77777",
                ]
                fields += ["9", "999", "10", "0.1", "0", "88", "0", "0.4", "1"]
                lines.append(",".join(fields))
    path.write_text("\n".join(lines), encoding="latin-1")
    return path


@pytest.mark.parametrize(
    ("name", "mean_c", "low_c", "high_c", "light_kwh"),
    [
        ("703165TY.csv", 4.421, -10.6, 19.4, 829.2),
        ("723170TYA.CSV", 14.422, -16.7, 35.6, 1566.2),
        ("12839.tm2", 24.314, 3.3, 33.9, 1792.6),
    ],
)
def test_shipped_years_agree_with_their_known_sums(
    name: str, mean_c: float, low_c: float, high_c: float, light_kwh: float
) -> None:
    """Mean, extremes and the year's light are those of the files, worked out with pandas."""
    year = read(SHIPPED / name)
    air_c = year.columns["air_c"]
    assert air_c.size == HOURS
    assert np.mean(air_c) == pytest.approx(mean_c, abs=6e-4)
    assert (air_c.min(), air_c.max()) == pytest.approx((low_c, high_c))
    assert year.columns["ghi"].sum() / 1000.0 == pytest.approx(light_kwh, abs=0.06)
    assert 80_000.0 < year.columns["pressure_pa"].min() < 105_000.0


def test_tmy2_agrees_with_the_library_reader() -> None:
    """Every hour of every column is the same as pvlib's, in SI."""
    ours = read(SHIPPED / "12839.tm2")
    theirs, meta = pvlib.iotools.read_tmy2(SHIPPED / "12839.tm2")
    for name, column, scale in (
        ("air_c", "DryBulb", 0.1),
        ("dew_c", "DewPoint", 0.1),
        ("rh", "RHum", 0.01),
        ("pressure_pa", "Pressure", 100.0),
        ("wind_m_s", "Wspd", 0.1),
        ("ghi", "GHI", 1.0),
        ("dni", "DNI", 1.0),
        ("dhi", "DHI", 1.0),
    ):
        assert ours.columns[name] == pytest.approx(theirs[column].to_numpy() * scale), name
    assert ours.latitude == pytest.approx(meta["latitude"])
    assert ours.longitude == pytest.approx(meta["longitude"])
    assert (ours.utc_offset_h, ours.altitude_m) == (meta["TZ"], meta["altitude"])


def test_energyplus_files_are_read(tmp_path: Path) -> None:
    """Place, months, pressure in Pa, sky radiation and rain arrive."""
    year = read(epw(tmp_path))
    assert (year.latitude, year.longitude, year.utc_offset_h) == (52.0, -1.5, 0.0)
    assert year.columns["air_c"][0] == 10.0
    assert year.columns["air_c"][-1] == 21.0
    assert year.columns["sky_w_m2"][5000] == 300.0
    assert year.columns["rain_mm"].sum() == pytest.approx(0.4 * HOURS)


def test_a_leap_day_is_left_out_and_said(tmp_path: Path) -> None:
    """29 February is dropped with a note; the year has 8760 hours."""
    days = (31, 29, *MONTH_DAYS[2:])
    year = read(epw(tmp_path, days))
    assert year.columns["air_c"].size == HOURS
    assert any("29 February (24 h) left out" in note for note in year.notes)


def test_short_gaps_are_bridged_and_said(tmp_path: Path) -> None:
    """Two missing hours become a straight line; a note counts them."""

    def change(lines: list[str]) -> list[str]:
        for line in (102, 103):
            lines = with_value(line, "Dry-bulb (C)", "-9900")(lines)
        return lines

    year = read(tmy3(tmp_path, change))
    known = [float(CAROLINA[line - 1].split(",")[HEADER.index("Dry-bulb (C)")]) for line in (101, 104)]
    bridged = year.columns["air_c"][99:101]
    assert bridged == pytest.approx(np.interp([1, 2], [0, 3], known))
    assert "air temperature: 2 missing hours bridged by straight lines" in year.notes


def test_gaps_in_what_only_stands_in_are_left_alone(tmp_path: Path) -> None:
    """A hundred hours without a dew point refuse no file: the relative humidity is complete."""

    def change(lines: list[str]) -> list[str]:
        for line in range(500, 600):
            lines = with_value(line, "Dew-point (C)", "-9900")(lines)
        return lines

    year = read(tmy3(tmp_path, change))
    assert np.isnan(year.columns["dew_c"]).sum() == 100
    assert not any("dew" in note for note in year.notes)


def test_missing_rows_count_as_gaps(tmp_path: Path) -> None:
    """Four absent lines are bridged, ten are refused with the line before them."""
    assert any("4 missing hours" in n for n in read(tmy3(tmp_path, lambda ls: ls[:500] + ls[504:])).notes)
    with pytest.raises(WeatherError, match=r"changed\.csv:500: .* is missing for 10 hours from here"):
        read(tmy3(tmp_path, lambda lines: lines[:500] + lines[510:]))


@pytest.mark.parametrize(
    ("line", "column", "value", "message"),
    [
        (
            10,
            "Dry-bulb (C)",
            "78.8",
            r":10: air temperature 78.8 °C is outside -70 to 60 °C; is it in °F or K\?",
        ),
        (11, "Pressure (mbar)", "101300", r":11: pressure 101300 mbar is outside .* is it in Pa\?"),
        (12, "Wspd (m/s)", "strong", r":12: wind speed should be a number, found 'strong'"),
        (13, "GHI (W/m^2)", "nan", r":13: global radiation should be a finite number"),
        (
            14,
            "Date (MM/DD/YYYY)",
            "1988-01-01",
            r":14: expected MM/DD/YYYY and HH:MM, found '1988-01-01 12:00'",
        ),
        (15, "Time (HH:MM)", "12:00", r":15: hour 12 of 1\.1\. comes twice or out of order"),
        (16, "Time (HH:MM)", "33:00", r":16: no such hour"),
    ],
)
def test_bad_values_are_refused_with_their_line(
    tmp_path: Path, line: int, column: str, value: str, message: str
) -> None:
    """Wrong units, words, doubles and impossible hours name file and line."""
    with pytest.raises(WeatherError, match=r"changed\.csv" + message):
        read(tmy3(tmp_path, with_value(line, column, value)))


def test_files_of_another_kind_are_refused(tmp_path: Path) -> None:
    """No file, an unknown suffix, a missing column, a short line: each in words."""
    with pytest.raises(WeatherError, match=r"unknown kind of weather file '\.xls'"):
        read(tmp_path / "a.xls")
    with pytest.raises(WeatherError, match="cannot be read"):
        read(tmp_path / "a.csv")
    os.mkfifo(tmp_path / "pipe.csv")
    with pytest.raises(WeatherError, match="is not a file"):
        read(tmp_path / "pipe.csv")
    (tmp_path / "huge.csv").touch()
    os.truncate(tmp_path / "huge.csv", 10**12)
    with pytest.raises(WeatherError, match="larger than 20 MB"):
        read(tmp_path / "huge.csv")
    with pytest.raises(WeatherError, match=r":2: no column 'GHI \(W/m\^2\)'"):
        read(tmy3(tmp_path, lambda ls: [ls[0], ls[1].replace("GHI (W/m^2)", "Sun"), *ls[2:]]))
    with pytest.raises(WeatherError, match=r":7: 3 fields where the header names"):
        read(tmy3(tmp_path, lambda ls: [*ls[:6], "01/01/1988,05:00,0", *ls[7:]]))
    with pytest.raises(WeatherError, match=r":1: the first line should hold the place"):
        read(tmy3(tmp_path, lambda ls: ["hello", *ls[1:]]))
    with pytest.raises(WeatherError, match="holds no air temperature at all"):
        read(tmy3(tmp_path, lambda ls: ls[:2]))


def test_a_file_of_one_line_is_told_without_a_line_it_has_not(tmp_path: Path) -> None:
    """What ends before its header is said to end there; no line is named that nobody could find."""
    path = tmp_path / "cut.csv"
    path.write_text("722190,NOWHERE,NC,-5.0,35.0,-79.0,100", encoding="utf-8")
    with pytest.raises(WeatherError, match=r"cut\.csv: ends with its first line; expected a TMY3 file"):
        read(path)


def test_hours_of_the_year() -> None:
    """Hours count from 1 to 8760 and 29 February has none."""
    assert hour_of_year(1, 1, 1) == 1
    assert hour_of_year(3, 1, 1) == 59 * 24 + 1
    assert hour_of_year(12, 31, 24) == HOURS
    assert hour_of_year(2, 29, 5) is None
