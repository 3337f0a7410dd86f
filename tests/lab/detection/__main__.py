"""``python -m tests.lab.detection``: break one thing at a time, let sound years pass, write a page."""

from __future__ import annotations

import argparse
import statistics
import sys
from collections import Counter
from typing import TYPE_CHECKING

from controller.units import duration_text
from tests.lab.detection.episodes import LEAD_DAYS, LEARNED_DAYS, SOUND_YEARS, TRIALS
from tests.lab.detection.plays import sound, told
from tests.lab.pages import PRODUCTS, made, page_option, write_page
from tests.lab.scoreboard.runs import workers

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tests.lab.detection.episodes import Trial
    from tests.lab.detection.plays import Told

PAGE = PRODUCTS / "detection" / "RESULTS.md"
INTRO = f"""# How soon each fault is reported, and how often a sound house calls

Written by `python -m tests.lab.detection`. Each kind is played alone, in several seasons of the example
house, after {LEAD_DAYS:g} sound days, or {LEARNED_DAYS:g} where what is usual has to be learned first. *Told*
counts the plays in which an alarm that belongs to the kind ([expected.py](../campaign/expected.py)) came
within the days watched; the time is counted from the fault.
Some faults wait for their weather: a dry pit hides a broken pump, and an outlet shows nothing in mild air.
*Unseen* are invented years that nobody looked at while limits were set. With *every contact fitted* the time
counts from the first command that a dead motor does not follow.
"""


def trial_row(trial: Trial, found: Sequence[Told]) -> str:
    """One line of the table: the scenes in which limits were set, then those of unseen years."""
    seen, unseen = found[: len(trial.scenes)], found[len(trial.scenes) :]
    codes = sorted({one[1] for one in found if one is not None})
    size = f", {trial.size}" if trial.size else ""
    cells = (trial.kind.value + size, f"{trial.days:g}", shares(seen), shares(unseen), ", ".join(codes))
    return f"| {' | '.join(cells)} |"


def shares(found: Sequence[Told]) -> str:
    """How many were told and after what time, as two cells."""
    times_s = [one[0] for one in found if one is not None]
    median = duration_text(statistics.median(times_s)) if times_s else ""
    return f"{len(times_s)} of {len(found)} | {median}" if found else " | "


def year_row(weather: str, seed: int, days: float, alarms: Sequence[tuple[str, int]]) -> str:
    """One line of the table of sound years."""
    counts = Counter(alarms)
    words = ", ".join(f"{code} {count}" for (code, _), count in sorted(counts.items()))
    urgent = sum(count for (_, priority), count in counts.items() if priority == 1)
    name = f"{weather} {seed}" if seed else weather
    return f"| {name} | {days:g} | {len(alarms)} | {urgent} | {words or 'none'} |"


def main() -> int:
    """Play and write."""
    parser = argparse.ArgumentParser(prog="python -m tests.lab.detection", description="Measures the alarms.")
    parser.add_argument(
        "--only", default="", help="play only kinds whose names hold one of these, sound-years for those"
    )
    parser.add_argument("--processes", type=int, default=1, help="how many at once (1)")
    parser.add_argument("--days", type=float, default=365.0, help="length of a sound year")
    page_option(parser, PAGE)
    options, when = parser.parse_args(), made()
    asked = options.only.split(",")
    trials = [trial for trial in TRIALS if any(part in trial.kind.value for part in asked)]
    years = SOUND_YEARS if not options.only or "sound-years" in asked else ()
    with workers(options.processes) as pool:
        playing = [
            (trial, [pool.submit(told, trial, scene) for scene in (*trial.scenes, *trial.unseen)])
            for trial in trials
        ]
        passing = [(*year, pool.submit(sound, *year, options.days)) for year in years]
        rows = []
        for trial, plays in playing:
            rows.append(trial_row(trial, [play.result() for play in plays]))
            sys.stderr.write(rows[-1] + "\n")
        year_rows = []
        for weather, seed, year in passing:
            year_rows.append(year_row(weather, seed, options.days, year.result()))
            sys.stderr.write(year_rows[-1] + "\n")
    only = f"Only kinds whose names hold one of: {options.only}." if options.only else ""
    parts = [
        INTRO + only,
        "| fault | days watched | told | median | unseen | median | by |\n|---|---|---|---|---|---|---|\n"
        + "\n".join(rows),
    ]
    if year_rows:
        head = "| sound year | days | alarms | act now | which |\n|---|---|---|---|---|\n"
        parts += ["## Sound years", head + "\n".join(year_rows)]
    write_page(options.page, "\n\n".join(parts) + "\n", when)
    return 0


if __name__ == "__main__":
    sys.exit(main())
