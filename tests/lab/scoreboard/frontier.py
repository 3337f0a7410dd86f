"""``python -m tests.lab.scoreboard.frontier``: what electricity buys, when the year is known.

The bound of the scoreboard asks for the least frost, whatever it costs. Here the ideal hand of
``foresight.py`` is told to be thrifty: to bank only at larger differences, and to return warmth later. The
shipped rule is set beside it. Where it lies on the ideal hand's line, no other way of asking for the fans
that was tried would have saved electricity without letting more frost in.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from itertools import product
from typing import TYPE_CHECKING

from controller.simulator.weather.load import load_weather
from tests.lab.pages import PRODUCTS, made, page_option, write_page
from tests.lab.scoreboard.cases import CASES
from tests.lab.scoreboard.foresight import STILL, Numbers, Reached, season
from tests.lab.scoreboard.runs import PACE, rehearsed, results_of

if TYPE_CHECKING:
    from tests.lab.scoreboard.cases import Case

PAGE = PRODUCTS / "scoreboard" / "FRONTIER.md"
BANK_FROM_K = (0.5, 1.0, 2.0, 4.0, 6.0, 8.0)
RETURN_BELOW_C = (4.0, 4.3)
HANDS = tuple(product(BANK_FROM_K, RETURN_BELOW_C))
OTHERS = ("fans off", "hypocaust", "plain-thermostat")
Way = tuple[float, float] | str


def played(case: Case, way: Way) -> Reached:
    """A season of the ideal hand with these two numbers, of a rule, or with the fans off."""
    if isinstance(way, str) and way != "fans off":
        return rehearsed(case, way).reached
    hand = STILL
    if not isinstance(way, str):
        bank_from_k, return_below_c = way
        hand = replace(Numbers(), bank_from_k=bank_from_k, return_below_c=return_below_c)
    return season(case.settings(), load_weather(case.weather, case.seed), hand)


def table(cases: tuple[Case, ...], reached: dict[tuple[Case, Way], Reached]) -> str:
    """One table a case, the most electricity first."""
    lines = [
        "# What electricity buys",
        "",
        "Made by `python -m tests.lab.scoreboard.frontier`. The ideal hand knows the year, sees true",
        "temperatures and has no motor limits; it banks from one difference on and returns warmth below one",
        "temperature. The frost kept off is a share of the most that any line of the table keeps off.",
        PACE,
    ]
    for case in cases:
        mine = {way: result for (of, way), result in reached.items() if of == case}
        still_kh, thermostat_kwh = mine["fans off"].cold_kh, mine["plain-thermostat"].fans_kwh
        most_kh = still_kh - min(result.cold_kh for result in mine.values())
        lines += ["", f"## {case.name}", "", "| who | frost kept off, % | fans, kWh | of thermostat, % |"]
        lines.append("|---|---|---|---|")
        for way, result in sorted(mine.items(), key=lambda item: -item[1].fans_kwh):
            kept = 100.0 * (still_kh - result.cold_kh) / most_kh
            share = 100.0 * result.fans_kwh / thermostat_kwh
            lines.append(f"| {named(way)} | {kept:.1f} | {result.fans_kwh:.0f} | {share:.0f} |")
    return "\n".join([*lines, ""])


def named(way: Way) -> str:
    """For the table."""
    if isinstance(way, str):
        return f"**{way}**" if way == "hypocaust" else way
    return f"ideal hand, banks from {way[0]:g} K, returns below {way[1]:g} °C"


def main() -> int:
    """Play three tuning cases, print the tables and keep them."""
    parser = argparse.ArgumentParser(prog="python -m tests.lab.scoreboard.frontier", description=__doc__)
    page_option(parser, PAGE)
    page, when = parser.parse_args().page, made()
    cases = (CASES[0], CASES[1], CASES[6])
    text = table(cases, results_of(played, list(product(cases, (*OTHERS, *HANDS)))))
    print(text)
    write_page(page, text, when)
    return 0


if __name__ == "__main__":
    sys.exit(main())
