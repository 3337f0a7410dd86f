"""A whole chart: its name and description for those who cannot see it, its patterns and its marks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.report.markup import Markup, joined, tag

if TYPE_CHECKING:
    from collections.abc import Sequence

HATCHES = {
    "rising": "M-2 2L2-2M0 8L8 0M6 10L10 6",
    "falling": "M-2 6L2 10M0 0L8 8M6-2L10 2",
    "upright": "M2 0V8M6 0V8",
}
# An own letter for each pattern's place in a document that holds several charts.
SEPARATOR = "-"


def chart(name: str, title: str, description: str, height: float, marks: Sequence[Markup]) -> Markup:
    """The chart as an element of a page.

    Args:
        name: its id, used by no other element.
        title: what it shows.
        description: what can be seen in it.
        height: in pixels; its width is that of its place in the page.
        marks: what is drawn, first to last.
    """
    return tag(
        "svg",
        tag("title", title, id=f"{name}-title"),
        tag("desc", description, id=f"{name}-desc"),
        tag("defs", joined([_pattern(name, kind, path) for kind, path in HATCHES.items()])),
        joined(list(marks)),
        class_="chart",
        role="img",
        id=name,
        aria_labelledby=f"{name}-title {name}-desc",
        height=height,
        xmlns="http://www.w3.org/2000/svg",
    )


def pattern_of(name: str, kind: str) -> str:
    """The id of a pattern in the chart of this name."""
    return f"{name}{SEPARATOR}{kind}"


def _pattern(name: str, kind: str, path: str) -> Markup:
    return tag(
        "pattern",
        tag("path", class_="hatch", d=path),
        id=pattern_of(name, kind),
        width=8.0,
        height=8.0,
        patternUnits="userSpaceOnUse",
    )
