"""Mutants are different code, can be put into the running program, and are described in words."""

from __future__ import annotations

import importlib.util
import re
import sys
import tomllib
from collections import deque
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import pytest

from tests.lab.mutation import results
from tests.lab.mutation.results import Asked, page_with
from tests.lab.pages import ROOT

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType

SOURCE = '''"""A rule."""
LIMIT = 3
NAMES = (
    "low",
    "high",
)


def over(value: int, by: int = 0) -> bool:
    """Whether it is too much."""
    return value > LIMIT + by
'''
needs_mutmut = pytest.mark.skipif(
    importlib.util.find_spec("mutmut") is None, reason="the mutation extra is not installed"
)


@pytest.fixture
def rule(tmp_path: Path) -> ModuleType:
    """A module made for the test, imported."""
    path = tmp_path / "made_rule.py"
    path.write_text(SOURCE, encoding="utf-8")
    spec = importlib.util.spec_from_file_location("made_rule", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["made_rule"] = module
    spec.loader.exec_module(module)
    yield module
    del sys.modules["made_rule"]


@needs_mutmut
def test_mutants_change_the_rule_and_not_its_words(tmp_path: Path) -> None:
    """Every operator and number of a rule is changed once, docstrings and annotations never."""
    from tests.lab.mutation.mutants import mutants_of  # noqa: PLC0415 - needs mutmut

    path = tmp_path / "made_rule.py"
    path.write_text(SOURCE, encoding="utf-8")
    made = {(mutant.place, mutant.before, mutant.after) for mutant in mutants_of(path, "made_rule.py")}
    assert ("over", "> LIMIT + by", ">= LIMIT + by") in made
    assert ("over", "LIMIT + by", "LIMIT - by") in made
    assert ("", "3", "4") in made
    assert not any("rule" in before or "much" in before for _, before, _ in made)


@needs_mutmut
def test_a_mutant_runs_in_place_of_the_rule(rule: ModuleType) -> None:
    """A changed function or constant counts wherever it was imported; a changed default is refused."""
    from pathlib import Path  # noqa: PLC0415 - of this test only

    from tests.lab.mutation.in_place import NotInPlaceError, Original  # noqa: PLC0415 - needs mutmut
    from tests.lab.mutation.mutants import mutants_of  # noqa: PLC0415 - needs mutmut

    path = Path(str(rule.__file__))
    imported, original = rule.over, Original(path)
    mutants = {(mutant.before, mutant.after): mutant for mutant in mutants_of(path, "made_rule.py")}
    assert imported(3) is False
    original.put(mutants["> LIMIT + by", ">= LIMIT + by"])
    assert imported(3) is True
    with pytest.raises(NotInPlaceError):
        original.put(mutants["0", "1"])
    original.put(mutants["3", "4"])
    assert rule.LIMIT == 4
    original.put(mutants['NAMES = ( "low", "high", )', "NAMES = None"])  # moves the function to other lines
    assert rule.NAMES is None


@needs_mutmut
def test_a_mutant_of_a_default_is_tried_in_a_new_process(tmp_path: Path) -> None:
    """Imported anew, the unchanged rule passes its test, and a changed default makes it fail and is named."""
    from tests.lab.mutation.afresh import survives_afresh  # noqa: PLC0415 - needs mutmut
    from tests.lab.mutation.mutants import Mutant, mutants_of  # noqa: PLC0415 - needs mutmut

    path, test = tmp_path / "made_rule.py", tmp_path / "test_made_rule.py"
    path.write_text(SOURCE, encoding="utf-8")
    test.write_text("import made_rule\n\ndef test_rule():\n    assert made_rule.over(4)\n", encoding="utf-8")
    killers: deque[str] = deque()
    unchanged = Mutant("made_rule.py", 1, "", "", "", SOURCE)
    assert survives_afresh(unchanged, path, [str(test)], 60.0, killers)
    assert not killers
    (default,) = [mutant for mutant in mutants_of(path, "made_rule.py") if mutant.before == "0"]
    assert not survives_afresh(default, path, [str(test)], 60.0, killers)
    assert list(killers) == ["test_made_rule.py::test_rule"]


FOUND = {
    "share": 0.5,
    "tests": ["tests/x"],
    "made": "2026-11-29, abc",
    "killed": 6,
    "not_tried": 1,
    "survived": [["over", "a", "b"], ["over", "c", "d"]],
}
NAMES = ("controller/made.py", "controller/another.py")


def test_survivors_are_listed_with_their_reasons() -> None:
    """The page counts each module's mutants and lists survivors, with the reason or that none is known."""
    text = page_with("", NAMES[0], FOUND, {"over: a -> b": "equivalent"})
    assert "| controller/made.py | 2026-11-29, abc | 0.5 | 8 | 6 | 75.0 | 1 | x |" in text
    assert "- `over`: `a` → `b`: equivalent" in text
    assert "- `over`: `c` → `d`: not judged yet" in text


def test_the_lines_of_other_modules_stay_as_they_are() -> None:
    """A module that is tried again gets its row and its survivors anew; a person's page keeps the others."""
    first = page_with("", NAMES[0], FOUND, {})
    both = page_with(first, NAMES[1], FOUND | {"killed": 7}, {})
    assert both.count("not judged yet") == 4
    mended = page_with(both, NAMES[1], FOUND | {"killed": 9, "survived": []}, {})
    assert (
        mended.replace("| controller/another.py | 2026-11-29, abc | 0.5 | 9 | 9 | 100.0 | 1 | x |\n", "")
        == first
    )
    assert page_with(first, NAMES[0], FOUND, {}) == first


def test_survivors_tried_again_are_laid_over_what_is_known(tmp_path: Path) -> None:
    """What was killed stays so, a survivor that is noticed now joins it, and a changed module is refused."""
    path, store, page = tmp_path / "made.py", tmp_path / "kept" / "results.json", tmp_path / "RESULTS.md"
    path.write_text(SOURCE, encoding="utf-8")

    def verdict(killed: int, *survived: tuple[str, str]) -> Any:
        mutants = [SimpleNamespace(place="over", before=before, after=after) for before, after in survived]
        return SimpleNamespace(module=NAMES[0], killed=killed, unplaced=[], survived=mutants)

    results.keep(verdict(6, ("a", "b"), ("c", "d")), Asked(0.5, ["x"], "yesterday"), path, store, page)
    assert results.survivors_of(results.known_results(store)[NAMES[0]], path) == {
        ("over", "a", "b"), ("over", "c", "d")
    }  # fmt: skip
    again = Asked(1.0, ["y"], "today", again=True)
    results.keep(verdict(1, ("c", "d")), again, path, store, page)
    assert results.survivors_of(results.known_results(store)[NAMES[0]], path) == {("over", "c", "d")}
    assert "| controller/made.py | today | 0.5 | 8 | 7 | 87.5 | 0 | x, y |" in page.read_text(
        encoding="utf-8"
    )
    path.write_text("LIMIT = 4", encoding="utf-8")
    with pytest.raises(ValueError, match="without --survivors"):
        results.survivors_of(results.known_results(store)[NAMES[0]], path)


def test_the_page_and_the_reasons_name_modules_that_exist() -> None:
    """A module that was moved takes its reasons along, and the page drops what is gone."""
    page = (results.REASONS.parent / "RESULTS.md").read_text(encoding="utf-8")
    named = {*re.findall(r"(?:^\| |^### )(controller/\S+\.py)", page, re.MULTILINE)}
    named |= {*tomllib.loads(results.REASONS.read_text(encoding="utf-8"))}
    assert {name for name in named if not (ROOT / name).exists()} == set()
