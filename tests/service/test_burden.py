"""What the running controller takes of the machine is read from the kernel's own counts."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from controller.service.burden import Burden, burden, holder
from controller.service.running import NAME, marked

if TYPE_CHECKING:
    from pathlib import Path

TICKS = os.sysconf("SC_CLK_TCK")
TWO_HOURS_S = 7200


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    """A machine on which process 42 started two hours ago."""
    about = tmp_path / "proc" / "42"
    about.mkdir(parents=True)
    (tmp_path / "proc/uptime").write_text(f"{TWO_HOURS_S + 100}.00 9.00\n", encoding="ascii")
    before = "S 1 2 3 4 5 6 7 8 9 10"
    used = f"{10 * TICKS} {4 * TICKS} 0 0 20 0 9 0 {100 * TICKS} 0"
    (about / "stat").write_text(f"42 (hypo ) caust) {before} {used}\n", encoding="ascii")
    (about / "status").write_text(
        "Name:\thypocaust\nVmHWM:\t   48000 kB\nVmRSS:\t   45500 kB\n", encoding="ascii"
    )
    (about / "io").write_text("read_bytes: 0\nwrite_bytes: 250000\n", encoding="ascii")
    return tmp_path


def test_memory_processor_and_writing_are_those_of_the_process(machine: Path) -> None:
    """Counted since its start: 14 s of processor in two hours, and 0.25 MB written, which is 3 MB a day."""
    found = burden(42, machine)
    assert found == Burden(TWO_HOURS_S, 45.5, 48.0, pytest.approx(14 / TWO_HOURS_S), pytest.approx(3.0))
    assert str(found) == (
        "over 2.0 h: 45.5 MB of memory (at most 48.0), 0.19% of one core, 3.0 MB written a day at this rate"
    )


def test_a_start_is_not_taken_for_a_day() -> None:
    """What is written in the first hour says nothing of a day."""
    assert "after an hour" in str(Burden(3599.0, 45.0, 45.0, 0.001, 200.0))
    assert "MB written" in str(Burden(3600.0, 45.0, 45.0, 0.001, 4.0))


def test_a_process_that_has_ended_takes_nothing(machine: Path) -> None:
    """It may end between two looks."""
    assert burden(43, machine) is None


def test_what_only_root_may_see_is_named(machine: Path) -> None:
    """Its writing is hidden from other users; the rest is not."""
    (machine / "proc/42/io").unlink()
    assert "only root can see" in str(burden(42, machine))


def test_the_holder_of_the_mark_is_found(tmp_path: Path) -> None:
    """The kernel says which process holds the lock, and that nobody does once it has ended."""
    mark = tmp_path / NAME
    assert holder(mark) is None
    with marked(tmp_path):
        assert holder(mark) == os.getpid()
        found = burden(os.getpid())
        assert found is not None
        assert found.resident_mb > 1.0
        assert found.core_share > 0.0
    assert holder(mark) is None
    command = [sys.executable, "-c", "import fcntl,sys; f=open(sys.argv[1]); fcntl.flock(f, 2); input()"]
    with subprocess.Popen([*command, str(mark)], stdin=subprocess.PIPE, stdout=subprocess.DEVNULL) as other:
        try:
            while holder(mark) is None:
                assert other.poll() is None
            assert holder(mark) == other.pid
        finally:
            other.communicate(b"\n")
