"""A long rehearsal as a picture: what each month banked, gave back, used and protected from."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from matplotlib.ticker import FuncFormatter, MaxNLocator

from controller.rehearsal.report.pictures import (
    BLUE,
    GREEN,
    GREY,
    INK,
    ORANGE,
    SMALL,
    Label,
    frost_line,
    headline,
    label_ends,
    paper,
    save,
    to_read,
)

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from matplotlib.axes import Axes

    from controller.rehearsal.hours import HourRow
    from controller.units import TemperatureUnit

MOST_MONTHS_WRITTEN = 14  # more figures than these would run into each other


@dataclass(slots=True)
class Month:
    """One month of a rehearsal, or the part of it that was rehearsed."""

    first: datetime
    charged_kwh: float = 0.0
    discharged_kwh: float = 0.0
    electricity_kwh: float = 0.0
    bench_min_c: float = 1e9
    outdoor_min_c: float = 1e9


def months_of(rows: Sequence[HourRow]) -> list[Month]:
    """The hours by calendar month, local standard time."""
    months: defaultdict[tuple[int, int], list[HourRow]] = defaultdict(list)
    for row in rows:
        middle = row.ended - timedelta(minutes=30)  # the hour that ends a month at midnight belongs to it
        months[middle.year, middle.month].append(row)
    return [
        Month(
            datetime(year, month, 1, tzinfo=hours[0].ended.tzinfo),
            sum(row.charged_kwh for row in hours),
            sum(row.discharged_kwh for row in hours),
            sum(row.electricity_kwh for row in hours),
            min(row.bench_min_c for row in hours),
            min(row.outdoor_min_c for row in hours),
        )
        for (year, month), hours in months.items()
    ]


def draw_months(path: Path, place: str, rows: Sequence[HourRow], unit: TemperatureUnit) -> None:
    """Draw the months.

    Args:
        path: PNG file, replaced if it is there.
        place: house and weather.
        rows: hours of at least two months.
        unit: of the temperatures.

    Raises:
        OSError: the file cannot be written.
    """
    months = months_of(rows)
    figure, (heat, electricity, cold) = paper("Month by month", place, (3.2, 1.5, 2.4), 0.8)
    _draw_heat(heat, months)
    _draw_electricity(electricity, months)
    _draw_cold(cold, months, unit)
    every = 1 + len(months) // (MOST_MONTHS_WRITTEN + 1)
    names = [
        _name(month.first, index, len(months)) if index % every == 0 else ""
        for index, month in enumerate(months)
    ]
    for panel in (heat, electricity, cold):
        panel.set_xlim(-0.6, len(months) - 0.4)
        panel.set_xticks(range(len(months)), names)
    save(figure, path)


def _name(first: datetime, index: int, months: int) -> str:
    with_year = months > 12 and (index == 0 or first.month == 1)  # noqa: PLR2004
    return f"{first:%b}\n{first:%Y}" if with_year else f"{first:%b}"


def _draw_heat(panel: Axes, months: Sequence[Month]) -> None:
    charged = [month.charged_kwh for month in months]
    discharged = [-month.discharged_kwh for month in months]
    panel.bar(range(len(months)), charged, 0.7, color=ORANGE)
    panel.bar(range(len(months)), discharged, 0.7, color=BLUE)
    panel.axhline(0.0, color=GREY, linewidth=1.0)
    panel.margins(y=0.14)
    _write(panel, charged, above=True)
    _write(panel, discharged, above=False)
    headline(panel, "Heat put into the soil and taken back, each month")
    panel.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{abs(value):.0f} kWh"))
    top, bottom = max(charged), min(discharged)
    label_ends(
        panel,
        [Label(top / 2.0, "into the soil", ORANGE), Label(bottom / 2.0, "out of the soil", BLUE)],
        lines=False,
    )


def _draw_electricity(panel: Axes, months: Sequence[Month]) -> None:
    used = [month.electricity_kwh for month in months]
    panel.bar(range(len(months)), used, 0.7, color=GREY)
    panel.set_ylim(0.0, max(max(used) * 1.25, 1.0))
    panel.yaxis.set_major_locator(MaxNLocator(3))
    _write(panel, used, above=True)
    headline(panel, "Electricity the fans used for it")
    panel.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:.0f} kWh"))


def _draw_cold(panel: Axes, months: Sequence[Month], unit: TemperatureUnit) -> None:
    labels = []
    for text, colour, width, values_c in (
        ("among the crop", GREEN, 2.2, [month.bench_min_c for month in months]),
        ("outdoors", BLUE, 1.4, [month.outdoor_min_c for month in months]),
    ):
        values = [to_read(value, unit) for value in values_c]
        panel.plot(range(len(months)), values, color=colour, linewidth=width, marker="o", markersize=4.0)
        labels.append(Label(values[-1], text, colour))
    labels += frost_line(panel, unit)
    headline(panel, "The coldest moment of each month")
    panel.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:.0f} {unit.value}"))
    label_ends(panel, labels)


def _write(panel: Axes, values: Sequence[float], *, above: bool) -> None:
    """Write each figure at the end of its bar; none where there is next to nothing."""
    if len(values) > MOST_MONTHS_WRITTEN:
        return
    for index, value in enumerate(values):
        if abs(value) >= 0.5:  # noqa: PLR2004
            shift = (0.0, 2.0 if above else -2.0)
            panel.annotate(
                f"{abs(value):.0f}", (index, value), xytext=shift, textcoords="offset points",
                ha="center", va="bottom" if above else "top", size=SMALL, color=INK,
            )  # fmt: skip
