"""Notes: allowed, but worth a second look."""

from __future__ import annotations

import re

import pytest

from controller.settings.load import parse
from controller.settings.notes import notes
from tests.settings.edit import changed, with_options

SMALL_PIT = (
    "house.sump_volume: 60 L at 2 L/s can need 30 starts an hour, and pump.starts_per_hour allows 10, "
    "so in long rain water rises above the float; 180 L are enough"
)


@pytest.fixture
def house(house):
    """The sample house with a pit that is large enough for its pump."""
    return changed(house, {"house.sump_volume": '"180 L"'})


def test_a_pit_too_small_for_its_pump_is_noted_where_both_are_known(house, small):
    """The sample house has one; a file that says neither volume nor flow is not judged by the defaults."""
    assert notes(parse(house)) == ()
    for values, words in (
        ({"house.sump_volume": '"60 L"'}, (SMALL_PIT,)),
        ({"house.sump_volume": '"60 L"', "house.pump_flow": '"0.66 L/s"'}, ()),
    ):
        assert notes(parse(changed(house, values))) == words
    flow = 'pump_flow = "20 L/s"'
    assert not any("sump_volume" in note for note in notes(parse(f"{small}\n[house]\n{flow}")))


def test_vents_that_openings_stand_in_for_are_noted(house, small):
    """A temperature for vents has no effect beside [openings]; noted only where it is written."""
    doors = '\n[openings.doors]\nkind = "door"\narea = "3 m2"\nheight = "1 m"\nworked = "never"\n'
    words = "house.vents_open_above: it has no effect, because [openings] says what can be opened"
    assert notes(parse(house + doors)) == (words,)
    assert words not in notes(parse(small + doors))


def test_what_is_not_fitted_is_called_not_monitored(small):
    """The smallest house works, and its notes say what nobody watches in it and that nobody is called."""
    assert notes(parse(small)) == (
        'probes: no probe has place = "bench", so the air among the plants is not monitored',
        "loops.bed: no root-zone probe, so the soil at the tubes stands in and the roots are not monitored",
        "loops.bed: no outlet probe, so the heat its fan moves is not monitored",
        "signal: neither this nor [mqtt] is set, so an alarm reaches only who looks at the status",
    )


CASES = [
    (
        {"setpoints.heat_below": '"13 °C"', "setpoints.comfort_floor": '"12.9 °C"'},
        "setpoints.heat_below: it is above comfort_floor, so heat may be banked while it is needed",
    ),
    (
        {"setpoints.cool_above": '"29 °C"', "setpoints.too_hot": '"28.9 °C"'},
        "setpoints.too_hot: it is below cool_above, so the alarm comes before the fans begin to cool",
    ),
    (
        {"setpoints.cooling": "false", "setpoints.night_purge": "true"},
        "setpoints.night_purge: it has no effect while cooling is off",
    ),
    (
        {"fans.starts_per_hour": "5", "fans.minimum_run": '"12.5 min"', "fans.minimum_rest": '"150 s"'},
        "fans.starts_per_hour: 5 starts are allowed, but the shortest run and rest leave room for 4 only",
    ),
    (
        {
            "pump.starts_per_hour": "12",
            "pump.minimum_rest": '"6 min"',
            "pump.rest": '"6 min"',
            "pump.longest_run": '"60 min"',
        },
        "pump.starts_per_hour: 12 starts are allowed, but the shortest run and rest leave room for 9 only",
    ),
    (
        {"loops.north.tube_diameter": '"50 mm"'},
        (
            "loops.north.power: 329 Pa of friction in the tubes alone take 99 W at this flow, and no fan "
            "does that with 120 W; measure flow and power again"
        ),
    ),
    (
        {"loops.north.fan_pin": "5"},
        (
            "loops.north.fan_pin: the board holds pin 5 high until the controller starts, and that switches "
            "the motor on; fit a pull-down resistor or choose another pin"
        ),
    ),
    (
        {"loops.north.active_high": "false"},
        (
            "loops.north.fan_pin: the board holds pin 17 low until the controller starts, and that switches "
            "the motor on; fit a pull-up resistor or choose another pin"
        ),
    ),
    (
        {"sumps.main.pump_pin": "8"},
        (
            "sumps.main.pump_pin: the board holds pin 8 high until the controller starts, and that switches "
            "the motor on; fit a pull-down resistor or choose another pin"
        ),
    ),
    (
        {"sumps.main.float_kind": '"closes-on-rise"'},
        "sumps.main.float_kind: a cut wire reads dry unnoticed; a float that opens is safer",
    ),
    (
        {"mqtt.host": '"10.0.0.2"', "mqtt.user": '"house"'},
        "mqtt.tls: it is off and the broker is elsewhere, so the password can be read on the way",
    ),
    ({"mqtt.ca_file": '"/etc/ca.pem"'}, "mqtt.ca_file: it has no effect while tls is off"),
]


@pytest.mark.parametrize(("changes", "words"), CASES)
def test_an_odd_setting_is_noted(house, changes, words):
    """Each oddity gives one note and the file stays good."""
    assert notes(parse(changed(house, changes))) == (words,)


def test_a_sump_to_which_nothing_drains_is_noted(house):
    """A second sump that no loop names is watched for nothing."""
    spare = "[sumps.spare]\nfloat_pin = 25\npump_pin = 26\n\n[sumps.main]"
    (note,) = notes(parse(house.replace("[sumps.main]", spare)))
    assert note == "sumps.spare: no loop drains to it, so its float stops no fan"


def test_a_house_that_is_not_cooled_may_be_too_hot_below_the_cooling_setpoint(house):
    """Where cooling is off its setpoint says nothing, so no order with others is asked of it."""
    values = {
        "setpoints.cooling": "false",
        "setpoints.cool_above": '"29 °C"',
        "setpoints.too_hot": '"28.9 °C"',
    }
    assert not parse(changed(house, values)).setpoints.cooling
    assert notes(parse(changed(house, values))) == ()


def test_an_active_low_output_on_a_pulled_up_pin_is_no_oddity(house):
    """What matters is whether the level at start switches the motor on."""
    values = {"loops.north.fan_pin": "5", "loops.north.active_high": "false"}
    assert notes(parse(changed(house, values))) == ()


CALM = [
    {"setpoints.heat_below": '"13 °C"', "setpoints.comfort_floor": '"13 °C"'},
    {"setpoints.cool_above": '"29 °C"', "setpoints.too_hot": '"29 °C"'},
    {"fans.starts_per_hour": "4", "fans.minimum_run": '"12.5 min"', "fans.minimum_rest": '"150 s"'},
    {"loops.north.fan_pin": "9"},
    {"mqtt.user": '"house"'},
    {"mqtt.user": '"house"', "mqtt.host": '"127.0.0.1"'},
    {"mqtt.user": '"house"', "mqtt.host": '"::1"'},
    {"mqtt.user": '"house"', "mqtt.host": '"[::1]"'},
    {"mqtt.user": '"house"', "mqtt.host": '"10.0.0.2"', "mqtt.tls": "true"},
    {"mqtt.ca_file": '"/etc/ca.pem"', "mqtt.tls": "true"},
]


@pytest.mark.parametrize("changes", CALM)
def test_what_is_in_order_is_no_oddity(house, changes):
    """Bounds that are just met, a pin that is pulled low, a password that nobody can read need no remark."""
    assert notes(parse(changed(house, changes))) == ()


def test_a_signal_that_the_board_switches_on_is_noted(house):
    """It would say that all is well while nobody is in charge; the lamp for today does no harm."""
    values = {"signal.active_high": "false", "signal.today_active_high": "false"}
    (note,) = (note for note in notes(parse(changed(with_options(house), values))) if "signal" in note)
    assert note == (
        "signal.pin: the board holds pin 25 low until the controller starts, and that signals that all is "
        "well while nobody is in charge; fit a pull-up resistor or choose another pin"
    )


def test_alarms_that_reach_nobody_are_noted(house):
    """Without messages and without a signal, only who looks at the status learns of an alarm."""
    silent = re.sub(r"^\[mqtt\]\n(?:.+\n)+", "", house, flags=re.MULTILINE)
    (note,) = notes(parse(silent))
    assert note == "signal: neither this nor [mqtt] is set, so an alarm reaches only who looks at the status"
    assert notes(parse(silent + "\n[signal]\npin = 25\n")) == ()
