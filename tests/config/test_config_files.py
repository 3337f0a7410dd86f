"""The settings files people copy are good, complete and true to the defaults."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest

from controller.settings.load import SettingsError, load, parse
from controller.settings.notes import notes
from controller.settings.schema import Settings
from controller.settings.schema.quantities import plain_key
from controller.settings.wording import NAMED_TABLES
from tests.settings.edit import with_line, with_options

CONFIG = Path(__file__).parents[2] / "config"
HOUSE = CONFIG / "house.toml"


def test_the_sample_house_is_the_one_the_handbook_describes():
    """Three loops of 24 corrugated tubes, one sump, thirteen probes."""
    house = load(HOUSE)
    assert list(house.loops) == ["north", "middle", "south"]
    assert house.loops_of("main") == ("north", "middle", "south")
    assert len(house.probes) == 13
    assert len(house.probe_names("ceiling")) == 2
    for loop in house.loops:
        for place in ("soil", "root-zone", "outlet"):
            assert len(house.probe_names(place, loop)) == 1
    for loop in house.loops.values():
        assert (loop.tubes, loop.tube_wall) == (24, "corrugated")
        assert (loop.tube_length_m, loop.depth_m) == (9.0, 0.8)
        assert loop.tube_diameter_m == pytest.approx(0.08)
        assert (loop.flow_m3_s, loop.power_w) == (0.3, 120.0)


def test_the_sample_house_shows_every_setting():
    """A person who copies the file finds each key of each table in it at least once, options behind a #."""
    text = with_options(HOUSE.read_text(encoding="utf-8"))
    document = tomllib.loads(text)
    good = parse(text)
    assert set(document) == set(Settings.model_fields)
    for table in document:
        value = getattr(good, table)
        sections = list(value.values()) if table in NAMED_TABLES else [value]
        written = (
            [document[table][name] for name in document[table]]
            if table in NAMED_TABLES
            else [document[table]]
        )
        known = {plain_key(name) for name in type(sections[0]).model_fields}
        assert set().union(*written) == known


def test_the_sample_house_writes_the_defaults_where_they_fit():
    """Its tables on control say what the program does anyway, so that leaving one out changes nothing."""
    text = HOUSE.read_text(encoding="utf-8")
    bare = parse((CONFIG / "one-loop.toml").read_text(encoding="utf-8"))
    full = parse(text)
    for table in ("setpoints", "fans", "pump", "fire", "judging", "board", "service", "history", "house"):
        assert getattr(full, table) == getattr(bare, table), table


def test_the_smallest_house_leaves_out_what_it_can():
    """Dropping any line of the smallest file makes it bad: it is as short as it can be."""
    lines = (CONFIG / "one-loop.toml").read_text(encoding="utf-8").splitlines()
    for number, line in enumerate(lines):
        if "=" in line and not line.startswith("#"):
            with pytest.raises(SettingsError, match=r"expected|is missing: give"):
                parse("\n".join(lines[:number] + lines[number + 1 :]))


CROPS = ("cool-crop.toml", "warm-crop.toml")


@pytest.mark.parametrize("name", CROPS)
def test_the_setpoints_of_a_crop_contradict_nothing(name):
    """A crop's file is good, and no setpoint of it takes the sense out of another."""
    settings = load(CONFIG / name)
    assert settings.site.name == name.removesuffix(".toml")
    assert not [
        note for note in notes(settings) if not note.endswith(("not monitored", "looks at the status"))
    ]


@pytest.mark.parametrize("name", CROPS)
def test_the_tables_of_a_crop_fit_into_the_sample_house(name):
    """Copying setpoints and fans of a crop into one's own file, as its head says, adds nothing to note."""
    crop = load(CONFIG / name)
    tables = {table: getattr(crop, table) for table in ("setpoints", "fans")}
    merged = HOUSE.read_text(encoding="utf-8")
    document = tomllib.loads((CONFIG / name).read_text(encoding="utf-8"))
    for table in tables:
        for key, value in document[table].items():
            merged = with_line(merged, f"{table}.{key}", f"{key} = {json.dumps(value, ensure_ascii=False)}")
    house = parse(merged)
    assert {table: getattr(house, table) for table in tables} == tables
    assert notes(house) == notes(load(HOUSE))


def test_crops_differ_as_their_names_say():
    """A cool crop is kept cooler than the sample house at every setpoint, a warm one warmer."""
    cool, warm = (load(CONFIG / name).setpoints for name in CROPS)
    plain = load(HOUSE).setpoints
    for name in ("frost_limit_c", "heat_below_c"):
        assert getattr(cool, name) < getattr(plain, name) < getattr(warm, name), name
    assert cool.comfort_floor_c < warm.comfort_floor_c
    assert cool.root_zone_min_c < warm.root_zone_min_c
    assert cool.root_zone_max_c < plain.root_zone_max_c < warm.root_zone_max_c
    assert cool.root_zone_rescue_max_c < warm.root_zone_rescue_max_c
    assert cool.cooling
    assert warm.cooling
    assert cool.cool_above_c < warm.cool_above_c


def test_no_line_of_a_sample_is_too_wide_to_read():
    """The samples are read on small screens and over serial lines."""
    for path in CONFIG.glob("*.toml"):
        assert max(map(len, path.read_text(encoding="utf-8").splitlines())) <= 120


def test_changes_are_dated_and_newest_first():
    """A person who updates reads what to do with the old file, by date."""
    dates = re.findall(
        r"^## (\d{4}-\d{2}-\d{2}): ", (CONFIG / "CHANGES.md").read_text(encoding="utf-8"), re.MULTILINE
    )
    assert dates
    assert dates == sorted(dates, reverse=True)
