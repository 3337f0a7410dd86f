"""Keeps what mutation testing has found, and writes it down for people."""

from __future__ import annotations

import hashlib
import json
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tests.lab.mutation.trial import Verdict

REASONS = Path(__file__).parent / "reasons.toml"
NOT_JUDGED = "not judged yet"
HEAD = """# What the tests notice

Small changes to the program by `python -m tests.lab.mutation`, and whether a test failed. *Not put in place*
are changes of defaults, of class bodies and of statements that only run at import, where they were not tried
with `--afresh`. *Share* is the part of all changes that was tried, drawn by their digest; *tests* are those
that were asked on that day, with that commit. A survivor is a change that none of them noticed.

| module | day, commit | share | tried | killed | killed % | not put in place | tests |
|---|---|---|---|---|---|---|---|
"""
SURVIVORS, ROW, SECTION = "\n## Survivors\n", "| controller/", "### "


@dataclass(frozen=True, slots=True)
class Asked:
    """What was tried.

    Attributes:
        share: of all mutants of a module.
        tests: that were asked.
        made: the day and the commit.
        again: only the last survivors were tried; the other mutants keep their verdict.
    """

    share: float
    tests: list[str]
    made: str
    again: bool = False


def known_results(store: Path) -> dict[str, Any]:
    """What has been found so far, by module."""
    known: dict[str, Any] = json.loads(store.read_text(encoding="utf-8")) if store.exists() else {}
    return known


def source_digest(path: Path) -> str:
    """Says whether a module is still the one that was tried."""
    return hashlib.sha256(path.read_bytes()).hexdigest()[:16]


def survivors_of(found: dict[str, Any] | None, path: Path) -> set[tuple[str, str, str]]:
    """Place, before and after of a module's survivors.

    Raises:
        ValueError: the module has never been tried or is another one by now.
    """
    if found is None or found.get("source") != source_digest(path):
        raise ValueError(f"{path.name} has changed or was never tried; try it without --survivors")
    return {(place, before, after) for place, before, after in found["survived"]}


def keep(verdict: Verdict, asked: Asked, path: Path, store: Path, page: Path) -> None:
    """Lay one module's verdict over what is known, and write its lines of the page anew.

    Args:
        verdict: of the module.
        asked: what was tried.
        path: the module.
        store: what ``--survivors`` goes on from.
        page: for people; the lines of other modules stay as they are.
    """
    known = known_results(store)
    found = {
        "share": asked.share,
        "tests": asked.tests,
        "made": asked.made,
        "killed": verdict.killed,
        "not_tried": len(verdict.unplaced),
        "survived": sorted([m.place, m.before, m.after] for m in verdict.survived),
        "source": source_digest(path),
    }
    known[verdict.module] = _with_the_others(known[verdict.module], found) if asked.again else found
    for product in (store, page):
        product.parent.mkdir(parents=True, exist_ok=True)
    store.write_text(json.dumps(known, indent=1, ensure_ascii=False, sort_keys=True) + "\n", encoding="utf-8")
    text = page.read_text(encoding="utf-8") if page.exists() else ""
    reasons = tomllib.loads(REASONS.read_text(encoding="utf-8"))
    page.write_text(
        page_with(text, verdict.module, known[verdict.module], reasons.get(verdict.module, {})),
        encoding="utf-8",
    )


def _with_the_others(before: dict[str, Any], again: dict[str, Any]) -> dict[str, Any]:
    """What is known after the survivors were tried again, by more tests or by better ones."""
    tried = before["killed"] + len(before["survived"])
    return again | {
        "share": before["share"],
        "tests": sorted({*before["tests"], *again["tests"]}),
        "killed": tried - len(again["survived"]),
        "not_tried": before["not_tried"],
    }


def page_with(text: str, module: str, found: Mapping[str, Any], reasons: Mapping[str, str]) -> str:
    """The page with a row for this module, and its survivors with the reason why each of them is one."""
    table, _, survivors = text.partition(SURVIVORS)
    rows = {_module_of(line): line for line in table.splitlines() if line.startswith(ROW)}
    rows[module] = _row(module, found)
    sections = {part.partition("\n")[0]: part.rstrip() for part in survivors.split(f"\n{SECTION}")[1:]}
    sections.pop(module, None)
    if found["survived"]:
        lines = [
            f"- `{place or 'module'}`: `{before}` → `{after}`: "
            f"{reasons.get(f'{place}: {before} -> {after}', NOT_JUDGED)}"
            for place, before, after in found["survived"]
        ]
        sections[module] = "\n".join([module, "", *lines])
    parts = "".join(f"\n{SECTION}{part}\n" for _, part in sorted(sections.items()))
    return HEAD + "\n".join(row for _, row in sorted(rows.items())) + "\n" + SURVIVORS + parts


def _module_of(row: str) -> str:
    return row.split("|")[1].strip()


def _row(module: str, found: Mapping[str, Any]) -> str:
    tried = found["killed"] + len(found["survived"])
    percent = 100.0 * found["killed"] / tried if tried else 100.0
    tests = ", ".join(Path(test).name for test in found["tests"])
    return (
        f"| {module} | {found['made']} | {found['share']:g} | {tried} | {found['killed']} | {percent:.1f} | "
        f"{found['not_tried']} | {tests} |"
    )
