"""Reads the stored scoreboard back, so that a change to one rule need not play the others again.

The search for the bound and the rules a change does not touch take most of the time. What is read back has
the table's own precision, which is what the table shows again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.lab.scoreboard.foresight import Bound, Numbers, Reached
from tests.lab.scoreboard.runs import Board, Score
from tests.lab.scoreboard.table import HEADINGS, PLAYED

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from tests.lab.scoreboard.cases import Case


def boards_of(text: str, cases: Sequence[Case]) -> list[Board]:
    """What a stored table says of these cases; an empty board for a case it does not hold."""
    boards = {case.name: Board(case, scores={}) for case in cases}
    for name, rule, cells in _rows(text):
        board = boards.get(name)
        if board is None or board.scores is None:
            continue
        reached = _reached(cells)
        if rule == "fans off":
            board.still = reached
        elif rule == "hindsight":
            board.bound = Bound(reached, Numbers(), 0)
        else:
            starts, alarms, broken = (int(cells[heading]) for heading in HEADINGS[-3:])
            board.scores[rule] = Score(reached, starts, broken, alarms)
    return list(boards.values())


def played_before(text: str) -> list[str]:
    """What a stored table says of when its rows were played."""
    return [line.removeprefix(PLAYED) for line in text.splitlines() if line.startswith(PLAYED)]


def _rows(text: str) -> Iterator[tuple[str, str, dict[str, str]]]:
    """Case, rule and cells by heading of every line with numbers."""
    name = ""
    for line in text.splitlines():
        cells = [cell.strip() for cell in line.strip().strip("|").split("|")]
        if len(cells) != len(HEADINGS) or cells[0] in (HEADINGS[0], "---"):
            continue
        name = cells[0] or name
        yield name, cells[1], dict(zip(HEADINGS, cells, strict=True))


def _reached(cells: dict[str, str]) -> Reached:
    fans_kwh = float(cells["fans, kWh"])
    return Reached(
        float(cells["below 4 °C, K h"]),
        float(cells["above 32 °C, K h"]),
        fans_kwh,
        fans_kwh * float(cells["heat per kWh"] or 0.0),
    )
