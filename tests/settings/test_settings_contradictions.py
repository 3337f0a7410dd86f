"""Settings that are good one by one and wrong together."""

from __future__ import annotations

import pytest

from controller.settings.load import SettingsError, parse
from controller.settings.schema import Settings
from tests.settings.edit import changed, value_at, with_line, with_options

SAND = {"house.tube_bed": '"sand"'}
THICKER = "expected a bed thicker than the tubes in it"
THINNER = "expected less than twice that depth, because the bed reaches as far up as down"


@pytest.mark.parametrize(
    ("thickness", "others", "words"),
    [
        ("80 mm", {}, f"80 mm thick and those of north are 80 mm wide; {THICKER}"),
        ("81 mm", {}, None),
        (
            "85 mm",
            {"loops.middle.tube_diameter": '"85 mm"'},
            f"85 mm thick and those of middle are 85 mm wide; {THICKER}",
        ),
        ("1.6 m", {}, f"1.6 m thick and those of north lie 0.8 m deep; {THINNER}"),
        ("1.59 m", {}, None),
        (
            "1.5 m",
            {"loops.south.depth": '"0.75 m"'},
            f"1.5 m thick and those of south lie 0.75 m deep; {THINNER}",
        ),
    ],
)
def test_a_bed_is_thicker_than_its_tubes_and_thinner_than_twice_their_depth(
    house, problems_of, thickness, others, words
):
    """The first loop that does not fit is named; from the limit itself on."""
    text = changed(house, SAND | others | {"house.tube_bed_thickness": f'"{thickness}"'})
    if words is None:
        assert parse(text).site.name == "fellside"
    else:
        assert problems_of(text) == {"house.tube_bed_thickness": f"the bed of the tubes is {words}"}


def test_without_a_bed_its_thickness_is_not_judged(house):
    """Tubes in plain soil may be as wide as they are."""
    values = {"loops.north.tube_diameter": '"400 mm"', "house.tube_bed_thickness": '"80 mm"'}
    assert parse(changed(house, values)).site.name == "fellside"


@pytest.mark.parametrize(
    ("values", "good", "message"),
    [
        (
            {"service.lease": '"0.5 min"', "service.tick": '"0.25 min"'},
            {"service.lease": '"30.1 s"'},
            (
                "the lease is 0.5 min and the tick is 0.25 min; "
                "expected a lease of more than two ticks, or one late tick would switch every output off"
            ),
        ),
        (
            {"judging.air_hold": '"1 min"', "board.sample_every": '"0.51 min"'},
            {"board.sample_every": '"30 s"'},
            (
                "an air reading holds for 1 min and a new one comes every 0.51 min; "
                "expected it to hold for at least two samples, or one lost sample would stop the fans"
            ),
        ),
        (
            {"pump.rest": '"2.9 min"', "pump.longest_run": '"28 min"'},
            {"pump.rest": '"2.8 min"'},
            (
                "pump.rest is 2.9 min and pump.longest_run is 28 min; expected the first to be at most a "
                "tenth of the second, or water would rise while the pump stands still"
            ),
        ),
        (
            {"mqtt.password_file": '"/etc/hypocaust/password"'},
            {"mqtt.user": '"house"'},
            "a password without a user is never sent; expected user as well",
        ),
    ],
    ids=["lease", "air hold", "pump", "password"],
)
def test_a_lease_a_hold_a_rest_and_a_password_must_suit_their_other_half(
    house, problems_of, values, good, message
):
    """Two ticks to a lease, two samples to a hold, ten rests to a run, a user to a password."""
    assert problems_of(changed(house, values)) == {next(iter(values)): message}
    assert parse(changed(house, values | good)).site.name == "fellside"


def test_of_two_that_do_not_suit_the_one_that_is_written_is_blamed(house, problems_of):
    """A default stands in no line; it is named with its value all the same."""
    found = problems_of(with_line(changed(house, {"pump.longest_run": '"19 min"'}), "pump.rest", ""))
    assert list(found) == ["pump.longest_run"]
    assert found["pump.longest_run"].startswith(
        "pump.rest is 2 min (the default) and pump.longest_run is 19 min"
    )


BEST = "choose another, best one from 16 to 27"
OUTPUTS = ("loops.south.fan_pin", "sumps.main.float_pin", "sumps.main.pump_pin")
RESERVED = {
    0: "is driven by the firmware at start to identify add-on boards",
    1: "is driven by the firmware at start to identify add-on boards",
    4: "is the line of the 1-wire probes",
    14: "carries the serial console, which goes high while the board starts",
    15: "carries the serial console while the board starts",
}


@pytest.mark.parametrize("key", OUTPUTS)
@pytest.mark.parametrize("pin", RESERVED)
def test_a_pin_that_the_board_needs_itself_is_refused(house, problems_of, pin, key):
    """What it does, and where a free one is found."""
    assert problems_of(changed(house, {key: str(pin)})) == {key: f"pin {pin} {RESERVED[pin]}; {BEST}"}


@pytest.mark.parametrize(
    ("key", "taken", "blamed", "by"),
    [
        ("loops.south.fan_pin", "17", "loops.south.fan_pin", "loops.north.fan_pin"),
        ("sumps.main.float_pin", "23", "sumps.main.pump_pin", "sumps.main.float_pin"),
        ("sumps.main.pump_pin", "27", "sumps.main.pump_pin", "loops.middle.fan_pin"),
    ],
)
def test_a_pin_serves_one_thing(house, problems_of, key, taken, blamed, by):
    """The second user in the file is blamed, and the first is named."""
    found = problems_of(changed(house, {key: taken}))
    assert found == {blamed: f"pin {taken} is already used by {by}; expected a pin of its own"}


def test_a_probe_hangs_in_one_place(house, problems_of):
    """An identity that stands twice is blamed where it stands second."""
    identity = value_at(house, "probes.ceiling-west.id")
    found = problems_of(changed(house, {"probes.ceiling-east.id": identity}))
    words = "is already probes.ceiling-west; expected a probe of its own"
    assert found == {"probes.ceiling-east.id": f"{identity.strip(chr(34))} {words}"}


LOOPS = '"middle" or "north" or "south"'


@pytest.mark.parametrize(
    ("place", "key", "message"),
    [
        *[
            (
                f'"{place}"',
                "probes.outdoor.place",
                f'a probe at "{place}" must name its loop; expected loop = {LOOPS}',
            )
            for place in ("soil", "outlet", "root-zone")
        ],
        *[
            (
                f'"{place}"\nloop = "north"',
                "probes.outdoor.loop",
                f'a probe at "{place}" belongs to the whole house; expected no loop here',
            )
            for place in ("outdoor", "ceiling", "bench")
        ],
        (
            '"outlet"\nloop = "west"',
            "probes.outdoor.loop",
            f"there is no [loops.west]; expected {LOOPS}",
        ),
    ],
)
def test_a_probe_names_its_loop_if_its_place_has_one(house, problems_of, place, key, message):
    """Soil, root zone and outlet are a loop's; roof, bench and outdoors are the house's."""
    line = f"place = {place}"
    assert problems_of(with_line(house, "probes.outdoor.place", line)) == {key: message}


def test_every_loop_has_a_probe_in_its_soil(house, problems_of):
    """Without one nobody knows whether its fan is of use."""
    assert problems_of(changed(house, {"probes.north-soil.place": '"root-zone"'})) == {
        "loops.north": "no probe measures the soil of this loop; "
        'expected at least one with place = "soil" and loop = "north"'
    }


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
    """A loop that drains to a sump under another name gets the names there are."""
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
    ],
)
def test_a_value_that_contradicts_a_default_is_blamed_itself(small, table, message):
    """Whichever side stands in the file is the place to look at; the other is shown as the default."""
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
DOORS = """
[openings.doors]
kind = "door"
area = "3.2 m2"
height = "1.0 m"
worked = "person"
open_from = "08:00"
open_until = "18:00"
"""
NO_HIGHER = "expected it to be no higher than the ridge"


@pytest.mark.parametrize(
    ("line", "instead", "key", "words"),
    [
        (
            'open_until = "18:00"',
            'open_until = "08:00"',
            "open_from",
            "opens at 08:00 and shuts at 08:00; expected the first to come before the second",
        ),
        ('open_until = "18:00"', 'open_until = "08:01"', None, ""),
        ('open_until = "18:00"', 'open_until = "24:00"', None, ""),
        ('open_until = "18:00"', "", None, ""),
        ('open_from = "08:00"', 'open_from = "24:00"', "open_from", "opens at 24:00 and shuts at 18:00"),
        ('open_from = "08:00"', 'open_from = "8:00"', "open_from", '"8:00" is not a time of day'),
        ('worked = "person"', 'worked = "opener"', None, ""),
        (
            'height = "1.0 m"',
            'height = "3.21 m"',
            "height",
            f"is 3.21 m above the floor and the ridge is at 3.2 m; {NO_HIGHER}",
        ),
        ('height = "1.0 m"', 'height = "3.2 m"', None, ""),
        ('area = "3.2 m2"', 'area = "136 m2"', "area", "of 136 m2 are larger than the floor of 135 m2"),
        ('area = "3.2 m2"', 'area = "34.4 ft2"', None, ""),
        ('area = "3.2 m2"', 'area = "0 m2"', "area", "out of range; expected 0.01 m2 to 2000 m2"),
        ('area = "3.2 m2"', "", "area", "is missing: give the clear area of all of them together"),
    ],
)
def test_an_opening_fits_the_building_and_the_day(house, problems_of, line, instead, key, words):
    """It has an area, lies no higher than the ridge, and a person's hours follow each other."""
    text = house + DOORS.replace(line, instead)
    if key is None:
        assert set(parse(text).openings) == {"doors"}
    else:
        ((blamed, message),) = problems_of(text).items()
        assert blamed == f"openings.doors.{key}"
        assert words in message


def test_a_backup_heater_does_not_heat_against_open_doors(house, problems_of):
    """Where there is a heater, an opening opens above the temperature that it holds."""
    heated = changed(house, {"house.heater_power": '"5 kW"', "house.heater_below": '"8 °C"'})
    at_eight = DOORS + 'open_above = "8 °C"\n'
    (message,) = problems_of(heated + at_eight).values()
    assert "opens above 8 °C and house.heater_below is 8 °C" in message
    for good in (at_eight.replace('"8 °C"', '"8.1 °C"'), at_eight.replace('"person"', '"never"')):
        assert parse(heated + good).openings
    assert parse(house + at_eight).openings


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


OPTIONAL = (
    "signal.pin", "signal.today_pin", "loops.north.feedback_pin", "sumps.main.feedback_pin",
    "sumps.main.high_float_pin", "board.supply_pin",
)  # fmt: skip


@pytest.mark.parametrize("key", OPTIONAL)
def test_an_optional_pin_is_looked_at_like_the_others(house, problems_of, key):
    """It is one of its own, and not one the board needs."""
    text = with_options(house)
    assert problems_of(changed(text, {key: "4"})) == {key: f"pin 4 {RESERVED[4]}; {BEST}"}
    (message,) = problems_of(changed(text, {key: "17"})).values()
    assert message == "pin 17 is already used by loops.north.fan_pin; expected a pin of its own"
