"""Contacts on GPIO inputs, and the kernel's word on the board's voltage. They switch nothing.

Source of the voltage alarm: Linux ``Documentation/hwmon/raspberrypi-hwmon.rst``: the driver asks the board's
firmware from time to time whether the voltage was too low; ``in0_lcrit_alarm`` is its last answer.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from controller.readings.contacts import Contact, ContactKind
from controller.sensors.refused import refused

if TYPE_CHECKING:
    import threading
    from collections.abc import Mapping

    from controller.readings.contacts import ContactPin

VOLTAGE_DRIVER: Final = "rpi_volt"
VOLTAGE_ALARM: Final = "in0_lcrit_alarm"
VOLTAGE_LOW: Final = Contact(ContactKind.VOLTAGE_LOW)


class ContactInputs:
    """All contacts of the settings.

    Each input is pulled up and its contact closes it to ground.

    Args:
        pins: where each contact is read.
        voltage_directory: where the kernel lists its monitors, empty to leave the voltage out.
        pin_factory: gpiozero's access to the pins.
        wake: set on every edge, so that the loop looks at once.

    Raises:
        OSError: a pin cannot be had; those already taken are released.
    """

    def __init__(
        self,
        pins: Mapping[Contact, ContactPin],
        voltage_directory: str,
        pin_factory: Any,
        wake: threading.Event,
    ) -> None:
        from gpiozero import DigitalInputDevice  # noqa: PLC0415 - few houses have contacts

        self._voltage_directory = voltage_directory
        self._voltage_file: Path | None = None
        self._closed_means_yes = {contact: where.closed_means_yes for contact, where in pins.items()}
        self._devices: dict[Contact, Any] = {}
        for contact, where in pins.items():
            try:
                device = DigitalInputDevice(where.pin, pull_up=True, pin_factory=pin_factory)
            except Exception as error:
                self.close()
                raise refused(where.pin, f"{contact.kind.value} {contact.name}", error) from error
            device.when_activated = device.when_deactivated = wake.set
            self._devices[contact] = device

    def look(self) -> Mapping[Contact, bool | None]:
        """What every contact says now, None where it cannot be read."""
        looked = {contact: self._yes(contact, device) for contact, device in self._devices.items()}
        if self._voltage_directory:
            looked[VOLTAGE_LOW] = self._voltage_low()
        return looked

    def close(self) -> None:
        """Release all pins."""
        for device in self._devices.values():
            device.close()

    def _yes(self, contact: Contact, device: Any) -> bool | None:
        try:
            return bool(device.is_active) is self._closed_means_yes[contact]
        except Exception:  # noqa: BLE001 - every pin library has its own errors; all mean that nothing was read
            return None

    def _voltage_low(self) -> bool | None:
        """What the kernel says of the board's voltage; its number of a monitor moves from boot to boot."""
        try:
            if self._voltage_file is None:
                self._voltage_file = next(
                    name.with_name(VOLTAGE_ALARM)
                    for name in Path(self._voltage_directory).glob("*/name")
                    if name.read_text(encoding="ascii", errors="replace").strip() == VOLTAGE_DRIVER
                )
            word = self._voltage_file.read_text(encoding="ascii", errors="replace").strip()
        except (OSError, StopIteration):
            self._voltage_file = None
            return None
        return {"0": False, "1": True}.get(word)
