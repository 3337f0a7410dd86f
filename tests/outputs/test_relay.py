"""One relay: polarity, OFF first, OFF last."""

from __future__ import annotations

import pytest
from gpiozero.pins.mock import MockFactory

from controller.outputs.board import BoardError
from controller.outputs.relay import Relay


@pytest.fixture
def factory():
    """Pins in memory, given back at the end."""
    made = MockFactory()
    yield made
    made.close()


@pytest.mark.parametrize("active_high", [True, False])
def test_level_follows_polarity(factory, active_high):
    """ON is high on an active-high relay and low on an active-low one."""
    relay = Relay(17, active_high, factory)
    relay.set(True)
    assert factory.pin(17).state == active_high
    assert relay.is_on()
    relay.set(False)
    assert factory.pin(17).state != active_high
    assert not relay.is_on()


@pytest.mark.parametrize("active_high", [True, False])
def test_off_before_anything_else(factory, active_high):
    """A relay whose pin stood at ON is OFF once it exists."""
    pin = factory.pin(17)
    pin.function = "output"
    pin.state = active_high
    relay = Relay(17, active_high, factory)
    assert pin.state != active_high
    assert not relay.is_on()


def test_close_drives_off_first(factory):
    """The level at closing time is OFF, and closing twice is harmless."""
    relay = Relay(17, True, factory)
    pin = factory.pin(17)
    relay.set(True)
    pin.clear_states()
    relay.close()
    pin.assert_states([True, False])
    relay.close()


def test_trouble_with_the_pin_is_an_os_error(factory, monkeypatch):
    """Whatever the driver throws, the caller sees the one error of the port, with the pin in it."""
    relay = Relay(17, True, factory)

    def broken(_self, _value=None):
        raise RuntimeError("line gone")

    monkeypatch.setattr(type(factory.pin(17)), "_set_state", broken)
    monkeypatch.setattr(type(factory.pin(17)), "_get_state", broken)
    with pytest.raises(OSError, match=r"GPIO 17 cannot be driven \(line gone\)"):
        relay.set(True)
    with pytest.raises(OSError, match="GPIO 17 cannot be read back"):
        relay.is_on()


def test_relay_that_cannot_be_driven_off_is_closed_all_the_same(factory, monkeypatch):
    """The pin is given back and the failure is reported."""
    relay = Relay(17, True, factory)
    with monkeypatch.context() as broken:
        broken.setattr(relay, "set", _raise_os_error)
        with pytest.raises(OSError, match="gone"):
            relay.close()
    Relay(17, True, factory).close()


def _raise_os_error(_on):
    """A pin that is gone."""
    raise OSError("gone")


@pytest.mark.parametrize("pin", [99, 17])
def test_pin_that_cannot_be_opened_is_a_board_error(factory, pin):
    """A pin that does not exist or is used twice is refused with its number."""
    first = Relay(17, True, factory)
    with pytest.raises(BoardError, match=f"GPIO {pin} cannot be opened"):
        Relay(pin, True, factory)
    first.close()
