"""What the loop asks of an output; relays and simulated equipment both answer it."""

from __future__ import annotations

from typing import Protocol


class Switch(Protocol):
    """One switched output (a relay with a fan, a pump or a signal behind it)."""

    def set(self, on: bool) -> None:
        """Drive the output.

        Raises:
            OSError: the output could not be driven.
        """

    def is_on(self) -> bool:
        """What the output is driven to now (not whether the motor turns)."""

    def close(self) -> None:
        """Drive the output off and release it."""
