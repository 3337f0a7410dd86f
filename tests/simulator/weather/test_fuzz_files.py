"""Weather files that were cut, mixed up, converted or edited by hand: a usable year or a refusal in words."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pvlib
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from controller.simulator.weather.formats import WeatherError
from controller.simulator.weather.load import load_weather
from tests.simulator.weather.test_files import epw

if TYPE_CHECKING:
    from collections.abc import Callable

    from controller.simulator.weather.year import Weather

SHIPPED = Path(pvlib.__file__).parent / "data"
ODD = (
    *(b"", b" ", b"abc", b"-9999", b"-9900", b"9999", b"99.9", b"999", b"nan", b"inf", b"-inf", b"1e999"),
    *(b"1e30", b"-1", b"0", b"-0.0", b"1,5", b"68F", b'"', b"'", b"\xb2", b"\xc2\xb2", b"\x00", b"\xff\xfe"),
    *(b"24:00", b"02/30/1990", b"13/01/1990", b"--5", b"+5", b"5e", b"0x10", b"1_0", b"\r", b"\n", b","),
    *(b"\x85", b"\x1c"),
)


@cache
def original(kind: str, directory: Path) -> bytes:
    """A good file of each kind."""
    if kind == "epw":
        return epw(directory).read_bytes()
    return (SHIPPED / {"csv": "723170TYA.CSV", "tm2": "12839.tm2"}[kind]).read_bytes()


def near_the_top(length: int) -> st.SearchStrategy[int]:
    """Places in a file: often in its first lines, where its structure is."""
    return st.one_of(st.integers(0, min(length - 1, 400)), st.integers(0, length - 1))


@st.composite
def damaged(draw: st.DrawFn, good: bytes) -> bytes:
    """A good file after one to three mishaps."""
    content = good
    for _ in range(draw(st.integers(1, 3))):
        if len(content) < 2:
            return content
        begin = draw(near_the_top(len(content)))
        end = min(begin + draw(st.sampled_from([0, 1, 2, 6, 40, 2000])), len(content))
        what = draw(st.sampled_from(["replace", "cut", "double", "end here", "begin here", "field"]))
        match what:
            case "replace":
                content = content[:begin] + draw(st.sampled_from(ODD)) + content[end:]
            case "cut":
                content = content[:begin] + content[end:]
            case "double":
                content = content[:end] + content[begin:]
            case "end here":
                content = content[:begin]
            case "begin here":
                content = content[begin:]
            case _:
                content = other_field(content, begin, draw(st.sampled_from(ODD)))
    return content


def other_field(content: bytes, near: int, value: bytes) -> bytes:
    """The field after a place has another value."""
    begin = content.find(b",", near) + 1
    end = content.find(b",", begin)
    return content if end < 0 else content[:begin] + value + content[end:]


def is_a_year(year: Weather) -> None:
    """Everything in it is finite and within nature."""
    for name in ("air_c", "humidity_ratio", "pressure_pa", "wind_m_s", "sky_w_m2", "ghi_w_m2", "dni_w_m2"):
        values = getattr(year, name)
        assert values.shape == (8760,), name
        assert np.all(np.isfinite(values)), name
    assert np.all(np.isfinite(year.dhi_w_m2 + year.sun_height + year.rain_m_s))
    assert np.all((year.air_c > -75.0) & (year.air_c < 65.0))
    assert np.all((year.humidity_ratio > 0.0) & (year.humidity_ratio < 0.2))
    assert np.all((year.sky_w_m2 > 0.0) & (year.sky_w_m2 < 800.0))
    assert year.rain_m_s.min() >= 0.0
    assert -90.0 <= year.latitude <= 90.0


@pytest.mark.parametrize("kind", ["csv", "epw", "tm2"])
@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, *HealthCheck]
)
@given(data=st.data())
def test_a_damaged_file_is_used_or_refused_in_words(
    tmp_path_factory: pytest.TempPathFactory, kind: str, data: st.DataObject
) -> None:
    """There is no third way, and every refusal names the file, says something and fits a few lines."""
    directory = tmp_path_factory.getbasetemp()
    path = directory / f"damaged.{kind}"
    path.write_bytes(data.draw(damaged(original(kind, directory))))
    try:
        is_a_year(load_weather(path))
    except WeatherError as refusal:
        said = str(refusal)
    else:
        return
    assert said.startswith(f"{path}:")
    assert 20 < len(said) - len(str(path)) < 400
    assert "\n" not in said


def changed(path: Path, change: Callable[[str], str]) -> Path:
    """A text file after a change."""
    path.write_text(change(path.read_text(encoding="latin-1")), encoding="latin-1")
    return path


def scaled(field: int, factor: float, offset: float = 0.0) -> Callable[[str], str]:
    """Another unit in one field of every hour of an EPW file."""

    def change(text: str) -> str:
        lines = text.split("\n")
        for number, line in enumerate(lines):
            fields = line.split(",")
            if line[:4].isdigit():
                fields[field] = f"{float(fields[field]) * factor + offset:g}"
                lines[number] = ",".join(fields)
        return "\n".join(lines)

    return change


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (scaled(6, 1.8, 32.0), r":[0-9]+: air temperature 60.8 °C is outside .* is it in °F or K"),
        (scaled(6, 1.0, 91.0), r":9: air temperature 101 °C is outside .* is it in °F or K"),
        (scaled(6, 1.0, 30.0), r"air temperature is 46 °C on the mean .* is it in °F"),
        (scaled(6, 1.0, 273.15), r":9: air temperature 283.15 °C is outside .* is it in °F or K"),
        (scaled(9, 0.01), r":9: pressure 1000 Pa is outside .* is it in mbar"),
        (scaled(13, 0.001), r"global radiation is 0.05 W/m² .* is it in kW/m²"),
        (scaled(13, 3600.0), r":9: global radiation 180000 W/m² is outside .* is it in kJ/m²"),
    ],
)  # fmt: skip
def test_other_units_are_suspected_by_name(tmp_path: Path, change: Callable[[str], str], said: str) -> None:
    """Fahrenheit, kelvins, millibars, kilowatts and kilojoules are refused with the likely reason.

    101 °F and 283 K are larger than the code for a missing value, 99.9, and still no gaps.
    """
    with pytest.raises(WeatherError, match=said):
        load_weather(changed(epw(tmp_path), change))


def test_missing_codes_are_gaps_not_values(tmp_path: Path) -> None:
    """99.9 °C, 9999 W/m² and their like are bridged where few and refused where many."""
    path = epw(tmp_path)
    good = path.read_text(encoding="latin-1").split("\n")

    def with_gap(hours: int) -> str:
        lines = list(good)
        for number in range(1000, 1000 + hours):
            fields = lines[number].split(",")
            fields[6], fields[9], fields[13], fields[21] = "99.9", "999999", "9999", "999"
            lines[number] = ",".join(fields)
        return "\n".join(lines)

    year = load_weather(changed(path, lambda _: with_gap(3)))
    is_a_year(year)
    assert sum("3 missing hours bridged" in note for note in year.notes) == 4
    with pytest.raises(WeatherError, match=r":1001: .* is missing for 7 hours from here"):
        load_weather(changed(path, lambda _: with_gap(7)))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "cp1252"])
@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends_do_not_matter(tmp_path: Path, encoding: str, ends: str) -> None:
    """The place keeps its name, and a complaint its line, however the file was saved."""
    path = epw(tmp_path)
    text = path.read_text(encoding="latin-1").replace("Made Up", "Tromsø").rstrip("\n")
    path.write_bytes(text.replace("\n", ends).encode(encoding))
    assert load_weather(path).title == "Tromsø"
    path.write_bytes(text.replace("2001,1,1,3,", "2001,1,1,x,", 1).replace("\n", ends).encode(encoding))
    with pytest.raises(WeatherError, match=":11: expected year,month,day,hour"):
        load_weather(path)


def test_other_encodings_are_refused(tmp_path: Path) -> None:
    """UTF-16 is shown as such."""
    path = epw(tmp_path)
    path.write_bytes(path.read_text(encoding="latin-1").encode("utf-16"))
    with pytest.raises(WeatherError, match="not UTF-16"):
        load_weather(path)


def test_light_at_night_is_noted(tmp_path: Path) -> None:
    """A wrong time zone shows in light while the sun is down; the shipped years have none."""
    assert not any("sun is down" in note for note in load_weather("carolina").notes)
    text = (SHIPPED / "723170TYA.CSV").read_text(encoding="latin-1")
    path = tmp_path / "shifted.csv"
    path.write_text(re.sub(r",-5\.0,", ",1.0,", text, count=1), encoding="latin-1")
    assert any("of the light falls while the sun is down" in note for note in load_weather(path).notes)


@pytest.mark.parametrize("day", ["02/30", "04/31", "00/10", "12/32"])
def test_days_no_calendar_has_are_refused_in_their_line(tmp_path: Path, day: str) -> None:
    """The line with the day is named, not one after it."""
    text = (SHIPPED / "723170TYA.CSV").read_text(encoding="latin-1").split("\n")
    fields = text[1000].split(",")
    text[1000] = ",".join([f"{day}/1990", *fields[1:]])
    path = tmp_path / "calendar.csv"
    path.write_text("\n".join(text), encoding="latin-1")
    with pytest.raises(WeatherError, match=":1001: no such hour"):
        load_weather(path)
