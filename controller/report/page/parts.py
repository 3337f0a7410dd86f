"""What every section of the page is made of: headings, charts with a legend, and the tables behind them."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from controller.report.markup import Markup, joined, tag
from controller.report.svg.chart import pattern_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from controller.report.data import ReportData
    from controller.report.page.reading import Reader

SWATCH_W, SWATCH_H = 26.0, 12.0


class Key(NamedTuple):
    """One entry of a legend.

    Attributes:
        kind: "line", "band" or "bar".
        class_: the class of the marks it explains.
        text: what they show.
        pattern: the pattern over a bar, None for a plain one.
    """

    kind: str
    class_: str
    text: str
    pattern: str | None = None


def section(name: str, title: str, *children: Markup | None) -> Markup:
    """A section with its heading."""
    heading = tag("h2", title, id=f"{name}-heading")
    return tag("section", heading, joined(children), aria_labelledby=f"{name}-heading", id=f"{name}-section")


def paragraph(*words: str, class_: str | None = None) -> Markup:
    """A paragraph."""
    return tag("p", *words, class_=class_)


def illustrated(drawing: Markup, legend: Markup, *tables: Markup) -> Markup:
    """A chart below its legend, and the numbers behind it."""
    return tag("figure", legend, drawing, *tables)


def legend(name: str, keys: Iterable[Key]) -> Markup:
    """What the marks of a chart mean, each with a sample of it."""
    return tag("ul", joined([tag("li", _swatch(name, key), key.text) for key in keys]), class_="legend")


def frost_key(data: ReportData, reader: Reader) -> Key:
    """The line at the frost limit."""
    return Key("line", "level", f"frost limit {reader.temperature(data.limits.frost_limit_c)}")


def _swatch(name: str, key: Key) -> Markup:
    middle = SWATCH_H / 2.0
    if key.kind == "line":
        sample = tag("line", class_=f"line {key.class_}", x1=1.0, x2=SWATCH_W - 1.0, y1=middle, y2=middle)
    elif key.kind == "band":
        sample = joined(
            [
                tag("rect", class_=f"area {key.class_}", x=0.0, y=1.0, width=SWATCH_W, height=SWATCH_H - 2.0),
                tag("path", class_=f"edge high {key.class_}", d=f"M0 1H{SWATCH_W:g}"),
                tag("path", class_=f"edge low {key.class_}", d=f"M0 {SWATCH_H - 1:g}H{SWATCH_W:g}"),
            ]
        )
    else:
        sample = tag("rect", class_=f"bar {key.class_}", x=0.0, y=0.0, width=SWATCH_W, height=SWATCH_H)
        if key.pattern is not None:
            fill = f"url(#{pattern_of(name, key.pattern)})"
            over = tag("rect", class_="over", fill=fill, x=0.0, y=0.0, width=SWATCH_W, height=SWATCH_H)
            sample = joined([sample, over])
    return tag("svg", sample, class_="swatch", width=SWATCH_W, height=SWATCH_H, aria_hidden="true")


def numbers(summary: str, table: Markup) -> Markup:
    """A table that is opened by who wants it."""
    return tag("details", tag("summary", summary), table)


def table(
    caption: str, heads: Sequence[str], rows: Iterable[Sequence[str]], class_: str = "numeric"
) -> Markup:
    """A table whose first column names its rows.

    Args:
        caption: what it shows.
        heads: of the columns.
        rows: the cells.
        class_: "numeric" for numbers, "wordy" for sentences; on a narrow screen the cells of a wordy row
            stand below each other, each with the head of its column.
    """
    wordy = class_ == "wordy"
    # Elements that are no longer laid out as a table are one only by their roles (WAI-ARIA 1.2).
    row, head, cell = ("row", "columnheader", "cell") if wordy else (None, None, None)
    first_row = tag("tr", joined([tag("th", text, scope="col", role=head) for text in heads]), role=row)
    body = [
        tag(
            "tr",
            tag("th", first, scope="row", role="rowheader" if wordy else None),
            joined(
                [
                    tag("td", text, role=cell, data_head=named if wordy else None)
                    for named, text in zip(heads[1:], cells, strict=True)
                ]
            ),
            role=row,
        )
        for first, *cells in rows
    ]
    group = "rowgroup" if wordy else None
    inner = tag(
        "table",
        tag("caption", caption),
        tag("thead", first_row, role=group),
        tag("tbody", joined(body), role=group),
        class_=class_,
        role="table" if wordy else None,
    )
    return tag("div", inner, class_="scroll", role="region", aria_label=caption, tabindex="0")
