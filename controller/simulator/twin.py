"""The same days with every fan off, rehearsed beside the first in a process of its own."""

from __future__ import annotations

import contextlib
import multiprocessing
import signal
from dataclasses import replace
from typing import TYPE_CHECKING

from controller.simulator.run import rehearse

if TYPE_CHECKING:
    from collections.abc import Iterator
    from multiprocessing.connection import Connection

    from controller.simulator.run import Rehearsal
    from controller.simulator.summary import Summary

TWIN_STRATEGY = "fans-off"


class Twin:
    """A rehearsal with the fans off, already running when this exists.

    A plain process rather than a pool: a pool cannot be stopped in the middle of its work. It is started
    afresh, not forked, so that it shares no thread and no lock with this one.
    """

    def __init__(self, plan: Rehearsal) -> None:
        """Start it; call from the main thread.

        Args:
            plan: the rehearsal to compare with.
        """
        context = multiprocessing.get_context("spawn")
        self._answer, question = context.Pipe(duplex=False)
        quiet = replace(plan, strategy=TWIN_STRATEGY, hourly=False)
        self._process = context.Process(target=_work, args=(quiet, question), daemon=True)
        with _interrupt_ignored():
            self._process.start()
        question.close()

    def summary(self) -> Summary | None:
        """Wait for its end; None if it came to none."""
        try:
            summary: Summary | None = self._answer.recv()
        except EOFError:
            summary = None
        self._process.join()
        return summary

    def stop(self) -> None:
        """End it, finished or not."""
        self._process.terminate()
        self._process.join()
        self._answer.close()


@contextlib.contextmanager
def _interrupt_ignored() -> Iterator[None]:
    """A process started in here ignores the interrupt key: whoever started it ends it."""
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _work(plan: Rehearsal, answer: Connection) -> None:
    """Run in the other process; bad input is told by the first rehearsal, which meets the same."""
    with contextlib.suppress(ValueError, BrokenPipeError):
        answer.send(rehearse(plan, _end_with_parent).summary)


def _end_with_parent(_share: float) -> None:
    """Nobody waits for an answer any more once the parent is gone."""
    parent = multiprocessing.parent_process()
    if parent is not None and not parent.is_alive():
        raise SystemExit(1)
