"""The push-button that clears a fire, on gpiozero's mock pins."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

import pytest
from gpiozero.pins.mock import MockFactory

from controller.faults import FaultCode
from controller.sensors.clear_button import HELD_S, ClearButton

if TYPE_CHECKING:
    from tests.sensors.conftest import HandClock

PIN = 13


@pytest.mark.parametrize(("held_s", "clears"), [(HELD_S - 0.1, False), (HELD_S, True), (60.0, True)])
def test_the_button_counts_once_when_it_is_let_go_after_some_seconds(
    clock: HandClock, held_s: float, clears: bool
) -> None:
    """A touch clears nothing, nor does a button that sticks; a press that was held wakes the loop."""
    pins, wake = MockFactory(), threading.Event()
    button = ClearButton(PIN, pins, clock, wake)
    pins.pin(PIN).drive_low()
    clock.now_s += held_s
    assert button.take() == frozenset()
    pins.pin(PIN).drive_high()
    assert wake.is_set() is clears
    assert button.take() == (frozenset({FaultCode.FIRE}) if clears else frozenset())
    assert button.take() == frozenset()
    button.close()
    pins.reset()


def test_a_pin_that_is_in_use_is_named(clock: HandClock) -> None:
    """The message names the pin and what it is for."""
    pins = MockFactory()
    first = ClearButton(PIN, pins, clock, threading.Event())
    with pytest.raises(OSError, match=r"GPIO 13 \(button that clears a fire\)"):
        ClearButton(PIN, pins, clock, threading.Event())
    first.close()
    pins.reset()
