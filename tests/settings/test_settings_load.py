"""Loading: every mistake is named with its line, all at once, and only a SettingsError ever comes out."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.settings.load import (
    LARGEST_FILE_BYTES,
    MOST_PROBLEMS,
    Problem,
    SettingsError,
    load,
    parse,
    read,
)
from controller.settings.schema import Setpoints, Settings
from controller.settings.wording import keys_of
from controller.units import TemperatureUnit
from tests.settings.edit import HOUSE_TEXT, changed, line_at, with_line


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
    ("setpoints.heat_below", 'purge = "5 min"', "setpoints.purge", "it belongs under [fans]"),
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
        "is missing; expected: GPIO number (BCM) that switches the fan's contactor.",
    ),
    ("mqtt.tls", 'tls = "no"', "mqtt.tls", "true or false, without quotes"),
    ("mqtt.port", "port = 70000", "mqtt.port", "expected 1 to 65535"),
    ("mqtt.version", 'version = "4"', "mqtt.version", 'expected "3.1.1" or "5"'),
    ("mqtt.host", 'host = "my broker"', "mqtt.host", "is no host; expected a name or an address"),
    ("mqtt.host", "host = 5", "mqtt.host", "text in quotes"),
    (
        "site.name",
        'name = "Fell side"',
        "site.name",
        "is no name; expected a small letter, then at most 23 small letters, digits or hyphens",
    ),
    ("site.title", 'title = "a\\nb"', "site.title", "is no title; expected at most 80 letters on one line"),
    ("site.show", 'show = "K"', "site.show", 'expected "°C" or "°F"'),
    (
        "probes.ceiling-west.id",
        'id = "28-01A4C07B52D1"',
        "probes.ceiling-west.id",
        "is no probe identity; expected 28- and twelve digits or letters a to f (see `hypocaust probes`)",
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
        "is no full path; expected one that starts with /",
    ),
    (
        "mqtt.password_file",
        'password_file = "secret"',
        "mqtt.password_file",
        "is no full path; expected one that starts with /, or nothing between the quotes",
    ),
]


@pytest.mark.parametrize(("place", "bad", "key", "words"), SLIPS)
def test_a_slip_is_named_with_its_key_its_line_and_what_was_expected(house, place, bad, key, words):
    """One wrong thing in a good file gives one error, at its line, that tells how to mend it."""
    problem = only_problem(with_line(house, place, bad))
    assert problem.key == key
    assert problem.message.endswith(words)
    missing_points_at_its_table = 1 if not bad else 0
    assert problem.line == line_at(house, place) - missing_points_at_its_table


@pytest.mark.parametrize(
    ("good", "bad", "key", "words"),
    [
        ("\n[loops.middle]\n", "\n[loops.Middle]\n", "loops.Middle", "is no name"),
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
    bad = with_line(changed(house, values), "pump.tries", "trys = 3")
    with pytest.raises(SettingsError) as caught:
        parse(bad)
    problems = caught.value.problems
    assert [problem.key for problem in problems] == [
        "setpoints.air_deadband",
        "pump.trys",
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
    """A loop written as a value, or no loop in the table, is told apart from a missing table."""
    found = problems_of("loops = 3\nsite = 'home'\n[sumps]\n[probes.a]\n")
    assert found["loops"] == "3 is a value; expected a table [loops.NAME]"
    assert found["site"] == '"home" is a value; expected a table [site]'
    assert found["sumps"] == "there is none; expected at least one [sumps.NAME]"
    assert "is missing" in found["probes.a.id"]


NO_TOML = '; expected lines like  name = "value"  under a [table]'
SYNTAX = [
    ("[site]\nheat_below = 6 °C\n", 2, 'a value with a unit needs quotes; expected "6 °C"'),
    ("[site]\npurge = 10 min # slow\n", 2, 'a value with a unit needs quotes; expected "10 min"'),
    (
        "[site]\n\nname = “home”\n",
        3,
        "there are curly quotes, as word processors make them; expected straight ones",
    ),
    (
        '[site]\nname = "home\n',
        2,
        "the line ends before its closing quote; expected a quote at both ends of the value",
    ),
    (
        "[site]\nname = 'a'\nname = 'b'\n",
        3,
        "this key or table is in the file already; expected it once only",
    ),
    ("[site]\nname = 'a'\n[site]\n", 3, "this key or table is in the file already; expected it once only"),
    ("[site\n", 1, NO_TOML),
    ("a = 1\nb = 2\nc\n", 3, NO_TOML),
    ("a = [1, 2", 1, "this is not TOML (Unclosed array)" + NO_TOML),
    ("\x00", 1, "this is not TOML (Invalid statement)" + NO_TOML),
]


@pytest.mark.parametrize(("text", "line", "words"), SYNTAX)
def test_a_text_that_is_not_toml_is_told_the_first_place_that_is_not(text, line, words):
    """Slips of the pen are named in plain words with line and column."""
    with pytest.raises(SettingsError) as caught:
        parse(text, "house.toml")
    (problem,) = caught.value.problems
    assert (problem.line, problem.key) == (line, "")
    assert problem.message.endswith(words)


def test_a_slip_of_the_pen_comes_with_its_column():
    """The column is where the reader of the file gave up."""
    with pytest.raises(SettingsError, match=r"^house\.toml:2: column 16: a value with a unit needs quotes"):
        parse("[site]\nheat_below = 6 °C\n", "house.toml")


def test_an_error_is_never_as_long_as_the_line_it_is_about():
    """A value of thousands of digits without quotes is not repeated to the person."""
    with pytest.raises(SettingsError) as caught:
        parse("[site]\nheat_below = " + "1" * 9000 + " C\n")
    assert len(str(caught.value)) < 200


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "",
            "there are no settings in it; expected [site], [loops.NAME], [sumps.NAME] and [probes.NAME]",
        ),
        ("# nothing but a comment\n", "there are no settings in it"),
        ("a = " + "[" * 5000, "brackets are nested too deeply to be read"),
        ("a = " + "[" * 5000 + "]" * 5000, "brackets are nested too deeply to be read"),
        ("a = " + "9" * 5000, "a number has too many digits to be read"),
        (
            "a" + ".a" * 100_000 + " = 1",
            "a key has more than 50 parts; expected two or three, as in [loops.north]",
        ),
        (
            "b = 1\n[" + "'a'." * 60 + "a]",
            "a key has more than 50 parts; expected two or three, as in [loops.north]",
        ),
        (
            "b = {" + "a ." * 60 + "a = 1}",
            "a key has more than 50 parts; expected two or three, as in [loops.north]",
        ),
    ],
)
def test_an_absurd_text_gives_one_clear_error(text, words):
    """Nothing, endless brackets, numbers and keys are refused at once and without a traceback."""
    with pytest.raises(SettingsError) as caught:
        parse(text, "house.toml")
    (problem,) = caught.value.problems
    assert str(caught.value).startswith("house.toml:")
    assert problem.message.startswith(words)


def test_a_key_of_too_many_parts_is_told_at_its_line():
    """Whoever has written dots without end is shown where."""
    with pytest.raises(SettingsError) as caught:
        parse("a = 1\nb = 2\na" + ".a" * 60 + " = 1\n")
    assert caught.value.problems[0].line == 3


@pytest.mark.parametrize("written", ['"a\\u0000b"', f'"{"x" * 200}"', '"\\u001b[2J"'])
@pytest.mark.parametrize("key", ["client_id", "user"])
def test_a_name_no_broker_takes_is_refused(problems_of, key, written):
    """Control characters and endless names are told by ``check`` and not by a connection that fails."""
    assert "at most 128 letters on one line" in problems_of(f"[mqtt]\n{key} = {written}")[f"mqtt.{key}"]


def test_a_number_beyond_writing_is_named_without_being_written(problems_of):
    """A hexadecimal number may have more digits than Python is willing to print."""
    found = problems_of("[site]\nname = 0x" + "f" * 9000)
    assert found["site.name"].startswith("a huge number is the wrong kind of value")
    found = problems_of("[site]\nname = [0x" + "f" * 9000 + "]")
    assert found["site.name"].startswith("a huge number is the wrong kind of value")


def test_a_file_of_something_else_is_not_answered_with_thousands_of_lines():
    """The first few hundred mistakes are told and the rest is counted."""
    with pytest.raises(SettingsError) as caught:
        parse("".join(f"key{number} = 1\n" for number in range(1000)))
    assert len(caught.value.problems) == MOST_PROBLEMS + 1
    last = caught.value.problems[-1]
    left = 1000 + 4 - MOST_PROBLEMS  # four tables are missing, too
    assert last == Problem(MOST_PROBLEMS - 3, "", f"and {left} more; is this a settings file at all?")


def test_a_file_that_cannot_be_read_gives_one_clear_error(tmp_path):
    """Missing files, directories, pipes, huge and binary files are each refused in one line with the name."""
    missing = tmp_path / "missing.toml"
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"[site]\nname = '\xff\xfe'\n")
    huge = tmp_path / "huge.toml"
    huge.write_bytes(b"#" * (LARGEST_FILE_BYTES + 1))
    for path, words in (
        (missing, "it cannot be read (No such file or directory); expected a TOML file there"),
        (tmp_path, "this is not a file; expected a TOML file such as house.toml"),
        (pipe, "this is not a file; expected a TOML file such as house.toml"),
        (tmp_path / ("x" * 300), "it cannot be read (File name too long); expected a TOML file there"),
        ("\0", "it cannot be read (this is no file name); expected a TOML file there"),
        (huge, "the file is larger than 250 kB; expected a TOML file of a few kB"),
        (binary, "the file is not UTF-8 text; save it again as plain text with the encoding UTF-8"),
    ):
        with pytest.raises(SettingsError) as caught:
            load(path)
        (problem,) = caught.value.problems
        assert problem == Problem(2 if path == binary else None, "", words)
        assert str(caught.value).startswith(f"{path}:")


def test_the_line_of_the_first_byte_that_is_no_text_is_told(tmp_path):
    """A file in another encoding is blamed where it goes wrong."""
    path = tmp_path / "latin.toml"
    path.write_bytes('[site]\nname = "home"\nshow = "°C"\n'.encode("latin-1"))
    with pytest.raises(SettingsError) as caught:
        load(path)
    assert caught.value.problems[0].line == 3


@settings(deadline=None)
@given(st.text())
def test_any_text_gives_settings_or_a_settings_error(text):
    """No text whatever raises anything else."""
    try:
        assert isinstance(parse(text), Settings)
    except SettingsError as trouble:
        assert trouble.problems  # noqa: PT017 - both outcomes are right, and each has its check


VALUES = st.sampled_from(
    [
        '""',
        "1",
        "-1",
        "1e308",
        "nan",
        "inf",
        "true",
        "[]",
        "{}",
        '"5 °C"',
        '"5 K"',
        '"9999 d"',
        "2026-01-31",
        '"x"',
    ]
)


@settings(deadline=None)
@given(st.data())
def test_a_good_file_with_anything_changed_gives_settings_or_a_settings_error(data):
    """Values swapped, lines lost or doubled: the answer is settings or problems that each have a line."""
    lines = [line for line in HOUSE_TEXT.split("\n") if line and not line.startswith("#")]
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(lines) - 1))
        match data.draw(st.sampled_from(["value", "drop", "double", "move"])):
            case "value":
                lines[at] = re.sub(r"= *[^#]*", lambda _: f"= {data.draw(VALUES)} ", lines[at], count=1)
            case "drop":
                del lines[at]
            case "double":
                lines.insert(at, lines[at])
            case _:
                lines.insert(data.draw(st.integers(0, len(lines) - 1)), lines.pop(at))
    try:
        assert isinstance(parse("\n".join(lines)), Settings)
    except SettingsError as trouble:
        assert all(1 <= problem.line <= len(lines) for problem in trouble.problems)  # noqa: PT017 - as above


ODD_KEYS = ["[key]", "", " ", "a.b", "°", "NAME", "__class__", "model_config", "heat_below_c"]
KNOWN_KEYS = sorted(set(re.findall(r"^([a-z_]+) =", HOUSE_TEXT, re.MULTILINE)) | set(Settings.model_fields))
PLAIN = st.one_of(
    st.booleans(),
    st.integers(),
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from(["5 °C", "5 K", "10 min", "soil", "main", "a", "28-01a4c07c0013", "/x", ""]),
)
TREES = st.recursive(
    PLAIN,
    lambda inner: st.one_of(
        st.lists(inner, max_size=2),
        st.dictionaries(st.sampled_from([*KNOWN_KEYS, *ODD_KEYS]), inner, max_size=4),
    ),
    max_leaves=25,
)


def inline(value: object) -> str:
    """A value as TOML writes it on one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(key)} = {inline(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(inline(item) for item in value) + "]"
    return json.dumps(value, ensure_ascii=False)


@settings(deadline=None)
@given(st.dictionaries(st.sampled_from([*Settings.model_fields, *ODD_KEYS]), TREES, min_size=1))
def test_any_document_gives_settings_or_a_settings_error(document):
    """Known and odd keys with values of every kind in every place: each mistake finds words and a line."""
    text = "\n".join(f"{json.dumps(key)} = {inline(value)}" for key, value in document.items())
    with pytest.raises(SettingsError) as caught:
        parse(text)
    for problem in caught.value.problems:
        assert 1 <= problem.line <= len(document)
        assert problem.message.isprintable()


@pytest.mark.parametrize(
    "text", ['"[key]" = 1', '[site]\n"[key]" = 1', '[loops."[key]"]', '[loops]\n"[key]" = 3']
)
def test_a_key_that_looks_like_a_mark_of_the_checker_is_a_key(text, problems_of):
    """A table named like pydantic's own mark for bad names is blamed like any other."""
    assert any("[key]" in key for key in problems_of(text))


def test_reading_settings_loads_nothing_that_the_daemon_does_not_need():
    """The reference writer, drivers and numerics stay out of a program that only reads settings."""
    program = (
        "import sys; import controller.settings.load, controller.settings.watch; "
        "heavy = {'controller.settings.reference', 'numpy', 'gpiozero', 'paho', 'apscheduler', 'sqlite3'}; "
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
