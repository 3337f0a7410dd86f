"""Everything that is wrong with a settings file, in words and with lines."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from controller.errors import HypocaustError
from controller.settings.schema.quantities import LONGEST_SHOWN

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong.

    Attributes:
        line: where, counted from 1; None where the whole file is meant.
        key: the dotted key; empty where the whole file is meant.
        message: what is wrong and what was expected.
    """

    line: int | None
    key: str
    message: str


class SettingsError(HypocaustError):
    """The file cannot be used; the text has one line ``file:line: key: what is wrong`` for each problem."""

    def __init__(self, name: str, problems: Iterable[Problem]) -> None:
        self.name = name
        self.problems = tuple(sorted(problems, key=lambda problem: (problem.line or 0, problem.key)))
        super().__init__("\n".join(self._text(problem) for problem in self.problems))

    def _text(self, problem: Problem) -> str:
        """One problem as one line."""
        place = self.name if problem.line is None else f"{self.name}:{problem.line}"
        return ": ".join(part for part in (place, problem.key, problem.message) if part)


def dotted(path: Sequence[str | int]) -> str:
    """A path as people write it: ``loops.north.fan_pin``; parts that need quotes have them."""
    return ".".join(_part(str(part)) for part in path)


def _part(part: str) -> str:
    """One part of a dotted key, quoted where TOML needs it."""
    text = part if _BARE_KEY.fullmatch(part) else json.dumps(part)
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}…"
