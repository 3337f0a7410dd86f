"""Settings that are good one by one and wrong together."""

from __future__ import annotations

import pytest

from controller.settings.load import SettingsError, parse
from controller.settings.orders import ORDERS
from controller.settings.quantities import measure, plain_key
from controller.settings.schema import Settings
from controller.settings.section import detail, quantity_kind
from tests.settings.conflicts import CONFLICTS
from tests.settings.edit import changed


@pytest.mark.parametrize(("changes", "key", "message"), CONFLICTS)
def test_a_contradiction_is_named_at_its_key(house, problems_of, changes, key, message):
    """Each contradiction is one error with both sides in the person's own words and what was expected."""
    assert problems_of(changed(house, changes)) == {key: message}


JUST_GOOD = [
    {"loops.north.tube_diameter": '"400 mm"', "house.tube_bed_thickness": '"80 mm"'},  # no bed, no rule
    {"house.tube_bed": '"sand"', "house.tube_bed_thickness": '"81 mm"'},
    {"house.tube_bed": '"sand"', "house.tube_bed_thickness": '"1.59 m"'},
    {"service.lease": '"24.1 s"', "service.tick": '"12 s"'},
    {"judging.air_hold": '"1 min"', "board.sample_every": '"30 s"'},
    {"mqtt.password_file": '"/etc/hypocaust/password"', "mqtt.user": '"house"'},
]


@pytest.mark.parametrize("changes", JUST_GOOD)
def test_what_just_keeps_a_rule_is_good(house, changes):
    """A rule is broken from where its message says on, and not before."""
    assert parse(changed(house, changes)).site.name == "fellside"


@pytest.mark.parametrize(
    ("loop", "key", "words"),
    [
        (
            '"400 mm"',
            "loops.bed.tube_diameter",
            "is 0.3 m (the default) thick and those of bed are 400 mm wide",
        ),
        ('"0.5 m"', "loops.bed.tube_diameter", "those of bed are 500 mm wide"),
    ],
)
def test_a_bed_of_default_thickness_is_blamed_on_the_tubes(small, problems_of, loop, key, words):
    """Where the thickness does not stand in the file, the place to look at is the width of the tubes."""
    text = small.replace('tube_diameter = "100 mm"', f"tube_diameter = {loop}")
    found = problems_of(text + '\n[house]\ntube_bed = "sand"\n')
    assert words in found[key]


def test_a_bed_without_loops_is_not_judged(problems_of):
    """Where no loop could be read there is no tube to compare the bed with."""
    found = problems_of('[house]\ntube_bed = "sand"\ntube_bed_thickness = "2 m"\n')
    assert set(found) == {"site", "loops", "sumps", "probes"}


def test_a_sump_that_no_table_describes_is_refused(house, problems_of):
    """A loop that drains to a sump under another name is told which names there are."""
    found = problems_of(house.replace("[sumps.main]", "[sumps.pit]"))
    assert 'there is no [sumps.main]; expected "pit"' in found["loops.north.sump"]


def test_a_loop_is_told_what_to_name_where_there_are_no_names(problems_of):
    """Without any sump or loop in the file the message says what kind of table is meant."""
    found = problems_of('[loops.north]\nsump = "main"\n[probes.a]\nid = "28-000000000001"\nplace = "soil"\n')
    assert 'expected loop = "north"' in found["probes.a.place"]
    whole = 'fan_pin = 17\nsump = "main"\nflow = "0.3 m3/s"\npower = "120 W"\ntubes = 24\n'
    pipes = 'tube_length = "9 m"\ntube_diameter = "80 mm"\ndepth = "0.8 m"\n'
    found = problems_of(f"[loops.north]\n{whole}{pipes}")
    assert found["loops.north.sump"] == "there is no [sumps.main]; expected a sump of this file"
    found = problems_of('[probes.a]\nid = "28-000000000001"\nplace = "soil"\nloop = "north"\n')
    assert found["probes.a.loop"] == "there is no [loops.north]; expected a loop of this file"


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


@pytest.mark.parametrize(
    ("table", "message"),
    [
        (
            '[setpoints]\nheat_below = "1 °C"\n',
            (
                "setpoints.frost_limit is 2 °C (the default) and setpoints.heat_below is 1 °C; "
                "expected the first to be at most the second, "
                "because heating must begin before the crop is in danger"
            ),
        ),
        (
            '[service]\nlease = "20 s"\n',
            (
                "the lease is 20 s and the tick is 10 s (the default); expected more than two ticks, "
                "or one late tick would put every output off"
            ),
        ),
    ],
)
def test_a_value_that_contradicts_a_default_is_blamed_itself(small, table, message):
    """Whichever side stands in the file is the place to look at; the other is told as the default."""
    with pytest.raises(SettingsError) as caught:
        parse(f"{small}\n{table}")
    (problem,) = caught.value.problems
    assert problem.line == f"{small}\n{table}".count("\n")
    assert problem.message == message


BAD_TABLES = {
    "setpoints.too_hot": '"99 °C"',
    "fans.purge": '"9 h"',
    "pump.rest": '"9 h"',
    "fire.level": '"99 °C"',
    "judging.air_hold": '"9 h"',
    "board.sample_every": '"9 h"',
    "service.lease": '"9 h"',
    "house.tube_bed_thickness": '"9 m"',
    "mqtt.port": "0",
}


@pytest.mark.parametrize("key", BAD_TABLES)
def test_a_table_that_is_bad_by_itself_is_compared_with_no_other(house, problems_of, key):
    """One value out of range gives one error, whichever table it spoils."""
    assert set(problems_of(changed(house, {key: BAD_TABLES[key]}))) == {key}


def test_a_bad_table_does_not_hide_contradictions_of_the_others(house, problems_of):
    """Contradictions are found wherever the tables they lie in are good by themselves."""
    found = problems_of(
        changed(
            house, {"pump.starts_per_hour": "99", "fans.purge": '"11 min"', "fans.minimum_run": '"10.9 min"'}
        )
    )
    assert set(found) == {"pump.starts_per_hour", "fans.purge"}


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
    ("comfort_floor_c", "cool_above_c"): {
        "setpoints.comfort_floor": '"29 °C"',
        "setpoints.cool_above": '"29 °C"',
    },
    ("back_off_s", "longest_back_off_s"): {"fans.back_off": '"6 h"', "fans.longest_back_off": '"6 h"'},
    ("exercise_run_s", "run_on_s"): {"pump.exercise_run": '"10 s"', "pump.run_on": '"10 s"'},
    ("run_on_s", "drain_down_s"): {"pump.run_on": '"2 min"', "pump.drain_down": '"2 min"'},
    ("frost_limit_c", "heat_below_c"): {
        "setpoints.frost_limit": '"7 °C"',
        "setpoints.heat_below": '"44.6 °F"',
    },
    ("purge_s", "minimum_run_s"): {"fans.purge": '"11 min"', "fans.minimum_run": '"660 s"'},
    ("minimum_rest_s", "rest_s"): {"pump.minimum_rest": '"3 min"', "pump.rest": '"180 s"'},
}


@pytest.mark.parametrize(("names", "values"), EQUAL_CHANGES.items(), ids=str)
def test_settings_that_may_meet_are_allowed_to(house, names, values):
    """At most means at most: equal values are good, in whatever unit they are written."""
    assert any((order.lower[1], order.upper[1]) == names and order.equal for order in ORDERS)
    assert [key.split(".")[1] for key in values] == [plain_key(name) for name in names]
    assert parse(changed(house, values)).site.name == "fellside"
