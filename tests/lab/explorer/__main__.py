"""Explores every reachable state, ``python -m tests.lab.explorer [HOUSE ...]``."""

from __future__ import annotations

import argparse
import sys
import time
from typing import TYPE_CHECKING

from tests.lab.explorer.houses import HOUSES
from tests.lab.explorer.sampling import ProjectionError, try_keys
from tests.lab.explorer.search import explore

if TYPE_CHECKING:
    from tests.lab.explorer.search import Found

WALKS, TICKS = 60, 120


def main() -> int:
    """Explore the houses named, all if none is; 0 if every state keeps every promise, else 1."""
    parser = argparse.ArgumentParser(prog="python -m tests.lab.explorer", description=__doc__)
    parser.add_argument("house", nargs="*", help=f"which: {', '.join(HOUSES)}; all if none is named")
    options = parser.parse_args()
    unknown = [name for name in options.house if name not in HOUSES]
    if unknown:
        parser.error(f"there is no house {unknown[0]!r}; expected one of {', '.join(HOUSES)}")
    good = [_explored(name) for name in options.house or HOUSES]
    return 0 if all(good) else 1


def _explored(name: str) -> bool:
    house = HOUSES[name]()
    begun_s = time.process_time()
    print(f"{name}: {HOUSES[name].__doc__}")
    try:
        compared = try_keys(house, WALKS, TICKS, seed=1)
    except ProjectionError as problem:
        print(f"{name}: the keys cannot be trusted: {problem}")
        return False
    print(
        f"{name}: {compared} random ticks, each from three states with one key: same commands, same next key"
    )
    found = explore(house, told=lambda line: print(f"{name}: {line}", flush=True))
    print(f"{name}: {told(found)}; {time.process_time() - begun_s:.0f} s of processor time")
    return not found.broken


def told(found: Found) -> str:
    """What a search has found, in words."""
    words = (
        f"{found.states} states, {found.steps} steps, the furthest {found.depth} steps from a start, "
        f"{found.wall_s:.0f} s"
    )
    if found.broken:
        way = "\n".join(f"  {line}" for line in found.path)
        return f"{words}; broken: {'; '.join(found.broken)}; the shortest way there:\n{way}"
    return f"{words}; no promise broken" + ("" if found.complete else "; stopped before the end")


if __name__ == "__main__":
    sys.exit(main())
