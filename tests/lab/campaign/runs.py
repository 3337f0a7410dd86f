"""Plays many episodes on all cores, and keeps every result at once."""

from __future__ import annotations

import contextlib
import json
import math
import multiprocessing
import os
import signal
from itertools import combinations, count
from multiprocessing.connection import wait
from typing import TYPE_CHECKING, Any

from tqdm import tqdm

from tests.lab.campaign.pairs import FIRST_SEED, PAIRS, episode_of
from tests.lab.campaign.play import play
from tests.lab.pages import made
from tests.lab.workers import die_with_parent

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


def pairs_of(result: dict[str, Any]) -> set[tuple[str, str]]:
    """The pairs of kinds that both began in an episode."""
    return set(combinations(sorted({fault["kind"] for fault in result["faults"]}), 2))


def seeds_of_missing_pairs(results: list[dict[str, Any]]) -> Iterator[int]:
    """A seed for each pair of kinds that no result holds; another one for those that have been tried."""
    met = {pair for result in results for pair in pairs_of(result)}
    tried = {result["seed"] for result in results}
    for number, pair in enumerate(PAIRS):
        if tuple(sorted(kind.value for kind in pair)) not in met:
            yield next(seed for seed in count(FIRST_SEED + number, len(PAIRS)) if seed not in tried)


class Campaign:
    """Episodes of some seeds, until they add up to so many days."""

    def __init__(self, days: float, seeds: Iterator[int], jobs: int, out: Path) -> None:
        self._days = days
        self._jobs = jobs
        self._out = out
        self._made = made()
        kept = kept_results(out)
        self._done_days = sum(result["days"] for result in kept)
        done = {result["seed"] for result in kept}
        self._seeds = (seed for seed in seeds if seed not in done)
        self._given: dict[Connection, float] = {}
        self.bad: list[dict[str, Any]] = []

    def run(self) -> None:
        """Play; no process is left when this returns or raises."""
        workers: list[multiprocessing.process.BaseProcess] = []
        if self._done_days >= self._days:
            return
        with (
            self._out.open("a", encoding="utf-8") as file,
            tqdm(total=self._total(), initial=round(self._done_days), unit="day", smoothing=0.05) as bar,
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

    def _total(self) -> int | None:
        return None if math.isinf(self._days) else round(self._days)

    def _give(self, connection: Connection) -> None:
        """Another episode, if the years are not full with those that are under way."""
        if self._done_days + sum(self._given.values()) >= self._days:
            return
        seed = next(self._seeds, None)
        if seed is None:
            return
        self._given[connection] = episode_of(seed).days
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
    return f"{words}\n    python -m tests.lab.campaign --episode {result['seed']}"


def _end_torn_line(path: Path, file: Any) -> None:
    content = path.read_bytes()
    if content and not content.endswith(b"\n"):
        file.write("\n")


def _started() -> tuple[Connection, multiprocessing.process.BaseProcess]:
    """A worker process, deaf to the interrupt key."""
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
            connection.send(play(episode_of(connection.recv())))
