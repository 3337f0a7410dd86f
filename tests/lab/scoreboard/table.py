"""The scoreboard as Markdown."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.lab.scoreboard.runs import PACE, STRATEGIES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from tests.lab.scoreboard.foresight import Reached
    from tests.lab.scoreboard.runs import Board

HEADINGS = (
    "case",
    "rule",
    "frost benefit %",
    "below 4 °C, K h",
    "above 32 °C, K h",
    "fans, kWh",
    "of thermostat %",
    "heat per kWh",
    "starts a fan",
    "alarms",
    "promises broken",
)


def markdown(boards: Sequence[Board], played: Sequence[str]) -> str:
    """One table for the cases the defaults were chosen on, one for those they were not.

    Args:
        boards: the cases.
        played: on which day and with which commit which rows of them were, the oldest first.
    """
    parts = ["# Scoreboard", "", *INTRODUCTION, "", *(f"{PLAYED}{one}" for one in played), ""]
    for title, tuning in (("Cases not used to choose the defaults", False), ("Cases used for it", True)):
        mine = [board for board in boards if board.case.tuning is tuning]
        if mine:
            parts += [f"## {title}", "", _row(HEADINGS), _row(["---"] * len(HEADINGS))]
            parts += [_row(cells) for board in mine for cells in rows(board)]
            parts.append("")
    return "\n".join(parts)


PLAYED = "- played "
INTRODUCTION = (
    "Made by `python -m tests.lab.scoreboard`: 1 July to 30 June for every case. Frost benefit is",
    "the share of the best reduction of degree-hours below 4 °C among the crop that a search with the year",
    "known found (a bound found, not proven; `tests/lab/scoreboard/foresight.py` says how). It is left",
    "out where there is too little frost to prevent. Heat per kWh counts heat into and out of the soil.",
    PACE,
)


def rows(board: Board) -> Iterator[list[str]]:
    """The lines of one case: fans off, the bound, and every rule."""
    still, bound, scores = board.still, board.bound, board.scores or {}
    if still is not None:
        yield [
            board.case.name,
            "fans off",
            "0",
            f"{still.cold_kh:.0f}",
            f"{still.hot_kh:.0f}",
            "0",
            *["" for _ in HEADINGS[6:]],
        ]
    if bound is not None:
        yield ["", "hindsight", *_cells(board, bound.reached), *["" for _ in HEADINGS[8:]]]
    for strategy in STRATEGIES:
        if strategy in scores:
            score = scores[strategy]
            yield [
                "",
                strategy,
                *_cells(board, score.reached),
                f"{score.starts:.0f}",
                f"{score.alarms}",
                f"{score.broken}",
            ]


def _cells(board: Board, reached: Reached) -> list[str]:
    benefit = board.benefit(reached)
    thermostat = (board.scores or {}).get("plain-thermostat")
    share = 100.0 * reached.fans_kwh / thermostat.reached.fans_kwh if thermostat is not None else None
    return [
        "" if benefit is None else f"{100.0 * benefit:.1f}",
        f"{reached.cold_kh:.0f}",
        f"{reached.hot_kh:.0f}",
        f"{reached.fans_kwh:.0f}",
        "" if share is None else f"{share:.0f}",
        f"{reached.heat_kwh / reached.fans_kwh:.1f}" if reached.fans_kwh > 0.0 else "",
    ]


def _row(cells: Iterable[str]) -> str:
    return f"| {' | '.join(cells)} |"
