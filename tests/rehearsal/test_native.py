"""The compiled copy: rewritten sources behave like the originals, and so do whole rehearsals."""

from __future__ import annotations

import ast
import json
import shutil
import subprocess
import sys
from typing import TYPE_CHECKING, Any

import pytest

from controller.rehearsal import native
from controller.rehearsal.native_source import rewritten
from tests.decision.world import FILE

if TYPE_CHECKING:
    from pathlib import Path

SOURCE = '''
"""A module."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime


class Seen(NamedTuple):
    """A record."""

    what: str
    when: datetime | None = None

    def loud(self) -> str:
        """In capitals."""
        return self.what.upper()


@dataclass(frozen=True, slots=True)
class Kept:
    """Another."""

    seen: Seen
    times: int = 1


@dataclass(slots=True)
class Book:
    """One that changes."""

    kept: dict[str, Kept] = field(default_factory=dict)


def counted(kept: Mapping[str, Kept]) -> int:
    """How often in all."""
    return sum(one.times for one in kept.values())
'''


def behaviour(source: str) -> list[Any]:
    """What can be seen of the module's classes from outside."""
    module = type(sys)("example")
    sys.modules["example"] = module
    names = module.__dict__
    exec(compile(source, "example", "exec", dont_inherit=True), names)  # noqa: S102 - our own text above
    seen, kept = names["Seen"]("frost"), names["Kept"](names["Seen"]("flood", None), times=3)
    what, when = seen
    book = names["Book"]()
    book.kept["one"] = kept
    return [
        what, when, seen.loud(), repr(seen), seen == names["Seen"]("frost"), seen == names["Seen"]("fire"),
        seen._replace(what="sun").what, seen._asdict(),
        hash(seen) == hash(names["Seen"]("frost")), repr(kept),
        kept == names["Kept"](names["Seen"]("flood"), 3), names["counted"](book.kept),
    ]  # fmt: skip


def test_a_rewritten_module_behaves_like_the_original() -> None:
    """Fields, defaults, order, equality, hashes, words, methods and replaced fields stay the same."""
    assert behaviour(rewritten(SOURCE)) == behaviour(SOURCE)


def test_records_become_plain_classes_and_nothing_else_is_lost() -> None:
    """No tuple, no frozen and no slotted dataclass is left, and imports for type checkers happen."""
    text = rewritten(SOURCE)
    for gone in ("(NamedTuple)", "frozen", "slots", "if TYPE_CHECKING", "Mapping["):
        assert gone not in text
    assert "class Book" in text
    assert "@dataclass" in text


def test_a_copy_is_named_after_every_source(tmp_path: Path) -> None:
    """A change in any file of the package asks for a new copy, the same files for the same one."""
    for name in ("one", "two"):
        (tmp_path / name / "deep").mkdir(parents=True)
        (tmp_path / name / "deep" / "part.py").write_text("x = 1\n", encoding="utf-8")
    assert native._digest(tmp_path / "one") == native._digest(tmp_path / "two")
    (tmp_path / "two" / "deep" / "part.py").write_text("x = 2\n", encoding="utf-8")
    assert native._digest(tmp_path / "one") != native._digest(tmp_path / "two")


def test_without_the_compilers_it_says_what_is_missing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The rehearsal can then go on with the plain sources."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr(native, "NEEDED", ("mypy", "no_such_compiler"))
    with pytest.raises(native.NativeError, match="not installed: no_such_compiler"):
        native.native_copy()


def imports(path: Path) -> tuple[set[str], set[str]]:
    """The project's modules that a source imports when it runs, and those it needs for their types only."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    checking = [
        node
        for node in tree.body
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"
    ]
    typed = {node for block in checking for node in ast.walk(block)}
    runs: set[str] = set()
    types: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("controller."):
            (types if node in typed else runs).add(node.module or "")
    return runs, types


def test_no_compiled_module_needs_the_types_of_one_that_is_still_being_imported() -> None:
    """Compiled, types count when a module is loaded: what is imported must not need its importer's types."""
    names = {
        ".".join(("controller", *path.relative_to(native.PACKAGE).with_suffix("").parts)): path
        for pattern in native.COMPILED
        for path in native.PACKAGE.glob(pattern)
    }
    found = {name: imports(path) for name, path in names.items()}

    def reached(name: str, seen: set[str]) -> set[str]:
        for other in found[name][0] & names.keys() - seen:
            seen.add(other)
            reached(other, seen)
        return seen

    waiting = [(name, other) for name in names for other in reached(name, set()) if name in found[other][1]]
    assert not waiting, f"(module, imported by it and needing its types): {waiting}"


@pytest.mark.campaign
@pytest.mark.timeout(900)
@pytest.mark.skipif(shutil.which("cc") is None, reason="needs a C compiler")
@pytest.mark.parametrize("days", [["--start", "2026-01-01"], ["--start", "2026-04-01", "--seed", "3"]])
def test_the_compiled_copy_rehearses_to_the_last_digit_like_the_plain_sources(
    days: list[str], tmp_path: Path
) -> None:
    """Every number of the summary and every hour are equal; only the time it takes is not."""
    told = []
    for module in ("controller", "controller.rehearsal.native"):
        out = tmp_path / module.rpartition(".")[2]
        command = [sys.executable, "-m", module, "rehearse", str(FILE), *days, "--days", "12", "--json"]
        done = subprocess.run([*command, "--out", str(out)], capture_output=True, check=True, text=True)
        assert "plain sources" not in done.stderr
        summary = json.loads(done.stdout)
        del summary["wall_s"]
        told.append((summary, (out / "hours.csv").read_text(encoding="utf-8")))
    assert told[0] == told[1]
