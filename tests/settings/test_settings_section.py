"""Limits: enforced for every setting that declares them, and named in the unit the person wrote."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from controller.settings.schema import Fans, Loop, Mqtt, Section, Setpoints, Settings
from controller.settings.schema.quantities import KINDS, plain_key, read_quantity
from controller.settings.schema.section import detail, quantity_kind
from controller.settings.wording import section_at

TABLES = [
    section
    for name in Settings.model_fields
    if (section := section_at((name, "NAME")) or section_at((name,))) is not None
]
LIMITED = [
    pytest.param(table, name, field, id=f"{table.__name__}.{name}")
    for table in TABLES
    for name, field in table.model_fields.items()
    if detail(field, "low") is not None
]


def error_of(table: type[Section], name: str, written: object) -> str:
    """The message about one setting, empty if it is good (other settings of the table may be missing)."""
    try:
        table.model_validate({plain_key(name): written})
    except ValidationError as trouble:
        return next((error["msg"] for error in trouble.errors() if error["loc"] == (plain_key(name),)), "")
    return ""


def test_every_table_of_the_file_is_known_here():
    """The table list these tests run over is the whole file."""
    assert len(TABLES) == len(Settings.model_fields)


@pytest.mark.parametrize(("table", "name", "field"), LIMITED)
def test_limits_are_inclusive_and_enforced(table, name, field):
    """The smallest and the largest value are good; a little beyond them is refused with the limits named."""
    low, high = detail(field, "low"), detail(field, "high")
    kind = quantity_kind(field)
    assert error_of(table, name, low) == ""
    assert error_of(table, name, high) == ""
    if kind is None:
        beyond = [low - 1, high + 1]
    else:
        span = read_quantity(kind, high).si - read_quantity(kind, low).si
        unit = KINDS[kind].units[0]
        beyond = [
            f"{unit.from_si(read_quantity(kind, limit).si + way * span / 100)!r} {unit.name}"
            for limit, way in ((low, -1), (high, 1))
        ]
    for written in beyond:
        assert "is out of range; expected" in error_of(table, name, written)


def test_a_value_out_of_range_is_quoted_with_both_limits():
    """The whole sentence about a plain number and about a quantity, in the unit that was written."""
    assert error_of(Fans, "starts_per_hour", 13) == "13 is out of range; expected 1 to 12"
    wanted = '"26 °C" is out of range; expected -5 °C to 25 °C'
    assert error_of(Setpoints, "heat_below_c", "26 °C") == wanted
    wanted = '"22.9 °F" is out of range; expected 23 °F to 77 °F'
    assert error_of(Setpoints, "heat_below_c", "22.9 °F") == wanted


def test_a_text_of_another_shape_is_quoted_with_what_was_expected():
    """The whole sentence about a text that is not of its kind."""
    assert error_of(Mqtt, "host", "my broker") == '"my broker" is not a host; expected a name or an address'


EVERY_LIMITED_QUANTITY = [
    (table, name, unit)
    for table in TABLES
    for name, field in table.model_fields.items()
    if detail(field, "low") is not None and quantity_kind(field)
    for unit in KINDS[quantity_kind(field)].units
]


@settings(deadline=None)
@given(st.sampled_from(EVERY_LIMITED_QUANTITY))
def test_a_limit_that_a_message_names_is_accepted_as_it_is_named(case):
    """A person who writes down the limit a message named, in the unit they used, is not refused again."""
    table, name, unit = case
    message = error_of(table, name, f"1e12 {unit.name}")
    found = re.search(r"expected (.+) to (.+)$", message)
    assert found is not None
    assert found[2].endswith(f" {unit.name}")
    assert error_of(table, name, found[1]) == ""
    assert error_of(table, name, found[2]) == ""


def test_a_default_is_read_like_anything_else():
    """Defaults are written with units too and arrive as SI numbers."""
    written = Setpoints.model_fields["heat_below_c"].default
    assert written.endswith(" °C")
    assert Setpoints().heat_below_c == float(written.removesuffix(" °C"))
    written = Fans.model_fields["minimum_run_s"].default
    assert written.endswith(" min")
    assert Fans().minimum_run_s == 60.0 * float(written.removesuffix(" min"))


def test_settings_never_change_after_loading():
    """A setting cannot be assigned to."""
    with pytest.raises(ValidationError, match="frozen"):
        Fans().stagger_s = 1.0


def test_a_setting_has_one_spelling():
    """The key without the unit is the only name a setting is given by."""
    assert Mqtt.model_validate({"publish_every": "2 min"}).publish_every_s == 120.0
    with pytest.raises(ValidationError, match="not permitted"):
        Mqtt.model_validate({"publish_every_s": "2 min"})


# Facts of the house, which are measured, and addresses, which are given: larger or smaller is no choice.
NO_CHOICE = {"fan_pin", "float_pin", "pump_pin", "port"}
FACTS = ("Loop", "Sump", "Probe", "House", "Site", "Signal")


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.__name__)
def test_every_setting_is_explained(table):
    """Each setting has a meaning; each number has limits, and effects both ways if it is a choice."""
    for name, field in table.model_fields.items():
        assert field.description, name
        number = quantity_kind(field) or field.annotation in (int, float)
        if not number:
            continue
        assert detail(field, "low") is not None, name
        assert detail(field, "high") is not None, name
        if table.__name__ not in FACTS and name not in NO_CHOICE:
            assert detail(field, "smaller"), name
            assert detail(field, "larger"), name


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.__name__)
def test_the_name_of_a_quantity_carries_its_unit(table):
    """The attribute of a quantity ends in its SI unit, and two attributes never share one key."""
    keys = [plain_key(name) for name in table.model_fields]
    assert len(set(keys)) == len(keys)
    suffix = {
        "temperature": "_c",
        "difference": "_k",
        "duration": "_s",
        "power": "_w",
        "air flow": "_m3_s",
        "water flow": "_m3_s",
        "length": "_m",
        "area": "_m2",
        "volume": "_m3",
        "rate of rise": "_k_s",
        "light": "_w_m2",
    }
    for name, field in table.model_fields.items():
        kind = quantity_kind(field)
        assert kind is None or name == plain_key(name) + suffix[kind]


def test_the_tables_are_looked_up_by_their_place_in_the_file():
    """Named tables are found below their name, the others directly."""
    assert section_at(("loops", "north")) is Loop
    assert section_at(("mqtt",)) is Mqtt
    assert section_at(("nowhere",)) is None
    assert section_at(("loops",)) is None
