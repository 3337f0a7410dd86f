"""Settings that are good one by one and wrong together."""

from __future__ import annotations

import pytest

from controller.settings.load import SettingsError, parse
from controller.settings.orders import ORDERS
from controller.settings.quantities import measure, plain_key
from controller.settings.schema import Settings
from controller.settings.section import detail, quantity_kind

# Changes to the sample house (what stands there -> what replaces it), the key blamed, words of the message.
CONFLICTS = [
    (
        {
            'tube_bed = "none"': 'tube_bed = "sand"',
            'tube_bed_thickness = "0.3 m"': 'tube_bed_thickness = "70 mm"',
        },
        "house.tube_bed_thickness",
        "is 70 mm thick and those of north are 80 mm wide; expected a bed thicker than the tubes in it",
    ),
    (
        {
            'tube_bed = "none"': 'tube_bed = "sand"',
            'tube_bed_thickness = "0.3 m"': 'tube_bed_thickness = "1.7 m"',
        },
        "house.tube_bed_thickness",
        "is 1.7 m thick and those of north lie 0.8 m deep; expected less than twice that depth",
    ),
    (
        {'heat_below = "5 °C"': 'heat_below = "25 °C"', 'cool_above = "28 °C"': 'cool_above = "25 °C"'},
        "setpoints.heat_below",
        "heat_below is 25 °C and setpoints.cool_above is 25 °C; expected the first to be below",
    ),
    (
        {'frost_limit = "2 °C"': 'frost_limit = "6 °C"'},
        "setpoints.frost_limit",
        "frost_limit is 6 °C and setpoints.heat_below is 5 °C",
    ),
    (
        {'frost_limit = "2 °C"': 'frost_limit = "43 °F"'},
        "setpoints.frost_limit",
        "frost_limit is 43 °F and setpoints.heat_below is 5 °C",
    ),
    (
        {'comfort_floor = "12 °C"': 'comfort_floor = "21 °C"'},
        "setpoints.comfort_floor",
        "because banking must leave the house its comfort",
    ),
    (
        {
            'comfort_floor = "12 °C"': 'comfort_floor = "29 °C"',
            'bank_above = "20 °C"': 'bank_above = "30 °C"',
        },
        "setpoints.comfort_floor",
        "or no heat could be banked before cooling begins",
    ),
    (
        {
            'root_zone_min = "6 °C"': 'root_zone_min = "25 °C"',
            'root_zone_max = "26 °C"': 'root_zone_max = "25 °C"',
        },
        "setpoints.root_zone_min",
        "neither charged nor discharged",
    ),
    (
        {'frost_difference = "3 K"': 'frost_difference = "6 K"'},
        "fans.frost_difference",
        "frost_difference is 6 K and fans.useful_difference is 5 K",
    ),
    (
        {'difference_deadband = "2 K"': 'difference_deadband = "5 K"'},
        "fans.difference_deadband",
        "or a running fan would never stop",
    ),
    (
        {'purge = "5 min"': 'purge = "11 min"'},
        "fans.purge",
        "or a run could end before its outlet has been judged",
    ),
    (
        {
            'back_off = "30 min"\n': 'back_off = "6 h"\n',
            'longest_back_off = "8 h"': 'longest_back_off = "5 h"',
        },
        "fans.back_off",
        "because the doubling starts from it",
    ),
    (
        {'drain_down = "30 min"': 'drain_down = "1 min"', 'run_on = "20 s"': 'run_on = "2 min"'},
        "pump.run_on",
        "run_on is 2 min and pump.drain_down is 1 min; expected the first to be at most the second",
    ),
    (
        {'run_on = "20 s"': 'run_on = "1 min"', 'longest_run = "5 min"': 'longest_run = "1 min"'},
        "pump.run_on",
        "the whole longest run",
    ),
    (
        {'exercise_run = "5 s"': 'exercise_run = "20 s"', 'run_on = "20 s"': 'run_on = "10 s"'},
        "pump.exercise_run",
        "both run the pump with little or no water",
    ),
    ({'minimum_rest = "2 min"': 'minimum_rest = "11 min"'}, "pump.minimum_rest", "never the shorter one"),
    (
        {'level = "65 °C"': 'level = "50 °C"', 'too_hot = "40 °C"': 'too_hot = "50 °C"'},
        "setpoints.too_hot",
        "or a hot day would count as a fire",
    ),
    ({'lease = "35 s"': 'lease = "20 s"'}, "service.lease", "the lease is 20 s and the tick is 10 s"),
    (
        {'air_hold = "5 min"': 'air_hold = "1 min"', 'sample_every = "15 s"': 'sample_every = "31 s"'},
        "judging.air_hold",
        "holds for 1 min and a new one comes every 31 s",
    ),
    (
        {"fan_pin = 22": "fan_pin = 17"},
        "loops.south.fan_pin",
        "pin 17 is already used by loops.north.fan_pin",
    ),
    (
        {"float_pin = 24": "float_pin = 23"},
        "sumps.main.pump_pin",
        "pin 23 is already used by sumps.main.float_pin",
    ),
    (
        {"pump_pin = 23": "pump_pin = 27"},
        "sumps.main.pump_pin",
        "pin 27 is already used by loops.middle.fan_pin",
    ),
    ({"pump_pin = 23": "pump_pin = 4"}, "sumps.main.pump_pin", "pin 4 is the line of the 1-wire probes"),
    ({"float_pin = 24": "float_pin = 4"}, "sumps.main.float_pin", "pin 4 is the line of the 1-wire probes"),
    ({"pump_pin = 23": "pump_pin = 0"}, "sumps.main.pump_pin", "pin 0 is driven by the firmware at start"),
    ({"pump_pin = 23": "pump_pin = 1"}, "sumps.main.pump_pin", "pin 1 is driven by the firmware at start"),
    ({"fan_pin = 22": "fan_pin = 14"}, "loops.south.fan_pin", "goes high while the board starts"),
    ({"float_pin = 24": "float_pin = 14"}, "sumps.main.float_pin", "goes high while the board starts"),
    ({"fan_pin = 22": "fan_pin = 15"}, "loops.south.fan_pin", "carries the serial console"),
    ({"28-01a4c07b6e3f": "28-01a4c07b52d1"}, "probes.ceiling-east.id", "is already probes.ceiling-west"),
    (
        {'place = "outdoor"': 'place = "soil"'},
        "probes.outdoor.place",
        'expected loop = "middle" or "north" or "south"',
    ),
    (
        {'place = "outdoor"': 'place = "outlet"'},
        "probes.outdoor.place",
        "belongs to a loop and none is named",
    ),
    (
        {'place = "outdoor"': 'place = "outdoor"\nloop = "north"'},
        "probes.outdoor.loop",
        "expected no loop here",
    ),
    (
        {'place = "outdoor"': 'place = "outlet"\nloop = "west"'},
        "probes.outdoor.loop",
        "there is no [loops.west]",
    ),
    (
        {'id = "28-01a4c07c0013"\nplace = "soil" ': 'id = "28-01a4c07c0013"\nplace = "root-zone" '},
        "loops.north",
        "no probe measures the soil of this loop",
    ),
    ({"[sumps.main]": "[sumps.pit]"}, "loops.north.sump", 'there is no [sumps.main]; expected "pit"'),
    (
        {'password_file = ""': 'password_file = "/etc/hypocaust/password"'},
        "mqtt.password_file",
        "expected user as well",
    ),
]


@pytest.mark.parametrize(("changes", "key", "words"), CONFLICTS)
def test_a_contradiction_is_named_at_its_key(house, problems_of, changes, key, words):
    """Each contradiction is an error that says both sides in the person's own words."""
    for good, bad in changes.items():
        assert good in house
        house = house.replace(good, bad, 1)
    assert words in problems_of(house)[key]


def test_a_house_without_a_ceiling_probe_is_refused(house, problems_of):
    """Fans are decided by the temperature under the roof, so somebody has to measure it."""
    found = problems_of(house.replace('place = "ceiling"', 'place = "bench"'))
    assert found == {"probes": 'no probe hangs under the roof; expected at least one with place = "ceiling"'}


def test_a_default_in_a_contradiction_is_called_one(small):
    """Where only one side stands in the file, its line is shown and the other is called the default."""
    text = small + '\n[setpoints]\nbank_above = "10 °C"\n'
    with pytest.raises(SettingsError) as caught:
        parse(text)
    (problem,) = caught.value.problems
    assert problem.key == "setpoints.bank_above"
    assert problem.line == text.count("\n")
    assert "setpoints.comfort_floor is 12 °C (the default)" in problem.message


def test_a_bad_table_does_not_hide_contradictions_of_the_others(house, problems_of):
    """Contradictions are found wherever the tables they lie in are good by themselves."""
    found = problems_of(
        house.replace("tries = 3", "tries = 99").replace('purge = "5 min"', 'purge = "11 min"')
    )
    assert set(found) == {"pump.tries", "fans.purge"}


def test_a_bad_table_does_not_cause_contradictions(house, problems_of):
    """What could not be read is not judged: one mistake gives one error."""
    found = problems_of(house.replace('id = "28-01a4c07c0013"', 'id = "28-1"'))
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
    ("frost_limit_c", "heat_below_c"): ('frost_limit = "2 °C"', 'frost_limit = "5 °C"'),
    ("purge_s", "minimum_run_s"): ('purge = "5 min"', 'purge = "10 min"'),
    ("frost_difference_k", "useful_difference_k"): ('frost_difference = "3 K"', 'frost_difference = "9 °F"'),
    ("minimum_rest_s", "rest_s"): ('minimum_rest = "2 min"', 'minimum_rest = "600 s"'),
}


@pytest.mark.parametrize(("names", "change"), EQUAL_CHANGES.items(), ids=lambda item: str(item[0]))
def test_settings_that_may_meet_are_allowed_to(house, names, change):
    """At most means at most: equal values are good, in whatever unit they are written."""
    assert any((order.lower[1], order.upper[1]) == names and order.equal for order in ORDERS)
    assert change[0] in house
    assert parse(house.replace(*change)).site.name == "fellside"
    assert plain_key(names[0]) in change[0]
