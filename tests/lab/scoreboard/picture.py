"""The scoreboard as a picture: what is prevented over electricity, a small field for each case and half."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import matplotlib as mpl

from tests.lab.scoreboard.reached import Half

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from matplotlib.axes import Axes

    from tests.lab.scoreboard.runs import Board

COLUMNS = 3
LABELS = {
    "hypocaust": "this controller",
    "simple-difference": "difference",
    "plain-thermostat": "thermostat",
}
# Okabe & Ito's colours, which colour-blind people can distinguish.
COLOURS = {
    "hypocaust": "#0072B2",
    "simple-difference": "#E69F00",
    "plain-thermostat": "#D55E00",
}
WORDS = {Half.WINTER: "frost", Half.SUMMER: "heat"}


def draw(boards: Sequence[Board], path: Path) -> None:
    """Draw every case that has frost to prevent, then every one that has heat."""
    mpl.use("Agg")
    from matplotlib import pyplot as plt  # noqa: PLC0415 - the backend must be chosen first

    shown = [(board, half) for half in Half for board in boards if board.has(half) and board.scores]
    if not shown:
        return
    rows = math.ceil(len(shown) / COLUMNS)
    figure, axes = plt.subplots(
        rows, COLUMNS, figsize=(11.0, 2.9 * rows), squeeze=False, layout="constrained"
    )
    for axis, (board, half) in zip(axes.flat, shown, strict=False):
        _field(axis, board, half)
    for axis in axes.flat[len(shown) :]:
        axis.axis("off")
    figure.suptitle(
        "Degree-hours of frost (below 4 °C) and heat (above 32 °C) that the fans take away.\n"
        "Grey: the most that was found with the year known, for each amount of electricity."
    )
    figure.supxlabel("fans, kWh a year")
    figure.supylabel("taken away, %")
    figure.savefig(path, metadata={"Date": None} if path.suffix == ".svg" else None)
    plt.close(figure)


def _field(axis: Axes, board: Board, half: Half) -> None:
    if board.hindsight is None:
        return
    used = "" if board.case.tuning else " (not tuned on)"
    axis.set_title(f"{WORDS[half]}: {board.case.name}{used}", fontsize=8)
    still_kh = board.hindsight.still.kh(half)
    line_kh, line_kwh = zip(*board.hindsight.bounds[half].line, strict=True)
    axis.plot(line_kwh, [100.0 * (1.0 - kh / still_kh) for kh in line_kh], color="#999999", linewidth=1.2)
    for strategy, score in board.scores.items():
        x = score.reached.kwh(half)
        y = 100.0 * board.avoided_kh(half, score.reached) / still_kh
        axis.plot(x, y, "o", color=COLOURS[strategy], markersize=9 if strategy == "hypocaust" else 6)
        axis.annotate(
            LABELS[strategy], (x, y), xytext=(5, -11), textcoords="offset points", fontsize=7.5,
            color=COLOURS[strategy],
        )  # fmt: skip
    axis.margins(y=0.14)
    most_kwh = max([*line_kwh, *(score.reached.kwh(half) for score in board.scores.values())])
    axis.set_xlim(0.0, 1.25 * most_kwh)  # room for the last label
    axis.grid(alpha=0.25)
