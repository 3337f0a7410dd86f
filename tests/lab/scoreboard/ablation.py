"""``python -m tests.lab.scoreboard.ablation``: what each ingredient of the rule is worth, left out."""

from __future__ import annotations

import argparse
import sys
from itertools import product
from typing import TYPE_CHECKING, Any
from unittest.mock import patch

from controller.decision.demand import heat_rule
from controller.decision.state import Need
from controller.rehearsal.strategies import STRATEGIES
from tests.lab.pages import PRODUCTS, made, page_option, write_page
from tests.lab.scoreboard.cases import CASES
from tests.lab.scoreboard.runs import PACE, rehearsed, results_of

if TYPE_CHECKING:
    from controller.decision.wish import LoopView, Wish
    from controller.settings.schema import Settings
    from tests.lab.scoreboard.cases import Case
    from tests.lab.scoreboard.runs import Score

PAGE = PRODUCTS / "scoreboard" / "ABLATION.md"
SHIPPED = "as shipped"
SEASON = "season's need"

# What is changed to leave an ingredient out. The copies are not held to the limits that a file is held to.
WITHOUT: dict[str, dict[str, dict[str, Any]]] = {
    SHIPPED: {},
    "useful difference": {"fans": {"useful_difference_k": 0.5, "difference_deadband_k": 0.4}},
    "heat per watt": {"fans": {"heat_per_watt": 0.0}},
    "outlet confirmation": {"fans": {"proven_heat_per_watt": -1e9}},
    SEASON: {},
    "return near the frost limit": {"setpoints": {"heat_below_c": 10.0, "comfort_floor_c": 11.0}},
    "one loop after the other": {"fans": {"return_spread_k": 0.0}},
    "stagger": {"fans": {"stagger_s": 0.0}},
}


def banks_all_year(view: LoopView) -> Wish:
    """The rule without a memory of cold nights."""
    return heat_rule(view._replace(need=Need()))


def changed(settings: Settings, changes: dict[str, dict[str, Any]]) -> Settings:
    """The settings with some values replaced."""
    tables = {name: getattr(settings, name).model_copy(update=values) for name, values in changes.items()}
    return settings.model_copy(update=tables)


def without(case: Case, ingredient: str) -> Score:
    """A season of the rule without one ingredient."""
    rule = banks_all_year if ingredient == SEASON else heat_rule
    with patch.dict(STRATEGIES, {"hypocaust": rule}):
        return rehearsed(case, "hypocaust", changed(case.settings(), WITHOUT[ingredient]))


def table(cases: tuple[Case, ...], scores: dict[tuple[Case, str], Score]) -> str:
    """What changes without each ingredient."""
    lines = [
        "# What each ingredient is worth",
        "",
        "Made by `python -m tests.lab.scoreboard.ablation`. Each leaves one ingredient out. The numbers are",
        "degree-hours below 4 °C among the crop, fan electricity in kWh and starts a fan, for a season.",
        PACE,
        "",
        f"| without | {' | '.join(f'{case.name}: K h | kWh | starts' for case in cases)} |",
        f"|---|{'---|' * (3 * len(cases))}",
    ]
    for ingredient in WITHOUT:
        cells = []
        for case in cases:
            score = scores[case, ingredient]
            cells += [
                f"{score.reached.cold_kh:.0f}",
                f"{score.reached.fans_kwh:.0f}",
                f"{score.starts:.0f}",
            ]
        name = "nothing (as shipped)" if ingredient == SHIPPED else ingredient
        lines.append(f"| {name} | {' | '.join(cells)} |")
    return "\n".join([*lines, ""])


def main() -> int:
    """Play every variant of two tuning cases, print the table and keep it."""
    parser = argparse.ArgumentParser(prog="python -m tests.lab.scoreboard.ablation", description=__doc__)
    page_option(parser, PAGE)
    page, when = parser.parse_args().page, made()
    cases = CASES[:2]
    text = table(cases, results_of(without, list(product(cases, WITHOUT))))
    print(text)
    write_page(page, text, when)
    return 0


if __name__ == "__main__":
    sys.exit(main())
