"""Rehearsals in machine code, for long campaigns: ``python -m controller.rehearsal.native rehearse ...``.

The modules that run at every tick are compiled ahead of time by mypyc, in a copy of the whole package that
only rehearsals started by this command ever import. The device and every other command run the plain
sources. A copy is made once for each state of the sources and found again by their digest. Without mypy or
a C compiler the rehearsal runs the plain sources and says so.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib.metadata
import importlib.util
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from controller.rehearsal.native_source import rewritten
from controller.simulator.compiled import cache_root, note_use

if TYPE_CHECKING:
    from collections.abc import Sequence

PACKAGE = Path(__file__).parents[1]
# What runs at every tick. ``memory`` is left out: it checks saved data with pydantic and never runs here.
COMPILED = (
    "decision/[!_m]*.py",
    "readings/[!_]*.py",
    "loop.py",
    "outputs/bank.py",
    *(f"rehearsal/{name}.py" for name in ("hours", "journal", "ticking", "tracker")),
    *(f"simulator/plant/{name}.py" for name in ("clock", "plant", "probes", "wiring")),
)
NEEDED = ("mypy", "mypyc", "setuptools")

_SETUP = """
from mypyc.build import mypycify
from setuptools import setup

modules = mypycify(["--config-file=mypy.ini", *{files!r}], opt_level="2", debug_level="0")
setup(name="native", packages=[], py_modules=[], ext_modules=modules)
"""
# The sources have been checked; that a dictionary is narrower than the mapping it stands in for is no error.
_TYPES = """
[mypy]
plugins = pydantic.mypy
ignore_missing_imports = true
disable_error_code = arg-type
"""


class NativeError(Exception):
    """The compiled copy cannot be made; says why in words."""


def native_copy(package: Path = PACKAGE, patterns: Sequence[str] = COMPILED) -> Path:
    """The directory to import the compiled copy of a package from; made if it is not there.

    Args:
        package: the package's directory.
        patterns: which of its modules are compiled.

    Raises:
        NativeError: the compilers are not installed, failed, or have no place to write to.
    """
    directory = cache_root() / f"native-{_digest(package)}"
    if directory.is_dir():
        note_use(directory)
        return directory
    missing = [name for name in NEEDED if importlib.util.find_spec(name) is None]
    if missing:
        raise NativeError(f"not installed: {', '.join(missing)}")
    try:
        cache_root().mkdir(parents=True, exist_ok=True)
        building = Path(tempfile.mkdtemp(prefix="building-", dir=cache_root()))
        try:
            _build(package, patterns, building)
            if not directory.is_dir():  # another process may have been quicker
                building.rename(directory)
        finally:
            shutil.rmtree(building, ignore_errors=True)
    except OSError as problem:
        raise NativeError(f"no place to build in ({problem})") from None
    return directory


def _digest(package: Path) -> str:
    """Stands for every file of the package, and for Python and the compiler."""
    digest = hashlib.sha256(sys.version.encode())
    with contextlib.suppress(importlib.metadata.PackageNotFoundError):
        digest.update(importlib.metadata.version("mypy").encode())
    for path in sorted(package.rglob("*")):
        if path.is_file() and "__pycache__" not in path.parts:
            digest.update(str(path.relative_to(package)).encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def _build(package: Path, patterns: Sequence[str], building: Path) -> None:
    """Copy the package and compile what the patterns name."""
    copy = building / package.name
    shutil.copytree(package, copy, ignore=shutil.ignore_patterns("__pycache__"))
    files = sorted(path for pattern in patterns for path in copy.glob(pattern))
    for path in files:
        path.write_text(rewritten(path.read_text(encoding="utf-8")), encoding="utf-8")
    (building / "mypy.ini").write_text(_TYPES, encoding="utf-8")
    names = [str(path.relative_to(building)) for path in files]
    (building / "setup.py").write_text(_SETUP.format(files=names), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "setup.py", "-q", "build_ext", "--inplace"],
        cwd=building,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode != 0:
        raise NativeError((done.stdout + done.stderr).strip()[-2000:])
    shutil.rmtree(building / "build")


def main() -> None:
    """Start the controller's command line from the compiled copy, in place of this process."""
    environment = dict(os.environ)
    try:
        directory = native_copy()
    except NativeError as problem:
        sys.stderr.write(f"native: {problem}\nnative: the plain sources are used instead\n")
    else:
        before = environment.get("PYTHONPATH")
        environment["PYTHONPATH"] = f"{directory}{os.pathsep}{before}" if before else str(directory)
    command = [sys.executable, "-P", "-m", "controller", *sys.argv[1:]]
    os.execve(sys.executable, command, environment)  # noqa: S606 - no shell is wanted


if __name__ == "__main__":
    main()
