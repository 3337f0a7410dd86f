"""Mutants are different code, can be put into the running program, and are told about in words."""

from __future__ import annotations

import importlib.util
import json
import sys
from collections import deque
from types import SimpleNamespace
from typing import TYPE_CHECKING

import pytest

from tests.mutation import results
from tests.mutation.results import page

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
    from tests.mutation.mutants import mutants_of  # noqa: PLC0415 - needs mutmut

    path = tmp_path / "made_rule.py"
    path.write_text(SOURCE, encoding="utf-8")
    made = {(mutant.place, mutant.before, mutant.after) for mutant in mutants_of(path, "made_rule.py")}
    assert ("over", "> LIMIT + by", ">= LIMIT + by") in made
    assert ("over", "LIMIT + by", "LIMIT - by") in made
    assert ("", "3", "4") in made
    assert not any("rule" in before or "much" in before for _, before, _ in made)


@needs_mutmut
def test_a_mutant_runs_in_place_of_the_rule(rule: ModuleType) -> None:
    """A changed function or constant counts for whoever has imported it; a changed default is refused."""
    from pathlib import Path  # noqa: PLC0415 - of this test only

    from tests.mutation.in_place import NotInPlaceError, Original  # noqa: PLC0415 - needs mutmut
    from tests.mutation.mutants import mutants_of  # noqa: PLC0415 - needs mutmut

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
    from tests.mutation.afresh import survives_afresh  # noqa: PLC0415 - needs mutmut
    from tests.mutation.mutants import Mutant, mutants_of  # noqa: PLC0415 - needs mutmut

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


def test_survivors_are_listed_with_their_reasons() -> None:
    """The page counts each module's mutants and lists survivors, with the reason or that none is known."""
    survived = [["over", "a", "b"], ["over", "c", "d"]]
    known = {
        "made.py": {"share": 0.5, "tests": ["tests/x"], "killed": 6, "not_tried": 1, "survived": survived}
    }
    text = page(known, {"made.py": {"over: a -> b": "equivalent"}})
    assert "| made.py | 0.5 | 8 | 6 | 75.0 | 1 | x |" in text
    assert "- `over`: `a` → `b`: equivalent" in text
    assert "- `over`: `c` → `d`: not judged yet" in text


def test_survivors_tried_again_are_laid_over_what_is_known(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was killed stays so, a survivor that is noticed now joins it, and a changed module is refused."""
    path = tmp_path / "made.py"
    path.write_text(SOURCE, encoding="utf-8")
    survived = [["over", "a", "b"], ["over", "c", "d"]]
    before = {"share": 0.5, "tests": ["x"], "killed": 6, "not_tried": 1, "survived": survived}
    before |= {"source": results.source_digest(path)}
    for name in ("RESULTS", "PAGE"):
        monkeypatch.setattr(results, name, tmp_path / name)
    results.RESULTS.write_text(json.dumps({"made.py": before}), encoding="utf-8")
    assert results.survivors_of(before, path) == {("over", "a", "b"), ("over", "c", "d")}
    verdict = SimpleNamespace(
        module="made.py",
        killed=1,
        unplaced=[],
        survived=[SimpleNamespace(place="over", before="c", after="d")],
    )
    results.keep(verdict, 1.0, ["y"], path, again=True)  # type: ignore[arg-type]
    (found,) = json.loads(results.RESULTS.read_text(encoding="utf-8")).values()
    assert found == before | {"tests": ["x", "y"], "killed": 7, "survived": [["over", "c", "d"]]}
    assert "| made.py | 0.5 | 8 | 7 | 87.5 | 1 | x, y |" in results.PAGE.read_text(encoding="utf-8")
    path.write_text("LIMIT = 4", encoding="utf-8")
    with pytest.raises(ValueError, match="without --survivors"):
        results.survivors_of(before, path)
