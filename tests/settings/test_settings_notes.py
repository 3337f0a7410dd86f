"""Notes: allowed, but worth a second look."""

from __future__ import annotations

import pytest

from controller.settings.load import parse
from controller.settings.notes import notes
from tests.settings.edit import changed


def test_the_sample_house_gives_no_notes(house):
    """The file people copy is beyond remark."""
    assert notes(parse(house)) == ()


def test_what_is_not_fitted_is_called_not_monitored(small):
    """The smallest house works, and is told what nobody watches in it."""
    found = notes(parse(small))
    assert len(found) == 3
    assert all(note.endswith("not monitored") for note in found)


CASES = [
    (
        {"setpoints.heat_below": '"13 °C"', "setpoints.comfort_floor": '"12.9 °C"'},
        "setpoints.heat_below: it is above comfort_floor",
    ),
    (
        {"setpoints.cooling": "true", "setpoints.cool_above": '"29 °C"', "setpoints.too_hot": '"28.9 °C"'},
        "setpoints.too_hot: it is below cool_above",
    ),
    (
        {"fans.starts_per_hour": "5", "fans.minimum_run": '"12.5 min"', "fans.minimum_rest": '"150 s"'},
        "fans.starts_per_hour: 5 starts are allowed, but the shortest run and rest leave room for 4 only",
    ),
    (
        {"pump.starts_per_hour": "9", "pump.minimum_rest": '"9 min"'},
        "pump.starts_per_hour: 9 starts are allowed, but the shortest run and rest leave room for 6 only",
    ),
    (
        {"loops.north.tube_diameter": '"50 mm"'},
        "loops.north.power: 329 Pa of friction in the tubes alone take 99 W at this flow, and no fan makes",
    ),
    ({"loops.north.fan_pin": "5"}, "loops.north.fan_pin: the board holds pin 5 high"),
    ({"loops.north.active_high": "false"}, "the board holds pin 17 low"),
    ({"sumps.main.float_kind": '"closes-on-rise"'}, "sumps.main.float_kind: a cut wire"),
    ({"mqtt.host": '"10.0.0.2"', "mqtt.user": '"house"'}, "the password can be read"),
    ({"mqtt.ca_file": '"/etc/ca.pem"'}, "mqtt.ca_file: it has no effect"),
]


@pytest.mark.parametrize(("changes", "words"), CASES)
def test_an_odd_setting_is_noted(house, changes, words):
    """Each oddity gives one note and the file stays good."""
    (note,) = notes(parse(changed(house, changes)))
    assert words in note


def test_a_sump_to_which_nothing_drains_is_noted(house):
    """A second sump that no loop names is watched for nothing."""
    spare = "[sumps.spare]\nfloat_pin = 25\npump_pin = 26\n\n[sumps.main]"
    (note,) = notes(parse(house.replace("[sumps.main]", spare)))
    assert "no loop drains to it" in note


def test_a_house_that_is_not_cooled_may_be_too_hot_below_the_cooling_setpoint(house):
    """Where cooling is off its setpoint says nothing, so no order with others is asked of it."""
    values = {"setpoints.cool_above": '"29 °C"', "setpoints.too_hot": '"28.9 °C"'}
    assert not parse(changed(house, values)).setpoints.cooling
    assert notes(parse(changed(house, values))) == ()


def test_an_active_low_output_on_a_pulled_up_pin_is_no_oddity(house):
    """What matters is whether the level at start switches the motor on."""
    values = {"loops.north.fan_pin": "5", "loops.north.active_high": "false"}
    assert notes(parse(changed(house, values))) == ()


CALM = [
    {"mqtt.user": '"house"'},
    {"mqtt.user": '"house"', "mqtt.host": '"10.0.0.2"', "mqtt.tls": "true"},
    {"mqtt.ca_file": '"/etc/ca.pem"', "mqtt.tls": "true"},
]


@pytest.mark.parametrize("changes", CALM)
def test_a_link_that_keeps_its_secrets_is_no_oddity(house, changes):
    """A password to the same machine, or over an encrypted link, needs no remark."""
    assert notes(parse(changed(house, changes))) == ()
