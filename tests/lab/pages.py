"""Pages with what long programs have measured: where they go, and of which day and commit they are.

Whatever such a program writes goes to the place it is given, or below ``results/``, which git ignores. A page
stays in the repository only if a person names its place there with ``--page``.
"""

from __future__ import annotations

import subprocess
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

ROOT = Path(__file__).parents[2]
PRODUCTS = ROOT / "results"


def page_option(parser: argparse.ArgumentParser, default: Path) -> None:
    """Let a person say where the page goes."""
    shown = default.relative_to(ROOT)
    parser.add_argument("--page", type=Path, default=default, help=f"where the page goes ({shown})")


def made(root: Path = ROOT) -> str:
    """Today's date and the commit at hand, for a page; ask before a long run, not after it."""
    commit = _git(root, "rev-parse", "--short", "HEAD") or "no commit"
    changed = " with changes" if _git(root, "status", "--porcelain", "--untracked-files=no") else ""
    return f"{datetime.now(tz=UTC).date()}, {commit}{changed}"


def write_page(path: Path, text: str, when: str) -> None:
    """Write a page with its date and commit below its heading.

    Args:
        path: where to.
        text: the page, its heading in the first line.
        when: what ``made`` has said.
    """
    heading, _, rest = text.partition("\n")
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f"{heading}\n\nMeasured: {when}.\n{rest}", encoding="utf-8")


def _git(root: Path, *words: str) -> str:
    """What git says, nothing if it cannot be asked."""
    try:
        asked = subprocess.run(["git", *words], cwd=root, capture_output=True, text=True, check=False)
    except OSError:
        return ""
    return asked.stdout.strip() if asked.returncode == 0 else ""
