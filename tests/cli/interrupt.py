"""A rehearsal started as a person starts it, and ended with the interrupt key."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING

from tests.process.bench import ROOT

if TYPE_CHECKING:
    from collections.abc import Iterator

STARTS_WITHIN_S = 60.0


def alive(group: int) -> list[str]:
    """The processes of a group that still run."""
    listed = subprocess.run(
        ["ps", "-A", "-o", "pgid=,stat="], capture_output=True, text=True, check=True
    ).stdout
    states = [line.split() for line in listed.splitlines()]
    return [state for pgid, state in states if int(pgid) == group and not state.startswith("Z")]


@contextmanager
def heard_by_children() -> Iterator[None]:
    """What is started meanwhile hears the key, also where the tests run in the background of a shell."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def interrupted(*arguments: str) -> tuple[int, str, str]:
    """Start ``hypocaust rehearse``, press the key once its helpers run, and see that no process is left.

    Returns:
        Exit code, standard output and standard error.
    """
    command = [sys.executable, "-m", "controller", "rehearse", *arguments]
    with heard_by_children():
        process = subprocess.Popen(
            command,
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            start_new_session=True,
            text=True,
        )
    deadline_s = time.monotonic() + STARTS_WITHIN_S
    try:
        while len(alive(process.pid)) < 2 and time.monotonic() < deadline_s:
            time.sleep(0.05)
        time.sleep(1.0)
        os.killpg(process.pid, signal.SIGINT)
        out, err = process.communicate(timeout=60.0)
    finally:
        process.kill()
    while alive(process.pid) and time.monotonic() < deadline_s:
        time.sleep(0.05)
    assert alive(process.pid) == []
    return process.returncode, out, err
