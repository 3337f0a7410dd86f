"""An older settings file is brought up to date, and nothing a person wrote in it is lost."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.settings.load import SettingsError, parse
from controller.settings.migrations import STEPS, plan
from controller.settings.schema.surroundings import FORMAT
from controller.settings.toml_edit import ByHandError, TomlEdit
from tests.process.bench import ROOT

HOUSE = (ROOT / "config" / "one-loop.toml").read_text(encoding="utf-8")
# A file as people wrote it for the first version, with their own remarks in it.
FIRST = (
    HOUSE
    + """
[setpoints]
# where grandfather had it
bank_above = "20 °C"        # mine
cool_above = "28 °C"

[fans]
frost_difference = "3 K"

[pump]
tries = 3                   # three is enough
longest_run = "5 min"       # a small pump
rest = "10 min"
starts_per_hour = 2

[service]
lease = "20 s"

[supply]
# the relay on the rail
pin = 12                    # red wire
board_voltage = "/sys/class/hwmon"
"""
)


def loaded(text: str) -> dict:
    """A text as TOML."""
    return tomllib.loads(text)


def test_a_file_of_the_first_version_becomes_one_that_is_good():
    """It is refused as it is; after all steps it is good, and says its form."""
    with pytest.raises(SettingsError, match="hypocaust migrate"):
        parse(FIRST)
    found = plan(FIRST)
    good = parse(found.text)
    assert found.found == 1
    assert good.site.format == FORMAT
    assert good.board.supply_pin == 12
    assert good.pump.longest_run_s == 1800.0
    assert good.setpoints.cooling


def test_every_remark_of_the_person_is_still_there():
    """What is gone stands behind a #, with the words beside it; what was renamed took its words along."""
    text = plan(FIRST).text
    for words in (
        "where grandfather had it",
        "mine",
        "three is enough",
        "a small pump",
        "the relay on the rail",
    ):
        assert words in text
    assert '# until format 2: bank_above = "20 °C"        # mine' in text
    assert "supply_pin = 12                    # red wire" in text


def test_a_second_migration_finds_nothing_to_do():
    """What was migrated is left alone."""
    once = plan(FIRST).text
    again = plan(once)
    assert (again.text, again.steps) == (once, ())


@pytest.mark.parametrize("name", ["house.toml", "one-loop.toml", "cool-crop.toml", "warm-crop.toml"])
def test_shipped_files_need_nothing(name):
    """No example that people start from is older than the program."""
    text = (ROOT / "config" / name).read_text(encoding="utf-8")
    assert plan(text).text == text


@pytest.mark.parametrize(
    ("written", "found", "cooling"),
    [
        ('[setpoints]\nbank_above = "20 °C"\n', 1, True),
        ("[pump]\ntries = 3\n", 2, False),
        ('[pump]\nlongest_run = "5 min"\n', 2, False),
        ('[service]\nlease = "10 s"\n', 3, False),
        ("[supply]\npin = 12\n", 5, None),
        ("[pump]\ntries = 3\n[setpoints]\ncooling = true\n", 2, True),
        ("", FORMAT, None),
    ],
)
def test_the_fans_go_on_cooling_or_not_as_they_did(written, found, cooling):
    """The oldest thing in a file shows its form, and the default of that time for cooling is written down."""
    planned = plan(f"{HOUSE}\n{written}")
    assert planned.found == found
    assert loaded(planned.text).get("setpoints", {}).get("cooling") is cooling


def test_a_form_that_is_written_counts_more_than_what_the_file_shows():
    """Nothing in the file shows that cooling was off by default when it was written; its form does."""
    planned = plan(HOUSE.replace("[site]", "[site]\nformat = 4\n") + '\n[setpoints]\ncool_above = "30 °C"\n')
    assert [step.to for step in planned.steps] == [5]
    assert loaded(planned.text)["setpoints"] == {"cool_above": "30 °C", "cooling": False}
    assert loaded(planned.text)["site"]["format"] == FORMAT


def test_a_file_of_a_newer_release_is_left_alone():
    """Its form is not put back; the check refuses it with the highest form that is known."""
    text = HOUSE.replace("[site]", f"[site]\nformat = {FORMAT + 1}")
    assert plan(text).text == text
    with pytest.raises(SettingsError, match=f"expected 1 to {FORMAT}"):
        parse(text)


@pytest.mark.parametrize(
    "written",
    [
        'pump = { tries = 3, run_on = "20 s" }\n',
        '[service]\nlease = """20 s"""\n',
        "[supply]\npin = 12\nunknown = 1\n",
    ],
)
def test_what_cannot_be_changed_safely_is_left_to_a_person(written):
    """A setting that does not stand on a line of its own is refused, not spoilt."""
    text = written + HOUSE if "{" in written else f"{HOUSE}\n{written}"
    with pytest.raises(ByHandError):
        plan(text)


@pytest.mark.parametrize("step", STEPS, ids=lambda step: str(step.to))
def test_each_change_has_its_entry_among_the_changes(step):
    """The day of each step is one on which config/CHANGES.md has an entry."""
    assert f"## {step.day}: " in (ROOT / "config" / "CHANGES.md").read_text(encoding="utf-8")


def test_steps_lead_from_each_form_to_the_next():
    """Their numbers go up by one, to the form this release reads."""
    assert [step.to for step in STEPS] == list(range(2, FORMAT + 1))


VALUES = st.one_of(
    st.integers(-9, 99),
    st.booleans(),
    st.text("ab °#\"'\\=[]{},.\n", max_size=6),
    st.lists(st.integers(0, 9), max_size=2),
)


@given(
    st.dictionaries(
        st.sampled_from(["tries", "rest", "starts_per_hour", "x y", "longest_run"]), VALUES, max_size=4
    ),
    st.sampled_from(["[pump]", "[ pump ]", '["pump"]', "[pump] # words"]),
)
def test_whatever_is_written_is_changed_rightly_or_refused(entries, header):
    """The result holds everything that was not to be changed, or nothing was changed at all."""
    lines = [f"{written_key(key)} = {written_value(value)}  # words" for key, value in entries.items()]
    text = "\n".join([header, *lines, ""])
    try:
        changed = plan(text).text
    except ByHandError:
        return
    kept = {key: value for key, value in entries.items() if key == "x y"}
    assert kept.items() <= loaded(changed).get("pump", {}).items()
    assert "tries" not in loaded(changed).get("pump", {})


def written_key(key: str) -> str:
    """A key as it stands in a file."""
    return f'"{key}"' if " " in key else key


def written_value(value: object) -> str:
    """A value as it stands in a file."""
    if isinstance(value, str):
        escaped = value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
        return f'"{escaped}"'
    return str(value).lower()


def test_an_edit_that_would_say_something_else_is_refused():
    """The text is compared with what was meant before anybody gets it."""
    edit = TomlEdit("[pump]\nrest = '1 s'\n")
    edit.document["pump"]["rest"] = "2 s"
    with pytest.raises(ByHandError):
        edit.text()
