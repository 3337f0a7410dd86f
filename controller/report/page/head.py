"""The head of the page: what the store did, in a sentence and a paragraph."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.report.page.parts import paragraph
from controller.report.page.reading import (
    NO_BREAK,
    counted,
    day_text,
    days_text,
    kilowatt_hours,
    whole,
)

if TYPE_CHECKING:
    from controller.report.data import Day, Interval, ReportData
    from controller.report.markup import Markup
    from controller.report.page.reading import Reader


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


def _interval_of(data: ReportData, code: str) -> Interval | None:
    return next((figure.interval for figure in data.figures if figure.code == code), None)
