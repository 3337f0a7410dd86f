"""Notes: allowed, but worth a second look."""

from __future__ import annotations

import pytest

from controller.settings.load import parse
from controller.settings.notes import notes


def test_the_sample_house_gives_no_notes(house):
    """The file people copy is beyond remark."""
    assert notes(parse(house)) == ()


def test_what_is_not_fitted_is_called_not_monitored(small):
    """The smallest house works, and is told what nobody watches in it."""
    found = notes(parse(small))
    assert len(found) == 3
    assert all(note.endswith("not monitored") for note in found)


CASES = [
    ({'bank_above = "20 °C"': 'bank_above = "30 °C"'}, "setpoints.bank_above: it is above cool_above"),
    ({'heat_below = "5 °C"': 'heat_below = "13 °C"'}, "setpoints.heat_below: it is above comfort_floor"),
    ({'too_hot = "40 °C"': 'too_hot = "27 °C"'}, "setpoints.too_hot: it is below cool_above"),
    ({"starts_per_hour = 3": "starts_per_hour = 5"}, "fans.starts_per_hour: 5 starts are allowed"),
    ({'minimum_rest = "2 min"': 'minimum_rest = "10 min"'}, "leave room for 5 only"),
    (
        {'tube_diameter = "80 mm"': 'tube_diameter = "50 mm"'},
        "loops.north.power: 329 Pa of friction in the tubes alone take 99 W at this flow, and no fan makes",
    ),
    ({"fan_pin = 17": "fan_pin = 5"}, "loops.north.fan_pin: the board holds pin 5 high"),
    ({"fan_pin = 17\nactive_high = true": "fan_pin = 17\nactive_high = false"}, "the board holds pin 17 low"),
    ({'float_kind = "opens-on-rise"': 'float_kind = "closes-on-rise"'}, "sumps.main.float_kind: a cut wire"),
    (
        {"[sumps.main]": "[sumps.spare]\nfloat_pin = 25\npump_pin = 26\n\n[sumps.main]"},
        "no loop drains to it",
    ),
    ({'host = "localhost"': 'host = "10.0.0.2"', 'user = ""': 'user = "house"'}, "the password can be read"),
    ({'ca_file = ""': 'ca_file = "/etc/ca.pem"'}, "mqtt.ca_file: it has no effect"),
]


@pytest.mark.parametrize(("changes", "words"), CASES)
def test_an_odd_setting_is_noted(house, changes, words):
    """Each oddity gives one note and the file stays good."""
    for good, odd in changes.items():
        assert good in house
        house = house.replace(good, odd, 1)
    (note,) = notes(parse(house))
    assert words in note


def test_an_active_low_output_on_a_pulled_up_pin_is_no_oddity(house):
    """What matters is whether the level at start switches the motor on."""
    calm = house.replace("fan_pin = 17\nactive_high = true", "fan_pin = 5\nactive_high = false")
    assert calm != house
    assert notes(parse(calm)) == ()


CALM = [
    {'user = ""': 'user = "house"'},
    {'user = ""': 'user = "house"', 'host = "localhost"': 'host = "10.0.0.2"', "tls = false": "tls = true"},
    {'ca_file = ""': 'ca_file = "/etc/ca.pem"', "tls = false": "tls = true"},
]


@pytest.mark.parametrize("changes", CALM)
def test_a_link_that_keeps_its_secrets_is_no_oddity(house, changes):
    """A password to the same machine, or over an encrypted link, needs no remark."""
    for good, other in changes.items():
        assert good in house
        house = house.replace(good, other, 1)
    assert notes(parse(house)) == ()
