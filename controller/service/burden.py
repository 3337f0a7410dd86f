"""What the running controller takes of a machine: memory, processor and writing, by the kernel's own counts.

Source of every figure: proc(5), ``/proc/locks`` and ``stat``, ``status`` and ``io`` of the process.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from controller.faults import DAY_S, HOUR_S

KB, MB = 1e3, 1e6
SHORTEST_S = HOUR_S  # a start writes what days do not


@dataclass(frozen=True, slots=True)
class Burden:
    """What one process takes.

    Attributes:
        over_s: how long it has been running, in s.
        resident_mb: memory that it keeps, in thousands of the kernel's kB.
        most_mb: the most it ever kept.
        core_share: processor time as a share of one core since its start.
        written_mb_a_day: sent to storage, as a day at that rate; None where only root may read it.
    """

    over_s: float
    resident_mb: float
    most_mb: float
    core_share: float
    written_mb_a_day: float | None

    def __str__(self) -> str:
        """In words, with the time it was measured over."""
        hours = self.over_s / HOUR_S
        words = f"over {hours:.1f} h: {self.resident_mb:.1f} MB of memory (at most {self.most_mb:.1f})"
        words += f", {self.core_share:.2%} of one core"
        if self.written_mb_a_day is None:
            return f"{words}; what it writes only root can see: sudo hypocaust verify"
        if self.over_s < SHORTEST_S:
            return f"{words}; what it writes in a day shows after an hour"
        return f"{words}, {self.written_mb_a_day:.1f} MB written a day at this rate"


def holder(mark: Path, root: Path = Path("/")) -> int | None:
    """The process that holds a locked file, None if none does or it cannot be seen.

    Args:
        mark: the locked file.
        root: where the machine's directories are.
    """
    try:
        about = mark.stat()
        lines = (root / "proc/locks").read_text(encoding="ascii").splitlines()
    except OSError:
        return None
    place = f"{os.major(about.st_dev):02x}:{os.minor(about.st_dev):02x}:{about.st_ino}"
    for line in lines:
        words = line.split()
        if place in words and "FLOCK" in words and "->" not in words:
            return int(words[words.index(place) - 1])
    return None


def burden(process: int, root: Path = Path("/")) -> Burden | None:
    """What a process takes, None if it has ended.

    Args:
        process: its number.
        root: where the machine's directories are.
    """
    about = root / "proc" / str(process)
    try:
        # The name of the program stands in brackets and may hold anything, blanks too.
        after_name = (about / "stat").read_text(encoding="utf-8", errors="replace").rpartition(")")[2].split()
        kept = _numbers(about / "status")
        up_s = float((root / "proc/uptime").read_text(encoding="ascii").split()[0])
    except OSError:
        return None
    ticks = os.sysconf("SC_CLK_TCK")
    used_s = (int(after_name[11]) + int(after_name[12])) / ticks
    over_s = max(up_s - int(after_name[19]) / ticks, 1.0)
    try:
        written_mb_a_day = _numbers(about / "io")["write_bytes"] / MB / over_s * DAY_S
    except OSError:
        written_mb_a_day = None
    return Burden(over_s, kept["VmRSS"] / KB, kept["VmHWM"] / KB, used_s / over_s, written_mb_a_day)


def _numbers(path: Path) -> dict[str, int]:
    """The lines of such a file that hold a number, by name."""
    lines = (line.split(":") for line in path.read_text(encoding="utf-8", errors="replace").splitlines())
    found = {parts[0]: parts[1].split() for parts in lines if len(parts) > 1}
    return {name: int(words[0]) for name, words in found.items() if words and words[0].isdigit()}
