"""Keeps what mutation testing has found, and writes it down for people."""

from __future__ import annotations

import hashlib
import json
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tests.mutation.trial import Verdict

HERE = Path(__file__).parent
RESULTS, REASONS, PAGE = HERE / "results.json", HERE / "reasons.toml", HERE / "RESULTS.md"
NOT_JUDGED = "not judged yet"
HEAD = """# What the tests notice

Small changes made to the program by `python -m tests.mutation`, and whether a test failed. *Not put in place*
are changes of defaults, of class bodies and of statements that only run at import, where they were not tried
with `--afresh`. *Share* is the part of all changes that was tried, drawn by their digest; *tests* are those
that were asked. A survivor is a change that none of them noticed.

| module | share | tried | killed | killed % | not put in place | tests |
|---|---|---|---|---|---|---|
"""


def known_results() -> dict[str, Any]:
    """What has been found so far, by module."""
    known: dict[str, Any] = json.loads(RESULTS.read_text(encoding="utf-8")) if RESULTS.exists() else {}
    return known


def source_digest(path: Path) -> str:
    """Tells whether a module is still the one that was tried."""
    return hashlib.sha256(path.read_bytes()).hexdigest()[:16]


def survivors_of(found: dict[str, Any] | None, path: Path) -> set[tuple[str, str, str]]:
    """Place, before and after of a module's survivors.

    Raises:
        ValueError: the module has never been tried or is another one by now.
    """
    if found is None or found.get("source") != source_digest(path):
        raise ValueError(f"{path.name} has changed or was never tried; try it without --survivors")
    return {(place, before, after) for place, before, after in found["survived"]}


def keep(verdict: Verdict, share: float, tests: list[str], path: Path, again: bool = False) -> None:
    """Lay one module's verdict over what is known, and write the page anew.

    Args:
        verdict: of the module.
        share: of all its mutants that was tried.
        tests: that were asked.
        path: the module.
        again: only the last survivors were tried; the other mutants keep their verdict.
    """
    known = known_results()
    found = {
        "share": share,
        "tests": tests,
        "killed": verdict.killed,
        "not_tried": len(verdict.unplaced),
        "survived": sorted([m.place, m.before, m.after] for m in verdict.survived),
        "source": source_digest(path),
    }
    known[verdict.module] = _with_the_others(known[verdict.module], found) if again else found
    RESULTS.write_text(
        json.dumps(known, indent=1, ensure_ascii=False, sort_keys=True) + "\n", encoding="utf-8"
    )
    PAGE.write_text(page(known, tomllib.loads(REASONS.read_text(encoding="utf-8"))), encoding="utf-8")


def _with_the_others(before: dict[str, Any], again: dict[str, Any]) -> dict[str, Any]:
    """What is known after the survivors were tried again, by more tests or by better ones."""
    tried = before["killed"] + len(before["survived"])
    return again | {
        "share": before["share"],
        "tests": sorted({*before["tests"], *again["tests"]}),
        "killed": tried - len(again["survived"]),
        "not_tried": before["not_tried"],
    }


def page(known: dict[str, Any], reasons: dict[str, Any]) -> str:
    """RESULTS.md: a row for each module, then every survivor with the reason why it is one."""
    rows, survivors = [], []
    for module, found in sorted(known.items()):
        tried = found["killed"] + len(found["survived"])
        percent = 100.0 * found["killed"] / tried if tried else 100.0
        tests = ", ".join(Path(test).name for test in found["tests"])
        rows.append(
            f"| {module} | {found['share']:g} | {tried} | {found['killed']} | {percent:.1f} | "
            f"{found['not_tried']} | {tests} |"
        )
        if found["survived"]:
            survivors.append(f"\n### {module}\n")
        for place, before, after in found["survived"]:
            reason = reasons.get(module, {}).get(f"{place}: {before} -> {after}", NOT_JUDGED)
            survivors.append(f"- `{place or 'module'}`: `{before}` → `{after}`: {reason}")
    return HEAD + "\n".join(rows) + "\n\n## Survivors\n" + "\n".join(survivors) + "\n"
