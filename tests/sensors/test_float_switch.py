"""Float switches on gpiozero's mock pins."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

import pytest
from gpiozero.pins.mock import MockFactory

from controller.readings.reading import Level, RawLevel
from controller.sensors.float_switch import EDGES_KEPT, FloatSwitches
from controller.settings.schema import Sump

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.sensors.conftest import HandClock

FLOAT_PIN = 5


@pytest.fixture
def pins() -> Iterator[MockFactory]:
    """Mock pins, released after the test."""
    factory = MockFactory()
    yield factory
    factory.reset()


@pytest.fixture
def wake() -> threading.Event:
    """What wakes the loop."""
    return threading.Event()


def sump(kind: str = "opens-on-rise", pin: int = FLOAT_PIN) -> Sump:
    """A sump with its float."""
    return Sump.model_validate({"float_pin": pin, "float_kind": kind, "pump_pin": 6})


@pytest.mark.parametrize(
    ("kind", "high", "low"),
    [("opens-on-rise", Level.WET, Level.DRY), ("closes-on-rise", Level.DRY, Level.WET)],
)
def test_both_kinds_of_float(
    pins: MockFactory, clock: HandClock, wake: threading.Event, kind: str, high: Level, low: Level
) -> None:
    """An open contact leaves the input high, a closed one pulls it low; the kind says which is wet."""
    floats = FloatSwitches({"main": sump(kind)}, pins, clock, wake)
    pins.pin(FLOAT_PIN).drive_high()
    assert floats.look()["main"][-1] == RawLevel(high, 1000.0)
    pins.pin(FLOAT_PIN).drive_low()
    assert floats.look()["main"][-1] == RawLevel(low, 1000.0)
    floats.close()


def test_cut_wire_reads_wet(pins: MockFactory, clock: HandClock, wake: threading.Event) -> None:
    """With nothing connected the pull-up makes a float that opens on rise read wet."""
    floats = FloatSwitches({"main": sump()}, pins, clock, wake)
    assert pins.pin(FLOAT_PIN).pull == "up"
    assert floats.look()["main"] == [RawLevel(Level.WET, 1000.0)]
    floats.close()


def test_edges_carry_their_own_times_and_wake_the_loop(
    pins: MockFactory, clock: HandClock, wake: threading.Event
) -> None:
    """A rise and a fall between two looks are both seen, each with its time, and each wakes the loop."""
    floats = FloatSwitches({"main": sump()}, pins, clock, wake)
    pins.pin(FLOAT_PIN).drive_low()
    floats.look()
    wake.clear()
    clock.now_s = 1001.0
    pins.pin(FLOAT_PIN).drive_high()
    assert wake.is_set()
    clock.now_s = 1001.5
    pins.pin(FLOAT_PIN).drive_low()
    clock.now_s = 1002.0
    assert floats.look()["main"] == [
        RawLevel(Level.WET, 1001.0),
        RawLevel(Level.DRY, 1001.5),
        RawLevel(Level.DRY, 1002.0),
    ]
    assert floats.look()["main"] == [RawLevel(Level.DRY, 1002.0)]
    floats.close()


def test_bouncing_float_keeps_memory_bounded(
    pins: MockFactory, clock: HandClock, wake: threading.Event
) -> None:
    """A thousand edges between two looks leave the newest ones."""
    floats = FloatSwitches({"main": sump()}, pins, clock, wake)
    for _ in range(500):
        pins.pin(FLOAT_PIN).drive_low()
        pins.pin(FLOAT_PIN).drive_high()
    looks = floats.look()["main"]
    assert len(looks) == EDGES_KEPT + 1
    assert [look.level for look in looks[-3:]] == [Level.DRY, Level.WET, Level.WET]
    floats.close()


def test_unreadable_input_is_no_level(
    pins: MockFactory, clock: HandClock, wake: threading.Event, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An error of the pin library gives a look without a level, for that sump alone."""
    floats = FloatSwitches({"main": sump(), "low": sump(pin=12)}, pins, clock, wake)

    def fail() -> bool:
        raise RuntimeError("no chip")

    monkeypatch.setattr(pins.pin(FLOAT_PIN), "_get_state", fail)
    looks = floats.look()
    assert looks["main"] == [RawLevel(None, 1000.0)]
    assert looks["low"] == [RawLevel(Level.WET, 1000.0)]
    floats.close()


def test_pin_that_cannot_be_had_is_named(pins: MockFactory, clock: HandClock, wake: threading.Event) -> None:
    """A pin in use by another is an error that names pin and sump, and the pins taken before are released."""
    other = FloatSwitches({"other": sump(pin=12)}, pins, clock, wake)
    with pytest.raises(OSError, match=r"GPIO 12 \(float of sump low\) cannot be used as an input"):
        FloatSwitches({"main": sump(), "low": sump(pin=12)}, pins, clock, wake)
    FloatSwitches({"main": sump()}, pins, clock, wake).close()
    other.close()


def test_closed_inputs_are_released(pins: MockFactory, clock: HandClock, wake: threading.Event) -> None:
    """After closing, a pin can be taken again and its edges wake nobody."""
    FloatSwitches({"main": sump()}, pins, clock, wake).close()
    wake.clear()
    pins.pin(FLOAT_PIN).drive_low()
    assert not wake.is_set()
    again = FloatSwitches({"main": sump()}, pins, clock, wake)
    assert len(again.look()["main"]) == 1
    again.close()
