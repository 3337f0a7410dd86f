"""Contacts that show what motors, floats and supplies really do: which there are, and what each says."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from controller.settings.schema import Settings


class ContactKind(StrEnum):
    """What a contact shows when it says yes."""

    FAN_RUNS = "fan runs"
    PUMP_RUNS = "pump runs"
    HIGH_WATER = "high water"
    SUPPLY_THERE = "supply is there"
    VOLTAGE_LOW = "board voltage is low"


class Contact(NamedTuple):
    """One contact: what it shows, and of which loop or sump; the name is empty where there is only one."""

    kind: ContactKind
    name: str = ""


class ContactReading(NamedTuple):
    """What a contact says.

    Attributes:
        yes: what it says now, None where it cannot be read.
        since_mono_s: when it was first seen to say so without a break.
    """

    yes: bool | None
    since_mono_s: float


class ContactPin(NamedTuple):
    """Where a contact is read: its pin, and whether a contact closed to ground means yes."""

    pin: int
    closed_means_yes: bool = True


def contact_pins(settings: Settings) -> dict[Contact, ContactPin]:
    """Every contact of the settings that hangs on a pin."""
    found: dict[Contact, ContactPin] = {}
    for name, loop in settings.loops.items():
        if loop.feedback_pin is not None:
            found[Contact(ContactKind.FAN_RUNS, name)] = ContactPin(loop.feedback_pin)
    for name, sump in settings.sumps.items():
        if sump.feedback_pin is not None:
            found[Contact(ContactKind.PUMP_RUNS, name)] = ContactPin(sump.feedback_pin)
        if sump.high_float_pin is not None:
            closed_means_wet = sump.float_kind == "closes-on-rise"
            found[Contact(ContactKind.HIGH_WATER, name)] = ContactPin(sump.high_float_pin, closed_means_wet)
    if settings.board.supply_pin is not None:
        found[Contact(ContactKind.SUPPLY_THERE)] = ContactPin(settings.board.supply_pin)
    return found


class ContactWatch:
    """Remembers since when each contact has said what it says now."""

    def __init__(self, look: Callable[[], Mapping[Contact, bool | None]]) -> None:
        """Nothing has been looked at yet.

        Args:
            look: gives what every contact says now, None where it cannot be read.
        """
        self._look = look
        self._readings: Mapping[Contact, ContactReading] = {}

    def read(self, now_mono_s: float) -> Mapping[Contact, ContactReading]:
        """Look at every contact once.

        Args:
            now_mono_s: now.
        """
        before = self._readings
        self._readings = {
            contact: reading
            if (reading := before.get(contact)) is not None and reading.yes is yes
            else ContactReading(yes, now_mono_s)
            for contact, yes in self._look().items()
        }
        return self._readings
