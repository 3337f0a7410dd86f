"""How far a long command is: one passing line on standard error, and only on a terminal."""

from __future__ import annotations

import sys
from typing import Any

from controller.letters import plain


class Bar:
    """A progress bar over simulated days; it appears when the first day is on its way."""

    def __init__(self, days: float, words: str = "Rehearsing") -> None:
        """Show nothing yet.

        Args:
            days: how many there are.
            words: what goes on.
        """
        self._days = days
        self._words = words
        self._bar: Any = None

    def show(self, share: float) -> None:
        """Move it to a share of 0 to 1."""
        if not sys.stderr.isatty():
            return
        if self._bar is None:
            from tqdm import tqdm  # noqa: PLC0415 - only a terminal needs it

            say("")
            tqdm.monitor_interval = 0  # no thread for a bar
            self._bar = tqdm(
                file=plain(sys.stderr).raw,
                total=self._days,
                desc=self._words,
                leave=False,
                bar_format="{desc} |{bar}| day {n:.0f} of {total:.0f}, {remaining} to go",
            )
        self._bar.n = share * self._days
        self._bar.refresh()

    def close(self) -> None:
        """Take it away."""
        if self._bar is not None:
            self._bar.close()
            self._bar = None


def say_what_loads() -> None:
    """Say why the simulated house takes a while to be there; the first time on a machine it is compiled."""
    from controller.simulator.house.model import is_prepared  # noqa: PLC0415 - pulls the numerics

    if not is_prepared():
        say("Preparing the house model for this machine (once, about half a minute) ...")


def say(text: str) -> None:
    """Show one passing line on a terminal, in place of the one before."""
    if sys.stderr.isatty():
        stream = plain(sys.stderr)
        stream.control("\r\x1b[K")
        stream.write(text)
        stream.flush()
