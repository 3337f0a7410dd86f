"""Tries a mutant with the program imported anew, for what counts at import only: tables, defaults, types."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import tempfile
from importlib.machinery import SourceFileLoader
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections import deque
    from collections.abc import Sequence
    from types import CodeType

    from tests.lab.mutation.mutants import Mutant

# Imported once for all mutants; nothing of the program is among it.
PRELOADED = ["tests.lab.mutation.__main__", "hypothesis", "pydantic"]
IMPORTED_BEFORE = "ignore::pytest.PytestAssertRewriteWarning"
# Whether a test fails counts, not how it is told.
PLAIN = [
    *("-q", "-p", "no:randomly", "-p", "no:cacheprovider", "-p", "no:xdist", "-o", "timeout=0"),
    *("--assert=plain", "--tb=no"),
]


class Killers:
    """A pytest plugin: lets the tests that have failed lately run first, and notes which one fails."""

    def __init__(self, lately: Sequence[str], report: Path) -> None:
        self._lately = set(lately)
        self._report = report

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """The order does not matter to the tests."""
        items.sort(key=lambda item: item.nodeid not in self._lately)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note the test that failed."""
        if report.failed:
            self._report.write_text(report.nodeid, encoding="utf-8")


def survives_afresh(
    mutant: Mutant, path: Path, arguments: Sequence[str], longest_s: float, killers: deque[str]
) -> bool:
    """Whether all tests pass in a new process in which the module is that mutant.

    Args:
        mutant: the change.
        path: the module's file.
        arguments: which tests, as pytest takes them.
        longest_s: processor time after which the mutant counts as caught in a loop.
        killers: tests that have failed lately; the one that fails now is added.
    """
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(PRELOADED)
    with tempfile.TemporaryDirectory() as directory:
        report = Path(directory) / "killer"
        process = context.Process(
            target=_try, args=(mutant.source, str(path), list(arguments), longest_s, list(killers), report)
        )
        process.start()
        process.join()
        if report.exists():
            name = report.read_text(encoding="utf-8")
            with contextlib.suppress(ValueError):
                killers.remove(name)
            killers.append(name)
        return process.exitcode == 0


def _try(
    source: str, path: str, arguments: list[str], longest_s: float, lately: list[str], report: Path
) -> None:
    """Run the tests in this new process; it ends with pytest's exit code."""
    signal.signal(signal.SIGPROF, signal.SIG_DFL)
    signal.setitimer(signal.ITIMER_PROF, longest_s)
    plain_get_code = SourceFileLoader.get_code

    def get_code(loader: SourceFileLoader, fullname: str) -> CodeType | None:
        if loader.path == path:
            return compile(source, path, "exec")
        return plain_get_code(loader, fullname)

    SourceFileLoader.get_code = get_code  # type: ignore[method-assign]
    silence = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silence, 1)
    os.dup2(silence, 2)
    code = 1
    try:
        code = int(
            pytest.main([*PLAIN, "-W", IMPORTED_BEFORE, "-x", *arguments], plugins=[Killers(lately, report)])
        )
    finally:
        os._exit(code)
