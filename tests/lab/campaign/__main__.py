"""``python -m tests.lab.campaign --years N``: let everything go wrong, for so many house-years."""

from __future__ import annotations

import argparse
import json
import math
import sys
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

from controller.rehearsal.several import cores
from tests.lab.campaign.pairs import episode_of
from tests.lab.campaign.play import play
from tests.lab.campaign.runs import YEAR_DAYS, Campaign, kept_results, seeds_of_missing_pairs, told
from tests.lab.pages import PRODUCTS, ROOT

if TYPE_CHECKING:
    from collections.abc import Iterator

OUT = PRODUCTS / "campaign" / "campaign.jsonl"


def main() -> int:
    """Play; 1 if a promise was broken or the controller failed."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.lab.campaign", description="Breaks everything on purpose."
    )
    parser.add_argument(
        "--years", type=float, default=1.0, help="house-years in all, those in --out included"
    )
    parser.add_argument("--seed", type=int, default=1, help="the first episode; each has the next number")
    parser.add_argument("--jobs", type=int, default=cores(), help="processes; all cores if left out")
    parser.add_argument(
        "--out", type=Path, default=OUT, help=f"keeps each result; goes on there ({OUT.relative_to(ROOT)})"
    )
    parser.add_argument(
        "--pairs", action="store_true", help="instead play a day for each pair of kinds that has not met yet"
    )
    parser.add_argument("--episode", type=int, help="play this one only, here, and show all about it")
    options = parser.parse_args()
    if options.episode is not None:
        return _show(options.episode)
    if options.jobs < 1:
        parser.error("--jobs: expected at least 1")
    options.out.parent.mkdir(parents=True, exist_ok=True)
    campaign = Campaign(*_asked(options), options.jobs, options.out)
    try:
        campaign.run()
    except KeyboardInterrupt:
        sys.stderr.write(f"interrupted; the same command goes on from {options.out}\n")
        return 130
    print(f"sum it up with: python -m tests.lab.campaign.table {options.out}")
    return int(bool(campaign.bad))


def _asked(options: argparse.Namespace) -> tuple[float, Iterator[int]]:
    """How many days to play, kept ones included, and which seeds."""
    if options.pairs:
        return math.inf, seeds_of_missing_pairs(kept_results(options.out))
    return options.years * YEAR_DAYS, count(options.seed)


def _show(seed: int) -> int:
    """Play one episode in this process, where it can be looked into, and print it."""
    episode = episode_of(seed)
    for what in (*episode.faults, *episode.troubles):
        print(what)
    result = play(episode)
    print(json.dumps(result | {"error": ""}, indent=2))
    if result["error"]:
        print(result["error"])
    if result["broken"] or result["error"]:
        print(told(result))
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
