"""What a report of a year costs: ``python -m tests.lab.benchmarks.report HISTORY [FILE]``.

HISTORY is a history file, such as ``hypocaust rehearse config/house.toml --history HISTORY`` writes; FILE its
settings. The processor time of the whole command is set against that of a Python that does nothing, on the
same machine at the same time, because a busy or an old machine makes both slower. Each is the fastest of
several rounds.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[3]
ROUNDS = 3


def cost(arguments: list[str]) -> tuple[float, float]:
    """Processor time in s and largest resident memory in MB of a Python process."""
    process = os.posix_spawn(sys.executable, [sys.executable, *arguments], os.environ)
    _, status, usage = os.wait4(process, 0)
    if status:
        raise SystemExit(f"{' '.join(arguments)} ended with {os.waitstatus_to_exitcode(status)}")
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024.0


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("history")
    parser.add_argument("file", nargs="?", default=str(ROOT / "config" / "house.toml"))
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as directory:
        page = Path(directory) / "report.html"
        asked = ["-m", "controller", "report", options.file, "--history", options.history, "--out", str(page)]
        nothing, whole = ([cost(what) for _ in range(ROUNDS)] for what in (["-c", "pass"], asked))
        size_kb = page.stat().st_size / 1000.0
    bare_s, report_s = min(nothing)[0], min(whole)[0]
    memory_mb = max(memory for _, memory in whole)
    print(f"a report: {report_s:.2f} s of processor time, {memory_mb:.0f} MB at most, {size_kb:.0f} kB")
    print(f"that is {report_s / bare_s:.0f} times a Python that does nothing ({bare_s * 1000:.0f} ms)")


if __name__ == "__main__":
    main()
