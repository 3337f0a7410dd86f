"""Days in full: temperatures above, and below them when the fans and pumps ran and what for."""

from __future__ import annotations

from collections import defaultdict
from datetime import timedelta
from typing import TYPE_CHECKING, NamedTuple

from controller.decision.reasons import ReasonCode
from controller.report.markup import Markup, joined, tag
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
from controller.report.page.reading import NO_BREAK, day_text, listed
from controller.report.runs import WET_CODES
from controller.report.svg.chart import chart, pattern_of
from controller.report.svg.marks import Panel, bar, level, line, stretched, time_axis, value_axis, words
from controller.report.svg.scales import TimeScale, scale_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.report.data import Picture, ReportData, Run
    from controller.report.page.reading import Reader

TOP, PLOT, AXIS = 12.0, 240.0, 28.0
ROW, STRIP = 38.0, 16.0
NIGHT = timedelta(hours=18)  # the last hours of a picture, in which its night lies
LEAST_WIDTH = 0.004  # of a strip: seconds of a pump must still be seen
PLACES = {
    "outdoors": "outdoors",
    "soil": "soil at the tubes",
    "roof": "under the roof",
    "house": "among the crop",
    "outlet": "outlet, fans on",
}


class Meaning(NamedTuple):
    """What a strip stands for: its class, its pattern and its words."""

    class_: str
    pattern: str | None
    text: str


INTO = Meaning("into", None, "heat into the soil")
COOL = Meaning("cool", "upright", "cooling the house into the soil")
OUT = Meaning("out", "rising", "heat out of the soil")
OTHER = Meaning("other", None, "trial run or plain rule")
WET = Meaning("wet", "falling", "pump on a wet float")
EXERCISE = Meaning("other", None, "pump exercise, or by the clock")
MEANINGS = (INTO, COOL, OUT, WET, OTHER, EXERCISE)
_OF_FANS = {
    ReasonCode.BANK.value: INTO,
    ReasonCode.COOL.value: COOL,
    ReasonCode.HEAT.value: OUT,
    ReasonCode.FROST.value: OUT,
    ReasonCode.NIGHT_PURGE.value: OUT,
}
TITLES = {"best": "The best night", "worst": "The coldest night", "hottest": "The hottest day"}


def days(data: ReportData, reader: Reader) -> Markup | None:
    """The section with a picture for each chosen day, nothing where no day is whole."""
    if not data.pictures:
        return None
    lead = (
        "Temperatures are means of ten minutes. A strip shows a run; its pattern shows what the fan ran for."
    )
    shown = [_picture(picture, data, reader) for picture in data.pictures]
    return section("days", "Three days in full", paragraph(lead), *shown)


def _picture(picture: Picture, data: ReportData, reader: Reader) -> Markup:
    name = f"day-{picture.kind}"
    rows = _rows(picture, data)
    height = TOP + PLOT + AXIS + ROW * len(rows) + 6.0
    title = f"{TITLES[picture.kind]}, {day_text(picture.date)} {picture.date.year}"
    lead = _lead(picture, reader)
    drawing = chart(
        name, f"{title}: temperatures and runs", lead, height, _marks(name, picture, rows, data, reader)
    )
    keys = [
        Key("line", line_.place, _place(line_.place, data))
        for line_ in picture.lines
        if any(value is not None for value in line_.celsius)
    ]
    if _shows_frost(picture, data):
        keys.append(frost_key(data, reader))
    if picture.raise_k is not None:
        keys.append(Key("bar", "without", "range of the low without the store", "falling"))
    meant = {meaning_of(run) for run in picture.runs}
    keys += [Key("bar", m.class_, m.text, m.pattern) for m in MEANINGS if m in meant]
    tables = [numbers("The temperatures, hour by hour", _temperatures(title, picture, data, reader))]
    if picture.runs:
        tables.append(numbers("The runs, and why", _runs(title, picture, reader)))
    return tag(
        "div",
        tag("h3", title),
        paragraph(lead),
        illustrated(drawing, legend(name, keys), *tables),
        class_="day",
    )


def _lead(picture: Picture, reader: Reader) -> str:
    """What happened in the night or on the day."""
    if picture.kind == "hottest":
        words = [f"The house rose to {reader.temperature(picture.high_c)}."]
    else:
        words = [f"In the night to this day the house fell to {reader.temperature(picture.low_c)}."]
    if picture.raise_k is not None and picture.low_c is not None:
        without = reader.temperature(picture.low_c - picture.raise_k.value)
        words.append(f"Without the store it would have been about {without}.")
        words.append(f"So the store made it warmer by {reader.differences(picture.raise_k)}.")
    words.append(_fan_hours(picture))
    if picture.kind != "hottest":
        words.append(f"Shown from {reader.moment(picture.began)} to {reader.moment(picture.ended)}.")
    return " ".join(words)


def _fan_hours(picture: Picture) -> str:
    """How long the fans ran in the picture, and what for."""
    hours: defaultdict[str, float] = defaultdict(float)
    for run in picture.runs:
        if run.kind == "fan":
            lasted = min(run.ended, picture.ended) - max(run.began, picture.began)
            hours[meaning_of(run).text] += lasted / timedelta(hours=1)
    if not hours:
        return "No fan ran."
    parts = [f"{text} {lasted:.1f}{NO_BREAK}h" for text, lasted in hours.items()]
    return f"The fans ran for {sum(hours.values()):.1f}{NO_BREAK}h, added up: {listed(parts)}."


def _rows(picture: Picture, data: ReportData) -> list[tuple[str, str]]:
    """A row for each fan of the house, also of loops it has no longer, and for each pump that ran."""
    ran = sorted({(run.kind, run.name) for run in picture.runs})
    return list(dict.fromkeys([*(("fan", loop) for loop in data.loops), *ran]))


def _marks(
    name: str, picture: Picture, rows: Sequence[tuple[str, str]], data: ReportData, reader: Reader
) -> list[Markup]:
    across = TimeScale(reader.calendar.local(picture.began), reader.calendar.local(picture.ended))
    known = [reader.plotted(v) for line_ in picture.lines for v in line_.celsius if v is not None]
    without = _without(picture, reader)
    scale, ticks = scale_of([*known, *without], most=6)
    panel = Panel(TOP, PLOT, scale)
    lines = [
        line(panel, _points(line_.celsius, picture, across, reader), line_.place) for line_ in picture.lines
    ]
    strips_top = TOP + PLOT + AXIS
    bottom = strips_top + ROW * len(rows)
    marks = [
        time_axis(across.ticks(), TOP, TOP + PLOT),
        value_axis(panel, ticks, reader.degrees),
        stretched(bottom, lines),
    ]
    if without:
        low, high = min(without), max(without)
        evening = across.share(across.ended - NIGHT)
        marks.append(bar(evening, 1.0, panel.y(high), panel.y(low), "without", pattern_of(name, "falling")))
    if _shows_frost(picture, data):
        marks.append(level(panel, reader.plotted(data.limits.frost_limit_c)))
    for number, (kind, of) in enumerate(rows):
        top = strips_top + number * ROW
        runs = [run for run in picture.runs if (run.kind, run.name) == (kind, of)]
        marks.append(_strip(name, f"{kind} {of}", runs, top, across, reader))
    return marks


def _without(picture: Picture, reader: Reader) -> list[float]:
    """The ends of what the lowest temperature of the night would have been without the store, if known."""
    if picture.raise_k is None or picture.low_c is None:
        return []
    return [reader.plotted(picture.low_c - raised) for raised in (picture.raise_k.low, picture.raise_k.high)]


def _shows_frost(picture: Picture, data: ReportData) -> bool:
    """Whether the day came near the frost limit."""
    known = [value for line_ in picture.lines for value in line_.celsius if value is not None]
    return bool(known) and min(known) <= data.limits.frost_limit_c <= max(known)


def _points(
    celsius: Sequence[float | None], picture: Picture, across: TimeScale, reader: Reader
) -> list[tuple[float, float | None]]:
    """The middle of each step and its value."""
    return [
        (
            across.share(
                reader.calendar.local(picture.began + timedelta(seconds=(step + 0.5) * picture.step_s))
            ),
            None if value is None else reader.plotted(value),
        )
        for step, value in enumerate(celsius)
    ]


def _strip(
    name: str, label: str, runs: Sequence[Run], top: float, across: TimeScale, reader: Reader
) -> Markup:
    """The name of a motor and, below it, a bar for each run."""
    upper = top + ROW - STRIP - 4.0
    marks = [
        words(label if runs else f"{label}: no run", 0.0, upper - 5.0, "row"),
        bar(0.0, 1.0, upper, upper + STRIP, "rail"),
    ]
    for run in runs:
        meaning = meaning_of(run)
        left, right = (across.share(reader.calendar.local(at)) for at in (run.began, run.ended))
        fill = None if meaning.pattern is None else pattern_of(name, meaning.pattern)
        marks.append(bar(left, max(right, left + LEAST_WIDTH), upper, upper + STRIP, meaning.class_, fill))
    return joined(marks)


def meaning_of(run: Run) -> Meaning:
    """What a run stands for."""
    if run.kind == "pump":
        return WET if run.code in WET_CODES else EXERCISE
    return _OF_FANS.get(run.code, OTHER)


def _place(place: str, data: ReportData) -> str:
    return "under the roof" if place == "house" and data.house_from == "ceiling" else PLACES[place]


def _temperatures(title: str, picture: Picture, data: ReportData, reader: Reader) -> Markup:
    """The value of each line at every full hour."""
    every = max(round(3600.0 / picture.step_s), 1)
    steps = range(0, max((len(line_.celsius) for line_ in picture.lines), default=0), every)
    heads = ["time", *(f"{_place(line_.place, data)} ({reader.unit.value})" for line_ in picture.lines)]
    rows = [
        [
            reader.moment(picture.began + timedelta(seconds=step * picture.step_s)),
            *(reader.cell(line_.celsius[step]) for line_ in picture.lines),
        ]
        for step in steps
    ]
    return table(f"{title}: temperatures", heads, rows)


def _runs(title: str, picture: Picture, reader: Reader) -> Markup:
    rows = [
        [f"{run.kind} {run.name}", reader.moment(run.began), reader.moment(run.ended), run.why]
        for run in picture.runs
    ]
    return table(f"{title}: runs", ("what", "on", "off", "why it went on"), rows, "wordy")
