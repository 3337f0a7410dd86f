"""Keeps what was measured beside the page, so that a change to one rule need not play the others again.

The search for the bounds and the rules a change does not touch take most of the time.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from tests.lab.scoreboard.bound import Bound, Hindsight
from tests.lab.scoreboard.foresight import Numbers
from tests.lab.scoreboard.reached import Half, Reached
from tests.lab.scoreboard.runs import PACE_S, Board, Score

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tests.lab.scoreboard.cases import Case


@dataclass(frozen=True, slots=True)
class Kept:
    """What was measured before.

    Attributes:
        boards: of each case; empty where nothing of it was kept.
        played: on which day and with which commit which rows were, the oldest first.
        pace_s: longest time between two ticks of the rules.
    """

    boards: list[Board]
    played: list[str]
    pace_s: float


def dumped(boards: Sequence[Board], played: Sequence[str]) -> str:
    """What was measured, as JSON."""
    cases = {
        board.case.name: {
            "hindsight": None if board.hindsight is None else asdict(board.hindsight),
            "scores": {name: asdict(score) for name, score in board.scores.items()},
        }
        for board in boards
    }
    return json.dumps({"pace_s": PACE_S, "played": list(played), "cases": cases}, indent=1) + "\n"


def loaded(text: str, cases: Sequence[Case]) -> Kept:
    """What was kept of these cases."""
    kept = json.loads(text)
    boards = [_board(case, kept["cases"].get(case.name)) for case in cases]
    return Kept(boards, kept["played"], kept["pace_s"])


def _board(case: Case, kept: dict[str, Any] | None) -> Board:
    if kept is None:
        return Board(case)
    scores = {
        name: Score(**(score | {"reached": Reached(**score["reached"])}))
        for name, score in kept["scores"].items()
    }
    found = kept["hindsight"]
    if found is None:
        return Board(case, scores=scores)
    bounds = {Half(half): _bound(bound) for half, bound in found["bounds"].items()}
    return Board(case, Hindsight(Reached(**found["still"]), bounds), scores)


def _bound(kept: dict[str, Any]) -> Bound:
    line = tuple((kh, kwh) for kh, kwh in kept["line"])
    return Bound(Reached(**kept["best"]), Numbers(**kept["numbers"]), line, kept["tried"])
