"""A campaign that is ended leaves no process behind, however it is ended."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.cli.interrupt import heard_by_children

ROOT = Path(__file__).parents[3]
PATIENCE_S = 90.0
SCRIPT = """
import itertools, pathlib, sys
from tests.lab.campaign.runs import Campaign
if __name__ == "__main__":
    Campaign(1826.25, itertools.count(1), 1, pathlib.Path(sys.argv[1])).run()
"""


def workers_of(parent: int) -> list[int]:
    """Processes that a process has started to play episodes."""
    started = Path(f"/proc/{parent}/task/{parent}/children").read_text(encoding="ascii").split()
    return [int(pid) for pid in started if "spawn_main" in command_of(int(pid))]


def command_of(pid: int) -> str:
    """A process's command line, empty once it is gone (or only waits to be buried)."""
    try:
        return Path(f"/proc/{pid}/cmdline").read_text(encoding="utf-8")
    except OSError:
        return ""


@pytest.mark.process
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT])
def test_no_worker_outlives_its_campaign(tmp_path: Path, how: signal.Signals) -> None:
    """Killed or interrupted in the middle of an episode, the campaign takes its workers along."""
    command = [sys.executable, "-c", SCRIPT, str(tmp_path / "out.jsonl")]
    with heard_by_children():
        campaign = subprocess.Popen(command, cwd=ROOT, stderr=subprocess.DEVNULL)
    workers: list[int] = []
    try:
        until_s = time.monotonic() + PATIENCE_S
        while not workers and time.monotonic() < until_s:
            time.sleep(0.1)
            workers = workers_of(campaign.pid)
        assert workers
    finally:
        campaign.send_signal(how)
        campaign.wait(PATIENCE_S)
    until_s = time.monotonic() + PATIENCE_S
    while any(map(command_of, workers)) and time.monotonic() < until_s:
        time.sleep(0.1)
    assert not any(map(command_of, workers))
