"""The head of the page: what the store did, in a sentence, a paragraph and five figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.report.markup import Markup, joined, tag
from controller.report.page.parts import paragraph, section
from controller.report.page.reading import (
    NO_BREAK,
    counted,
    day_text,
    days_text,
    kilowatt_hours,
    tenths,
    whole,
    wholes,
)

if TYPE_CHECKING:
    from controller.report.data import Day, Figure, Interval, ReportData
    from controller.report.page.reading import Reader

SCALE_W, SCALE_H, SCALE_PAD = 120.0, 14.0, 4.0


def headline(data: ReportData, reader: Reader) -> str:
    """What the store did, in one sentence."""
    if not data.days:
        return "Nothing is on record for these days"
    raised = _interval_of(data, "night-raise")
    if raised is None:
        return f"{counted(len(data.days), 'day')} on record: what the store does cannot be said yet"
    if raised.low <= 0.0 <= raised.high:
        return f"Whether the store warms the nights cannot be said yet: {reader.differences(raised)}"
    if raised.value < 0.0:
        return f"The nights were {reader.difference(-raised.value)} colder with the store than without it"
    warmer = f"the store kept the house {reader.difference(raised.value)} warmer"
    nights = f"On {counted(data.heated_nights, 'night')} {warmer}"
    frost = _interval_of(data, "frost-nights-avoided")
    if frost is not None and frost.low > 0.0 and round(frost.value) > 0:
        return f"{nights}, and it spared the crop {counted(round(frost.value), 'frost night')}"
    return nights


def lede(data: ReportData, reader: Reader) -> Markup:
    """The time, the heat and the extremes, in a paragraph."""
    if not data.days:
        return paragraph(
            "Choose other days with --from and --to, or name another file with --history.", class_="lede"
        )
    words = [f"From {days_text(data.first, data.last)}, with {counted(len(data.days), 'day')} on record"]
    fan_h = sum(day.fan_h for day in data.days)
    if fan_h > 0.0:
        words[0] += (
            f", the fans ran for {whole(fan_h)}{NO_BREAK}h on {kilowatt_hours(data.electricity_kwh)} of "
            f"electricity. They took {kilowatt_hours(data.banked_kwh.value)} of heat into the soil and "
            f"brought {kilowatt_hours(data.returned_kwh.value)} back."
        )
    else:
        words[0] += ", no fan ran."
    words += _extremes(data.days, reader)
    urgent = sum(spell.priority == 1 for spell in data.alarms)
    alarms = counted(len(data.alarms), "alarm") if data.alarms else "No alarm"
    verb = "was" if len(data.alarms) <= 1 else "were"
    words.append(f"{alarms} {verb} raised{f', {urgent} of them to act on at once' if urgent else ''}.")
    return paragraph(" ".join(words), class_="lede")


def _extremes(days: list[Day], reader: Reader) -> list[str]:
    """The coldest and the hottest of the house, with their days."""
    known = [(day.house, day) for day in days if day.house is not None]
    if not known:
        return []
    coldest, on = min(known, key=lambda pair: pair[0].low_c)
    hottest, hot_on = max(known, key=lambda pair: pair[0].high_c)
    outdoors = "" if on.outdoors is None else f", with {reader.temperature(on.outdoors.low_c)} outdoors"
    cold = f"coldest on {day_text(on.date)} at {reader.temperature(coldest.low_c)}{outdoors}"
    hot = f"hottest on {day_text(hot_on.date)} at {reader.temperature(hottest.high_c)}"
    return [f"The house was {cold}, and {hot}."]


def five_figures(data: ReportData, reader: Reader) -> Markup:
    """The figures as a list, each with its interval and what it means."""
    missing = sorted({figure.missing for figure in data.figures if figure.missing})
    what = [paragraph(f"What is missing: {words}", class_="missing") for words in missing]
    items = [_item(figure, data, reader) for figure in data.figures]
    note = paragraph(
        "Behind each figure stands the range that holds the true one in 90 of 100 cases, for heat per "
        "electricity in 95. A range that reaches 0 says that the effect itself is not sure.",
        class_="note",
    )
    return section("figures", "Five figures", *what, tag("dl", joined(items), class_="figures"), note)


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
    if figure.code == "night-raise":
        return "Nights warmer by", (
            "Lowest temperature among the crop on nights when fans ran, against the same night without the "
            "store."
        )
    if figure.code == "frost-nights-avoided":
        return (
            "Frost nights avoided",
            f"Nights that would have gone below {frost} without the store, less those that did.",
        )
    if figure.code == "hot-hours-avoided":
        hot = "the cooling limit" if limits.cool_above_c is None else reader.temperature(limits.cool_above_c)
        return "Hot hours avoided", f"Hours above {hot} without the store, less those with it."
    if figure.code == "heater-heat":
        return (
            "A heater would have used",
            f"Heat that a heater would have had to give for the same warmth on those nights.{_money(data)}",
        )
    return "Heat for each kWh of electricity", (
        "Dry heat given back to the house for each kWh that the fans drew, banking included."
    )


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


def _interval_of(data: ReportData, code: str) -> Interval | None:
    return next((figure.interval for figure in data.figures if figure.code == code), None)
