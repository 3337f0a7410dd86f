"""What the pumps did, day by day, to be held against the rain."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING

from controller.report.page.parts import Key, illustrated, legend, numbers, paragraph, section, table
from controller.report.page.reading import counted, days_text
from controller.report.svg.chart import chart, pattern_of
from controller.report.svg.marks import Panel, bar, time_axis, unit_of, value_axis
from controller.report.svg.scales import TimeScale, scale_of
from controller.units import duration_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.report.data import Day, ReportData
    from controller.report.markup import Markup

NAME = "pump"
TOP, PLOT, BELOW = 22.0, 130.0, 24.0
DAY = timedelta(days=1)
# Strokes of days stand apart; a stroke of a year's chart is at least this wide, as a share of it.
STROKE, LEAST = 0.8, 0.0022
# With more of them strokes are too thin for a pattern; those of the exercise are hollow.
FEW_DAYS = 60
NO_RAIN = (
    "The history holds no rain, because no rain gauge belongs to the controller. What it holds is when "
    "water came: runs of the pump on a wet float. Hold them against your rain gauge. Water that comes "
    "without rain comes from the ground or through the check valve."
)


def pump(data: ReportData) -> Markup | None:
    """The section with its chart, nothing without any day."""
    if not data.days:
        return None
    shown = [day for day in data.days if day.pump_wet_runs or day.pump_other_runs]
    children = [paragraph(NO_RAIN), paragraph(_summary(data.days))]
    if shown:
        title = f"How long the pumps ran each day, {days_text(data.first, data.last)}"
        drawing = chart(NAME, title, _summary(data.days), TOP + PLOT + BELOW, _marks(data, shown))
        heads = ("day", "runs on a wet float", "lasted", "other runs", "lasted", "fans stopped by water")
        rows = [_row(day) for day in shown]
        keys = (
            Key("bar", "wet", "on a wet float", "falling" if len(data.days) <= FEW_DAYS else None),
            Key("bar", "other", "exercise, or by the clock while the float is silent"),
        )
        behind = numbers("The numbers, for days with runs", table(title, heads, rows))
        children.append(illustrated(drawing, legend(NAME, keys), behind))
    return section(NAME, "What the pump did", *children)


def _summary(days: Sequence[Day]) -> str:
    """Days with water, runs and the longest spell, in words."""
    wet = [day for day in days if day.pump_wet_runs]
    if not wet:
        return f"No water came on the {counted(len(days), 'day')} on record."
    runs, lasted_s = sum(day.pump_wet_runs for day in wet), sum(day.pump_wet_s for day in wet)
    longest = max(wet, key=lambda day: day.pump_wet_s)
    words = (
        f"Water came on {len(wet)} of {counted(len(days), 'day')}. The pumps ran {counted(runs, 'time')} on "
        f"it, for {duration_text(lasted_s)} in all, longest on {longest.date.day} {longest.date:%B} with "
        f"{duration_text(longest.pump_wet_s)}. The longest wet spell lasted {counted(_spell(wet), 'day')}."
    )
    stopped = sum(day.fans_stopped_by_water for day in days)
    return f"{words} Water stopped a running fan {counted(stopped, 'time')}." if stopped else words


def _spell(wet: Sequence[Day]) -> int:
    """The most days in a row with water."""
    most = length = 0
    last = None
    for day in wet:
        length = length + 1 if last is not None and day.date - last == DAY else 1
        most, last = max(most, length), day.date
    return most


def _row(day: Day) -> list[str]:
    return [
        day.date.isoformat(),
        str(day.pump_wet_runs),
        duration_text(day.pump_wet_s),
        str(day.pump_other_runs),
        duration_text(day.pump_other_s),
        str(day.fans_stopped_by_water),
    ]


def _marks(data: ReportData, shown: Sequence[Day]) -> list[Markup]:
    scale, ticks = scale_of([(day.pump_wet_s + day.pump_other_s) / 60.0 for day in shown], most=4, floor=0.0)
    panel = Panel(TOP, PLOT, scale)
    across = TimeScale(datetime.combine(data.first, time()), datetime.combine(data.last, time()) + DAY)
    marks = [
        time_axis(across.ticks(hours=False), TOP, TOP + PLOT),
        value_axis(panel, ticks, lambda tick: f"{tick:g}"),
        unit_of(panel, "minutes a day"),
    ]
    hatch = pattern_of(NAME, "falling") if len(data.days) <= FEW_DAYS else None
    for day in shown:
        noon = across.share(datetime.combine(day.date, time(12)))
        half = max(STROKE / 2.0 * (DAY / (across.ended - across.began)), LEAST / 2.0)
        wet, other = panel.y(day.pump_wet_s / 60.0), panel.y((day.pump_wet_s + day.pump_other_s) / 60.0)
        marks.append(bar(noon - half, noon + half, wet, panel.bottom, "wet", hatch))
        marks.append(bar(noon - half, noon + half, other, wet, "other"))
    return marks
