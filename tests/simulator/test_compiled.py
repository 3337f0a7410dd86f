"""Where compiled code is kept, and how long."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import numba

from controller.physics import moist_air
from controller.simulator.compiled import UNUSED_FOR_S, cache_root, compile_modules, is_kept, note_use

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


def test_the_first_start_is_known_from_later_ones(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is kept before a function was compiled; from then on it is, and no other one."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr(numba.config, "CACHE_DIR", vars(numba.config)["CACHE_DIR"])
    modules = (moist_air,)
    twin = compile_modules(modules, keep=True)["moist_air"]
    assert not is_kept(modules, "moist_air.saturation_pressure_pa")
    assert twin.saturation_pressure_pa(20.0) == moist_air.saturation_pressure_pa(20.0)
    assert is_kept(modules, "moist_air.saturation_pressure_pa")
    assert not is_kept(modules, "moist_air.density_kg_m3")
