"""Several rehearsals as one picture: a small chart for each question, a bar for each rehearsal."""

from __future__ import annotations

import textwrap
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from matplotlib.figure import Figure

from controller.rehearsal.report.measures import PICTURED
from controller.rehearsal.report.pictures import (
    BLUE,
    DPI,
    GREY,
    INK,
    MARGIN_IN,
    NORMAL,
    SKY,
    SMALL,
    WIDTH_IN,
    save,
    tidy,
    titles,
)
from controller.rehearsal.report.text import day_text

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from matplotlib.axes import Axes

    from controller.rehearsal.report.measures import Measure
    from controller.rehearsal.summary import Summary
    from controller.units import TemperatureUnit

ACROSS = 3  # charts beside each other
NAMES_IN, GAP_IN = 1.7, 0.25
BAR_IN, LEAST_CHART_IN = 0.34, 0.7
HEAD_IN, TITLE_IN, FOOT_IN = 0.80, 0.60, 0.20
NAME_LETTERS, NAME_LINES = 20, 2
ROOM = 0.42  # of a chart's width, kept free for the figures beside the bars


def draw_comparison(path: Path, summaries: Sequence[Summary], unit: TemperatureUnit) -> None:
    """Draw them.

    Args:
        path: PNG file, replaced if it is there.
        summaries: at least two, each with a name.
        unit: of the temperatures.

    Raises:
        OSError: the file cannot be written.
    """
    rows = -(-len(PICTURED) // ACROSS)
    chart_in = max(BAR_IN * len(summaries), LEAST_CHART_IN)
    height_in = HEAD_IN + rows * (TITLE_IN + chart_in) + FOOT_IN
    figure = Figure(figsize=(WIDTH_IN, height_in), dpi=DPI, facecolor="white")
    titles(figure, f"{len(summaries)} rehearsals compared", _subtitle(summaries))
    width_in = (WIDTH_IN - NAMES_IN - MARGIN_IN - GAP_IN * (ACROSS - 1)) / ACROSS
    for index, measure in enumerate(PICTURED):
        row, column = divmod(index, ACROSS)
        left_in = NAMES_IN + column * (width_in + GAP_IN)
        bottom_in = height_in - HEAD_IN - (row + 1) * (TITLE_IN + chart_in)
        box = (left_in / WIDTH_IN, bottom_in / height_in, width_in / WIDTH_IN, chart_in / height_in)
        _draw_chart(figure.add_axes(box), measure, summaries, unit, named=column == 0)
    save(figure, path)


def _subtitle(summaries: Sequence[Summary]) -> str:
    first = summaries[0]
    start = datetime.fromisoformat(first.start)
    days = f"{day_text(start)} to {day_text(start + timedelta(days=first.days, seconds=-1))}"
    shared = [values.pop() for field in ("site", "weather") if len(values := _all(summaries, field)) == 1]
    return f"{', '.join([*shared, days])}; the first rehearsal is dark"


def _all(summaries: Sequence[Summary], field: str) -> set[str]:
    return {getattr(summary, field) for summary in summaries}


def _draw_chart(
    chart: Axes, measure: Measure, summaries: Sequence[Summary], unit: TemperatureUnit, *, named: bool
) -> None:
    values = [measure.read(summary, unit) for summary in summaries]
    places, name = measure.places(values), measure.name(unit)
    tidy(chart)
    chart.grid(visible=False)
    chart.spines["bottom"].set_visible(False)
    chart.set_xticks([])
    chart.set_ylim(len(values) - 0.5, -0.5)
    names = [_short(summary.name) if named else "" for summary in summaries]
    chart.set_yticks(range(len(values)), names)
    chart.set_title(f"{name[:1].upper()}{name[1:]}", loc="left", size=NORMAL, color=INK)
    known = [0.0 if value is None else value for value in values]
    chart.barh(range(len(values)), known, 0.66, color=[BLUE, *[SKY] * (len(values) - 1)])
    low, high = min(*known, 0.0), max(*known, 0.0)
    room = ROOM * (high - low or 1.0)
    chart.set_xlim(low - (room if low < 0.0 else 0.0), high + (room if high > 0.0 or low == 0.0 else 0.0))
    chart.axvline(0.0, color=GREY, linewidth=1.0)
    for row, value in enumerate(values):
        text = measure.text(value, places, unit)
        below = value is not None and value < 0.0
        chart.annotate(
            text, (known[row], row), xytext=(-3.0 if below else 3.0, 0.0), textcoords="offset points",
            ha="right" if below else "left", va="center", size=SMALL, color=INK,
        )  # fmt: skip


def _short(name: str) -> str:
    """A name in as many lines as a bar has room for."""
    lines = textwrap.wrap(name, NAME_LETTERS, break_on_hyphens=False)
    if len(lines) > NAME_LINES:
        lines = [*lines[: NAME_LINES - 1], f"{lines[NAME_LINES - 1][: NAME_LETTERS - 1]}…"]
    return "\n".join(lines)
