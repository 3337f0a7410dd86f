"""What is drawn into a chart: bands, lines, bars, strips and axes.

Across, every place is a share of the width, so that a chart fits any page: bars and words stand at
percentages, and bands and lines lie in an inner drawing that is stretched sideways. Down, everything is in
pixels. How things look is the style sheet's business; marks only carry classes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from controller.report.markup import Markup, joined, number, percent, tag

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from controller.report.svg.scales import Scale, Tick

# Width of the stretched drawing in its own units; fine enough for a line a pixel wide on a large screen.
ACROSS = 2000.0
WHISKER_PX = 4.0
TEXT_GAP_PX = 8.0
NEAR_THE_END = 0.97  # words in the middle of their place there would leave the page

Point = tuple[float, float | None]


@dataclass(frozen=True, slots=True)
class Panel:
    """A part of a chart with a scale of its own.

    Attributes:
        top: of its upper end, in pixels from the top of the chart.
        height: in pixels.
        scale: of its values; the high end is at the top.
    """

    top: float
    height: float
    scale: Scale

    @property
    def bottom(self) -> float:
        """Its lower end."""
        return self.top + self.height

    def y(self, value: float) -> float:
        """How far down a value lies."""
        return self.top + self.height * (1.0 - self.scale.share(value))


def value_axis(panel: Panel, ticks: Sequence[float], text_of: Callable[[float], str]) -> Markup:
    """A line across for each tick, and its value in the margin at the left."""
    marks = []
    for tick in ticks:
        y = panel.y(tick)
        marks.append(tag("line", class_="grid", x1=0.0, x2="100%", y1=y, y2=y))
        marks.append(tag("text", text_of(tick), class_="tick", x=-TEXT_GAP_PX, y=y + 4.0, text_anchor="end"))
    return joined(marks)


def time_axis(ticks: Iterable[Tick], top: float, bottom: float) -> Markup:
    """Lines down the chart and words below it."""
    marks = []
    for tick in ticks:
        x = percent(tick.share)
        if tick.line:
            marks.append(tag("line", class_="grid", x1=x, x2=x, y1=top, y2=bottom))
        if tick.text:
            spare = "tick spare" if tick.spare else "tick"
            anchor = "end" if tick.share > NEAR_THE_END else "middle"
            marks.append(tag("text", tick.text, class_=spare, x=x, y=bottom + 17.0, text_anchor=anchor))
    return joined(marks)


def unit_of(panel: Panel, text: str) -> Markup:
    """The unit of the values, above the axis."""
    return tag("text", text, class_="tick", x=0.0, y=panel.top - 7.0, text_anchor="start")


def level(panel: Panel, value: float) -> Markup:
    """A line across at a value that matters."""
    y = panel.y(value)
    return tag("line", class_="level", x1=0.0, x2="100%", y1=y, y2=y)


def stretched(height: float, paths: Sequence[Markup]) -> Markup:
    """Paths in an inner drawing that is as wide as the chart."""
    return tag(
        "svg",
        joined(list(paths)),
        x=0.0,
        y=0.0,
        width="100%",
        height=height,
        viewBox=f"0 0 {number(ACROSS)} {number(height)}",
        preserveAspectRatio="none",
    )


def line(panel: Panel, points: Iterable[Point], class_: str) -> Markup:
    """A line through the points; it breaks where a value is missing."""
    pieces = [_joined_up(panel, piece) for piece in _pieces(points)]
    return tag("path", class_=f"line {class_}", d="".join(pieces))


def band(panel: Panel, points: Iterable[tuple[float, float | None, float | None]], class_: str) -> Markup:
    """The area between a low and a high value and its two edges; it breaks where one is missing."""
    areas, upper, lower = [], [], []
    lows: list[tuple[float, float]] = []
    highs: list[tuple[float, float]] = []
    for share, low, high in (*points, (0.0, None, None)):
        if low is not None and high is not None:
            lows.append((share, low))
            highs.append((share, high))
        elif lows:
            areas.append(f"{_joined_up(panel, highs)}L{_joined_up(panel, lows[::-1])[1:]}Z")
            upper.append(_joined_up(panel, highs))
            lower.append(_joined_up(panel, lows))
            lows, highs = [], []
    return joined(
        [
            tag("path", class_=f"area {class_}", d="".join(areas)),
            tag("path", class_=f"edge high {class_}", d="".join(upper)),
            tag("path", class_=f"edge low {class_}", d="".join(lower)),
        ]
    )


def bar(left: float, right: float, top: float, bottom: float, class_: str, fill: str | None = None) -> Markup:
    """A rectangle between two shares of the width; ``fill`` names a pattern that lies over its colour."""
    place: dict[str, str | float] = {
        "x": percent(left),
        "width": percent(max(right - left, 0.0)),
        "y": top,
        "height": max(bottom - top, 0.0),
    }
    marks = [tag("rect", class_=f"bar {class_}", **place)]
    if fill is not None:
        marks.append(tag("rect", class_="over", fill=f"url(#{fill})", **place))
    return joined(marks)


def whisker(panel: Panel, share: float, low: float, high: float) -> Markup:
    """From the low to the high end of an interval, with a stroke across each end."""
    x, top, bottom = percent(share), panel.y(high), panel.y(low)
    stem = tag("line", class_="whisker", x1=x, x2=x, y1=top, y2=bottom)
    ends = [tag("line", class_="whisker", x1=-WHISKER_PX, x2=WHISKER_PX, y1=y, y2=y) for y in (top, bottom)]
    # Strokes of a fixed width at a place given as a share need an inner drawing that begins there.
    return joined([stem, tag("svg", joined(ends), x=x, y=0.0, overflow="visible")])


def words(text: str, share: float, y: float, class_: str, anchor: str = "start") -> Markup:
    """Words at a place."""
    return tag("text", text, class_=class_, x=percent(share), y=y, text_anchor=anchor)


def _pieces(points: Iterable[Point]) -> list[list[tuple[float, float]]]:
    """Runs of points without a missing value."""
    pieces: list[list[tuple[float, float]]] = [[]]
    for share, value in points:
        if value is not None:
            pieces[-1].append((share, value))
        elif pieces[-1]:
            pieces.append([])
    return [piece for piece in pieces if piece]


def _joined_up(panel: Panel, points: Sequence[tuple[float, float]]) -> str:
    """One path through known points; a single one becomes a dot, because its caps are round."""
    places = [f"{number(share * ACROSS)} {number(panel.y(value))}" for share, value in points]
    return "M" + "L".join(places if len(places) > 1 else places * 2)
