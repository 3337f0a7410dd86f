"""A week, or a short rehearsal, as a picture: temperatures above, runs of fans and pumps below."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.ticker import FuncFormatter

from controller.decision.state import Demand
from controller.rehearsal.journal import Doing
from controller.rehearsal.report.pictures import (
    BLUE,
    GREEN,
    INK,
    ORANGE,
    PALE,
    PURPLE,
    RED,
    SKY,
    SMALL,
    Label,
    frost_line,
    headline,
    label_ends,
    paper,
    save,
    to_read,
)
from controller.rehearsal.report.text import IDLE_WORDS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime
    from pathlib import Path

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from controller.rehearsal.hours import HourRow
    from controller.rehearsal.journal import Span
    from controller.units import TemperatureUnit

    Floats = NDArray[np.float64]

WEEK_H = 7 * 24
HALF_HOUR_S = 1800.0
CAUSES_SHOWN = 2
ROW_IN, LOWEST_STRIP_IN = 0.34, 1.0
MOST_DAYS_NAMED, LONGEST_NAME = 10, 13
INTO_SOIL = frozenset((Demand.BANK, Demand.COOL))
OUT_OF_SOIL = frozenset((Demand.HEAT, Demand.FROST, Demand.NIGHT_PURGE))


def week_of(rows: Sequence[HourRow], *, coldest: bool) -> Sequence[HourRow]:
    """The seven days that were coldest (or hottest) outdoors on the mean, from a midnight if there is one.

    Args:
        rows: hours, more than a week of them.
        coldest: True for the coldest, False for the hottest.
    """
    outdoors = np.array([row.truth.outdoor_c for row in rows])
    starts = [i for i, row in enumerate(rows[: len(rows) - WEEK_H + 1]) if _begins_day(row)] or [0]
    means = [float(outdoors[start : start + WEEK_H].mean()) for start in starts]
    first = starts[int(np.argmin(means) if coldest else np.argmax(means))]
    return rows[first : first + WEEK_H]


def _begins_day(row: HourRow) -> bool:
    return (row.ended - timedelta(hours=1)).hour == 0


def draw_week(
    path: Path, title: str, place: str, rows: Sequence[HourRow], spans: Sequence[Span], unit: TemperatureUnit
) -> None:
    """Draw some days.

    Args:
        path: PNG file, replaced if it is there.
        title: which days these are.
        place: house and weather.
        rows: their hours, at least two.
        spans: runs and water of the whole rehearsal; those of these days are drawn.
        unit: of the temperatures.

    Raises:
        OSError: the file cannot be written.
    """
    loops, sumps = list(rows[0].fan_s), list(rows[0].pump_s)
    strip_in = max(LOWEST_STRIP_IN, ROW_IN * (len(loops) + len(sumps)))
    shown = _Days(rows[0].ended - timedelta(hours=1), rows[-1].ended)
    figure, (air, strip) = paper(f"{title}: {shown.words()}", place, (4.3, strip_in), 0.75)
    _draw_temperatures(air, rows, shown, unit)
    spans_shown = [s for s in spans if s.ended > shown.began and s.began < shown.ended]
    _draw_strip(strip, loops, sumps, spans_shown, shown)
    ran = {span.name for span in spans_shown if span.doing is Doing.FAN}
    for number, loop in enumerate(loops):
        if loop not in ran:
            strip.text(0.0, number, f" {why_still(loop, rows)}", va="center", fontsize=SMALL, color=INK)
    for panel in (air, strip):
        _name_days(panel, shown)
    save(figure, path)


def why_still(loop: str, rows: Sequence[HourRow]) -> str:
    """Why a fan never ran in these hours, in the words of the report: the one or two causes of most hours."""
    hours = Counter(IDLE_WORDS.get(row.idle[loop], row.idle[loop].value) for row in rows if loop in row.idle)
    causes = [f"{words} ({number} h)" for words, number in hours.most_common(CAUSES_SHOWN)]
    return f"no run, because {', '.join(causes)}" if causes else "no run"


@dataclass(frozen=True, slots=True)
class _Days:
    """The days of a picture; across it run the hours since their beginning."""

    began: datetime
    ended: datetime

    def hour(self, moment: datetime) -> float:
        """Where a moment lies across the picture."""
        return (moment - self.began) / timedelta(hours=1)

    def words(self) -> str:
        """The days as people write them."""
        first, last = self.began, self.ended - timedelta(seconds=1)
        until = f"{last.day} {last:%B}"
        return until if first.date() == last.date() else f"{first.day} {first:%B} to {until}"


def _draw_temperatures(panel: Axes, rows: Sequence[HourRow], shown: _Days, unit: TemperatureUnit) -> None:
    times = [shown.hour(row.ended) for row in rows]
    outlets = np.array([_outlet_c(row) for row in rows])
    lines: tuple[tuple[str, str, float, Floats], ...] = (
        ("outdoors", BLUE, 1.2, np.array([row.truth.outdoor_c for row in rows])),
        ("soil at the tubes", PURPLE, 2.2, np.array([_mean(row.truth.soil_c.values()) for row in rows])),
        ("under the roof", RED, 1.2, np.array([row.truth.ceiling_c for row in rows])),
        ("among the crop", GREEN, 2.2, np.array([row.truth.bench_c for row in rows])),
        ("outlet, fans on", ORANGE, 1.2, outlets),
    )
    labels = []
    for text, colour, width, values_c in lines:
        known = np.flatnonzero(~np.isnan(values_c))
        if not known.size:
            continue
        values = np.array([to_read(value, unit) for value in values_c])
        marker = "." if values_c is outlets else None
        panel.plot(times, values, color=colour, linewidth=width, marker=marker, markersize=3.0)
        labels.append(Label(float(values[known[-1]]), text, colour))
    labels += frost_line(panel, unit)
    headline(panel, "Temperatures in the house, in the soil and outdoors")
    panel.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:.0f} {unit.value}"))
    label_ends(panel, labels)


def _outlet_c(row: HourRow) -> float:
    """Mean outlet temperature of the loops that ran for most of the hour, not a number if none did."""
    running = [row.truth.outlet_c[name] for name, seconds in row.fan_s.items() if seconds >= HALF_HOUR_S]
    return _mean(running) if running else float("nan")


def _mean(values: Iterable[float]) -> float:
    return float(np.mean(list(values)))


def _draw_strip(panel: Axes, loops: list[str], sumps: list[str], spans: Sequence[Span], shown: _Days) -> None:
    """A row for each fan and each sump, a bar for each run."""
    rows = {(Doing.FAN, name): row for row, name in enumerate(loops)}
    rows |= {(Doing.WET, name): len(loops) + row for row, name in enumerate(sumps)}
    rows |= {(Doing.PUMP, name): len(loops) + row for row, name in enumerate(sumps)}
    meanings: dict[str, str] = {}
    for span in sorted(spans, key=lambda span: tuple(Doing).index(span.doing)):
        text, colour = _meaning(span)
        meanings[text] = colour
        row, began = rows[span.doing, span.name], shown.hour(span.began)
        if span.doing is Doing.PUMP:  # minutes, too short for a bar
            panel.plot(began, row, marker="|", color=colour, markersize=9.0, markeredgewidth=1.2)
        else:
            bar = (began, shown.hour(span.ended) - began)
            panel.broken_barh([bar], (row - 0.32, 0.64), color=colour, linewidth=0.5)
    names = [*loops, *(f"sump {name}" for name in sumps)]
    panel.set_yticks(range(len(names)), [_short(name) for name in names])
    panel.set_ylim(len(names) - 0.5, -0.5)
    panel.grid(visible=False, axis="y")
    headline(panel, "When the fans and the pump ran")
    middle = (len(names) - 1) / 2.0  # labels at one height are stacked in their order, the first on top
    label_ends(
        panel,
        [Label(middle, text, colour, _mark(colour)) for text, colour in reversed(meanings.items())],
        lines=False,
    )


def _short(name: str) -> str:
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"


def _meaning(span: Span) -> tuple[str, str]:
    """What a bar or mark stands for, and its colour."""
    if span.doing is Doing.WET:
        return "water at the float", SKY
    if span.doing is Doing.PUMP:
        return "pump starts", INK
    if span.demand in INTO_SOIL:
        return "heat into the soil", ORANGE
    if span.demand in OUT_OF_SOIL:
        return "heat out of the soil", BLUE
    return "fan on", GREEN


def _mark(colour: str) -> str:
    """Starts of pumps are strokes in the picture, the rest bars."""
    return "|" if colour == INK else "s"


def _name_days(panel: Axes, shown: _Days) -> None:
    """Lines at midnight and names of days between them; for less than two days the hours."""
    length_h = shown.hour(shown.ended)
    panel.set_xlim(0.0, length_h)
    panel.grid(axis="x", color=PALE, linewidth=0.8)
    midnight = shown.began.replace(hour=0, minute=0, second=0, microsecond=0)
    days = math.ceil((shown.ended - midnight) / timedelta(days=1))
    if days <= 2:  # noqa: PLR2004
        moments = [midnight + timedelta(hours=hour) for hour in range(0, 24 * days + 1, 3 * days)]
        within = [moment for moment in moments if shown.began <= moment <= shown.ended]
        panel.set_xticks([shown.hour(moment) for moment in within], [f"{moment:%H:%M}" for moment in within])
        return
    midnights = [shown.hour(midnight + timedelta(days=day)) for day in range(days + 1)]
    within_h = [hour for hour in midnights if 0.0 <= hour <= length_h]
    panel.set_xticks(within_h, [""] * len(within_h))
    every = 1 if days <= MOST_DAYS_NAMED else 3
    noons = [midnight + timedelta(days=day, hours=12) for day in range(0, days, every)]
    named = [noon for noon in noons if shown.began <= noon <= shown.ended]
    texts = [f"{noon.day} {noon:%b}" for noon in named]
    panel.set_xticks([shown.hour(noon) for noon in named], texts, minor=True)
    panel.tick_params(which="minor", length=0, labelsize=SMALL, colors=INK)
