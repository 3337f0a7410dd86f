"""``python -m tests.lab.scoreboard``: play every case, print the tables and keep them."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from tests.lab.pages import PRODUCTS, ROOT, made, page_option
from tests.lab.scoreboard.cases import CASES
from tests.lab.scoreboard.kept import Kept, dumped, loaded
from tests.lab.scoreboard.picture import draw
from tests.lab.scoreboard.runs import PACE_S, ROWS, STRATEGIES, Board, play
from tests.lab.scoreboard.table import markdown

PAGE, PICTURE = PRODUCTS / "scoreboard" / "RESULTS.md", PRODUCTS / "scoreboard" / "RESULTS.svg"


def main() -> int:
    """Play; 1 if any promise was broken."""
    parser = argparse.ArgumentParser(prog="python -m tests.lab.scoreboard", description="Judges the control.")
    parser.add_argument("--only", default="", help="play only the cases whose name holds this")
    parser.add_argument(
        "--rows",
        nargs="+",
        choices=ROWS,
        help="play only these rows and take the others from the .json file beside the page that --page names",
    )
    parser.add_argument("--processes", type=int, default=None, help="how many at once; all cores if left out")
    page_option(parser, PAGE)
    parser.add_argument(
        "--picture", type=Path, default=PICTURE, help=f"where it goes ({PICTURE.relative_to(ROOT)})"
    )
    options, when = parser.parse_args(), made()
    cases = [case for case in CASES if options.only in case.name]
    if not cases:
        parser.error(f"no case holds {options.only!r}; there are: {'; '.join(case.name for case in CASES)}")
    numbers = options.page.with_suffix(".json")
    kept = Kept([Board(case) for case in cases], [], PACE_S)
    if options.rows:
        if not numbers.exists():
            parser.error(
                f"--rows: {numbers}, with the other rows, is missing; --page names the page beside it"
            )
        kept = loaded(numbers.read_text(encoding="utf-8"), CASES)
        if kept.pace_s != PACE_S and not set(STRATEGIES) <= set(options.rows):
            parser.error(f"the stored rules were played at another pace; play {' '.join(STRATEGIES)} once")
    boards = kept.boards
    cpu_s = play([board for board in boards if board.case in cases], options.processes, options.rows or ROWS)
    which = f"{', '.join(options.rows)} of " if options.rows else ""
    which += f"cases with {options.only!r}" if options.only else "all cases"
    played = [*kept.played, f"{when}: {which}, in {cpu_s:.0f} s of CPU time"]
    text = markdown(boards, played)
    print(text)
    print(f"CPU time: {cpu_s:.0f} s")
    for product in (options.page, options.picture):
        product.parent.mkdir(parents=True, exist_ok=True)
    options.page.write_text(text, encoding="utf-8")
    numbers.write_text(dumped(boards, played), encoding="utf-8")
    draw(boards, options.picture)
    broken = sum(score.broken for board in boards for score in board.scores.values())
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
