"""The lock file fits the project: every dependency, in a version that satisfies, with its hashes."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import PackageNotFoundError, requires, version

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.process.bench import ROOT

TEXT = (ROOT / "requirements.lock").read_text(encoding="ascii")
PINNED = re.compile(
    r"^(?P<name>[a-z0-9._-]+)==(?P<version>[^ ]+)( ; [^\\]+)?( \\\n    --hash=sha256:[0-9a-f]{64})+$",
    re.MULTILINE,
)
LOCKED = {canonicalize_name(found["name"]): found for found in PINNED.finditer(TEXT)}


def wanted() -> list[Requirement]:
    """What the project says it needs on the board."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    build = project["build-system"]["requires"]
    return [Requirement(line) for line in (*project["project"]["dependencies"], *build)]


def test_every_line_is_a_pinned_version_with_hashes() -> None:
    """Nothing but comments and pinned, hashed versions: no index, no path, no address."""
    rest = PINNED.sub("", re.sub(r"^#.*$", "", TEXT, flags=re.MULTILINE))
    assert rest.strip() == ""
    assert "://" not in TEXT


def test_every_dependency_is_locked_in_a_version_that_satisfies() -> None:
    """What pyproject asks for, and what builds it, is in the lock file within its limits."""
    for requirement in wanted():
        found = LOCKED.get(canonicalize_name(requirement.name))
        assert found is not None, f"{requirement.name} is not in requirements.lock; renew it"
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


def test_readme_installs_from_the_lock_and_nothing_else() -> None:
    """On the board every file is checked against its hash, and building the program fetches nothing more."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "pip install --require-hashes -r requirements.lock" in readme
    assert "pip install --no-deps --no-build-isolation ." in readme
