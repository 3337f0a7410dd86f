"""Finding the line of a setting, checked against documents whose writer kept count of its own lines."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.settings.locate import lines_of, locate

KEYS = st.sampled_from(["a", "b-1", "c_2", "42", "site", "loops"])
QUOTED_KEYS = st.sampled_from(
    [
        ('"a b"', "a b"),
        ("'c.d'", "c.d"),
        ('"q\\"uote"', 'q"uote'),
        ('"#"', "#"),
        ("'\"'", '"'),
        ('"\\u00e9"', "é"),
    ]
)
SCALARS = st.sampled_from(
    [
        "1",
        "-0.5e3",
        "true",
        "inf",
        "2026-01-31",
        "2026-01-31 07:30:00Z",
        "07:30:00",
        '"26 °C"',
        '"# no comment"',
        '"] } , = ["',
        '"back\\\\slash \\" quote"',
        "'literal \\'",
        '""',
        "''",
        '"""one line"""',
        '"""\nthree\nlines"""',
        '"""quotes \\""" and "" inside\n"""',
        '"""ends in quotes"""""',
        "'''\n[no.header]\nno = 'key'\n'''",
        "'''ends in quotes'''''",
        '"""escaped line end \\\n   # no comment\n"""',
    ]
)
GAPS = st.sampled_from(["", "\n", "# a comment with [brackets] = \"and quotes'\n", "\t\n \n"])
TRAILS = st.sampled_from(["\n", " # trailing [comment]\n", "\t\n"])


class Writer:
    """Writes a random document and notes the line of everything it writes."""

    def __init__(self, draw: Any) -> None:
        self.draw = draw
        self.text = ""
        self.lines: dict[tuple[str | int, ...], int] = {}

    def add(self, text: str) -> None:
        """Append a text as it is."""
        self.text += text

    def note(self, path: tuple[str | int, ...]) -> None:
        """Note that something is written on the line at hand."""
        self.lines[path] = self.text.count("\n") + 1

    def key(self, taken: set[str]) -> tuple[str, str] | None:
        """A key that is not taken yet, as written and as meant."""
        written, meant = self.draw(st.one_of(KEYS.map(lambda key: (key, key)), QUOTED_KEYS))
        if meant in taken:
            return None
        taken.add(meant)
        return written, meant

    def pairs(self, path: tuple[str | int, ...], taken: set[str]) -> None:
        """A few keys with values, with blanks and comments around them."""
        for _ in range(self.draw(st.integers(0, 4))):
            self.add(self.draw(GAPS))
            key = self.key(taken)
            if key is None:
                continue
            self.add(self.draw(st.sampled_from(["", "  "])))
            self.pair(path, key, 2)
            self.add(self.draw(TRAILS))

    def pair(self, path: tuple[str | int, ...], key: tuple[str, str], depth: int) -> None:
        """One key with its value, now and then in dotted form."""
        written, meant = key
        self.note((*path, meant))
        if self.draw(st.booleans()):
            self.note((*path, meant, "dotted"))
            self.add(f"{written} . dotted = ")
            self.value((*path, meant, "dotted"), depth)
        else:
            self.add(f"{written}=")
            self.value((*path, meant), depth)

    def value(self, path: tuple[str | int, ...], depth: int) -> None:
        """A value of any kind, nested at most as deep as asked."""
        kind = self.draw(st.sampled_from(["scalar", "array", "inline"])) if depth else "scalar"
        if kind == "scalar":
            self.add(self.draw(SCALARS))
        elif kind == "array":
            self.array(path, depth - 1)
        else:
            self.inline(path, depth - 1)

    def array(self, path: tuple[str | int, ...], depth: int) -> None:
        """An array over one or more lines."""
        self.add("[")
        for index in range(self.draw(st.integers(0, 3))):
            self.add(self.draw(GAPS))
            self.note((*path, index))
            self.value((*path, index), depth)
            self.add(self.draw(st.sampled_from([",", " ,", "\n,", " # why, indeed ]\n , "])))
        self.add(self.draw(GAPS) + "]")

    def inline(self, path: tuple[str | int, ...], depth: int) -> None:
        """A table between braces."""
        self.add("{")
        taken: set[str] = set()
        for index in range(self.draw(st.integers(0, 2))):
            key = self.key(taken)
            if key is None:
                break
            self.add(", " if index else " ")
            self.pair(path, key, depth)
        self.add(" }")


@st.composite
def documents(draw: Any) -> tuple[str, dict[tuple[str | int, ...], int]]:
    """A valid document with the line of each of its keys."""
    writer = Writer(draw)
    names: set[str] = set()
    writer.pairs((), names)
    for _ in range(draw(st.integers(0, 3))):
        key = writer.key(names)
        if key is None:
            continue
        written, meant = key
        if draw(st.booleans()):
            for index in range(draw(st.integers(1, 3))):
                if index == 0:
                    writer.note((meant,))
                writer.note((meant, index))
                writer.add(f"[[ {written} ]]\n")
                writer.pairs((meant, index), set())
                if draw(st.booleans()):
                    writer.note((meant, index, "below"))
                    writer.add(f"[{written}.below]\n")
                    writer.pairs((meant, index, "below"), set())
        else:
            writer.note((meant, "inner"))
            writer.add(f"[{written} . inner] # a header\n")
            writer.pairs((meant, "inner"), set())
            writer.note((meant,))
            writer.add(f" [{written}]\n")
            writer.pairs((meant,), {"inner"})
    if draw(st.booleans()):
        writer.text = writer.text.replace("\n", "\r\n")
    return writer.text, writer.lines


def paths_of(value: Any, path: tuple[str | int, ...] = ()) -> set[tuple[str | int, ...]]:
    """The paths of everything in a document as the TOML reader gives it."""
    children: list[tuple[str | int, Any]] = []
    if isinstance(value, dict):
        children = list(value.items())
    elif isinstance(value, list):
        children = list(enumerate(value))
    found = {path} if path else set()
    return found.union(*(paths_of(child, (*path, name)) for name, child in children))


@settings(deadline=None)
@given(documents())
def test_every_key_the_reader_finds_gets_the_line_it_was_written_on(document):
    """Whatever mixture of headers, quotes, arrays and inline tables: no key is missed, none is misplaced."""
    text, written = document
    found = lines_of(text)
    assert set(found) == paths_of(tomllib.loads(text))
    assert found == written


EVERYTHING = """\
# a comment with [brackets] = "and quotes"

top = 1 # trailing [comment]
dotted . inner = 'literal \\'
"a b".'c.d' = "escaped \\" quote ] } , #"
"q\\"uote" = ""
\t
[site] # a header
name = \"\"\"
[no.header]
quotes \\\"\"\" and "" inside\"\"\"\"\"
after = \'\'\'
no = 'key' \'\'\'\'\'
list = [
  1, # one
  [2,
   3],
  { x = 4, y.z = [5] } ,
]
empty = []
none = {}
open = [ 6
]
[ loops . "north" ]
pins = { fan = 17,pump= 4 }
[loops]
a=2026-01-31 07:30:00Z
b=7
c=[8]
[[probes]]
id = 1
[probes.extra]
k = 2
[[probes]]
[probes.extra]
k = 3
[[probes.deep]]
m = 1
[[ probes.deep ]]
m = 2
"""
EVERYTHING_LINES = {
    ("top",): 3,
    ("dotted",): 4,
    ("dotted", "inner"): 4,
    ("a b",): 5,
    ("a b", "c.d"): 5,
    ('q"uote',): 6,
    ("site",): 8,
    ("site", "name"): 9,
    ("site", "after"): 12,
    ("site", "list"): 14,
    ("site", "list", 0): 15,
    ("site", "list", 1): 16,
    ("site", "list", 1, 0): 16,
    ("site", "list", 1, 1): 17,
    ("site", "list", 2): 18,
    ("site", "list", 2, "x"): 18,
    ("site", "list", 2, "y"): 18,
    ("site", "list", 2, "y", "z"): 18,
    ("site", "list", 2, "y", "z", 0): 18,
    ("site", "empty"): 20,
    ("site", "none"): 21,
    ("site", "open"): 22,
    ("site", "open", 0): 22,
    ("loops", "north"): 24,
    ("loops", "north", "pins"): 25,
    ("loops", "north", "pins", "fan"): 25,
    ("loops", "north", "pins", "pump"): 25,
    ("loops",): 26,
    ("loops", "a"): 27,
    ("loops", "b"): 28,
    ("loops", "c"): 29,
    ("loops", "c", 0): 29,
    ("probes",): 30,
    ("probes", 0): 30,
    ("probes", 0, "id"): 31,
    ("probes", 0, "extra"): 32,
    ("probes", 0, "extra", "k"): 33,
    ("probes", 1): 34,
    ("probes", 1, "extra"): 35,
    ("probes", 1, "extra", "k"): 36,
    ("probes", 1, "deep"): 37,
    ("probes", 1, "deep", 0): 37,
    ("probes", 1, "deep", 0, "m"): 38,
    ("probes", 1, "deep", 1): 39,
    ("probes", 1, "deep", 1, "m"): 40,
}


@pytest.mark.parametrize("line_end", ["\n", "\r\n"], ids=["LF", "CR LF"])
def test_every_way_to_write_a_key_is_found_on_its_line(line_end):
    """Comments, quotes, texts over several lines, arrays, inline tables and all headers, in one file."""
    text = EVERYTHING.replace("\n", line_end)
    assert set(EVERYTHING_LINES) == paths_of(tomllib.loads(text)), "the table is not of this file"
    assert lines_of(text) == EVERYTHING_LINES


EXAMPLE = """\
# a comment
[site]
name = "home"

[loops.north]
fan_pin = 17

[loops.south]
fan_pin = 27
"""


def test_a_missing_key_points_at_the_header_of_its_table():
    """Where there is no line to show, the table it should stand in is shown."""
    lines = lines_of(EXAMPLE)
    assert locate(lines, ("loops", "south", "flow")) == 8
    assert locate(lines, ("loops", "south", "fan_pin")) == 9
    assert locate(lines, ("site", "title")) == 2


def test_a_missing_table_points_at_the_first_line():
    """A table that is not there can only be missed from the start."""
    assert locate(lines_of(EXAMPLE), ("sumps", "main", "float_pin")) == 1


def test_a_path_into_a_value_points_at_the_value():
    """An error inside a value is shown where the value stands."""
    assert locate(lines_of(EXAMPLE), ("loops", "north", "fan_pin", "deeper")) == 6
