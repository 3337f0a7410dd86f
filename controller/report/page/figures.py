"""The figures: what each is, between what ends it lies, and what it means."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.report.markup import Markup, joined, tag
from controller.report.page.parts import numbers, paragraph, section, table
from controller.report.page.reading import NO_BREAK, tenths, whole, wholes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from controller.report.data import Figure, FigureCode, Interval, ReportData
    from controller.report.page.reading import Reader

SCALE_W, SCALE_H, SCALE_PAD = 120.0, 14.0, 4.0


def five_figures(data: ReportData, reader: Reader) -> Markup:
    """The figures as a list, each with its interval and what it means, and two more as a table."""
    missing = sorted({figure.missing for figure in data.figures if figure.missing})
    what = [paragraph(f"What is missing: {words}", class_="missing") for words in missing]
    items = [_item(figure, data, reader) for figure in data.figures]
    note = paragraph(
        "Behind each figure stands the range that holds the true one in 90 of 100 cases, for heat per "
        "electricity in 95. A range that reaches 0 says that the effect itself is not sure.",
        class_="note",
    )
    rows = [row for figure in data.more for row in _more(figure, data, reader)]
    more = table("Two more figures", ("figure", "value", "range", "what it means"), rows, "wordy")
    return section(
        "figures",
        "Five figures",
        *what,
        tag("dl", joined(items), class_="figures"),
        note,
        numbers("Two more figures", more) if rows else None,
    )


def _more(figure: Figure, data: ReportData, reader: Reader) -> Iterator[list[str]]:
    """A row of the table, if the figure is known."""
    if figure.interval is not None:
        title, meaning = _meaning(figure, data, reader)
        yield [title, *_written(figure, figure.interval, reader), meaning]


def _item(figure: Figure, data: ReportData, reader: Reader) -> Markup:
    title, meaning = _meaning(figure, data, reader)
    if figure.interval is None:
        shown = [tag("span", "not yet", class_="value none")]
    else:
        value, ends = _written(figure, figure.interval, reader)
        shown = [
            tag("span", value, class_="value"),
            tag("span", ends, class_="range"),
            _scale(figure.interval),
        ]
    return tag("div", tag("dt", title), tag("dd", *shown, tag("p", meaning)))


def _written(figure: Figure, found: Interval, reader: Reader) -> tuple[str, str]:
    """The value, and the ends of its interval."""
    if figure.unit == "K":
        return reader.difference(found.value), reader.differences(found)
    if figure.unit == "1":
        return whole(found.value), wholes(found)
    if figure.code == "heat-per-electricity":
        ends = f"{tenths(found.low)} to {tenths(found.high)}"
        return f"{tenths(found.value)}{NO_BREAK}kWh", f"{ends}{NO_BREAK}kWh"
    return f"{whole(found.value)}{NO_BREAK}{figure.unit}", f"{wholes(found)}{NO_BREAK}{figure.unit}"


def _meaning(figure: Figure, data: ReportData, reader: Reader) -> tuple[str, str]:
    """The name of a figure, and what it says."""
    limits = data.limits
    frost = reader.temperature(limits.frost_limit_c)
    hot = "the cooling limit" if limits.cool_above_c is None else reader.temperature(limits.cool_above_c)
    meanings: dict[FigureCode, tuple[str, str]] = {
        "night-raise": (
            "Nights warmer by",
            "Lowest air among the crop on nights with fans, against the same nights without the store.",
        ),
        "all-nights-raise": (
            "All nights warmer by",
            "The same over every night. On nights without fans it is what earlier nights have left.",
        ),
        "frost-nights-avoided": (
            "Frost nights avoided",
            f"Nights that would have gone below {frost} without the store, less those that did.",
        ),
        "frost-hours-avoided": (
            "Frost hours avoided",
            f"Hours below {frost} among the crop without the store, less those with it.",
        ),
        "hot-hours-avoided": (
            "Hot hours avoided",
            f"Hours above {hot} without the store, less those with it.",
        ),
        "heater-heat": (
            "A heater would have used",
            f"Heat that a heater would have had to give for the same warmth on those nights.{_money(data)}",
        ),
        "heat-per-electricity": (
            "Heat for each kWh of electricity",
            "Dry heat given back to the house for each kWh that the fans drew, banking included.",
        ),
    }
    return meanings[figure.code]


def _money(data: ReportData) -> str:
    """What that is worth, if a price was given."""
    if data.money is None:
        return ""
    worth = f"{whole(data.money.value)} ({wholes(data.money)})"
    return f" At the price given, less the electricity of the fans, it was worth {worth}."


def _scale(found: Interval) -> Markup:
    """The interval as a line with a dot on it, and a stroke at 0; the words beside it say the same."""
    low, high = min(found.low, 0.0), max(found.high, 0.0)
    span = (high - low) or 1.0

    def x(value: float) -> float:
        return SCALE_PAD + (value - low) / span * (SCALE_W - 2.0 * SCALE_PAD)

    middle = SCALE_H / 2.0
    return tag(
        "svg",
        tag("line", class_="base", x1=x(low), x2=x(high), y1=middle, y2=middle),
        tag("line", class_="zero", x1=x(0.0), x2=x(0.0), y1=0.0, y2=SCALE_H),
        tag("line", class_="reach", x1=x(found.low), x2=x(found.high), y1=middle, y2=middle),
        tag("circle", class_="dot", cx=x(found.value), cy=middle, r=3.5),
        class_="scale",
        width=SCALE_W,
        height=SCALE_H,
        aria_hidden="true",
    )
