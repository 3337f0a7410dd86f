"""Lays several rehearsals out side by side as text, 80 columns wide. Pure."""

from __future__ import annotations

import textwrap
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from controller.rehearsal.report.measures import MEASURES
from controller.rehearsal.report.text import STRATEGIES, count_text, day_text, pace_text, wrapped
from controller.rehearsal.run import LARGEST_CLOSURE_ERROR
from controller.units import duration_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from controller.rehearsal.report.measures import Measure
    from controller.rehearsal.summary import Summary
    from controller.units import TemperatureUnit

NAMES, COLUMN = 29, 17  # letters
BESIDE_FIRST = 2  # rehearsals that have room beside the first


def comparison(summaries: Sequence[Summary], unit: TemperatureUnit, wall_s: float) -> list[str]:
    """The whole comparison.

    Args:
        summaries: at least two, each with a name; the others are compared with the first.
        unit: of the temperatures people read.
        wall_s: how long it all took.
    """
    lines = list(_head(summaries))
    for begin in range(1, len(summaries), BESIDE_FIRST):
        lines += _block(summaries[0], summaries[begin : begin + BESIDE_FIRST], unit)
    lines += _trust(summaries, wall_s)
    return lines


def _head(summaries: Sequence[Summary]) -> Iterator[str]:
    first = summaries[0]
    start = datetime.fromisoformat(first.start)
    last = start + timedelta(days=first.days, seconds=-1)
    days = f"{first.days:g} day{'' if first.days == 1.0 else 's'}"
    yield from wrapped(f"{len(summaries)} rehearsals, {days} each, {day_text(start)} to {day_text(last)}")
    for field, words in (("site", ""), ("weather", "in the weather of "), ("strategy", "")):
        values = {getattr(summary, field) for summary in summaries}
        shown = [STRATEGIES[value] if field == "strategy" else value for value in values]
        if len(values) == 1 and shown[0]:
            yield from wrapped(f"All: {words}{shown[0]}", "  ")
    for pace_s in {summary.pace_s: None for summary in summaries}:
        yield from wrapped(pace_text(pace_s), "  ")
    for note in dict.fromkeys(note for summary in summaries for note in summary.notes):
        of = [summary.name for summary in summaries if note in summary.notes]
        yield from wrapped(f"note: {note}{'' if len(of) == len(summaries) else f' ({of[0]})'}", "  ")
    yield from wrapped("note: under each figure stands how it differs from the first column", "  ")


def _block(first: Summary, others: Sequence[Summary], unit: TemperatureUnit) -> Iterator[str]:
    columns = [first, *others]
    yield ""
    names = [textwrap.wrap(summary.name, COLUMN - 1, break_on_hyphens=False) for summary in columns]
    height = max(map(len, names))
    tops = [[""] * (height - len(name)) + name for name in names]
    part = ""
    for row in range(height):
        yield (" " * NAMES + "".join(f"{top[row]:>{COLUMN}}" for top in tops)).rstrip()
    for measure in MEASURES:
        if measure.part != part:
            part = measure.part
            yield part
        yield from _row(measure, columns, unit)


def _row(measure: Measure, columns: Sequence[Summary], unit: TemperatureUnit) -> Iterator[str]:
    values = [measure.read(summary, unit) for summary in columns]
    places = measure.places(values)
    figures = [measure.text(value, places, unit) for value in values]
    yield f"  {measure.name(unit):<{NAMES - 2}}" + "".join(f"{figure:>{COLUMN}}" for figure in figures)
    differences = [measure.difference_text(values[0], value, places, unit) for value in values[1:]]
    if any(differences):
        yield (" " * (NAMES + COLUMN) + "".join(f"{words:>{COLUMN}}" for words in differences)).rstrip()


def _trust(summaries: Sequence[Summary], wall_s: float) -> Iterator[str]:
    yield ""
    ticks = count_text(sum(summary.promises.checked_ticks for summary in summaries))
    broken = [(summary.name, words) for summary in summaries for words in summary.promises.broken]
    if broken:
        yield from wrapped(f"SAFETY PROMISES BROKEN, a defect in the program ({ticks} ticks checked):")
        for name, words in broken:
            yield from wrapped(f"{name}: {words}", "  ")
    else:
        yield f"Safety promises: {ticks} ticks checked, none broken."
    for summary in summaries:
        if not abs(summary.ground.energy_closure_error) <= LARGEST_CLOSURE_ERROR:
            yield from wrapped(
                f"WARNING: the energy books of {summary.name} do not close; do not rely on its figures."
            )
    yield f"The rehearsals took {duration_text(wall_s)}."
