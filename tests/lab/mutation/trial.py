"""Tries every mutant on the collected tests of one pytest run, each in a fork of it.

pytest imports and collects once. One fork runs all tests and notes which lines each has run and how long it
took; then every mutant gets a fork of its own, in which it is put in place, and the tests that run its line
follow, the likeliest to fail first, until one does. What only counts at import can be tried afterwards in a
process that imports the program anew.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import signal
import sys
import tempfile
import time
import traceback
from collections import deque
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import coverage
from _pytest.runner import runtestprotocol

from tests.lab.mutation.afresh import survives_afresh
from tests.lab.mutation.in_place import NotInPlaceError, Original
from tests.lab.mutation.mutants import Mutant, mutants_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import pytest

CACHE = Path.home() / ".cache" / "hypocaust" / "mutation"
PASSED, FAILED, NOT_TRIED, BROKEN = 0, 1, 2, 3
# A mutant that runs this much longer than the tests do without it has ended up in a loop. [practice]
TIMES_LONGER, SECONDS_MORE = 4.0, 5.0


@dataclass(slots=True)
class Verdict:
    """What became of the mutants of one module."""

    module: str
    killed: int = 0
    survived: list[Mutant] = field(default_factory=list)
    unplaced: list[Mutant] = field(default_factory=list)
    seconds: float = 0.0


@dataclass(frozen=True, slots=True)
class Limits:
    """How much is tried.

    Attributes:
        workers: forks at once.
        share: of all mutants.
        longest_test_s: slower tests are left out; a mutant that only they would notice counts as survived.
        seconds_each: of tests for one mutant; one that only later tests would notice counts as survived.
        afresh: pytest's arguments for trying what only counts at import; None leaves that untried.
    """

    workers: int
    share: float
    longest_test_s: float
    seconds_each: float
    afresh: Sequence[str] | None = None


@dataclass(slots=True)
class Trials:
    """The pytest plugin: takes the place of pytest's own loop over the tests.

    Attributes:
        paths: the modules to mutate.
        root: what their names are told from.
        limits: how much is tried.
        told: called with each finished module.
        only: by module, place, before and after of the mutants to try; None for all.
        items: every collected test.
        ran: by file below the root and by test, the lines it has run.
        took_s: by test, processor time without a mutant.
    """

    paths: Sequence[Path]
    root: Path
    limits: Limits
    told: Callable[[Verdict], None]
    only: Mapping[str, set[tuple[str, str, str]]] | None = None
    items: dict[str, pytest.Item] = field(default_factory=dict)
    ran: dict[str, dict[str, frozenset[int]]] = field(default_factory=dict)
    took_s: dict[str, float] = field(default_factory=dict)

    def pytest_collection(self) -> None:
        """A slow machine must not kill a mutant: the bound is in processor time, on the whole trial."""
        from hypothesis import settings  # noqa: PLC0415 - pytest wants to rewrite it first

        settings.register_profile("mutation", derandomize=True, deadline=None)
        settings.load_profile("mutation")

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Learn what the tests run, then try every mutant."""
        self.items = {item.nodeid: item for item in session.items}
        self._learn()
        for path in self.paths:
            verdict = self._module(path)
            self.told(verdict)
            _say(f"{verdict.module}: {verdict.killed} killed, {len(verdict.survived)} survived, "
                 f"{len(verdict.unplaced)} not tried, {verdict.seconds:.0f} s")  # fmt: skip
        return True

    def _learn(self) -> None:
        """Run every test once in a fork, without a mutant."""
        kept = CACHE / f"{self._digest()}.pickle"
        if not kept.exists():
            CACHE.mkdir(parents=True, exist_ok=True)
            pid = os.fork()
            if pid == 0:
                _leave(lambda: self._run_and_note(kept))
            if os.waitpid(pid, 0)[1] != 0:
                raise SystemExit("the tests do not pass without a mutant; see above")
        self.took_s, self.ran = pickle.loads(kept.read_bytes())  # noqa: S301 - our own
        _say(f"{len(self.items)} tests take {sum(self.took_s.values()):.0f} s")

    def _digest(self) -> str:
        """Says whether what was learned still holds."""
        digest = hashlib.sha256("\n".join(self.items).encode())
        for path in sorted(
            {
                Path(__file__),
                *self.root.glob("controller/**/*.py"),
                *(item.path for item in self.items.values()),
            }
        ):
            digest.update(path.read_bytes())
        return digest.hexdigest()[:20]

    def _run_and_note(self, kept: Path) -> int:
        lines = coverage.Coverage(data_file=None, include=[f"{self.root}/controller/*"])
        lines.set_option("run:disable_warnings", ["no-data-collected"])  # tests of tables call nothing
        took_s: dict[str, float] = {}
        lines.start()
        for nodeid, item in self.items.items():
            lines.switch_context(nodeid)
            begun_s = time.process_time()
            if not _passes(item):
                _say(f"fails without a mutant: {nodeid}")
                return BROKEN
            took_s[nodeid] = time.process_time() - begun_s
        lines.stop()
        data = lines.get_data()
        ran: dict[str, dict[str, set[int]]] = {}
        for path in data.measured_files():
            for line, contexts in data.contexts_by_lineno(path).items():
                for nodeid in contexts:
                    if nodeid:
                        name = str(Path(path).relative_to(self.root))
                        ran.setdefault(name, {}).setdefault(nodeid, set()).add(line)
        frozen = {path: {test: frozenset(at) for test, at in tests.items()} for path, tests in ran.items()}
        kept.write_bytes(pickle.dumps((took_s, frozen)))
        return PASSED

    def _module(self, path: Path) -> Verdict:
        original = Original(path)
        verdict = Verdict(str(path.relative_to(self.root)))
        if verdict.module not in self.ran and not self.limits.afresh:
            raise SystemExit(f"none of these tests runs {verdict.module}; name others with --tests")
        begun_s = time.perf_counter()
        killers: deque[str] = deque(maxlen=30)
        running: dict[int, tuple[Mutant, str]] = {}
        for mutant in mutants_of(path, verdict.module, self._chosen):
            if len(running) >= self.limits.workers:
                self._wait(running, verdict, killers)
            tests = self._worth_trying(original, mutant, killers)
            if not tests and self.limits.afresh:  # what only runs at import
                verdict.unplaced.append(mutant)
                continue
            report = tempfile.mktemp(prefix="killer")  # noqa: S306 - written by our own fork
            pid = os.fork()
            if pid == 0:
                _leave(lambda m=mutant, t=tests, r=report: self._try(original, m, t, r))
            running[pid] = mutant, report
        while running:
            self._wait(running, verdict, killers)
        if self.limits.afresh:
            self._try_afresh(original, verdict, killers)
        verdict.seconds = time.perf_counter() - begun_s
        return verdict

    def _try_afresh(self, original: Original, verdict: Verdict, killers: deque[str]) -> None:
        """Try in new processes what could not be put in place, or was put there too late to count."""
        arguments = self.limits.afresh or ()
        longest_s = TIMES_LONGER * sum(self.took_s.values()) + SECONDS_MORE
        at_import = [mutant for mutant in verdict.survived if original.only_at_import(mutant)]
        left = [*verdict.unplaced, *at_import]
        if left and not survives_afresh(
            Mutant(verdict.module, 0, "", "", "", original.text), original.path, arguments, longest_s, killers
        ):
            raise SystemExit("the tests do not pass in a new process without a mutant")
        verdict.unplaced = []
        verdict.survived = [mutant for mutant in verdict.survived if mutant not in at_import]

        def survives(mutant: Mutant) -> bool:
            return survives_afresh(mutant, original.path, arguments, longest_s, killers)

        with ThreadPoolExecutor(self.limits.workers) as pool:
            for mutant, survived in zip(left, pool.map(survives, left), strict=True):
                if survived:
                    verdict.survived.append(mutant)
                    _say(f"survived afresh: {mutant.module}:{mutant.line} {mutant.place}: "
                         f"{mutant.before} -> {mutant.after}")  # fmt: skip
                else:
                    verdict.killed += 1

    def _chosen(self, module: str, place: str, before: str, after: str) -> bool:
        """Whether the mutant is among the share to be tried; the same ones in every run."""
        if self.only is not None:
            return (place, before, after) in self.only[module]
        drawn = (
            int(hashlib.sha256(f"{module} {place}: {before} -> {after}".encode()).hexdigest()[:8], 16)
            / 0xFFFFFFFF
        )
        return drawn <= self.limits.share

    def _worth_trying(self, original: Original, mutant: Mutant, killers: deque[str]) -> list[str]:
        """The tests that run the changed line, or its function if the line has no code of its own."""
        ran = self.ran.get(mutant.module, {})
        tests = [test for test, at in ran.items() if mutant.line in at]
        if not tests:
            lines = frozenset(original.lines_of(mutant))
            tests = [test for test, at in ran.items() if at & lines]
        tests = [test for test in tests if self.took_s[test] <= self.limits.longest_test_s]
        own = original.path.stem
        tests.sort(key=lambda test: (test not in killers, own not in Path(test).name, self.took_s[test]))
        chosen, sum_s = [], 0.0
        for test in tests:
            sum_s += self.took_s[test]
            if sum_s > self.limits.seconds_each and chosen:
                break
            chosen.append(test)
        return chosen

    def _try(self, original: Original, mutant: Mutant, tests: Sequence[str], report: str) -> int:
        expected_s = sum(self.took_s[test] for test in tests)
        signal.signal(signal.SIGPROF, signal.SIG_DFL)
        signal.setitimer(signal.ITIMER_PROF, TIMES_LONGER * expected_s + SECONDS_MORE)
        try:
            original.put(mutant)
        except NotInPlaceError:
            return NOT_TRIED
        except Exception:  # noqa: BLE001 - the module could not even be imported like this
            return FAILED
        for test in tests:
            if not _passes(self.items[test]):
                Path(report).write_text(test, encoding="utf-8")
                return FAILED
        return PASSED

    @staticmethod
    def _wait(running: dict[int, tuple[Mutant, str]], verdict: Verdict, killers: deque[str]) -> None:
        pid, status = os.wait()
        mutant, report = running.pop(pid)
        code = os.waitstatus_to_exitcode(status)
        if code == PASSED:
            verdict.survived.append(mutant)
            _say(f"survived: {mutant.module}:{mutant.line} {mutant.place}: {mutant.before} -> {mutant.after}")
        elif code == NOT_TRIED:
            verdict.unplaced.append(mutant)
        else:
            verdict.killed += 1
        killer = Path(report)
        if killer.exists():
            name = killer.read_text(encoding="utf-8")
            killer.unlink()
            if name in killers:
                killers.remove(name)
            killers.append(name)


def _passes(item: pytest.Item) -> bool:
    """Run one test by itself, its fixtures set up and taken down."""
    return all(report.passed or report.skipped for report in runtestprotocol(item, log=False, nextitem=None))


def _leave(work: object) -> None:
    """Do the work of a fork and end it without any of pytest's goodbyes."""
    code = BROKEN
    try:
        code = work()  # type: ignore[operator]
    except BaseException:  # noqa: BLE001 - a fork must never come back
        traceback.print_exc(file=sys.__stderr__)
    finally:
        os._exit(code)


def _say(words: str) -> None:
    """Past pytest's capture, at once."""
    sys.__stdout__.write(words + "\n")
    sys.__stdout__.flush()
