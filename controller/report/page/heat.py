"""Heat banked and returned, month by month."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from controller.report.page.parts import Key, illustrated, legend, numbers, paragraph, section, table
from controller.report.page.reading import NO_BREAK, days_text, kilowatt_hours, whole, wholes
from controller.report.svg.chart import chart, pattern_of
from controller.report.svg.marks import Panel, bar, unit_of, value_axis, whisker, words
from controller.report.svg.scales import scale_of

if TYPE_CHECKING:
    from controller.report.data import Interval, Month, ReportData
    from controller.report.markup import Markup

NAME = "heat"
TOP, PLOT, BELOW = 22.0, 220.0, 24.0
# Shares of a month's width: a bar on each side of the middle.
BAR = 0.34
WIDEST = 0.12
FEW_MONTHS = 6


def heat(data: ReportData) -> Markup | None:
    """The section with its chart, nothing where no fan ran."""
    if not data.electricity_kwh:
        return None
    title = f"Heat into the soil and back, by month, {days_text(data.first, data.last)}"
    most = max(data.months, key=lambda month: month.returned_kwh.value)
    description = (
        f"In all {kilowatt_hours(data.banked_kwh.value)} went into the soil and "
        f"{kilowatt_hours(data.returned_kwh.value)} came back, most of it in {_name(most, long=True)}."
    )
    drawing = chart(NAME, title, description, TOP + PLOT + BELOW, _marks(data))
    rows = [
        [
            _name(month, long=True),
            *_cells(month.banked_kwh),
            *_cells(month.returned_kwh),
            f"{month.electricity_kwh:.1f}",
        ]
        for month in data.months
    ]
    total = ["together", *_cells(data.banked_kwh), *_cells(data.returned_kwh), f"{data.electricity_kwh:.1f}"]
    heads = ("month", "into the soil (kWh)", "range", "back (kWh)", "range", "electricity (kWh)")
    keys = (Key("bar", "into", "into the soil"), Key("bar", "out", "back to the house", "rising"))
    return section(
        NAME,
        "Heat banked and returned",
        paragraph(
            "Dry heat alone: air warmer at the roof than at the outlet, times the flow. The thin line on "
            "each bar is the range that holds the true heat in 95 of 100 cases; most of it is how well the "
            "flow and two probes are known."
        ),
        paragraph(_why_more_returns(data), class_="note"),
        illustrated(
            drawing,
            legend(NAME, keys),
            numbers("The numbers, month by month", table(title, heads, [*rows, total])),
        ),
    )


def _why_more_returns(data: ReportData) -> str:
    """What the two sums leave out."""
    least, most = (100.0 * share for share in data.moisture_share)
    bounds = f"{least:.0f} to {most:.0f}{NO_BREAK}% of all heat banked"
    moisture = f" Without a humidity probe only its bounds are known: {bounds}."
    return (
        "The two need not be alike. Moisture that condenses in the tubes warms the soil too and is not in "
        f"the bars.{moisture if most >= 1.0 else ''} The sun warms the beds from above, the ground gives and "
        "takes, and some heat leaks away."
    )


def _marks(data: ReportData) -> list[Markup]:
    ends = [end for month in data.months for end in (month.banked_kwh.high, month.returned_kwh.high)]
    scale, ticks = scale_of(ends, most=5, floor=0.0)
    panel = Panel(TOP, PLOT, scale)
    marks = [value_axis(panel, ticks, whole), unit_of(panel, "kWh")]
    each = 1.0 / len(data.months)
    wide = min(each * BAR, WIDEST)
    for number, month in enumerate(data.months):
        middle = (number + 0.5) * each
        for class_, side, found in (("into", -1.0, month.banked_kwh), ("out", 0.0, month.returned_kwh)):
            left = middle + side * wide
            fill = pattern_of(NAME, "rising") if class_ == "out" else None
            marks.append(bar(left, left + wide, panel.y(found.value), panel.bottom, class_, fill))
            if found.high > 0.0:
                marks.append(whisker(panel, left + wide / 2.0, found.low, found.high))
        spare = " spare" if number % 2 and len(data.months) > FEW_MONTHS else ""
        marks.append(words(_name(month), middle, panel.bottom + 17.0, f"tick{spare}", "middle"))
    return marks


def _name(month: Month, *, long: bool = False) -> str:
    first = date.fromisoformat(f"{month.month}-01")
    return f"{first:%B %Y}" if long else f"{first:%b}"


def _cells(found: Interval) -> tuple[str, str]:
    return whole(found.value), wholes(found)
