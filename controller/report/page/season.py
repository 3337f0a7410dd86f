"""The season: how cold and how warm each day was outdoors, in the house and in the soil."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING

from controller.report.page.parts import (
    Key,
    frost_key,
    illustrated,
    legend,
    numbers,
    paragraph,
    section,
    table,
)
from controller.report.page.reading import counted, days_text
from controller.report.svg.chart import chart
from controller.report.svg.marks import Panel, band, level, stretched, time_axis, value_axis
from controller.report.svg.scales import TimeScale, scale_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from controller.report.data import Day, Range, ReportData
    from controller.report.markup import Markup
    from controller.report.page.reading import Reader

TOP, PLOT, BELOW = 12.0, 300.0, 24.0
# From this many days on a day is a point and no longer a step.
MANY_DAYS = 60
BANDS: tuple[tuple[str, str, Callable[[Day], Range | None]], ...] = (
    ("outdoors", "outdoors", lambda day: day.outdoors),
    ("house", "in the house", lambda day: day.house),
    ("soil", "in the soil at the tubes", lambda day: day.soil),
)


def season(data: ReportData, reader: Reader) -> Markup | None:
    """The section with its chart, nothing where no temperature is known."""
    shown = [(class_, text, of) for class_, text, of in BANDS if any(of(day) for day in data.days)]
    if not shown:
        return None
    name = "season"
    words = [_extent(text, [of(day) for day in data.days], reader) for _, text, of in shown]
    title = f"Lowest and highest temperature of each day, {days_text(data.first, data.last)}"
    drawing = chart(name, title, " ".join(words), TOP + PLOT + BELOW, _marks(data, shown, reader))
    heads = [
        "day",
        *(f"{text}, {end} ({reader.unit.value})" for _, text, _ in shown for end in ("low", "high")),
    ]
    rows = [
        [day.date.isoformat(), *(cell for _, _, of in shown for cell in _cells(of(day), reader))]
        for day in data.days
    ]
    keys = [*(Key("band", class_, text) for class_, text, _ in shown), frost_key(data, reader)]
    return section(
        name,
        "The season",
        paragraph(_lead(data)),
        illustrated(
            drawing, legend(name, keys), numbers("The numbers, day by day", table(title, heads, rows))
        ),
    )


def _lead(data: ReportData) -> str:
    """What the bands are, and what is missing."""
    words = (
        "Each band reaches from the lowest to the highest temperature of a day; its strong edge is the low."
    )
    if not data.outdoor_probe:
        words += " There is no outdoor probe in the settings, so the outdoors is missing."
    if data.pauses:
        pauses = counted(len(data.pauses), "pause")
        words += f" Days without any reading are left blank ({pauses} of more than an hour)."
    return words


def _marks(
    data: ReportData, shown: Sequence[tuple[str, str, Callable[[Day], Range | None]]], reader: Reader
) -> list[Markup]:
    found = [
        reader.plotted(value)
        for day in data.days
        for _, _, of in shown
        if (range_ := of(day)) is not None
        for value in (range_.low_c, range_.high_c)
    ]
    frost = reader.plotted(data.limits.frost_limit_c)
    scale, ticks = scale_of([*found, frost], most=6)
    panel = Panel(TOP, PLOT, scale)
    days = TimeScale(
        datetime.combine(data.first, time()), datetime.combine(data.last, time()) + timedelta(days=1)
    )
    bands = [band(panel, _points(data.days, of, days, reader), class_) for class_, _, of in shown]
    return [
        time_axis(days.ticks(hours=False), TOP, TOP + PLOT),
        value_axis(panel, ticks, reader.degrees),
        stretched(TOP + PLOT + BELOW, bands),
        level(panel, frost),
    ]


def _points(
    days: Sequence[Day], of: Callable[[Day], Range | None], across: TimeScale, reader: Reader
) -> list[tuple[float, float | None, float | None]]:
    """Each day at its noon, or, of a few, from morning to evening, so that a single one can be seen."""
    hours = (12,) if len(days) >= MANY_DAYS else (2, 22)
    points: list[tuple[float, float | None, float | None]] = []
    last = None
    for day in days:
        midnight = datetime.combine(day.date, time())
        if last is not None and midnight - last > timedelta(days=1):
            points.append((0.0, None, None))
        last, found = midnight, of(day)
        if found is None:
            points.append((0.0, None, None))
            continue
        low, high = reader.plotted(found.low_c), reader.plotted(found.high_c)
        points += [(across.share(midnight + timedelta(hours=hour)), low, high) for hour in hours]
    return points


def _cells(found: Range | None, reader: Reader) -> tuple[str, str]:
    return ("–", "–") if found is None else (reader.cell(found.low_c), reader.cell(found.high_c))


def _extent(text: str, found: Sequence[Range | None], reader: Reader) -> str:
    """What a band spans, in words."""
    known = [range_ for range_ in found if range_ is not None]
    low, high = min(one.low_c for one in known), max(one.high_c for one in known)
    return f"{text[0].upper()}{text[1:]}: {reader.temperature(low)} to {reader.temperature(high)}."
