"""Several rehearsals at once, a process for each core."""

from __future__ import annotations

import os
from collections import deque
from multiprocessing.connection import wait
from typing import TYPE_CHECKING

from controller.errors import HypocaustError
from controller.rehearsal.summary import Summary
from controller.rehearsal.worker import Failed, Task, Worker

if TYPE_CHECKING:
    from collections.abc import Sequence
    from multiprocessing.connection import Connection

    from controller.rehearsal.ticking import Progress


class RehearsalFailed(HypocaustError):  # noqa: N818 - it says what happened
    """One of several rehearsals broke off.

    Attributes:
        index: which one.
        failed: why.
    """

    def __init__(self, index: int, failed: Failed) -> None:
        """Keep both."""
        super().__init__(failed.words)
        self.index = index
        self.failed = failed


def cores() -> int:
    """How many processes can work at once here."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class Several:
    """Rehearsals that are waiting, under way and finished.

    Attributes:
        summaries: of the finished ones, by their place in the list of tasks.
    """

    def __init__(self, tasks: Sequence[Task], processes: int) -> None:
        """Take them on.

        Args:
            tasks: what to rehearse; each reports how far it is.
            processes: how many to work on at once, at least 1.
        """
        self.summaries: dict[int, Summary] = {}
        self._tasks = tasks
        self._days = [task.plan.days for task in tasks]
        self._done = [0.0] * len(tasks)
        self._waiting = deque(range(len(tasks)))
        self._processes = processes
        self._workers: dict[Connection, Worker] = {}
        self._working: dict[Connection, int] = {}

    def run(self, progress: Progress) -> list[Summary]:
        """Rehearse them all; no process is left when this returns or raises.

        Args:
            progress: called with the share of all days that is done.

        Returns:
            Their summaries in the order of the tasks.

        Raises:
            RehearsalFailed: one of them did; the others are ended.
        """
        try:
            self._start()
            while self._working:
                for connection in wait(list(self._working)):
                    self._hear(connection)  # type: ignore[arg-type] # what was waited for is what is ready
                progress(sum(map(float.__mul__, self._days, self._done)) / sum(self._days))
        finally:
            for worker in self._workers.values():
                worker.stop()
        return [self.summaries[index] for index in range(len(self._tasks))]

    def _start(self) -> None:
        worker = Worker()
        self._workers[worker.connection] = worker
        self._give(worker)

    def _give(self, worker: Worker) -> None:
        index = self._waiting.popleft()
        self._working[worker.connection] = index
        worker.give(self._tasks[index])

    def _hear(self, connection: Connection) -> None:
        worker, index = self._workers[connection], self._working[connection]
        said = worker.receive()
        if isinstance(said, Failed):
            raise RehearsalFailed(index, said)
        if isinstance(said, Summary):
            self.summaries[index], self._done[index] = said, 1.0
            del self._working[connection]
            if self._waiting:
                self._give(worker)
        else:
            self._done[index] = said
        # The others start when the first is under way: by then it has left its compiled code for them.
        while self._waiting and len(self._workers) < self._processes:
            self._start()
