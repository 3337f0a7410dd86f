"""The one check, ``python -m tests.check``: format, lint, types, import rules, docstrings and all tests."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
PYTHON = [sys.executable, "-m"]
STATIC = (
    ("format", [*PYTHON, "ruff", "format", "--check", "-q", "."]),
    ("lint", [*PYTHON, "ruff", "check", "-q", "."]),
    ("types", [*PYTHON, "mypy"]),
    ("import rules", [str(Path(sys.executable).parent / "lint-imports")]),
    ("docstrings", [*PYTHON, "interrogate", "-q", "controller", "tests"]),
)
# One more than the two cores that are asked for: tests of whole programs spend much of their time waiting.
TESTS = ("tests", [*PYTHON, "pytest", "-q", "-n", "3"])


def main() -> int:
    """Run every step, even after a failure; return 0 only if all passed."""
    steps = STATIC if "--static" in sys.argv[1:] else (*STATIC, TESTS)
    failed = []
    for name, command in steps:
        print(f"== {name}", flush=True)
        if subprocess.run(command, cwd=ROOT, check=False).returncode != 0:
            failed.append(name)
    print("all good" if not failed else f"failed: {', '.join(failed)}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
