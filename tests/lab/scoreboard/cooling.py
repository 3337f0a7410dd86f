"""``python -m tests.lab.scoreboard.cooling``: what cooling brings on hot days, and what it costs."""

from __future__ import annotations

import argparse
import sys
from itertools import product
from typing import TYPE_CHECKING

from tests.lab.pages import PRODUCTS, made, page_option, write_page
from tests.lab.scoreboard.cases import CASES
from tests.lab.scoreboard.runs import PACE, rehearsed, results_of

if TYPE_CHECKING:
    from tests.lab.scoreboard.cases import Case
    from tests.lab.scoreboard.foresight import Reached

PAGE = PRODUCTS / "scoreboard" / "COOLING.md"
ASKED = "hypocaust, cooling asked for"
WAYS = ("fans-off", "fans-always", "plain-thermostat", "hypocaust", ASKED)


def played(case: Case, way: str) -> Reached:
    """A season of a rule."""
    settings = case.settings()
    if way == ASKED:
        points = settings.setpoints.model_copy(update={"cooling": True})
        settings = settings.model_copy(update={"setpoints": points})
    return rehearsed(case, "hypocaust" if way == ASKED else way, settings).reached


def table(cases: tuple[Case, ...], reached: dict[tuple[Case, str], Reached]) -> str:
    """Heat among the crop and electricity of every way."""
    lines = [
        "# What cooling brings",
        "",
        "Made by `python -m tests.lab.scoreboard.cooling`: degree-hours above 32 °C among the crop and",
        "electricity of a season from 1 July. The root-zone limit holds for every rule; soil at that limit",
        "takes no more heat.",
        PACE,
        "",
        "| case | rule | above 32 °C, K h | relief, K h | fans, kWh |",
        "|---|---|---|---|---|",
    ]
    for case, way in product(cases, WAYS):
        result, still = reached[case, way], reached[case, "fans-off"]
        relief_kh = still.hot_kh - result.hot_kh
        lines.append(
            f"| {case.name} | {way} | {result.hot_kh:.1f} | {relief_kh:+z.1f} | {result.fans_kwh:.0f} |"
        )
    return "\n".join([*lines, ""])


def main() -> int:
    """Play two tuning cases, print the table and keep it."""
    parser = argparse.ArgumentParser(prog="python -m tests.lab.scoreboard.cooling", description=__doc__)
    page_option(parser, PAGE)
    page, when = parser.parse_args().page, made()
    cases = (CASES[0], CASES[2])
    text = table(cases, results_of(played, list(product(cases, WAYS))))
    print(text)
    write_page(page, text, when)
    return 0


if __name__ == "__main__":
    sys.exit(main())
