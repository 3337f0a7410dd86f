"""Charts: marks stand where their values are, and a chart says what it shows."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest

from controller.report.markup import Markup, escaped, tag
from controller.report.svg.chart import chart, pattern_of
from controller.report.svg.marks import Panel, band, bar, line, stretched, value_axis, whisker
from controller.report.svg.scales import Scale

PANEL = Panel(top=10.0, height=100.0, scale=Scale(0.0, 50.0))
NASTY = '"><script>alert(1)</script>&amp;\x1b[2J\u202e'


def paths(drawn: Markup) -> list[str]:
    """What the paths draw."""
    return re.findall(r' d="([^"]*)"', drawn)


@pytest.mark.parametrize(("value", "y"), [(0.0, 110.0), (25.0, 60.0), (50.0, 10.0)])
def test_a_value_stands_at_its_height(value: float, y: float) -> None:
    """The high end of the scale is at the top."""
    assert PANEL.y(value) == y


def test_a_line_breaks_where_a_value_is_missing() -> None:
    """And a single value between two gaps is still drawn, as a dot."""
    points = [(0.0, 0.0), (0.25, 25.0), (0.5, None), (0.75, 50.0), (0.8, None)]
    assert paths(line(PANEL, points, "house")) == ["M0 110L500 60M1500 10L1500 10"]


def test_a_band_has_an_area_and_two_edges() -> None:
    """The area goes along the highs and back along the lows, and breaks at a gap."""
    points = [(0.0, 0.0, 50.0), (0.5, 25.0, 50.0), (0.6, None, None), (1.0, 0.0, 25.0)]
    area, high, low = paths(band(PANEL, points, "soil"))
    assert area == "M0 10L1000 10L1000 60L0 110ZM2000 60L2000 60L2000 110L2000 110Z"
    assert high.startswith("M0 10L1000 10M")
    assert low.startswith("M0 110L1000 60M")


def test_a_bar_lies_across_its_share_of_the_width() -> None:
    """So that it fits a page of any width; its pattern covers it exactly."""
    plain, over = ET.fromstring(f"<g>{bar(0.1, 0.35, 20.0, 30.0, 'into', 'chart-rising')}</g>")  # noqa: S314 - our own
    assert (plain.get("x"), plain.get("width"), plain.get("y"), plain.get("height")) == (
        "10%",
        "25%",
        "20",
        "10",
    )
    assert over.get("fill") == "url(#chart-rising)"
    assert [over.get(key) for key in ("x", "width")] == ["10%", "25%"]


def test_a_chart_is_well_formed_and_says_what_it_shows() -> None:
    """With a title and a description by which a reader's software names it, and with its own patterns."""
    marks = [value_axis(PANEL, (0.0, 50.0), str), stretched(130.0, []), whisker(PANEL, 0.5, 10.0, 20.0)]
    drawn = ET.fromstring(chart("heat", "Heat & more", NASTY, 130.0, marks))  # noqa: S314 - our own
    names = {element.get("id"): element for element in drawn.iter() if element.get("id")}
    told = [names[name].text for name in (drawn.get("aria-labelledby") or "").split()]
    assert drawn.get("role") == "img"
    assert told[0] == "Heat & more"
    assert "<script>" in (told[1] or "")  # as letters, not as an element
    assert pattern_of("heat", "rising") in names
    assert not list(drawn.iter("{http://www.w3.org/2000/svg}script"))


def test_whatever_is_no_markup_is_escaped() -> None:
    """As content and as the value of an attribute; letters that steer a screen are replaced."""
    made = tag("p", NASTY, tag("b", "kept"), None, title=NASTY, class_="a")
    assert made.count("<") == made.count(">") == 4
    assert "<b>kept</b>" in made
    assert not {"\x1b", "\u202e"} & set(made)
    assert escaped("a < b & c") == "a &lt; b &amp; c"
