"""``python -m tests.scoreboard``: play every case, print the table, keep it and its picture here."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from tests.scoreboard.cases import CASES
from tests.scoreboard.kept import boards_of
from tests.scoreboard.picture import draw
from tests.scoreboard.runs import PACE, ROWS, STRATEGIES, play
from tests.scoreboard.table import markdown

HERE = Path(__file__).parent


def main() -> int:
    """Play; 1 if any promise was broken."""
    parser = argparse.ArgumentParser(prog="python -m tests.scoreboard", description="Judges the control.")
    parser.add_argument("--only", default="", help="play only the cases whose name holds this")
    parser.add_argument(
        "--rows",
        nargs="+",
        choices=ROWS,
        help="play only these rows and take the others from the stored table",
    )
    parser.add_argument("--processes", type=int, default=None, help="how many at once; all cores if left out")
    parser.add_argument("--out", type=Path, default=HERE, help="where RESULTS.md and RESULTS.svg go")
    options = parser.parse_args()
    cases = [case for case in CASES if options.only in case.name]
    if not cases:
        parser.error(f"no case holds {options.only!r}; there are: {'; '.join(case.name for case in CASES)}")
    stored = options.out / "RESULTS.md"
    text = stored.read_text(encoding="utf-8") if options.rows and stored.exists() else ""
    if text and PACE not in text and not set(STRATEGIES) <= set(options.rows):
        parser.error(f"the stored rules were played at another pace; play {' '.join(STRATEGIES)} once")
    boards = boards_of(text, CASES if text else cases)
    play([board for board in boards if board.case in cases], options.processes, options.rows or ROWS)
    text = markdown(boards)
    print(text)
    options.out.mkdir(parents=True, exist_ok=True)
    stored.write_text(text, encoding="utf-8")
    draw(boards, options.out / "RESULTS.svg")
    broken = sum(score.broken for board in boards for score in (board.scores or {}).values())
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
