"""``python -m tests.campaign --years N``: let everything go wrong, for as many house-years as asked for."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from controller.rehearsal.several import cores
from tests.campaign.draw import drawn_episode
from tests.campaign.play import play
from tests.campaign.runs import Campaign, told
from tests.pages import PRODUCTS, ROOT

OUT = PRODUCTS / "campaign" / "campaign.jsonl"


def main() -> int:
    """Play; 1 if a promise was broken or the controller failed."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.campaign", description="Breaks everything on purpose."
    )
    parser.add_argument(
        "--years", type=float, default=1.0, help="house-years in all, those in --out included"
    )
    parser.add_argument("--seed", type=int, default=1, help="the first episode; each has the next number")
    parser.add_argument("--jobs", type=int, default=cores(), help="processes; all cores if left out")
    parser.add_argument(
        "--out", type=Path, default=OUT, help=f"keeps each result; goes on there ({OUT.relative_to(ROOT)})"
    )
    parser.add_argument("--episode", type=int, help="play this one only, here, and show all about it")
    options = parser.parse_args()
    if options.episode is not None:
        return _show(options.episode)
    if options.jobs < 1:
        parser.error("--jobs: expected at least 1")
    options.out.parent.mkdir(parents=True, exist_ok=True)
    campaign = Campaign(options.years, options.seed, options.jobs, options.out)
    try:
        campaign.run()
    except KeyboardInterrupt:
        sys.stderr.write(f"interrupted; the same command goes on from {options.out}\n")
        return 130
    print(f"sum it up with: python -m tests.campaign.table {options.out}")
    return int(bool(campaign.bad))


def _show(seed: int) -> int:
    """Play one episode in this process, where it can be looked into, and print it."""
    episode = drawn_episode(seed)
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
