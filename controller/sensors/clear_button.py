"""A push-button at the box that clears a latched fire, for a person who stands there without a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gpiozero import DigitalInputDevice

from controller.faults import FaultCode
from controller.sensors.refused import refused

if TYPE_CHECKING:
    import threading

    from controller.clock import Clock

# Long enough that nobody clears a fire by leaning on the box. [practice]
HELD_S = 3.0


class ClearButton:
    """One push-button, read like a float: the input is pulled up and the contact closes it to ground.

    It counts when it is let go after ``HELD_S``: a button that sticks, or a wire shorted to ground, clears
    nothing. What it asks for is decided elsewhere, and is refused while a signature is there.

    Args:
        pin: its input, BCM number.
        pin_factory: gpiozero's access to the pins.
        clock: gives each edge its time.
        wake: set when it counts, so that the loop looks at once.

    Raises:
        OSError: the pin cannot be had.
    """

    def __init__(self, pin: int, pin_factory: Any, clock: Clock, wake: threading.Event) -> None:
        self._clock = clock
        self._wake = wake
        self._pressed_s: float | None = None
        self._asked = False
        try:
            self._device = DigitalInputDevice(pin, pull_up=True, pin_factory=pin_factory)
        except Exception as error:
            raise refused(pin, "button that clears a fire", error) from error
        self._device.when_activated = self._pressed
        self._device.when_deactivated = self._let_go

    def take(self) -> frozenset[FaultCode]:
        """What the button asks to clear since this was last called; each press counts once."""
        asked, self._asked = self._asked, False
        return frozenset({FaultCode.FIRE}) if asked else frozenset()

    def close(self) -> None:
        """Release the pin."""
        self._device.close()

    def _pressed(self) -> None:
        """Called by gpiozero on a thread of its own."""
        self._pressed_s = self._clock.monotonic_s()

    def _let_go(self) -> None:
        """Called by gpiozero on a thread of its own."""
        pressed_s, self._pressed_s = self._pressed_s, None
        if pressed_s is not None and self._clock.monotonic_s() - pressed_s >= HELD_S:
            self._asked = True
            self._wake.set()
