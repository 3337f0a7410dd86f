"""Every error of the program has the one base and stands in the one list."""

from __future__ import annotations

import ast
import re
from pathlib import Path

from controller import errors

PACKAGE = Path(errors.__file__).parent
ROW = re.compile(r"^\| `(\w+)` \| (.+) \| (.+) \| (.+) \|$", re.MULTILINE)
EXCEPTION = re.compile(r"(Error|Exception|Exit|Interrupt|Warning|Group)$")


def classes() -> dict[str, tuple[Path, list[str]]]:
    """Every class of the program with its file and the names of its bases."""
    return {
        node.name: (path, [ast.unparse(base).rpartition(".")[2] for base in node.bases])
        for path in PACKAGE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ClassDef)
    }


def ours(found: dict[str, tuple[Path, list[str]]]) -> set[str]:
    """What derives from the base, by however many steps; without the base."""
    known = {"HypocaustError"}
    while more := {name for name, (_, bases) in found.items() if known & {*bases}} - known:
        known |= more
    return known - {"HypocaustError"}


def test_every_error_has_the_base_of_the_program() -> None:
    """A class that is an exception in any way is one of the program's own; only the base itself is plain."""
    found = classes()
    known = ours(found)
    strangers = {
        name
        for name, (_, bases) in found.items()
        if name not in known and any(EXCEPTION.search(base) for base in bases)
    }
    assert strangers == {"HypocaustError"}
    assert len(known) > 15


def test_the_list_names_every_error_and_a_file_that_raises_it() -> None:
    """Nothing can go wrong that the list leaves out, and nothing stands there that is gone."""
    assert errors.__doc__ is not None
    rows = {name: places for name, places, _, _ in ROW.findall(errors.__doc__)}
    found = classes()
    assert {*rows} == ours(found)
    for name, places in rows.items():
        raising = re.compile(rf"raise {name}\b|(?<!class )\b{name}\(|\({name}\)")  # or the base of one
        first = places.partition(",")[0].partition(";")[0]
        files = [PACKAGE / first] if first.endswith(".py") else [*(PACKAGE / first).glob("*.py")]
        shown = "".join(file.read_text(encoding="utf-8") for file in files)
        assert raising.search(shown), f"{name} is not raised in {first}"
