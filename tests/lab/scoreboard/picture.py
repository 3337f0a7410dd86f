"""The scoreboard as a picture: frost benefit against electricity, one small field per case."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import matplotlib as mpl

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
    "fans-always": "always on",
}
# Okabe & Ito's colours, which colour-blind people can distinguish.
COLOURS = {
    "hypocaust": "#0072B2",
    "simple-difference": "#E69F00",
    "plain-thermostat": "#D55E00",
    "fans-always": "#666666",
}


def draw(boards: Sequence[Board], path: Path) -> None:
    """Draw every case that has frost to prevent."""
    mpl.use("Agg")
    from matplotlib import pyplot as plt  # noqa: PLC0415 - the backend must be chosen first

    shown = [board for board in boards if board.still is not None and board.benefit(board.still) is not None]
    if not shown:
        return
    rows = math.ceil(len(shown) / COLUMNS)
    figure, axes = plt.subplots(
        rows, COLUMNS, figsize=(11.0, 2.9 * rows), sharey=True, squeeze=False, layout="constrained"
    )
    for axis, board in zip(axes.flat, shown, strict=False):
        _field(axis, board)
    for axis in axes.flat[len(shown) :]:
        axis.axis("off")
    figure.suptitle("How much of the preventable frost is prevented, and what the fans use for it")
    figure.supxlabel("fans, kWh a year")
    figure.supylabel("frost benefit, % of the best found with hindsight")
    figure.savefig(path, metadata={"Date": None} if path.suffix == ".svg" else None)
    plt.close(figure)


def _field(axis: Axes, board: Board) -> None:
    used = "" if board.case.tuning else " (not tuned on)"
    axis.set_title(board.case.name + used, fontsize=9)
    for strategy, score in (board.scores or {}).items():
        benefit = board.benefit(score.reached)
        if benefit is None:
            continue
        x, y = score.reached.fans_kwh, 100.0 * benefit
        axis.plot(x, y, "o", color=COLOURS[strategy], markersize=9 if strategy == "hypocaust" else 6)
        axis.annotate(
            LABELS[strategy], (x, y), xytext=(5, -11), textcoords="offset points", fontsize=7.5,
            color=COLOURS[strategy],
        )  # fmt: skip
    axis.axhline(100.0, color="#999999", linewidth=0.8, linestyle=":")
    axis.margins(y=0.14)
    most_kwh = max(score.reached.fans_kwh for score in (board.scores or {}).values())
    axis.set_xlim(0.0, 1.25 * most_kwh)  # room for the last label
    axis.grid(alpha=0.25)
