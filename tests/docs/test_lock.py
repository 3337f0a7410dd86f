"""The lock files fit the project: every dependency, in a version that satisfies, with its hashes."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import PackageNotFoundError, requires, version

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.process.bench import ROOT

FILES = ("requirements.lock", "requirements-board.lock")
TEXT = "".join((ROOT / name).read_text(encoding="ascii") for name in FILES)
PINNED = re.compile(
    r"^(?P<name>[a-z0-9._-]+)==(?P<version>[^ ]+)( ; [^\\]+)?( \\\n    --hash=sha256:[0-9a-f]{64})+$",
    re.MULTILINE,
)
LOCKED = {canonicalize_name(found["name"]): found for found in PINNED.finditer(TEXT)}


def wanted() -> list[Requirement]:
    """What the project says it needs on the board."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    build = project["build-system"]["requires"]
    board = project["project"]["optional-dependencies"]["board"]
    return [Requirement(line) for line in (*project["project"]["dependencies"], *board, *build)]


def test_every_line_is_a_pinned_version_with_hashes() -> None:
    """Nothing but comments and pinned, hashed versions: no index, no path, no address."""
    rest = PINNED.sub("", re.sub(r"^#.*$", "", TEXT, flags=re.MULTILINE))
    assert rest.strip() == ""
    assert "://" not in TEXT


def test_every_dependency_is_locked_in_a_version_that_satisfies() -> None:
    """What pyproject asks for, and what builds it, is in a lock file within its limits."""
    for requirement in wanted():
        found = LOCKED.get(canonicalize_name(requirement.name))
        assert found is not None, f"{requirement.name} is in no lock file; renew them"
        assert requirement.specifier.contains(found["version"]), (
            f"{requirement} but locked {found['version']}"
        )


def needs_of(name: str) -> list[str] | None:
    """What a package needs on the board; None if another version of it than the locked one is installed."""
    try:
        if version(name) != LOCKED[name]["version"]:
            return None
    except PackageNotFoundError:  # for another kind of machine
        return None
    lines = map(Requirement, requires(name) or [])
    here = {"extra": "", "sys_platform": "linux"}
    return [canonicalize_name(one.name) for one in lines if one.marker is None or one.marker.evaluate(here)]


def test_what_the_locked_packages_need_is_locked_too() -> None:
    """The lock is closed, as far as the very versions are installed here and can be asked."""
    asked = {name: needs for name in LOCKED if (needs := needs_of(name)) is not None}
    if not asked:
        pytest.skip("none of the locked versions is installed here")
    for name, needs in asked.items():
        assert set(needs) <= set(LOCKED), f"{name} needs more than is locked"


def test_the_board_is_installed_from_the_locks_and_nothing_else() -> None:
    """On the board every file is checked against its hash, and building fetches nothing more.

    Where the pin library is compiled, pip would otherwise fetch what compiles it without asking for a hash.
    """
    page = (ROOT / "systemd" / "README.md").read_text(encoding="utf-8")
    installs = [
        line.split("pip install ")[1]
        for line in page.splitlines()
        if "/opt/hypocaust" in line and "pip install" in line
    ]
    assert installs == [
        "--require-hashes -r requirements.lock",
        "--require-hashes --no-build-isolation -r requirements-board.lock",
        "--no-deps --no-build-isolation .",
    ]


def test_nothing_at_a_desk_needs_the_pin_library() -> None:
    """Current Pythons have no wheel of it: only the board's extra asks for it, and tests that can."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asking = {
        name
        for name, lines in {"": project["dependencies"], **project["optional-dependencies"]}.items()
        for line in map(Requirement, lines)
        if line.name == "lgpio" and (line.marker is None or line.marker.evaluate({"python_version": "3.13"}))
    }
    assert asking == {"board"}
