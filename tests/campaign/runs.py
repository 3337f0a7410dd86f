"""Plays many episodes on all cores, and keeps every result at once."""

from __future__ import annotations

import contextlib
import json
import multiprocessing
import os
import signal
from multiprocessing.connection import wait
from typing import TYPE_CHECKING, Any

from tqdm import tqdm

from tests.campaign.draw import drawn_episode
from tests.campaign.play import play
from tests.pages import made
from tests.workers import die_with_parent

if TYPE_CHECKING:
    from collections.abc import Iterator
    from multiprocessing.connection import Connection
    from pathlib import Path

YEAR_DAYS = 365.25


def kept_results(path: Path) -> list[dict[str, Any]]:
    """The results in a file; a line that was cut off when the campaign was interrupted does not count."""
    if not path.exists():
        return []
    results = []
    for line in path.read_text(encoding="utf-8").splitlines():
        with contextlib.suppress(ValueError):
            results.append(json.loads(line))
    return results


class Campaign:
    """Episodes from a seed on, until they add up to so many years."""

    def __init__(self, years: float, first_seed: int, jobs: int, out: Path) -> None:
        self._days = years * YEAR_DAYS
        self._jobs = jobs
        self._out = out
        self._made = made()
        kept = kept_results(out)
        self._done_days = sum(result["days"] for result in kept)
        done = {result["seed"] for result in kept}
        self._seeds = (seed for seed in _count_from(first_seed) if seed not in done)
        self._given: dict[Connection, float] = {}
        self.bad: list[dict[str, Any]] = []

    def run(self) -> None:
        """Play; no process is left when this returns or raises."""
        workers: list[multiprocessing.process.BaseProcess] = []
        if self._done_days >= self._days:
            return
        with (
            self._out.open("a", encoding="utf-8") as file,
            tqdm(total=round(self._days), initial=round(self._done_days), unit="day", smoothing=0.05) as bar,
        ):
            _end_torn_line(self._out, file)
            try:
                for _ in range(self._jobs):
                    connection, process = _started()
                    workers.append(process)
                    self._give(connection)
                while self._given:
                    for connection in wait(list(self._given)):
                        self._take(connection, file, bar)  # type: ignore[arg-type] # what was waited for
            finally:
                for process in workers:
                    process.terminate()
                    process.join()

    def _give(self, connection: Connection) -> None:
        """Another episode, if the years are not full with those that are under way."""
        if self._done_days + sum(self._given.values()) >= self._days:
            return
        seed = next(self._seeds)
        self._given[connection] = drawn_episode(seed).days
        connection.send(seed)

    def _take(self, connection: Connection, file: Any, bar: tqdm[Any]) -> None:
        try:
            result = connection.recv()
        except EOFError:
            raise SystemExit("a worker died; is there too little memory?") from None
        self._done_days += self._given.pop(connection)
        file.write(json.dumps(result | {"made": self._made}) + "\n")
        file.flush()
        bar.update(round(result["days"]))
        if result["broken"] or result["error"]:
            self.bad.append(result)
            bar.write(told(result))
        self._give(connection)


def told(result: dict[str, Any]) -> str:
    """What was found in an episode, and the one command that shows it again."""
    words = "; ".join(result["broken"]) or result["error"].strip().splitlines()[-1]
    return f"{words}\n    python -m tests.campaign --episode {result['seed']}"


def _count_from(first: int) -> Iterator[int]:
    seed = first
    while True:
        yield seed
        seed += 1


def _end_torn_line(path: Path, file: Any) -> None:
    content = path.read_bytes()
    if content and not content.endswith(b"\n"):
        file.write("\n")


def _started() -> tuple[Connection, multiprocessing.process.BaseProcess]:
    """A worker process: spawned, so that it imports the compiled copy; deaf to the interrupt key."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_work, args=(theirs, os.getpid()), daemon=True)
    # Held back, not ignored: the worker stays deaf to the key, and a key pressed just now still counts here.
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        process.start()
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
    theirs.close()
    return ours, process


def _work(connection: Connection, parent: int) -> None:
    """Play what is asked for until nobody asks any more."""
    die_with_parent(parent)
    with contextlib.suppress(EOFError, ConnectionResetError, BrokenPipeError):
        while True:
            connection.send(play(drawn_episode(connection.recv())))
