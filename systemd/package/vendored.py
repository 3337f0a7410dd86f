"""The locked packages for another machine, from the wheels that requirements.lock names by their hashes.

Nothing is run and nothing compiled, so that any machine can build for any other.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

# Debian's name of an architecture -> the one in the names of wheels.
MACHINES = {"amd64": "x86_64", "arm64": "aarch64", "armhf": "armv7l"}
# C libraries that Debian 12 (2.36) satisfies, and the plain name that some wheels for armhf have.
PLATFORMS = ("manylinux2014", "manylinux_2_17", "manylinux_2_28", "manylinux_2_34", "linux")
# Of Debian 12 and Debian 13.
PYTHONS = ("3.11", "3.13")
# No wheel of the pin library was ever published for later ones; see pin_library.py.
PYTHONS_OF_PIN_LIBRARY = ("3.11",)
# What pip notes of its own doings; and programs that belong to the packages, not to us.
NOT_KEPT = ("RECORD", "INSTALLER", "REQUESTED", "WHEEL", "direct_url.json")
BUILDING_ONLY = ("setuptools",)
# Lists of what was compiled in; those of two Pythons differ in when they were made, and one is enough.
BILL_OF_MATERIALS = ".cyclonedx.json"


def install(library: Path, root: Path, architecture: str) -> None:
    """Put the packages into ``library/site``, and those of one Python alone into ``library/python3.N``.

    Args:
        library: the directory; made if missing.
        root: the checkout with the lock files.
        architecture: for which machine, in Debian's words.

    Raises:
        SystemExit: two Pythons would need different files of the same name.
    """
    lock = (root / "requirements.lock").read_text(encoding="ascii")
    for name in BUILDING_ONLY:
        lock = re.sub(rf"^{name}==.*?(?=^\S|\Z)", "", lock, flags=re.MULTILINE | re.DOTALL)
    with tempfile.TemporaryDirectory(prefix="hypocaust-wheels-") as directory:
        for python in PYTHONS:
            part = Path(directory) / python
            _pip(part, lock, architecture, python)
            _merge(part, library / "site")
    board = (root / "requirements-board.lock").read_text(encoding="ascii")
    for python in PYTHONS_OF_PIN_LIBRARY:
        _pip(library / f"python{python}", board, architecture, python)


def _pip(target: Path, lock: str, architecture: str, python: str) -> None:
    """Unpack what a lock names for one Python of one machine."""
    with tempfile.NamedTemporaryFile("w", suffix=".lock", encoding="ascii") as file:
        file.write(lock)
        file.flush()
        command = [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-compile"]
        command += ["--require-hashes", "--only-binary=:all:", "--root-user-action=ignore"]
        command += ["--implementation=cp", f"--python-version={python}", f"--target={target}"]
        command += [f"--platform={platform}_{MACHINES[architecture]}" for platform in PLATFORMS]
        subprocess.run([*command, "-r", file.name], check=True, stdout=subprocess.DEVNULL)
    shutil.rmtree(target / "bin", ignore_errors=True)
    for path in list(target.glob("*.dist-info/*")):
        if path.name in NOT_KEPT:
            path.unlink()
    for path in list(target.rglob("*")):
        if path.is_dir() and not any(path.iterdir()):
            path.rmdir()


def _merge(part: Path, site: Path) -> None:
    """Add one Python's files to those of the others; compiled ones have names of their own."""
    for source in sorted(path for path in part.rglob("*") if path.is_file()):
        target = site / source.relative_to(part)
        known = target.exists() and not source.name.endswith(BILL_OF_MATERIALS)
        if known and target.read_bytes() != source.read_bytes():
            raise SystemExit(f"{source.relative_to(part)} differs between the Pythons {', '.join(PYTHONS)}")
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(source, target)
