"""Float switches on GPIO inputs, seen by their edges so that a rise is answered at once."""

from __future__ import annotations

from collections import deque
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from gpiozero import DigitalInputDevice

from controller.readings.reading import Level, RawLevel
from controller.sensors.refused import refused

if TYPE_CHECKING:
    import threading
    from collections.abc import Mapping

    from controller.clock import Clock
    from controller.settings.schema import Sump

EDGES_KEPT: Final = 64  # between two looks; a float with more is bouncing, and its last edges show it


class FloatInput:
    """The float of one sump.

    The input is pulled up and the contact closes it to ground. A float that opens on rise is therefore
    wet when the input is high, and a cut wire reads wet as well; with one that closes on rise a cut wire
    reads dry.

    Args:
        sump: pin and kind of the float.
        pin_factory: gpiozero's access to the pins.
        clock: gives each edge its time.
        wake: set on every edge, so that the loop looks at once.

    Raises:
        OSError: the pin cannot be had.
    """

    def __init__(self, sump: Sump, pin_factory: Any, clock: Clock, wake: threading.Event) -> None:
        self._clock = clock
        self._wake = wake
        self._edges: deque[RawLevel] = deque(maxlen=EDGES_KEPT)
        closed_means_dry = sump.float_kind == "opens-on-rise"
        self._closed = Level.DRY if closed_means_dry else Level.WET
        self._open = Level.WET if closed_means_dry else Level.DRY
        # No bounce time here: it would delay a rise; bouncing is judged by time in the readings.
        self._device = DigitalInputDevice(sump.float_pin, pull_up=True, pin_factory=pin_factory)
        self._device.when_activated = partial(self._edge, self._closed)
        self._device.when_deactivated = partial(self._edge, self._open)

    def _edge(self, level: Level) -> None:
        """Called by gpiozero on a thread of its own."""
        self._edges.append(RawLevel(level, self._clock.monotonic_s()))
        self._wake.set()

    def look(self) -> list[RawLevel]:
        """The edges since the last look and the level now, oldest first."""
        looks = [self._edges.popleft() for _ in range(len(self._edges))]
        looks.append(RawLevel(self._level(), self._clock.monotonic_s()))
        return looks

    def _level(self) -> Level | None:
        """The level now, None if the input cannot be read."""
        try:
            return self._closed if self._device.is_active else self._open
        except Exception:  # noqa: BLE001 - every pin library has its own errors; all mean that nothing was read
            return None

    def close(self) -> None:
        """Release the pin."""
        self._device.close()


class FloatSwitches:
    """The floats of all sumps.

    Args:
        sumps: pin and kind of each float, by sump name.
        pin_factory: gpiozero's access to the pins.
        clock: gives each edge its time.
        wake: set on every edge.

    Raises:
        OSError: a pin cannot be had; those already taken are released.
    """

    def __init__(
        self, sumps: Mapping[str, Sump], pin_factory: Any, clock: Clock, wake: threading.Event
    ) -> None:
        self._inputs: dict[str, FloatInput] = {}
        for name, sump in sumps.items():
            try:
                self._inputs[name] = FloatInput(sump, pin_factory, clock, wake)
            except Exception as error:
                self.close()
                raise refused(sump.float_pin, f"float of sump {name}", error) from error

    def look(self) -> Mapping[str, list[RawLevel]]:
        """Level changes since the last look and the level now, oldest first, by sump name."""
        return {name: one.look() for name, one in self._inputs.items()}

    def close(self) -> None:
        """Release all pins."""
        for one in self._inputs.values():
            one.close()
