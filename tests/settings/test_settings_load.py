"""Loading: every mistake is named with its line, all at once, and only a SettingsError ever comes out."""

from __future__ import annotations

import subprocess
import sys
import tomllib

import pytest

from controller.settings import load as load_module
from controller.settings import schema
from controller.settings.load import (
    Problem,
    SettingsError,
    load,
    parse,
    read,
)
from controller.settings.schema import Setpoints
from controller.settings.wording import keys_of
from controller.units import TemperatureUnit
from tests.settings.edit import changed, line_at, with_line


def line_of(text: str, fragment: str) -> int:
    """The line of the only place where ``fragment`` stands."""
    assert text.count(fragment) == 1
    return text[: text.index(fragment)].count("\n") + 1


def only_problem(text: str) -> Problem:
    """The one problem of a text; its line and key stand before what is said about it."""
    with pytest.raises(SettingsError) as caught:
        parse(text, "house.toml")
    (problem,) = caught.value.problems
    assert str(caught.value) == f"house.toml:{problem.line}: {problem.key}: {problem.message}"
    return problem


def test_a_good_file_becomes_si(house):
    """What a grower writes arrives as SI numbers."""
    values = {"setpoints.heat_below": '"5.25 °C"', "fans.purge": '"5.5 min"', "fire.rise": '"6 K/min"'}
    good = parse(changed(house, values))
    assert good.setpoints.heat_below_c == 5.25
    assert good.fans.purge_s == 330.0
    assert good.fire.rise_k_s == pytest.approx(0.1)
    assert good.loops["north"].tube_diameter_m == pytest.approx(0.08)
    assert good.house.sump_volume_m3 == pytest.approx(0.06)
    assert good.probes["middle-soil"].loop == "middle"


def test_a_good_file_comes_with_the_words_it_was_written_in(tmp_path, house):
    """Beside the settings stand the document, the line of each key and the name of the file."""
    path = tmp_path / "house.toml"
    path.write_text(house, encoding="utf-8")
    found = read(path)
    assert found.settings == parse(house)
    assert found.document == tomllib.loads(house)
    assert found.lines["fans", "purge"] == line_at(house, "fans.purge")
    assert found.name == str(path)


def test_units_of_both_systems_give_the_same_settings(house):
    """A file in °F, cfm, feet and gallons means the same house."""
    pairs = {
        "setpoints.heat_below": ('"6 °C"', '"42.8 °F"'),
        "fans.useful_difference": ('"5 K"', '"9 °F"'),
        "fire.rise": ('"6 K/min"', '"10.8 °F/min"'),
        "setpoints.too_hot": ('"41 °C"', '"105.8 F"'),
        "loops.north.flow": ('"0.2 m3/s"', '"423.776 cfm"'),
        "loops.north.tube_length": ('"9.144 m"', '"30 ft"'),
    }
    metric_settings, imperial_settings = (
        parse(changed(house, {key: written[system] for key, written in pairs.items()})) for system in (0, 1)
    )
    assert imperial_settings.setpoints.heat_below_c == pytest.approx(metric_settings.setpoints.heat_below_c)
    assert imperial_settings.setpoints.too_hot_c == pytest.approx(metric_settings.setpoints.too_hot_c)
    assert imperial_settings.fans.useful_difference_k == pytest.approx(
        metric_settings.fans.useful_difference_k
    )
    assert imperial_settings.fire.rise_k_s == pytest.approx(metric_settings.fire.rise_k_s)
    metric_north, imperial_north = metric_settings.loops["north"], imperial_settings.loops["north"]
    assert imperial_north.flow_m3_s == pytest.approx(metric_north.flow_m3_s)
    assert imperial_north.tube_length_m == pytest.approx(metric_north.tube_length_m)


@pytest.mark.parametrize(
    ("written", "unit"),
    [
        ("°C", TemperatureUnit.CELSIUS),
        ("C", TemperatureUnit.CELSIUS),
        ("°F", TemperatureUnit.FAHRENHEIT),
        ("F", TemperatureUnit.FAHRENHEIT),
    ],
)
def test_people_choose_what_they_read(house, written, unit):
    """The display unit may be written with or without the degree sign."""
    assert parse(house.replace('show = "°C"', f'show = "{written}"')).site.show is unit


def test_a_file_from_a_windows_editor_is_read(tmp_path, house):
    """A byte order mark and CR LF line ends change nothing."""
    path = tmp_path / "house.toml"
    path.write_bytes(b"\xef\xbb\xbf" + house.replace("\n", "\r\n").encode())
    assert load(path) == parse(house)


# A line of the sample house, what is put in its place, the key blamed, and words of the message.
SLIPS = [
    (
        "setpoints.heat_below",
        "heat_below = 5",
        "setpoints.heat_below",
        '5 has no unit; write for example "26 °C"',
    ),
    ("setpoints.heat_below", 'heat_below = "5 W"', "setpoints.heat_below", "expected °C or °F"),
    (
        "setpoints.heat_below",
        'heat_below = "5,5 °C"',
        "setpoints.heat_below",
        "has a comma in the number; expected a point, as in 0.35",
    ),
    (
        "setpoints.heat_below",
        "heat_below = nan",
        "setpoints.heat_below",
        'nan has no unit; write for example "26 °C"',
    ),
    ("setpoints.heat_below", 'heat_below = "99 °F"', "setpoints.heat_below", "expected 23 °F to 77 °F"),
    ("setpoints.heat_below", 'heat_below = "26 °C"', "setpoints.heat_below", "expected -5 °C to 25 °C"),
    ("setpoints.heat_below", 'heat_below_c = "5 °C"', "setpoints.heat_below_c", 'did you mean "heat_below"?'),
    ("setpoints.heat_below", 'heat_bellow = "5 °C"', "setpoints.heat_bellow", 'did you mean "heat_below"?'),
    ("setpoints.heat_below", 'back_off = "30 min"', "setpoints.back_off", "it belongs under [fans]"),
    ("setpoints.heat_below", 'fan_pin = "5 min"', "setpoints.fan_pin", "it belongs under [loops.NAME]"),
    (
        "setpoints.heat_below",
        "zzzz = 1",
        "setpoints.zzzz",
        f"is not a known setting; expected one of {', '.join(keys_of(Setpoints))}",
    ),
    ("loops.north.flow", 'flow = "20000 cfm"', "loops.north.flow", "expected 21.1888 cfm to 10594.4 cfm"),
    ("fans.heat_per_watt", "heat_per_watt = 99", "fans.heat_per_watt", "expected 1.0 to 50.0"),
    ("fans.heat_per_watt", "heat_per_watt = nan", "fans.heat_per_watt", "a number that is finite"),
    ("fans.heat_per_watt", "heat_per_watt = inf", "fans.heat_per_watt", "a number that is finite"),
    ("fans.heat_per_watt", 'heat_per_watt = "4"', "fans.heat_per_watt", "a number, without quotes"),
    (
        "fans.starts_per_hour",
        "starts_per_hour = 3.5",
        "fans.starts_per_hour",
        "a whole number, without quotes",
    ),
    ("fans.starts_per_hour", "starts_per_hour = 13", "fans.starts_per_hour", "expected 1 to 12"),
    (
        "fans.starts_per_hour",
        "starts_per_hour = true",
        "fans.starts_per_hour",
        "a whole number, without quotes",
    ),
    ("loops.north.fan_pin", "fan_pin = 28", "loops.north.fan_pin", "expected 0 to 27"),
    (
        "loops.north.fan_pin",
        "",
        "loops.north.fan_pin",
        "is missing: give the GPIO number (BCM) that switches the fan's contactor, as in fan_pin = 17",
    ),
    ("mqtt.tls", 'tls = "no"', "mqtt.tls", "true or false, without quotes"),
    ("mqtt.port", "port = 70000", "mqtt.port", "expected 1 to 65535"),
    ("mqtt.version", 'version = "4"', "mqtt.version", 'expected "3.1.1" or "5"'),
    ("mqtt.host", 'host = "my broker"', "mqtt.host", "is not a host; expected a name or an address"),
    ("mqtt.host", "host = 5", "mqtt.host", "text in quotes"),
    (
        "site.name",
        'name = "Fell side"',
        "site.name",
        "is not a valid name; expected a small letter, then at most 23 small letters, digits or hyphens",
    ),
    (
        "site.title",
        'title = "a\\nb"',
        "site.title",
        "is not a valid title; expected at most 80 letters on one line",
    ),
    ("site.show", 'show = "K"', "site.show", 'expected "°C" or "°F"'),
    (
        "probes.ceiling-west.id",
        'id = "28-01A4C07B52D1"',
        "probes.ceiling-west.id",
        "is not a probe identity; expected 28- and twelve digits or letters a to f (see `hypocaust probes`)",
    ),
    ("probes.outdoor.place", 'place = "outside"', "probes.outdoor.place", '"root-zone" or "outlet"'),
    (
        "loops.north.tube_wall",
        'tube_wall = "ribbed"',
        "loops.north.tube_wall",
        'is not one of the choices; expected "corrugated" or "smooth"',
    ),
    (
        "service.runtime_directory",
        'runtime_directory = "run/hypocaust"',
        "service.runtime_directory",
        "is not a full path; expected one that starts with /",
    ),
    (
        "mqtt.password_file",
        'password_file = "secret"',
        "mqtt.password_file",
        "is not a full path; expected one that starts with /, or nothing between the quotes",
    ),
]


@pytest.mark.parametrize(("place", "bad", "key", "words"), SLIPS)
def test_a_slip_is_named_with_its_key_its_line_and_what_was_expected(house, place, bad, key, words):
    """One wrong thing in a good file gives one error, at its line, that says how to mend it."""
    problem = only_problem(with_line(house, place, bad))
    assert problem.key == key
    assert problem.message.endswith(words)
    missing_points_at_its_table = 1 if not bad else 0
    assert problem.line == line_at(house, place) - missing_points_at_its_table


@pytest.mark.parametrize(
    ("good", "bad", "key", "words"),
    [
        ("\n[loops.middle]\n", "\n[loops.Middle]\n", "loops.Middle", "is not a valid name"),
        ("\n[fire]\n", "\n[fires]\n", "fires", 'is not a known table; did you mean "fire"?'),
    ],
)
def test_a_slip_in_the_name_of_a_table_is_named_at_its_line(house, good, bad, key, words):
    """A table that is not known is blamed where it begins."""
    problem = only_problem(house.replace(good, bad))
    assert (problem.key, problem.line) == (key, line_of(house, good) + 1)
    assert words in problem.message


def test_everything_is_said_at_once_in_the_order_of_the_file(house):
    """Wrong values, unknown keys and contradictions come together, sorted by line."""
    values = {
        "setpoints.air_deadband": "1",
        "loops.south.fan_pin": "27",
        "service.lease": '"20 s"',
        "probes.outdoor.place": '"soil"',
    }
    bad = with_line(changed(house, values), "pump.starts_per_hour", "starts_per_hou = 3")
    with pytest.raises(SettingsError) as caught:
        parse(bad)
    problems = caught.value.problems
    assert [problem.key for problem in problems] == [
        "setpoints.air_deadband",
        "pump.starts_per_hou",
        "loops.south.fan_pin",
        "probes.outdoor.place",
        "service.lease",
    ]
    lines = [problem.line for problem in problems]
    assert lines == sorted(lines)
    assert problems[2].line == line_at(bad, "loops.south.fan_pin")


def test_an_almost_empty_file_is_told_every_table_it_needs(problems_of):
    """What the controller cannot work without is asked for."""
    found = problems_of("[fans]\n")
    assert set(found) == {"site", "loops", "sumps", "probes"}
    assert found["loops"] == "this table is missing; expected [loops.NAME]"


def test_a_value_where_a_table_belongs_is_said(problems_of):
    """A loop written as a value, or no loop in the table, is distinguished from a missing table."""
    found = problems_of("loops = 3\nsite = 'home'\n[sumps]\n[probes.a]\n")
    assert found["loops"] == "3 is a value; expected a table [loops.NAME]"
    assert found["site"] == '"home" is a value; expected a table [site]'
    assert found["sumps"] == "is empty; expected at least one [sumps.NAME]"
    assert "is missing" in found["probes.a.id"]


@pytest.mark.parametrize("module", [load_module, schema], ids=lambda module: module.__name__)
def test_what_a_module_offers_is_there(module):
    """Every name that a module lists as its own can be had from it, and is listed once."""
    assert all(hasattr(module, name) for name in module.__all__)
    assert len(set(module.__all__)) == len(module.__all__)


def test_reading_settings_loads_nothing_that_the_daemon_does_not_need():
    """The reference writer, drivers and numerics stay out of a program that only reads settings."""
    program = (
        "import sys; import controller.settings.load, controller.settings.watch; "
        "heavy = {'controller.settings.reference', 'numpy', 'gpiozero', 'paho', 'apscheduler', 'sqlite3'}; "
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
