"""Compiled twins of plain Python modules: a rehearsed year takes seconds, the device needs no compiler."""

from __future__ import annotations

import hashlib
import os
import shutil
from pathlib import Path
from types import FunctionType, ModuleType
from typing import TYPE_CHECKING

import numba

from controller.faults import DAY_S

if TYPE_CHECKING:
    from collections.abc import Sequence

UNUSED_FOR_S = 7.0 * DAY_S


def compile_modules(modules: Sequence[ModuleType], *, keep: bool = False) -> dict[str, ModuleType]:
    """Build a compiled twin of each module, by the last part of its name.

    Every function that a module defines is compiled at its first call, for the types it is called with. Where
    it uses a function or a module out of ``modules``, imported by name or as a module, the twin uses that
    one's twin. The originals stay as they are. A function that cannot be compiled fails at its first call.
    A division by zero gives infinity, or no number, where the original raises: looking for one before every
    division takes a tenth of the model's time.

    Args:
        modules: lowest first.
        keep: whether compiled code is kept on the disk for the next process. It lives in a directory named
            after all the sources, because the compiler by itself would only notice a change in the file of
            the function that is called, not in those of the functions it calls.

    Raises:
        ValueError: two of the modules share the last part of their name.
    """
    names = [module.__name__.rpartition(".")[2] for module in modules]
    if len(set(names)) < len(names):
        raise ValueError(f"modules compiled together need names of their own, got {', '.join(sorted(names))}")
    twins = {module: ModuleType(module.__name__, module.__doc__) for module in modules}
    keep = keep and _keep_in(modules)
    compiled = {
        function: numba.njit(cache=keep, error_model="numpy")(
            FunctionType(function.__code__, twin.__dict__, name, function.__defaults__)
        )
        for module, twin in twins.items()
        for name, function in vars(module).items()
        if isinstance(function, FunctionType) and function.__module__ == module.__name__
    }
    for module, twin in twins.items():
        for name, value in vars(module).items():
            if isinstance(value, FunctionType):
                twin.__dict__[name] = compiled.get(value, value)
            elif isinstance(value, ModuleType):
                twin.__dict__[name] = twins.get(value, value)
            elif not name.startswith("__"):
                twin.__dict__[name] = value
    return dict(zip(names, twins.values(), strict=True))


def is_kept(modules: Sequence[ModuleType], last: str) -> bool:
    """Whether these modules were compiled at an earlier start and are kept.

    Args:
        modules: as for ``compile_modules``.
        last: the function whose compiling ends last, as ``module.function``.
    """
    return any(_directory_of(modules).glob(f"*/{last}-*.nbi"))


def _directory_of(modules: Sequence[ModuleType]) -> Path:
    """Where the compiled code of these sources is kept."""
    digest = hashlib.sha256()
    for module in modules:
        digest.update(Path(str(module.__file__)).read_bytes())
    return cache_root() / digest.hexdigest()[:16]


def _keep_in(modules: Sequence[ModuleType]) -> bool:
    """Point the compiler's cache at the directory for these sources; return whether one can be had."""
    directory = _directory_of(modules)
    try:
        directory.mkdir(parents=True, exist_ok=True)
        note_use(directory)
    except OSError:
        return False
    setattr(numba.config, "CACHE_DIR", str(directory))  # noqa: B010 (unknown to type checkers)
    return os.access(directory, os.W_OK)


def cache_root() -> Path:
    """Where compiled code is kept."""
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "hypocaust"


def note_use(directory: Path) -> None:
    """Mark compiled code as used now, and remove what has not been used for a week: older sources', mostly.

    Args:
        directory: a directory in ``cache_root()``.

    Raises:
        OSError: it cannot be marked.
    """
    os.utime(directory)
    now_s = directory.stat().st_mtime
    for other in cache_root().iterdir():
        if now_s - other.stat().st_mtime > UNUSED_FOR_S:
            shutil.rmtree(other, ignore_errors=True)
