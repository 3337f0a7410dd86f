"""``python -m tests.lab.scoreboard.probe_errors``: what it costs when probes read 1.5 K wrong."""

from __future__ import annotations

import argparse
import sys
from itertools import product
from typing import TYPE_CHECKING

from controller.simulator.plant.fault_kinds import FaultKind
from controller.simulator.plant.faults import ScriptedFault
from controller.simulator.weather.load import load_weather
from tests.lab.pages import PRODUCTS, made, page_option, write_page
from tests.lab.scoreboard.cases import CASES, DAYS
from tests.lab.scoreboard.foresight import STILL, season
from tests.lab.scoreboard.runs import PACE, rehearsed, results_of

if TYPE_CHECKING:
    from controller.settings.schema import Settings
    from tests.lab.scoreboard.cases import Case

PAGE = PRODUCTS / "scoreboard" / "PROBE_ERRORS.md"
ERROR_K = 1.5
PLACES = ("bench", "ceiling", "soil", "root-zone", "outlet")
# Where a house has several of a kind, one of them is off more often than all in the same direction.
SEVERAL = ("ceiling", "soil", "root-zone")
SOUND = ("", 0.0)
ALONE = "one "
ERRORS = (
    SOUND,
    *product(PLACES, (-ERROR_K, ERROR_K)),
    *product((ALONE + place for place in SEVERAL), (-ERROR_K, ERROR_K)),
)


def off(settings: Settings, place: str, by_k: float) -> tuple[ScriptedFault, ...]:
    """Every probe of a place off by as much, or one of them, from the start to the end."""
    names = [
        name for name, probe in settings.probes.items() if place and probe.place == place.removeprefix(ALONE)
    ]
    wrong = names[:1] if place.startswith(ALONE) else names
    return tuple(ScriptedFault(FaultKind.PROBE_OFFSET, name, 0.0, by=by_k) for name in wrong)


def cold_kh(case: Case, error: tuple[str, float]) -> float:
    """Degree-hours below 4 °C of a season with such probes."""
    settings = case.settings()
    place, by_k = error
    return rehearsed(case, "hypocaust", settings, off(settings, place, by_k)).reached.cold_kh


def still_kh(case: Case) -> float:
    """The same with the fans off."""
    return season(case.settings(), load_weather(case.weather, case.seed), STILL, DAYS).cold_kh


def table(still: dict[Case, float], cold: dict[tuple[Case, tuple[str, float]], float]) -> str:
    """What is lost, in points of what sound probes bring."""
    lines = [
        "# What wrong probes cost",
        "",
        "Made by `python -m tests.lab.scoreboard.probe_errors`: every probe of a place, or one, reads",
        "too warm or too cold for a whole season. The loss is in points of the reduction of degree-hours",
        "below 4 °C that sound probes bring.",
        PACE,
        "",
        f"| probes | {' | '.join(case.name for case in still)} |",
        f"|---|{'---|' * len(still)}",
    ]
    for place, by_k in ERRORS[1:]:
        cells = []
        for case, still_sum in still.items():
            brought = still_sum - cold[case, SOUND]
            cells.append(f"{100.0 * (cold[case, (place, by_k)] - cold[case, SOUND]) / brought:+.1f}")
        lines.append(f"| {place} {by_k:+.1f} K | {' | '.join(cells)} |")
    return "\n".join([*lines, ""])


def main() -> int:
    """Play two cases with every error, print the table and keep it."""
    parser = argparse.ArgumentParser(prog="python -m tests.lab.scoreboard.probe_errors", description=__doc__)
    page_option(parser, PAGE)
    page, when = parser.parse_args().page, made()
    cases = [CASES[0], CASES[2]]
    still = {case: still_kh(case) for case in cases}
    text = table(still, results_of(cold_kh, list(product(cases, ERRORS))))
    print(text)
    write_page(page, text, when)
    return 0


if __name__ == "__main__":
    sys.exit(main())
