"""What the loop asks of sensors; real drivers and the simulated house both answer it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.readings.contacts import Contact
    from controller.readings.reading import RawLevel, RawSample


class TemperatureSource(Protocol):
    """Latest raw sample of every probe; asking never blocks a tick."""

    def latest(self) -> Mapping[str, RawSample]:
        """The newest sample or failure by probe name; a probe never read yet is absent."""

    def alive(self) -> bool:
        """Whether the worker behind this source is still making progress."""

    def close(self) -> None:
        """Stop reading and release the bus."""


class FloatSource(Protocol):
    """The water-level switches of all sumps."""

    def look(self) -> Mapping[str, list[RawLevel]]:
        """Level changes since the last look and the level now, oldest first, by sump name."""

    def close(self) -> None:
        """Release the inputs."""


class ContactSource(Protocol):
    """The optional contacts of motors, upper floats and supplies."""

    def look(self) -> Mapping[Contact, bool | None]:
        """What every contact says now, None where it cannot be read."""

    def close(self) -> None:
        """Release the inputs."""
