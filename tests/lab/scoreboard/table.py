"""The scoreboard as Markdown."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.lab.scoreboard.bound import SAME
from tests.lab.scoreboard.reached import HOTTEST_H, Half
from tests.lab.scoreboard.runs import PACE, STRATEGIES

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from tests.lab.scoreboard.reached import Reached
    from tests.lab.scoreboard.runs import Board

PRICE = ("fans, kWh", "K h per kWh", "of hindsight's kWh, %")
WINTER = ("case", "rule", "below 4 °C, K h", "frost kept off, %", *PRICE)
SUMMER = ("case", "rule", "above 32 °C, K h", "relief, %", f"hottest {HOTTEST_H} h, °C", *PRICE)
YEAR = (
    "case",
    "rule",
    "in the band, h",
    "of the year, %",
    "fans, kWh",
    "starts a fan",
    "alarms",
    "promises broken",
)
PLAYED = "- played "
INTRODUCTION = f"""\
Made by `python -m tests.lab.scoreboard`. Every case is a year of weather in a simulated house,
from 1 May to 30 April: one summer, then the winter that follows. Half of the cases served to choose the
settings; the others did not, and are the fairer judges. *Doors* and *shut and shaded* are a long house of
270 m² with 68 tubes of 10 m and 100 mm at 0.9 m in clay and 600 W of fans, the others a house of 135 m².
{PACE}

The rules: **hypocaust** as shipped; **simple-difference** runs while warm air meets soil 5 K colder, or cold
air soil 5 K warmer; **plain-thermostat** runs while the roof is above 24 °C or below 10 °C; with **fans off**
nothing runs. All keep the same limits for water, roots and motors. **hindsight** is what a search with the
year known found, for winter and summer apart (`tests/lab/scoreboard/bound.py` says how); better may be
possible.

- *K h*: degree-hours of the air among the crop; 2 K below 4 °C for 3 hours are 6 K h.
- *frost kept off*: share of the most K h below 4 °C that any line of the case takes away.
- *relief*: share of the K h above 32 °C that the fans take away.
- *hottest {HOTTEST_H} h*: mean temperature of the hottest {HOTTEST_H} hours.
- *fans, kWh*: electricity. Days that get hotter than 32 °C count for summer, all others for winter.
- *K h per kWh*: how many K h below 4 °C, or above 32 °C, each kWh takes away.
- *of hindsight's kWh*: electricity, over the least with which hindsight leaves the same K h, to within
  {100.0 * SAME:g} % of those with fans off (straight lines between the years it tried). 100 % is as good as
  hindsight. A rule that beats the best of hindsight is measured by what that best needs.
- *in the band*: hours of the grower's year in which the air among the crop is neither below `frost_limit`
  ({{low_c:g}} °C) nor above `cool_above` ({{high_c:g}} °C). No vegetable freezes above 0 °C (Whiteman 1957,
  USDA Marketing Research Report 196), and leaves get colder than the air; four of five tomatoes set no fruit
  at 32 °C by day and 26 °C by night (Sato, Peet & Thomas 2000, Plant Cell Environ. 23:719).

A case stands in a table only if there is frost or heat to prevent in it. No year of continental Europe comes
with the weather library; Carolina 5 K colder is like one (-5 °C in January, 20 °C in July, 9 °C in the
mean), but with the sun of 36° north."""


def markdown(boards: Sequence[Board], played: Sequence[str]) -> str:
    """Winter, summer and the year, each with the cases that served to choose the settings apart.

    Args:
        boards: the cases.
        played: on which day and with which commit which rows of them were, the oldest first.
    """
    points = boards[0].case.settings().setpoints
    introduction = INTRODUCTION.format(low_c=points.frost_limit_c, high_c=points.cool_above_c)
    parts = ["# Scoreboard", "", introduction, "", *(f"{PLAYED}{one}" for one in played), ""]
    for title, headings, rows in (
        ("Winter", WINTER, winter_rows),
        ("Summer", SUMMER, summer_rows),
        ("The grower's year", YEAR, year_rows),
    ):
        for words, tuning in (("not used to choose the settings", False), ("used for it", True)):
            mine = [board for board in boards if board.case.tuning is tuning]
            lines = [_row(cells) for board in mine for cells in rows(board)]
            if lines:
                parts += [f"## {title}: cases {words}", "", _row(headings), _row(["---"] * len(headings))]
                parts += [*lines, ""]
    return "\n".join(parts)


def winter_rows(board: Board) -> Iterator[list[str]]:
    """The lines of one case in which there is frost."""

    def kept_off(year: Reached) -> list[str]:
        return [f"{year.cold_kh:.0f}", _percent(board.frost_benefit(year))]

    return _half_rows(board, Half.WINTER, kept_off)


def summer_rows(board: Board) -> Iterator[list[str]]:
    """The lines of one case in which there is heat."""

    def relieved(year: Reached) -> list[str]:
        return [f"{year.hot_kh:.0f}", _percent(board.relief(year)), f"{year.hottest_c:.1f}"]

    return _half_rows(board, Half.SUMMER, relieved)


def _half_rows(board: Board, half: Half, cells: Callable[[Reached], list[str]]) -> Iterator[list[str]]:
    """Fans off, hindsight, and every rule."""
    if board.hindsight is None or not board.has(half):
        return
    name, best = board.case.name, board.hindsight.bounds[half].best
    yield [name, "fans off", *cells(board.hindsight.still), "0", "", ""]
    # All that the hand with hindsight does in this year is against this half.
    per_kwh = board.avoided_kh(half, best) / best.fans_kwh if best.fans_kwh > 0.0 else None
    yield [name, "hindsight", *cells(best), f"{best.fans_kwh:.0f}", _number(per_kwh), "100"]
    for rule in STRATEGIES:
        if rule in board.scores:
            year = board.scores[rule].reached
            kwh = year.kwh(half)
            per_kwh = board.avoided_kh(half, year) / kwh if kwh > 0.0 else None
            over = _percent(board.over_hindsight(half, year))
            yield [name, _named(rule), *cells(year), f"{kwh:.0f}", _number(per_kwh), over]


def year_rows(board: Board) -> Iterator[list[str]]:
    """The lines of one case for the whole year: fans off and every rule."""
    if board.hindsight is not None:
        yield [board.case.name, "fans off", *_year(board.hindsight.still), "", "", ""]
    for rule in STRATEGIES:
        if rule in board.scores:
            score = board.scores[rule]
            counts = (f"{score.starts:.0f}", f"{score.alarms}", f"{score.broken}")
            yield [board.case.name, _named(rule), *_year(score.reached), *counts]


def _year(year: Reached) -> list[str]:
    return [f"{year.band_h:.0f}", f"{100.0 * year.band_h / 8760.0:.1f}", f"{year.fans_kwh:.0f}"]


def _named(rule: str) -> str:
    return f"**{rule}**" if rule == "hypocaust" else rule


def _percent(share: float | None) -> str:
    return "" if share is None else f"{100.0 * share:.0f}"


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.1f}"


def _row(cells: Iterable[str]) -> str:
    return f"| {' | '.join(cells)} |"
