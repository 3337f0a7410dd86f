"""``python -m tests.lab.campaign.table RESULTS.jsonl``: writes what a campaign has shown on a page."""

from __future__ import annotations

import argparse
import statistics
import sys
from collections import Counter, defaultdict
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING, Any

from controller.faults import FAULTS, FaultCode
from controller.units import duration_text
from tests.lab.campaign.draw import KINDS
from tests.lab.campaign.expected import EXPECTED
from tests.lab.campaign.runs import YEAR_DAYS, kept_results, pairs_of, told
from tests.lab.pages import PRODUCTS, page_option, write_page

if TYPE_CHECKING:
    from collections.abc import Sequence

PAGE = PRODUCTS / "campaign" / "RESULTS.md"
Results = list[dict[str, Any]]
COPED_H = 0.25
INFLOWS = (("up to 85 %", 0.0, 0.85), ("85 to 100 %", 0.85, 1.0), ("more", 1.0, 1e9))
INTRO = """# What the fault campaign has shown

Written by `python -m tests.lab.campaign.table`; how it is played is in [DEVELOPERS.md](../../DEVELOPERS.md).

*Injected* counts faults that began; *masked* ones began while an alarm stood already that could be theirs,
and are left out of *told*. A fault is *told* when an alarm that belongs to its kind
([expected.py](expected.py)) is raised while it lasts or within two hours after. Many were too short, too
small or in the wrong season to show: a pump that is dead through a dry month is not told. *Not monitored*
means that no alarm belongs to the kind.
"""


def markdown(results: Results) -> str:
    """The whole page."""
    years = sum(result["days"] for result in results) / YEAR_DAYS
    ticks = sum(result["ticks"] for result in results)
    lives = sum(result["lives"] for result in results)
    bad = [result for result in results if result["broken"] or result["error"]]
    pairs = {pair for result in results for pair in pairs_of(result)}
    possible = len(list(combinations(KINDS, 2)))
    head = [
        INTRO,
        "| | |\n|---|---|",
        f"| house-years | {years:,.0f} |",
        f"| episodes | {len(results):,} |",
        f"| starts of the controller | {lives:,} |",
        f"| ticks checked | {ticks:,} |",
        f"| faults injected | {sum(len(result['faults']) for result in results):,} |",
        f"| pairs of kinds that met in an episode | {len(pairs):,} of {possible:,} |",
        f"| episodes with a broken promise | {sum(bool(result['broken']) for result in results):,} |",
        f"| episodes that ended in an exception | {sum(bool(result['error']) for result in results):,} |",
    ]
    found = [f"```\n{told(result)}\n```" for result in bad[:50]]
    parts = ["\n".join(head), *found, _detection(results), _bursts(results), _healthy(results)]
    return "\n\n".join(parts) + "\n"


def _detection(results: Results) -> str:
    by_kind: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for result in results:
        for fault in result["faults"]:
            by_kind[fault["kind"]].append(fault)
    lines = [
        "## Faults and whether an alarm reports them",
        "",
        "| fault | injected | masked | told | share | median | 90 % within | by |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for kind in KINDS:
        faults, codes = by_kind[kind.value], EXPECTED[kind]
        masked = sum(fault["masked"] for fault in faults)
        times_s = sorted(fault["told_s"] for fault in faults if fault["told_s"] is not None)
        if not codes:
            lines.append(f"| {kind.value} | {len(faults)} | | | | | | *not monitored* |")
            continue
        seen = len(faults) - masked
        share = f"{100.0 * len(times_s) / seen:.0f} %" if seen else ""
        by = ", ".join(code.value for code in codes)
        lines.append(
            f"| {kind.value} | {len(faults)} | {masked} | {len(times_s)} | {share} "
            f"| {_time(times_s, 0.5)} | {_time(times_s, 0.9)} | {by} |"
        )
    return "\n".join(lines)


def _bursts(results: Results) -> str:
    """Cloudbursts on pits whose pump, float, program and settings were sound through it."""
    sound = [burst for result in results for burst in result.get("bursts", []) if burst["sound"]]
    lines = [
        "## Cloudbursts: did a sound pump cope?",
        "",
        "Nothing else was wrong with pit, process or settings, from the rain until a day after it.",
        "*Shut* is so much water in the tubes that no air passes.",
        "",
        "| most inflow, over the pump's flow | cloudbursts | shut for at most 15 min | longest shut, hours |",
        "|---|---|---|---|",
    ]
    for words, low, high in INFLOWS:
        shut_h = [burst["shut_h"] for burst in sound if low <= burst["inflow"] < high]
        longest = f"{max(shut_h):.1f}" if shut_h else ""
        lines.append(f"| {words} | {len(shut_h)} | {sum(hours <= COPED_H for hours in shut_h)} | {longest} |")
    return "\n".join(lines)


def _time(times_s: Sequence[float], share: float) -> str:
    """The time within which this share of the told faults was told."""
    if not times_s:
        return ""
    at = (
        statistics.quantiles(times_s, n=100, method="inclusive")[round(100 * share) - 1]
        if len(times_s) > 1
        else times_s[0]
    )
    return duration_text(at)


def _healthy(results: Results) -> str:
    lines = ["## Alarms in houses where nothing was wrong", ""]
    for title, varied in (("Settings as shipped", False), ("Settings drawn within their limits", True)):
        healthy = [each for each in results if each["healthy"] and each["house"].endswith("varied") is varied]
        years = sum(result["days"] for result in healthy) / YEAR_DAYS
        if not years:
            continue
        raised: Counter[str] = sum((Counter(result["raised"]) for result in healthy), Counter())
        unfounded: Counter[str] = sum((Counter(result["unfounded"]) for result in healthy), Counter())
        lines += [
            f"{title}, {years:.1f} house-years. An alarm of frost or heat is *unfounded* if the house is in",
            "truth more than 0.5 K on the good side of the limit; any other alarm always is.",
            "",
            "| alarm | priority | raised a year | unfounded a year |",
            "|---|---|---|---|",
        ]
        for code, times in sorted(raised.items()):
            priority = int(FAULTS[FaultCode(code)].priority)
            lines.append(f"| {code} | {priority} | {times / years:.2f} | {unfounded[code] / years:.2f} |")
        total, wrong = sum(raised.values()), sum(unfounded.values())
        lines += [f"| all | | {total / years:.2f} | {wrong / years:.2f} |", ""]
    return "\n".join(lines)


def main() -> int:
    """Write the page; 1 if a promise was broken or the controller failed."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.lab.campaign.table", description="Sums a campaign up."
    )
    parser.add_argument("results", type=Path, help="the file that --out named")
    page_option(parser, PAGE)
    options = parser.parse_args()
    results = kept_results(options.results)
    if not results:
        parser.error(
            f"{options.results} holds no results; play: python -m tests.lab.campaign --years 1 --out FILE"
        )
    when = "; ".join(sorted({result.get("made", "a day that was not noted") for result in results}))
    write_page(options.page, markdown(results), when)
    print(options.page)
    return int(any(result["broken"] or result["error"] for result in results))


if __name__ == "__main__":
    sys.exit(main())
