"""The changes of each release, read from ``systemd/CHANGES.md``, as Debian's changelog."""

from __future__ import annotations

import re
import textwrap
from dataclasses import dataclass
from datetime import UTC, datetime
from email.utils import format_datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

_RELEASE = re.compile(r"^## (?P<version>[0-9][0-9.]*), (?P<day>[0-9]{4}-[0-9]{2}-[0-9]{2})$", re.MULTILINE)
_POINT = re.compile(r"^- (.*?)(?=^- |^#|^$|\Z)", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Release:
    """One release: its version, its day and what is new, a sentence or two each."""

    version: str
    day: datetime
    points: tuple[str, ...]


def releases(root: Path) -> list[Release]:
    """All releases, newest first.

    Raises:
        SystemExit: the page has none.
    """
    text = (root / "systemd" / "CHANGES.md").read_text(encoding="utf-8")
    _, *parts = _RELEASE.split(text)
    found = [
        Release(version, datetime.fromisoformat(f"{day}T12:00:00").replace(tzinfo=UTC), _points(body))
        for version, day, body in zip(parts[::3], parts[1::3], parts[2::3], strict=True)
    ]
    if not found:
        raise SystemExit('systemd/CHANGES.md has no release; expected a line such as "## 0.1.0, 2026-11-30"')
    return found


def _points(body: str) -> tuple[str, ...]:
    return tuple(" ".join(point.split()) for point in _POINT.findall(body))


def debian(root: Path, version: str, maintainer: str) -> str:
    """Debian's changelog; the newest entry bears the version that is being built."""
    newest, *older = releases(root)
    entries = [Release(version, newest.day, newest.points), *older]
    return "\n".join(_entry(release, maintainer) for release in entries)


def _entry(release: Release, maintainer: str) -> str:
    points = [
        textwrap.fill(point, 80, initial_indent="  * ", subsequent_indent="    ", break_on_hyphens=False)
        for point in release.points
    ]
    head = f"hypocaust ({release.version}) stable; urgency=medium"
    return "\n".join((head, "", *points, "", f" -- {maintainer}  {format_datetime(release.day)}", ""))
