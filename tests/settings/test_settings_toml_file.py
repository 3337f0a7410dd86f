"""Texts and files that are no settings file at all: one clear error each, at the right line."""

from __future__ import annotations

import os
import time
import tomllib
import tracemalloc

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.settings.extent import excess
from controller.settings.load import (
    LARGEST_FILE_BYTES,
    Problem,
    SettingsError,
    load,
    parse,
)
from controller.settings.toml_file import beginning_of, parsed, text_of

KEYS = st.sampled_from(["a", "a . b", '"=".a', "'#'.a.b"])


def ARRAYS(inner):  # noqa: N802 - a strategy among strategies
    """Lists and inline tables of what was drawn."""
    lists = st.lists(inner, max_size=3).map(lambda values: f"[ {', '.join(values)} ]")
    return st.one_of(lists, inner.map(lambda value: f'{{ "]" = {value} }}'))


def depth_of(value):
    """How deep a value is nested."""
    if isinstance(value, dict) and set(value) != {"]"}:
        return max(map(depth_of, value.values()))
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else None
    return 0 if inner is None else 1 + max(map(depth_of, inner), default=0)


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


def test_a_text_that_ends_too_early_is_told_without_a_column():
    """What is missing at the end of the file stands in no column."""
    with pytest.raises(SettingsError) as caught:
        parse("a = [1, 2", "house.toml")
    assert str(caught.value) == f"house.toml:1: this is not TOML (Unclosed array){NO_TOML}"


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
        ("a = " + "[" * 5000, "brackets are nested too deeply; expected a table such as [loops.north]"),
        ("a = " + "[" * 5000 + "]" * 5000, "brackets are nested too deeply; expected a table"),
        ("a = " + "{a = " * 5000 + "1" + "}" * 5000, "brackets are nested too deeply; expected a table"),
        ("a = " + "9" * 5000, "a number has too many digits to be read"),
        (
            "a" + ".a" * 100_000 + " = 1",
            "a key has more than 10 parts; expected two or three, as in [loops.north]",
        ),
        (
            "b = 1\n[" + "'a'." * 60 + "a]",
            "a key has more than 10 parts; expected two or three, as in [loops.north]",
        ),
        (
            "b = {" + "a ." * 60 + "a = 1}",
            "a key has more than 10 parts; expected two or three, as in [loops.north]",
        ),
        (
            "[" + ".".join(['"="'] * 8000) + "]",
            "a key has more than 10 parts; expected two or three, as in [loops.north]",
        ),
        (
            "'#' .\t'\"' . " * 4000 + "a = 1",
            "a key has more than 10 parts; expected two or three, as in [loops.north]",
        ),
        ("".join(f"k{n} = 1\n" for n in range(30_000)), "there are more than 6000 keys and values"),
        ("[probes]\n" + "".join(f"p{n} = {{}}\n" for n in range(15_000)), "there are more than 6000 keys"),
        ("a = [" + "[]," * 80_000 + "]", "there are more than 6000 keys and values; expected far fewer"),
        ('a = [""' + ', """"""' * 30_000 + "]", "there are more than 6000 keys and values"),
    ],
)
def test_an_absurd_text_gives_one_clear_error(text, words):
    """Nothing, endless brackets, numbers and keys are refused at once and without a traceback."""
    with pytest.raises(SettingsError) as caught:
        parse(text, "house.toml")
    (problem,) = caught.value.problems
    assert str(caught.value).startswith("house.toml:")
    assert problem.key == ""
    assert problem.message.startswith(words)


@pytest.mark.parametrize(
    "text",
    [
        'a = "' + "[" * 99 + '"',
        "a = '" + ".a" * 99 + "'",
        "a = " + '"' * 3 + '[.a.a.a = \\""' * 99 + '"' * 4,
        "a = " + "'" * 3 + "[{'a'.a''" * 99 + "'" * 3,
        "# " + "[.a" * 99 + "\na = 1",
        "a = [1.5, 07:32:00.999, 1979-05-27 07:32:00, -1.5e+3]",
    ],
)
def test_what_stands_in_text_or_comments_is_not_counted(text):
    """Brackets and dots are those of TOML itself: within quotes and comments there may be any number."""
    assert parsed(text)[0]


@settings(deadline=None)
@given(st.recursive(st.sampled_from(["1", '"]"', "'{'", '"""["""']), ARRAYS, max_leaves=12), st.data())
def test_the_count_of_brackets_is_that_of_the_reader(value, data):
    """However a value is written, brackets that close are not counted twice."""
    text = "".join(f"{data.draw(KEYS)}{number} = {value} # [[[\n" for number in range(20))
    deepest = max(map(depth_of, tomllib.loads(text).values()))
    assert (excess(text) is None) == (deepest <= 4)


def test_the_largest_texts_that_are_read_take_little_time_and_memory():
    """Files filled to the limits with what costs a reader most are answered within what a tick can spare."""
    texts = [
        "[probes]\n" + "".join(f"p{n} = {{}}\n" for n in range(1990)),
        "".join(f"[loops.p{n}]\nsump = 'main'\n" for n in range(1400)),
        "".join(f"k{n}.a.b.c.d.e.f.g.h.i = 1\n" for n in range(2900)),
        'a = "' + "\\n" * 120_000 + '"',
        "#\n" * 124_000,
    ]
    for text in texts:
        tracemalloc.start()
        began_s = time.process_time()
        with pytest.raises(SettingsError):
            parse(text)
        took_s, peak_bytes = time.process_time() - began_s, tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert took_s < 10.0  # tracing slows it down several times; without limits it is minutes
        assert peak_bytes < 12_000_000


def test_a_text_without_a_name_is_called_settings():
    """Where no file is named a message still begins with what it is about."""
    with pytest.raises(SettingsError, match=r"^settings: there are no settings in it"):
        parse("")


def test_a_key_of_too_many_parts_is_told_at_its_line():
    """Dots without end are shown with their line."""
    with pytest.raises(SettingsError) as caught:
        parse("\nb = 2\na" + ".a" * 60 + " = 1\n")
    assert caught.value.problems[0].line == 3


@pytest.mark.parametrize("written", ['"a\\u0000b"', f'"{"x" * 200}"', '"\\u001b[2J"'])
@pytest.mark.parametrize("key", ["client_id", "user"])
def test_a_name_no_broker_takes_is_refused(problems_of, key, written):
    """Control characters and endless names are reported by ``check`` and not by a connection that fails."""
    assert "at most 128 letters on one line" in problems_of(f"[mqtt]\n{key} = {written}")[f"mqtt.{key}"]


def test_a_number_beyond_writing_is_named_without_being_written(problems_of):
    """A hexadecimal number may have more digits than Python is willing to print."""
    found = problems_of("[site]\nname = 0x" + "f" * 9000)
    assert found["site.name"].startswith("a huge number is the wrong kind of value")
    found = problems_of("[site]\nname = [0x" + "f" * 9000 + "]")
    assert found["site.name"].startswith("a list is the wrong kind of value")


def test_a_file_of_something_else_is_not_answered_with_thousands_of_lines():
    """The first two hundred mistakes are reported and the rest is counted."""
    with pytest.raises(SettingsError) as caught:
        parse("".join(f"key{number} = 1\n" for number in range(1000)))
    assert len(caught.value.problems) == 201
    left = 1000 + 4 - 200  # four tables are missing, too
    assert caught.value.problems[-1] == Problem(197, "", f"and {left} more; is this a settings file at all?")


def test_two_hundred_mistakes_are_told_without_a_word_on_the_rest():
    """Where nothing is left out nothing is counted."""
    with pytest.raises(SettingsError) as caught:
        parse("".join(f"key{number} = 1\n" for number in range(196)))  # and four tables are missing
    assert len(caught.value.problems) == 200
    assert all(problem.key for problem in caught.value.problems)


def test_no_more_than_two_hundred_contradictions_are_told():
    """A file that lists one probe over and over is not answered once for each."""
    probes = (f'[probes.p{number}]\nid = "28-000000000001"\nplace = "bench"\n' for number in range(220))
    with pytest.raises(SettingsError) as caught:
        parse("".join(probes))
    again = "28-000000000001 is already probes.p0; expected a probe of its own"
    assert sum(problem.message == again for problem in caught.value.problems) == 200


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
        ("\0", "it cannot be read (this is not a file name); expected a TOML file there"),
        (huge, "the file is larger than 250 kB; expected a TOML file of a few kB"),
        (binary, "the file is not UTF-8 text; save it again as plain text with the encoding UTF-8"),
    ):
        with pytest.raises(SettingsError) as caught:
            load(path)
        (problem,) = caught.value.problems
        assert problem == Problem(2 if path == binary else None, "", words)
        assert str(caught.value).startswith(f"{path}:")


def test_a_huge_file_is_not_read_to_its_end(tmp_path):
    """One byte more than is allowed is enough to refuse a file, however much it holds."""
    path = tmp_path / "huge.toml"
    path.write_bytes(b"#" * 250_100)
    assert len(beginning_of(path)) == 250_001
    path.write_bytes(b"#" * 250_000)
    assert len(text_of(path)) == 250_000


def test_the_line_of_the_first_byte_that_is_no_text_is_told(tmp_path):
    """A file in another encoding is blamed where it goes wrong."""
    path = tmp_path / "latin.toml"
    path.write_bytes('\nname = "home"\nshow = "°C"\n'.encode("latin-1"))
    with pytest.raises(SettingsError) as caught:
        load(path)
    assert caught.value.problems[0].line == 3
