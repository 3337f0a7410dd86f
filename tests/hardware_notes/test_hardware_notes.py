"""The notes for people who wire must say what the settings and the repository say."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from tests.settings.edit import HOUSE_TEXT, with_options

ROOT = Path(__file__).parents[2]
NOTES = sorted((ROOT / "hardware-notes").glob("*.md"))
PIN_ROW = re.compile(
    r"^\| `((?:loops|sumps|signal|board|fire)\.[\w.-]*pin)` \| (\d+) \| (\d+) \| ([^|]+) \|", re.MULTILINE
)
SETTING = re.compile(r"`([a-z_]+) = ([^`]+)`")
SOURCE = re.compile(r"(?<!`)\[([a-z]+[a-z0-9]*(?:-[a-z0-9]+)*)\](?!\()")
# GPIO number to place on the 40-pin header, as printed on the boards that have it.
HEADER = {
    2: 3, 3: 5, 4: 7, 14: 8, 15: 10, 17: 11, 18: 12, 27: 13, 22: 15, 23: 16, 24: 18, 10: 19, 9: 21, 25: 22,
    11: 23, 8: 24, 7: 26, 5: 29, 6: 31, 12: 32, 13: 33, 19: 35, 16: 36, 26: 37, 20: 38, 21: 40,
}  # fmt: skip


def house() -> dict:
    """The example settings with everything fitted that the file offers."""
    return tomllib.loads(with_options(HOUSE_TEXT))


def note(name: str) -> str:
    """The text of one note."""
    return (ROOT / "hardware-notes" / name).read_text(encoding="utf-8")


def pins_of(table: dict, path: str = "") -> dict[str, int]:
    """Every pin in the settings by its dotted name."""
    found = {}
    for key, value in table.items():
        if isinstance(value, dict):
            found |= pins_of(value, f"{path}{key}.")
        elif key == "pin" or key.endswith("_pin"):
            found[path + key] = value
    return found


def values_of(table: dict) -> dict[str, list]:
    """Every value in the settings by its last name."""
    found: dict[str, list] = {}
    for key, value in table.items():
        if isinstance(value, dict):
            for name, values in values_of(value).items():
                found.setdefault(name, []).extend(values)
        else:
            found.setdefault(key, []).append(value)
    return found


def test_the_pin_table_is_that_of_the_example_house():
    """Every pin of the settings is in the table with its number, and the table has no other."""
    table = {name: int(pin) for name, pin, *_ in PIN_ROW.findall(note("pins.md"))}
    assert table == pins_of(house())


def test_the_header_column_belongs_to_the_pin():
    """Counting on the header and going by the number end at the same pin."""
    rows = PIN_ROW.findall(note("pins.md"))
    assert [(int(pin), int(place)) for _, pin, place, _ in rows] == [
        (int(pin), HEADER[int(pin)]) for _, pin, *_ in rows
    ]


def test_the_example_follows_the_advice_on_pins():
    """Outputs are pulled down at reset and are not among the pins the note warns of; all are active high."""
    settings = house()
    for name, pin in pins_of(settings).items():
        if name.endswith(("fan_pin", "pump_pin")) or name.startswith("signal."):
            assert 9 <= pin <= 27
            assert pin not in {14, 15}
    equipment = [*settings["loops"].values(), *settings["sumps"].values(), settings["signal"]]
    assert all(part.get("active_high", True) for part in equipment)


@pytest.mark.parametrize("path", NOTES, ids=lambda path: path.name)
def test_settings_named_in_a_note_are_those_of_the_example(path):
    """Wherever a note quotes a setting with its value, the example house has that value."""
    values = values_of(house())
    for key, text in SETTING.findall(path.read_text(encoding="utf-8")):
        assert tomllib.loads(f"x = {text}")["x"] in values.get(key, []), f"{path.name}: {key} = {text}"


def test_notes_do_quote_settings():
    """The check above has something to check."""
    quoted = {key for path in NOTES for key, _ in SETTING.findall(path.read_text(encoding="utf-8"))}
    assert {"float_kind", "drain_down", "lease", "stagger", "active_high"} <= quoted


def test_every_source_named_is_listed_and_every_one_listed_is_named():
    """A key in a note leads to a document, and no document is listed for nothing."""
    listed = set(re.findall(r"^\| \[([a-z0-9-]+)\] \|", note("sources.md"), re.MULTILINE))
    notes = [path.read_text(encoding="utf-8") for path in NOTES if path.name != "sources.md"]
    named = {key for text in notes for key in SOURCE.findall(text)}
    assert named == listed


def test_the_cautions_come_first_and_every_note_is_in_the_index():
    """Nobody finds a wiring note before the cautions, and no note is left out of the index."""
    readme = note("README.md")
    headings = re.findall(r"^## (.+)$", readme, re.MULTILINE)
    assert headings[0].startswith("Cautions")
    linked = set(re.findall(r"\]\((\w+\.md)\)", readme))
    assert linked == {path.name for path in NOTES} - {"README.md"}


@pytest.mark.parametrize(
    "word",
    [
        "licensed electrician",
        "solate before",
        "test button",
        "tanding water",
        "confined space",
        "buried services",
        "Guard every fan",
        "not a fire alarm system",
        "never the only protection",
        "edition in force",
    ],
)
def test_no_caution_is_lost(word):
    """Each hazard this house has is named before anything else is explained."""
    cautions = note("README.md").split("## What has not been tried")[0]
    assert word in cautions


def test_what_was_not_tried_is_said():
    """The bench log holds no result that nobody measured, and the index says so in plain words."""
    assert "was tried on a real board" in note("README.md")
    assert "nothing has been measured yet" in note("pins.md")
