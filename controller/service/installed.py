"""Is what is installed whole? Its files against the list they came with, and whether they can be imported."""

from __future__ import annotations

import base64
import hashlib
import sys
import sysconfig
import tempfile
from dataclasses import dataclass
from enum import Enum
from importlib import import_module
from importlib.metadata import distributions
from pathlib import Path
from typing import TYPE_CHECKING

from controller.outputs.board import BoardError, pin_library

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

# What the daemon loads sooner or later, by name: importing it here is the test.
LOADED = (
    "pydantic",
    "structlog",
    "apscheduler.schedulers.background",
    "paho.mqtt.client",
    "gpiozero",
    "sqlite3",
    "ssl",
    "controller.startup",
)
MOST_NAMED = 5  # a broken card damages hundreds of files, and nobody reads them all
OLDEST_PYTHON = (3, 11)
PACKAGE = Path(__file__).parents[1]


class State(Enum):
    """How a look ended."""

    PASS = "pass"  # noqa: S105 - no password
    FAIL = "fail"
    NOT_HERE = "not here"


@dataclass(frozen=True, slots=True)
class Look:
    """One thing that was looked at: what, how it ended, and in words what was found and what to do."""

    what: str
    state: State
    words: str


def looks_at_program(package: Path = PACKAGE) -> Iterator[Look]:
    """Files, interpreter, libraries and pin library, one after the other.

    Args:
        package: the folder of our own code; what it was installed with lies beside it.
    """
    yield _files(package)
    yield _python()
    yield _imports(LOADED)
    yield _pin_library()


def manifest_of(package: Path = PACKAGE) -> Path | None:
    """The list of files that the Debian package brings; None where this was installed in another way."""
    manifest = package.parents[1] / "manifest"
    return manifest if manifest.is_file() else None


def program() -> str:
    """The command that belongs to this code, as a unit has to name it."""
    return "/usr/bin/hypocaust" if manifest_of() else str(Path(sys.prefix) / "bin" / "hypocaust")


def _files(package: Path) -> Look:
    """Every file against the hash it was published with."""
    manifest = manifest_of(package)
    if manifest is not None:
        return _compared(_of_manifest(manifest), "sudo apt install --reinstall ./hypocaust_VERSION_ARCH.deb")
    if sysconfig.get_path("purelib") != str(package.parent):
        return Look("files", State.NOT_HERE, f"{package} is a checkout; it has no list of its files")
    again = "install it once more with pip and --force-reinstall; systemd/README.md has the lines"
    return _compared(_of_records(package.parent), again)


def _of_manifest(manifest: Path) -> Iterator[tuple[Path, str]]:
    """Files and the SHA-256 they should have, from lines as sha256sum writes them."""
    for line in manifest.read_text(encoding="utf-8").splitlines():
        digest, _, name = line.partition("  ")
        yield Path(name), digest


def _of_records(site: Path) -> Iterator[tuple[Path, str]]:
    """The same from what pip notes; bytecode, which it makes itself, has no hash there."""
    for distribution in distributions(path=[str(site)]):
        for file in distribution.files or ():
            if file.hash is not None and file.hash.mode == "sha256":
                digest = base64.urlsafe_b64decode(file.hash.value + "==").hex()
                yield Path(str(file.locate())), digest


def _compared(files: Iterable[tuple[Path, str]], mend: str) -> Look:
    """Compare and count."""
    count = 0
    wrong: list[str] = []
    for path, digest in files:
        count += 1
        try:
            if hashlib.sha256(path.read_bytes()).hexdigest() != digest:
                wrong.append(f"{path} is not what was published")
        except OSError as problem:
            wrong.append(f"{path} cannot be read ({problem.strerror})")
    if not wrong:
        return Look("files", State.PASS, f"all {count} are as they were published")
    more = f", and {len(wrong) - MOST_NAMED} more" if len(wrong) > MOST_NAMED else ""
    words = f"{'; '.join(wrong[:MOST_NAMED])}{more}. If nobody changed them, the card fails. Mend it: {mend}"
    return Look("files", State.FAIL, words)


def _python() -> Look:
    """Whether the interpreter is one that this program supports."""
    version = ".".join(map(str, sys.version_info[:3]))
    if sys.version_info < OLDEST_PYTHON:
        return Look("Python", State.FAIL, f"{version} is too old; expected 3.11 or later")
    return Look("Python", State.PASS, f"{version} at {sys.executable}")


def _imports(names: Iterable[str]) -> Look:
    """Whether everything the daemon loads can be loaded."""
    trouble = []
    for name in names:
        try:
            import_module(name)
        except Exception as problem:  # noqa: BLE001 - a damaged file can raise anything at all
            trouble.append(f"{name} ({type(problem).__name__}: {problem})")
    if trouble:
        return Look("libraries", State.FAIL, f"cannot be imported: {'; '.join(trouble)}. Install again")
    return Look("libraries", State.PASS, "everything the controller loads can be imported")


def _pin_library() -> Look:
    """Whether the library that switches pins can be imported."""
    with tempfile.TemporaryDirectory(prefix="hypocaust-verify-") as directory:
        try:
            library = pin_library(Path(directory))
        except BoardError as problem:
            return Look("pin library", State.FAIL, str(problem))
    return Look("pin library", State.PASS, f"lgpio can be imported from {Path(library.__file__).parent}")
