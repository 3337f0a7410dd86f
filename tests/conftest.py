"""How the whole suite searches for counterexamples, and what of the machine it may use."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

if TYPE_CHECKING:
    from collections.abc import Iterator

# The same examples in every run, so that a change and not chance decides whether the suite passes. To search
# anew: ``python -m pytest -m campaign --hypothesis-profile search``.
settings.register_profile("search")
settings.register_profile("repeatable", derandomize=True)
settings.load_profile("repeatable")

# What a service manager gives its services; tests may themselves be run by one.
OF_A_SERVICE = (
    "NOTIFY_SOCKET",
    "WATCHDOG_USEC",
    "WATCHDOG_PID",
    "JOURNAL_STREAM",
    "SYSTEMD_EXEC_PID",
    "LG_WD",
)


@pytest.fixture(scope="session", autouse=True)
def own_directories(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Let every test, and every program a test starts, keep its files apart from those of the machine.

    A controller that runs beside the tests (the demo on a desk, the service on a board) has its files in the
    machine's /tmp or /run; with the same directories the tests would meet its lock and read its status.
    """
    tmp_path_factory.getbasetemp()  # stays among those of earlier runs, for a look at what failed
    before = dict(os.environ)
    place = Path(tempfile.mkdtemp(prefix="hypocaust-tests-"))
    place.chmod(0o711)  # tests that give up root's rights go on in here
    for name, directory in (("TMPDIR", "tmp"), ("RUNTIME_DIRECTORY", "run"), ("STATE_DIRECTORY", "state")):
        (place / directory).mkdir(mode=0o711)
        os.environ[name] = str(place / directory)
    for name in OF_A_SERVICE:
        os.environ.pop(name, None)
    tempfile.tempdir = None  # looked up anew
    yield
    os.environ.clear()
    os.environ.update(before)
    tempfile.tempdir = None
    shutil.rmtree(place, ignore_errors=True)
