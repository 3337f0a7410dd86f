"""``hypocaust safe FILE``: every output off, and nothing else."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from controller.outputs.safe_state import drive_all_off

if TYPE_CHECKING:
    from pathlib import Path


def safe(path: Path) -> int:
    """Drive every fan, pump and signal named in a settings file off; return 0 only if all of them are.

    Args:
        path: the settings file; it may be invalid or even damaged.
    """
    report = drive_all_off(path)
    if report.driven:
        print(f"Off: {', '.join(report.driven)}.")
    for problem in report.problems:
        print(problem, file=sys.stderr)
    return 1 if report.problems else 0
