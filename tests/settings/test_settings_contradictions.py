"""Settings that are good one by one and wrong together."""

from __future__ import annotations

import pytest

from controller.settings.load import SettingsError, parse
from controller.settings.orders import ORDERS
from controller.settings.quantities import measure, plain_key
from controller.settings.schema import Settings
from controller.settings.section import detail, quantity_kind
from tests.settings.edit import HOUSE_TEXT, changed, value_at

# Values put into the sample house, the key blamed, words of the message.
CONFLICTS = [
    (
        {"house.tube_bed": '"sand"', "house.tube_bed_thickness": '"70 mm"'},
        "house.tube_bed_thickness",
        "is 70 mm thick and those of north are 80 mm wide; expected a bed thicker than the tubes in it",
    ),
    (
        {"house.tube_bed": '"sand"', "house.tube_bed_thickness": '"1.7 m"'},
        "house.tube_bed_thickness",
        "is 1.7 m thick and those of north lie 0.8 m deep; expected less than twice that depth",
    ),
    (
        {"setpoints.heat_below": '"25 °C"', "setpoints.cool_above": '"25 °C"'},
        "setpoints.heat_below",
        "heat_below is 25 °C and setpoints.cool_above is 25 °C; expected the first to be below",
    ),
    (
        {"setpoints.frost_limit": '"6 °C"', "setpoints.heat_below": '"5 °C"'},
        "setpoints.frost_limit",
        "frost_limit is 6 °C and setpoints.heat_below is 5 °C",
    ),
    (
        {"setpoints.frost_limit": '"43 °F"', "setpoints.heat_below": '"5 °C"'},
        "setpoints.frost_limit",
        "frost_limit is 43 °F and setpoints.heat_below is 5 °C",
    ),
    (
        {"setpoints.comfort_floor": '"29 °C"', "setpoints.cool_above": '"28.5 °C"'},
        "setpoints.comfort_floor",
        "or no heat could be banked before cooling begins",
    ),
    (
        {"setpoints.root_zone_min": '"25 °C"', "setpoints.root_zone_max": '"25 °C"'},
        "setpoints.root_zone_min",
        "neither charged nor discharged",
    ),
    (
        {"fans.difference_deadband": '"5 K"', "fans.useful_difference": '"5 K"'},
        "fans.difference_deadband",
        "or a running fan would never stop",
    ),
    (
        {"fans.purge": '"11 min"', "fans.minimum_run": '"659.5 s"'},
        "fans.purge",
        "or a run could end before its outlet has been judged",
    ),
    (
        {"fans.back_off": '"6 h"', "fans.longest_back_off": '"5 h"'},
        "fans.back_off",
        "because the doubling starts from it",
    ),
    (
        {"pump.drain_down": '"1 min"', "pump.run_on": '"2 min"'},
        "pump.run_on",
        "run_on is 2 min and pump.drain_down is 1 min; expected the first to be at most the second",
    ),
    (
        {"pump.run_on": '"1 min"', "pump.longest_run": '"1 min"'},
        "pump.run_on",
        "the whole longest run",
    ),
    (
        {"pump.exercise_run": '"20 s"', "pump.run_on": '"10 s"'},
        "pump.exercise_run",
        "both run the pump with little or no water",
    ),
    (
        {"pump.minimum_rest": '"11 min"', "pump.rest": '"10.9 min"'},
        "pump.minimum_rest",
        "never the shorter one",
    ),
    (
        {"fire.level": '"50 °C"', "setpoints.too_hot": '"50 °C"'},
        "setpoints.too_hot",
        "or a hot day would count as a fire",
    ),
    ({"service.lease": '"20 s"'}, "service.lease", "the lease is 20 s and the tick is 10 s"),
    (
        {"judging.air_hold": '"1 min"', "board.sample_every": '"31 s"'},
        "judging.air_hold",
        "holds for 1 min and a new one comes every 31 s",
    ),
    (
        {"loops.south.fan_pin": "17"},
        "loops.south.fan_pin",
        "pin 17 is already used by loops.north.fan_pin",
    ),
    (
        {"sumps.main.float_pin": "23"},
        "sumps.main.pump_pin",
        "pin 23 is already used by sumps.main.float_pin",
    ),
    (
        {"sumps.main.pump_pin": "27"},
        "sumps.main.pump_pin",
        "pin 27 is already used by loops.middle.fan_pin",
    ),
    ({"sumps.main.pump_pin": "4"}, "sumps.main.pump_pin", "pin 4 is the line of the 1-wire probes"),
    ({"sumps.main.float_pin": "4"}, "sumps.main.float_pin", "pin 4 is the line of the 1-wire probes"),
    ({"sumps.main.pump_pin": "0"}, "sumps.main.pump_pin", "pin 0 is driven by the firmware at start"),
    ({"sumps.main.pump_pin": "1"}, "sumps.main.pump_pin", "pin 1 is driven by the firmware at start"),
    ({"loops.south.fan_pin": "14"}, "loops.south.fan_pin", "goes high while the board starts"),
    ({"sumps.main.float_pin": "14"}, "sumps.main.float_pin", "goes high while the board starts"),
    ({"loops.south.fan_pin": "15"}, "loops.south.fan_pin", "carries the serial console"),
    (
        {"probes.ceiling-east.id": value_at(HOUSE_TEXT, "probes.ceiling-west.id")},
        "probes.ceiling-east.id",
        "is already probes.ceiling-west",
    ),
    (
        {"probes.outdoor.place": '"soil"'},
        "probes.outdoor.place",
        'expected loop = "middle" or "north" or "south"',
    ),
    (
        {"probes.outdoor.place": '"outlet"'},
        "probes.outdoor.place",
        "belongs to a loop and none is named",
    ),
    (
        {"probes.outdoor.place": '"outdoor"\nloop = "north"'},
        "probes.outdoor.loop",
        "expected no loop here",
    ),
    (
        {"probes.outdoor.place": '"outlet"\nloop = "west"'},
        "probes.outdoor.loop",
        "there is no [loops.west]",
    ),
    (
        {"probes.north-soil.place": '"root-zone"'},
        "loops.north",
        "no probe measures the soil of this loop",
    ),
    (
        {"mqtt.password_file": '"/etc/hypocaust/password"'},
        "mqtt.password_file",
        "expected user as well",
    ),
]


@pytest.mark.parametrize(("changes", "key", "words"), CONFLICTS)
def test_a_contradiction_is_named_at_its_key(house, problems_of, changes, key, words):
    """Each contradiction is an error that says both sides in the person's own words."""
    assert words in problems_of(changed(house, changes))[key]


def test_a_sump_that_no_table_describes_is_refused(house, problems_of):
    """A loop that drains to a sump under another name is told which names there are."""
    found = problems_of(house.replace("[sumps.main]", "[sumps.pit]"))
    assert 'there is no [sumps.main]; expected "pit"' in found["loops.north.sump"]


def test_a_house_without_a_ceiling_probe_is_refused(house, problems_of):
    """Fans are decided by the temperature under the roof, so somebody has to measure it."""
    found = problems_of(house.replace('place = "ceiling"', 'place = "bench"'))
    assert found == {"probes": 'no probe hangs under the roof; expected at least one with place = "ceiling"'}


def test_a_default_in_a_contradiction_is_called_one(small):
    """Where only one side stands in the file, its line is shown and the other is called the default."""
    text = small + '\n[setpoints]\nfrost_limit = "15 °C"\n'
    with pytest.raises(SettingsError) as caught:
        parse(text)
    (problem,) = caught.value.problems
    assert problem.key == "setpoints.frost_limit"
    assert problem.line == text.count("\n")
    heat_below = Settings.model_fields["setpoints"].annotation.model_fields["heat_below_c"].default
    assert f"setpoints.heat_below is {heat_below} (the default)" in problem.message


def test_a_bad_table_does_not_hide_contradictions_of_the_others(house, problems_of):
    """Contradictions are found wherever the tables they lie in are good by themselves."""
    found = problems_of(
        changed(house, {"pump.tries": "99", "fans.purge": '"11 min"', "fans.minimum_run": '"10.9 min"'})
    )
    assert set(found) == {"pump.tries", "fans.purge"}


def test_a_bad_table_does_not_cause_contradictions(house, problems_of):
    """What could not be read is not judged: one mistake gives one error."""
    found = problems_of(changed(house, {"probes.north-soil.id": '"28-1"'}))
    assert set(found) == {"probes.north-soil.id"}


@pytest.mark.parametrize("order", ORDERS, ids=lambda order: f"{order.lower[1]} {order.upper[1]}")
def test_settings_that_must_be_in_order_are_of_one_kind_and_in_order_by_default(order):
    """No rule compares kelvin with watts, the defaults keep every rule, and the limits alone do not."""
    read = []
    limits = []
    for table, attribute in (order.lower, order.upper):
        field = Settings.model_fields[table].annotation.model_fields[attribute]
        kind = quantity_kind(field)
        limits.append([measure(kind, detail(field, name)).si for name in ("low", "high")])
        read.append((kind, measure(kind, field.default).si))
    (lower_kind, lower), (upper_kind, upper) = read
    assert lower_kind == upper_kind
    assert lower < upper or (order.equal and lower == upper)
    (_, lower_high), (upper_low, _) = limits
    assert lower_high >= upper_low, "the limits alone keep this rule"


EQUAL_CHANGES = {
    ("frost_limit_c", "heat_below_c"): {
        "setpoints.frost_limit": '"7 °C"',
        "setpoints.heat_below": '"44.6 °F"',
    },
    ("purge_s", "minimum_run_s"): {"fans.purge": '"11 min"', "fans.minimum_run": '"660 s"'},
    ("minimum_rest_s", "rest_s"): {"pump.minimum_rest": '"11 min"', "pump.rest": '"660 s"'},
}


@pytest.mark.parametrize(("names", "values"), EQUAL_CHANGES.items(), ids=str)
def test_settings_that_may_meet_are_allowed_to(house, names, values):
    """At most means at most: equal values are good, in whatever unit they are written."""
    assert any((order.lower[1], order.upper[1]) == names and order.equal for order in ORDERS)
    assert [key.split(".")[1] for key in values] == [plain_key(name) for name in names]
    assert parse(changed(house, values)).site.name == "fellside"
