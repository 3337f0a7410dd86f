"""``python -m tests.lab.tonight``: feed rehearsed winters through the forecast and write a page.

The winters are those of ``tests.lab.winters.TEST``; what has not been played yet is played first. Nothing was
chosen on them. The same functions learn here as on the device.
"""

from __future__ import annotations

import argparse
import statistics
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING

from controller.forecast.outlook import NIGHTS_FOR_BOUNDS
from tests.lab.pages import PRODUCTS, made, page_option, write_page
from tests.lab.tonight.announced import announced
from tests.lab.tonight.looks import seen
from tests.lab.tonight.scores import (
    FORECAST_BIAS_K,
    FORECAST_ERROR_K,
    FROM_NIGHT,
    play,
    score,
    score_without,
    true_lows,
)
from tests.lab.winters import TEST, WITH, WITHOUT, winters

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tests.lab.tonight.announced import Announced
    from tests.lab.tonight.scores import Played, Score
    from tests.lab.winters import Winter

PAGE = PRODUCTS / "tonight" / "RESULTS.md"
SEED = 2026  # of the errors of the forecasts
TIMES = ("sunset", "midnight")
INTRO = f"""# How good the outlook on the night is

Written by `python -m tests.lab.tonight`. Rehearsed winters from the middle of September to the middle of
April are fed, look by look, through the functions that learn on the device, from night {FROM_NIGHT} on.
*As last night* takes the coldest of the house last night for tonight's. A *forecast* is the true low
outdoors with a normal error of {FORECAST_ERROR_K} K and a constant bias of {FORECAST_BIAS_K:g} K, given in
the afternoon.
Constants and prior come from winters that are not on this page, of other houses and seeds; but all invented
years are made of the days of three weather stations, so the weather itself is not wholly unseen.
Errors are mean absolute errors of the coldest air of the house, in K. All figures are of a simulated house.
"""
WITHOUT_WORDS = """\
The same winters were played with fans that stood. On nights in which fans were expected to warm the house,
the estimate of its coldest without them is held against that; it comes from the settings alone."""


@dataclass(frozen=True, slots=True)
class Row:
    """One winter, by the log alone, with forecasts, and the coldest of its nights with fans that stood."""

    winter: Winter
    by_log: Played
    by_forecast: Played
    limit_c: float
    still: dict[int, tuple[float, float]]

    def score(self, when: str, *, forecast: bool) -> Score:
        """At one time of the night."""
        return score(self.by_forecast if forecast else self.by_log, when)


def errors(rows: Sequence[Row], when: str) -> str:
    """The table of one time of the night."""
    lines = [
        f"| {when} | nights | as last night | log alone | better by | below 6 °C: last, log | forecast |",
        "|---|---|---|---|---|---|---|",
    ]
    both = [(row, row.score(when, forecast=False), row.score(when, forecast=True)) for row in rows]
    for row, log, forecast in both:
        lines.append(
            f"| {_name(row.winter)} | {log.nights} | {log.as_last_k:.2f} | {log.error_k:.2f} | "
            f"{100.0 * log.better:.0f} % | {log.cold_as_last_k:.2f}, {log.cold_error_k:.2f} | "
            f"{forecast.error_k:.2f} |"
        )
    last_k = statistics.fmean(log.as_last_k for _, log, _ in both)
    log_k = statistics.fmean(log.error_k for _, log, _ in both)
    better = statistics.fmean(log.better for _, log, _ in both)
    forecast_k = statistics.fmean(forecast.error_k for *_, forecast in both)
    lines.append(f"| mean | | {last_k:.2f} | {log_k:.2f} | {100.0 * better:.0f} % | | {forecast_k:.2f} |")
    return "\n".join(lines)


def bounds(rows: Sequence[Row]) -> str:
    """The table of the bounds at sunset."""
    lines = [
        "| at sunset | log alone: within, half-width | with forecast: within, half-width |",
        "|---|---|---|",
    ]
    for row in rows:
        cells = [
            f"{100.0 * one.within:.0f} %, {one.half_k:.1f} K"
            for one in (row.score("sunset", forecast=False), row.score("sunset", forecast=True))
        ]
        lines.append(f"| {_name(row.winter)} | {' | '.join(cells)} |")
    return "\n".join(lines)


def announcements(rows: Sequence[Row]) -> str:
    """The table of frosty nights and of what would have been announced."""
    lines = [
        "| frosty nights | as last night: announced, for nothing | log alone | with forecast |",
        "|---|---|---|---|",
    ]
    sums = [[0, 0, 0], [0, 0, 0], [0, 0, 0]]
    for row in rows:
        found = announced(row.by_log, row.limit_c), announced(row.by_forecast, row.limit_c)
        cells = [found[0].as_last, found[0].by_outlook, found[1].by_outlook]
        for total, cell in zip(sums, cells, strict=True):
            for at, number in enumerate(cell):
                total[at] += number
        lines.append(f"| {_name(row.winter)}: {cells[0].frosty} | {' | '.join(map(_cell, cells))} |")
    totals = [f"{hit} ({100.0 * hit / max(frosty, 1):.0f} %), {false}" for frosty, hit, false in sums]
    lines.append(f"| all: {sums[0][0]} | {' | '.join(totals)} |")
    return "\n".join(lines)


def without(rows: Sequence[Row]) -> str:
    """The table of the nights without the store."""
    lines = [
        "| at sunset, by the log alone | nights | store raised the low by | error without it | within |",
        "|---|---|---|---|---|",
    ]
    for row in rows:
        found = score_without(row.by_log, row.still, "sunset")
        cells = "0 | | |"
        if found is not None:
            raised, off = f"{found.raise_k:.1f} K", f"{found.error_k:.1f} K"
            cells = f"{found.nights} | {raised} | {off} | {100.0 * found.within:.0f} % |"
        lines.append(f"| {_name(row.winter)} | {cells}")
    return "\n".join(lines)


def _cell(found: Announced) -> str:
    return f"{found.announced}, {found.for_nothing}"


def _name(winter: Winter) -> str:
    changes = ", ".join(f"{key} {value}" for key, value in winter.changes.items())
    parts = (f"{winter.name}: {winter.weather} {winter.seed}", winter.file.stem, changes)
    return ", ".join(part for part in parts if part)


def main() -> int:
    """Play and write."""
    parser = argparse.ArgumentParser(prog="python -m tests.lab.tonight", description=main.__doc__)
    parser.add_argument("names", nargs="*", help="which winters; all of the test table if none is named")
    parser.add_argument("--without-place", action="store_true", help="let the settings not say the place")
    page_option(parser, PAGE)
    options, when = parser.parse_args(), made()
    rows = []
    for winter in TEST:
        if options.names and winter.name not in options.names:
            continue
        winters((winter,))
        one = seen(winter, WITH, with_place=not options.without_place)
        still = true_lows(seen(winter, WITHOUT))
        limit_c = one.settings.setpoints.frost_limit_c
        rows.append(Row(winter, play(one), play(one, SEED), limit_c, still))
        sys.stderr.write(f"{winter.name}\n")
    said = f"A night is announced by what is expected at 17 to 21 o'clock, from night {NIGHTS_FOR_BOUNDS} on."
    parts = [INTRO, *(errors(rows, time) for time in TIMES), "## Bounds", bounds(rows)]
    parts += ["## Announcements", said, announcements(rows)]
    parts += ["## Without the store", WITHOUT_WORDS, without(rows)]
    write_page(options.page, "\n\n".join(parts) + "\n", when)
    return 0


if __name__ == "__main__":
    sys.exit(main())
