"""The same days with every fan off, rehearsed beside the first in a process of its own."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from controller.rehearsal.summary import Summary
from controller.rehearsal.worker import Task, Worker

if TYPE_CHECKING:
    from controller.rehearsal.run import Rehearsal

TWIN_STRATEGY = "fans-off"


class Twin:
    """A rehearsal with the fans off, already running when this exists."""

    def __init__(self, plan: Rehearsal) -> None:
        """Start it; call from the main thread.

        Args:
            plan: the rehearsal to compare with.
        """
        self._worker = Worker()
        self._worker.give(Task(replace(plan, strategy=TWIN_STRATEGY, hourly=False, history=None)))

    def summary(self) -> Summary | None:
        """Wait for its end; None if it broke off, because the first rehearsal reports bad input."""
        said = self._worker.receive()
        return said if isinstance(said, Summary) else None

    def stop(self) -> None:
        """End it, finished or not."""
        self._worker.stop()
