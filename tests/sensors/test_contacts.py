"""Contacts on gpiozero's mock pins, and the kernel's file on the board's voltage."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

import pytest
from gpiozero.pins.mock import MockFactory

from controller.readings.contacts import (
    Contact,
    ContactKind,
    ContactPin,
    ContactReading,
    ContactWatch,
    contact_pins,
)
from controller.sensors.contacts import VOLTAGE_LOW, ContactInputs
from controller.settings.load import parse
from tests.settings.edit import HOUSE_TEXT, changed, with_options

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

ALL = parse(with_options(HOUSE_TEXT))
FAN, PUMP = Contact(ContactKind.FAN_RUNS, "north"), Contact(ContactKind.PUMP_RUNS, "main")
HIGH, SUPPLY = Contact(ContactKind.HIGH_WATER, "main"), Contact(ContactKind.SUPPLY_THERE)


@pytest.fixture
def pins() -> Iterator[MockFactory]:
    """Mock pins, released after the test."""
    factory = MockFactory()
    yield factory
    factory.reset()


def inputs(pins: MockFactory, voltage: str = "", wake: threading.Event | None = None) -> ContactInputs:
    """Every contact the sample house offers."""
    return ContactInputs(contact_pins(ALL), voltage, pins, wake or threading.Event())


def test_a_house_without_options_has_no_contacts() -> None:
    """What is not in the settings is not read."""
    assert contact_pins(parse(HOUSE_TEXT)) == {}


def test_nothing_connected_says_that_nothing_runs_and_water_is_high(pins: MockFactory) -> None:
    """A cut wire shows motors that stand, a supply that is gone and, as with the first float, water."""
    assert inputs(pins).look() == {FAN: False, PUMP: False, HIGH: True, SUPPLY: False}


def test_a_contact_closed_to_ground_says_yes_and_wakes_the_loop(pins: MockFactory) -> None:
    """Feedback and supply close when all is well; a float that opens on rise closes when dry."""
    wake = threading.Event()
    contacts = inputs(pins, wake=wake)
    wake.clear()
    for where in contact_pins(ALL).values():
        pins.pin(where.pin).drive_low()
    assert wake.is_set()
    assert contacts.look() == {FAN: True, PUMP: True, HIGH: False, SUPPLY: True}
    contacts.close()


def test_an_upper_float_that_closes_on_rise_is_of_the_same_kind_as_the_first() -> None:
    """One setting holds for both."""
    house = parse(changed(with_options(HOUSE_TEXT), {"sumps.main.float_kind": '"closes-on-rise"'}))
    assert contact_pins(house)[HIGH].closed_means_yes


def test_a_pin_that_cannot_be_read_is_not_known(pins: MockFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """No level stands in for it."""
    contacts = inputs(pins)

    def broken(_pin: object) -> None:
        raise OSError

    monkeypatch.setattr(type(pins.pin(5)), "_get_state", broken)
    assert set(contacts.look().values()) == {None}


def test_a_pin_that_cannot_be_had_is_named(pins: MockFactory) -> None:
    """A person reads which input it is."""
    with pytest.raises(OSError, match=r"GPIO 99 \(fan runs north\) cannot be used"):
        ContactInputs({FAN: ContactPin(99)}, "", pins, threading.Event())


@pytest.mark.parametrize(("word", "says"), [("0\n", False), ("1\n", True), ("", None), ("?", None)])
def test_the_kernel_says_whether_the_voltage_is_low(
    pins: MockFactory, tmp_path: Path, word: str, says: bool | None
) -> None:
    """The monitor is found by its driver's name, whatever its number."""
    for number, (name, alarm) in enumerate((("cpu_thermal", "1"), ("rpi_volt", word))):
        (tmp_path / f"hwmon{number}").mkdir()
        (tmp_path / f"hwmon{number}" / "name").write_text(f"{name}\n")
        (tmp_path / f"hwmon{number}" / "in0_lcrit_alarm").write_text(alarm)
    assert inputs(pins, str(tmp_path)).look()[VOLTAGE_LOW] is says


def test_a_board_without_such_a_monitor_is_not_known(pins: MockFactory, tmp_path: Path) -> None:
    """Not fine, not low."""
    assert inputs(pins, str(tmp_path)).look()[VOLTAGE_LOW] is None


def test_since_counts_from_the_first_look_that_said_so() -> None:
    """A contact that bounces between two looks begins anew only if a look sees it."""
    said: dict[Contact, bool | None] = {FAN: True}
    watch = ContactWatch(lambda: said)
    assert watch.read(10.0) == watch.read(20.0) == {FAN: ContactReading(True, 10.0)}
    said[FAN] = False
    assert watch.read(30.0) == {FAN: ContactReading(False, 30.0)}
    said[FAN] = None
    assert watch.read(40.0) == {FAN: ContactReading(None, 40.0)}
    said.clear()
    assert watch.read(50.0) == {}
