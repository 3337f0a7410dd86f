"""A process of its own that rehearses what it is given, one rehearsal after the other."""

from __future__ import annotations

import contextlib
import multiprocessing
import signal
from dataclasses import dataclass
from typing import TYPE_CHECKING

from controller.rehearsal.run import rehearse
from controller.simulator.house.model import ModelError
from controller.simulator.weather.formats import WeatherError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from multiprocessing.connection import Connection
    from pathlib import Path

    from controller.rehearsal.run import Rehearsal
    from controller.rehearsal.summary import Summary
    from controller.rehearsal.ticking import Progress


@dataclass(frozen=True, slots=True)
class Task:
    """A rehearsal for a worker.

    Attributes:
        plan: what to rehearse.
        directory: where its tables and pictures go, None for nowhere; it exists.
        reports: whether it sends the share done about once a simulated day; somebody must then receive it.
    """

    plan: Rehearsal
    directory: Path | None = None
    reports: bool = False


@dataclass(frozen=True, slots=True)
class Failed:
    """A rehearsal that broke off.

    Attributes:
        words: what went wrong.
        defect: whether the program is at fault and not its input.
    """

    words: str
    defect: bool


class Worker:
    """A process that is ready when this exists.

    A plain process rather than a pool: a pool cannot be stopped in the middle of its work. It is started
    afresh, not forked, so that it shares no thread and no lock with this one.
    """

    def __init__(self) -> None:
        """Start it; call from the main thread."""
        context = multiprocessing.get_context("spawn")
        self.connection, theirs = context.Pipe()
        self._process = context.Process(target=_work, args=(theirs,), daemon=True)
        with _interrupt_ignored():
            self._process.start()
        theirs.close()

    def give(self, task: Task) -> None:
        """Give it a rehearsal; it must be idle."""
        with contextlib.suppress(BrokenPipeError):  # a process that died shows it when it is asked
            self.connection.send(task)

    def receive(self) -> float | Summary | Failed:
        """Wait for what it says next: the share done, or how the rehearsal ended."""
        try:
            said: float | Summary | Failed = self.connection.recv()
        except (EOFError, ConnectionResetError):
            self._process.join()
            code = self._process.exitcode
            return Failed(f"its process ended with code {code}; is there too little memory?", defect=True)
        return said

    def stop(self) -> None:
        """End it, finished or not."""
        self._process.terminate()
        self._process.join()
        self.connection.close()


@contextlib.contextmanager
def _interrupt_ignored() -> Iterator[None]:
    """A process started in here ignores the interrupt key: its parent ends it."""
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _work(connection: Connection) -> None:
    """Run in the other process until its parent is gone."""
    with contextlib.suppress(EOFError, ConnectionResetError, BrokenPipeError):
        while True:
            task: Task = connection.recv()
            connection.send(_outcome(task, _progress(connection, reports=task.reports)))


def _progress(connection: Connection, *, reports: bool) -> Progress:
    def passed(share: float) -> None:
        parent = multiprocessing.parent_process()
        if parent is not None and not parent.is_alive():
            raise SystemExit(1)  # the parent no longer waits for an answer
        if reports:
            connection.send(share)

    return passed


def _outcome(task: Task, progress: Progress) -> Summary | Failed:
    try:
        outcome = rehearse(task.plan, progress)
    except WeatherError as problem:
        return Failed(f"--weather: {problem}", defect=False)
    except ModelError as problem:
        return Failed(str(problem), defect=False)
    except Exception as problem:  # noqa: BLE001 - a process that dies could not say why
        return Failed(f"{type(problem).__name__}: {problem}", defect=True)
    if task.directory is not None:
        from controller.rehearsal.report.files import write  # noqa: PLC0415 - pulls the pictures

        try:
            write(task.directory, outcome, task.plan.settings.site.show)
        except OSError as problem:
            words = f"--out: nothing can be written to {task.directory} ({problem.strerror or problem})"
            return Failed(words, defect=False)
    return outcome.summary
