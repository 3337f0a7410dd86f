"""Faults on purpose: a script of what breaks when, read from TOML, and what is broken now.

A script is a list of tables::

    [[fault]]
    at = "2 d 6 h"        # after the start
    for = "3 h"           # left out: to the end
    kind = "probe-drift"
    subject = "bench"     # the probe, sump or loop, if the kind has one
    by = "0.5 K"          # how much, if the kind has a size
    with = "outdoor"      # the other one, if the kind takes two

``config/FAULTS.md`` lists the kinds; ``python -m controller.simulator.plant.faults_page`` writes it.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from controller.settings.locate import locate
from controller.settings.problems import Problem, SettingsError, dotted
from controller.settings.schema.quantities import shown
from controller.settings.toml_file import NotTomlError, parsed, text_of
from controller.simulator.plant.fault_kinds import SPECS, FaultKind

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from controller.settings.schema import Settings

# Time added up in steps misses a round figure by less than this; without it a change that is nearly due would
# never come, because the rest of the way is too short to move the clock.
ROUNDING_S = 1e-6
SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86_400.0}
_DURATION = re.compile(r"\s*(?:\d+(?:\.\d+)?\s*(?:s|min|h|d)\s*)+")
_PART = re.compile(r"(\d+(?:\.\d+)?)\s*(s|min|h|d)\b")


@dataclass(frozen=True, slots=True)
class ScriptedFault:
    """One fault, from ``at_s`` to ``until_s`` after the start.

    Attributes:
        kind: what breaks.
        subject: the probe, sump or loop; empty if the kind has none.
        at_s: when.
        until_s: until when.
        by: how much, in K, as a share or in m³, as the kind has it.
        other: the other probe or loop of a kind that takes two.
    """

    kind: FaultKind
    subject: str
    at_s: float
    until_s: float = math.inf
    by: float = 0.0
    other: str = ""

    def active(self, passed_s: float) -> bool:
        """Whether it is there at this time after the start."""
        return self.at_s <= passed_s < self.until_s


def load_faults(path: Path, settings: Settings) -> tuple[ScriptedFault, ...]:
    """Read a fault script.

    Raises:
        SettingsError: it cannot be read or used; one line ``file:line: key: what is wrong`` for each problem.
    """
    try:
        table, lines = parsed(text_of(path))
    except NotTomlError as trouble:
        raise SettingsError(str(path), [Problem(trouble.line, "", str(trouble))]) from None
    problems = [
        Problem(locate(lines, [key]), dotted([key]), "unknown key; expected [[fault]] tables")
        for key in table
        if key != "fault"
    ]
    entries = table.get("fault", [])
    if not (isinstance(entries, list) and all(isinstance(entry, dict) for entry in entries)):
        problems.append(Problem(locate(lines, ["fault"]), "fault", "expected [[fault]] tables"))
        entries = []
    faults = []
    for index, entry in enumerate(entries):
        found_problems = list(_problems(entry, settings))
        problems += [
            Problem(locate(lines, ["fault", index, key]), dotted(["fault", index, key]), message)
            for key, message in found_problems
        ]
        if not found_problems:
            faults.append(_fault(entry))
    if problems:
        raise SettingsError(str(path), problems)
    return tuple(sorted(faults, key=lambda fault: fault.at_s))


def _problems(entry: dict[str, Any], settings: Settings) -> Iterator[tuple[str, str]]:
    """What is wrong with one table, as (key, words)."""
    for key in entry:
        if key not in {"at", "for", "kind", "subject", "by", "with"}:
            yield key, "unknown key; expected at, for, kind, subject, by, with"
    for key in ("at", "for"):
        if key in entry and duration_s(entry[key]) is None:
            yield key, f'{shown(entry[key])} is not a duration; expected for example "2 d 6 h" or "90 s"'
    if "at" not in entry:
        yield "at", 'is missing; expected when it begins, for example "2 d 6 h"'
    words = [kind.value for kind in FaultKind]
    kind = entry.get("kind")
    if kind not in words:
        yield "kind", f"{shown(kind)} is not a kind of fault; expected one of {', '.join(words)}"
        return
    yield from _subject_problems(entry, FaultKind(kind), settings)
    yield from _size_problems(entry, FaultKind(kind))


def _subject_problems(
    entry: dict[str, Any], kind: FaultKind, settings: Settings
) -> Iterator[tuple[str, str]]:
    """What is wrong with the subject and its partner."""
    spec = SPECS[kind]
    subject, other = entry.get("subject"), entry.get("with")
    if not spec.subjects:
        if subject is not None:
            yield "subject", f"{kind.value} takes no subject"
    else:
        names = [name for table in spec.subjects for name in getattr(settings, table)]
        places = " or ".join(spec.subjects)
        if subject not in names:
            yield (
                "subject",
                f"{shown(subject)} is not among the {places} of these settings: {', '.join(names)}",
            )
        if spec.partner and (other not in names or other == subject):
            rest = ", ".join(name for name in names if name != subject)
            yield "with", f"{shown(other)} is not among the other {places} of these settings: {rest}"
    if not spec.partner and other is not None:
        yield "with", f"{kind.value} takes no second subject"


def _size_problems(entry: dict[str, Any], kind: FaultKind) -> Iterator[tuple[str, str]]:
    """What is wrong with the size."""
    spec, written = SPECS[kind], entry.get("by")
    if spec.by is None:
        if written is not None:
            yield "by", f"{kind.value} has no size"
    elif spec.by.read(written) is None:
        wanted = f'expected how much {spec.by_what}, for example "{spec.by.example}"'
        yield "by", f"{shown(written)} is not a size; {wanted}"


def _fault(entry: dict[str, Any]) -> ScriptedFault:
    kind = FaultKind(entry["kind"])
    size = SPECS[kind].by
    at_s = duration_s(entry["at"]) or 0.0
    return ScriptedFault(
        kind,
        entry.get("subject", ""),
        at_s,
        math.inf if "for" not in entry else at_s + (duration_s(entry["for"]) or 0.0),
        0.0 if size is None else size.read(entry["by"]) or 0.0,
        entry.get("with", ""),
    )


def duration_s(written: object) -> float | None:
    """A duration such as ``2 d 6 h`` in seconds, None if it is not a duration."""
    if not isinstance(written, str) or not _DURATION.fullmatch(written):
        return None
    return sum(float(number) * SECONDS[unit] for number, unit in _PART.findall(written))


class FaultBoard:
    """What is broken now, looked up by kind and subject."""

    def __init__(self, faults: Sequence[ScriptedFault]) -> None:
        self._faults = tuple(faults)
        self._changes_s = sorted({fault.at_s for fault in faults} | {fault.until_s for fault in faults})
        self._next_s = self._changes_s[0] if self._changes_s else math.inf
        self._now: dict[tuple[FaultKind, str], ScriptedFault] = {}
        self._subjects: frozenset[str] = frozenset()

    def bring_up_to(self, passed_s: float) -> bool:
        """Bring the board to a time after the start; return whether anything broke or healed."""
        passed_s += ROUNDING_S
        if passed_s < self._next_s:
            return False
        self._now = {(fault.kind, fault.subject): fault for fault in self._faults if fault.active(passed_s)}
        self._subjects = frozenset(subject for _kind, subject in self._now)
        self._next_s = next((change for change in self._changes_s if change > passed_s), math.inf)
        return True

    @property
    def next_change_s(self) -> float:
        """When something breaks or heals next, after the start."""
        return self._next_s

    def find(self, kind: FaultKind, subject: str = "") -> ScriptedFault | None:
        """The fault of this kind and subject that is there now."""
        return self._now.get((kind, subject)) if self._now else None

    def all_of(self, kind: FaultKind) -> list[tuple[str, ScriptedFault]]:
        """All faults of a kind that are there now, with their subjects."""
        return [(subject, fault) for (found, subject), fault in self._now.items() if found is kind]

    def touches(self, subject: str) -> bool:
        """Whether anything of this probe, sump or loop is broken now."""
        return subject in self._subjects

    def any(self) -> bool:
        """Whether anything is broken now."""
        return bool(self._now)
