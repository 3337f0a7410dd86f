"""One relay on one pin. Which level means ON is known here and nowhere else."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from controller.outputs.board import BoardError, pin_problem

if TYPE_CHECKING:
    from controller.outputs.board import PinFactory


class Relay:
    """A :class:`controller.outputs.ports.Switch` made of a GPIO pin; OFF from the moment it exists.

    After the end of the process the level is not ours any more: depending on the kernel the pin stays as it
    was driven last (OFF, if it was closed) or becomes an input that floats. A pull resistor to the OFF level
    covers the second case and the time before the program starts.
    """

    def __init__(self, pin: int, active_high: bool, factory: PinFactory) -> None:
        """Claim the pin and drive it OFF.

        Args:
            pin: GPIO number (BCM).
            active_high: whether the pin is high while the relay is on.
            factory: the pin factory from :func:`controller.outputs.board.pin_factory`.

        Raises:
            BoardError: the pin cannot be opened.
        """
        from gpiozero import OutputDevice  # noqa: PLC0415 - machines without pins never come here

        self._pin = pin
        try:
            self._device: Any = OutputDevice(
                pin, active_high=active_high, initial_value=False, pin_factory=factory
            )
        except Exception as problem:  # lgpio raises a bare Exception of its own, gpiozero a family
            raise BoardError(pin_problem(pin, problem)) from problem

    def set(self, on: bool) -> None:
        """Drive the relay.

        Raises:
            OSError: the pin could not be driven.
        """
        try:
            self._device.value = on
        except Exception as problem:
            raise OSError(f"GPIO {self._pin} cannot be driven ({problem})") from problem

    def is_on(self) -> bool:
        """What the pin itself shows now, read back from the chip.

        Raises:
            OSError: the pin could not be read.
        """
        try:
            return bool(self._device.value)
        except Exception as problem:
            raise OSError(f"GPIO {self._pin} cannot be read back ({problem})") from problem

    def close(self) -> None:
        """Drive the relay off, then give the pin back.

        Raises:
            OSError: it could not be driven off; the pin is given back all the same.
        """
        if self._device.closed:
            return
        try:
            self.set(False)
        finally:
            self._device.close()
