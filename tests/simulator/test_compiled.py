"""Where compiled code is kept, and how long."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from controller.simulator.compiled import UNUSED_FOR_S, cache_root, note_use

if TYPE_CHECKING:
    from pathlib import Path

    import pytest


def test_code_that_nobody_has_used_for_long_is_removed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Code of older sources goes after a week without use; what was used since or is used now stays."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    used, recent, old = (cache_root() / name for name in ("used", "recent", "old"))
    for directory in (used, recent, old):
        directory.mkdir(parents=True)
        (directory / "code").write_bytes(b"x")
    now_s = used.stat().st_mtime
    for directory, age_s in ((used, 2.0), (recent, 0.9), (old, 1.1)):
        os.utime(directory, (now_s - age_s * UNUSED_FOR_S,) * 2)
    note_use(used)
    assert sorted(path.name for path in cache_root().iterdir()) == ["recent", "used"]
