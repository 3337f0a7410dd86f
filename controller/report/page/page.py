"""The report as one HTML file that needs no network, no script and no other file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.report.markup import Markup, joined, tag
from controller.report.page.alarms import alarms
from controller.report.page.days import days
from controller.report.page.figures import five_figures
from controller.report.page.head import headline, lede
from controller.report.page.heat import heat
from controller.report.page.method import method
from controller.report.page.pump import pump
from controller.report.page.reading import days_text
from controller.report.page.season import season
from controller.report.page.style import STYLE

if TYPE_CHECKING:
    from controller.report.data import ReportData
    from controller.report.page.reading import Reader

# Whatever a reader's browser thinks the page holds, it loads nothing and runs nothing.
POLICY = "default-src 'none'; style-src 'unsafe-inline'"


def page(data: ReportData, reader: Reader) -> str:
    """The whole file.

    Args:
        data: what it shows.
        reader: who it is for.
    """
    title = headline(data, reader)
    period = days_text(data.first, data.last)
    sections = (
        five_figures(data, reader),
        season(data, reader),
        heat(data),
        days(data, reader),
        pump(data),
        alarms(data, reader),
        method(data, reader),
    )
    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", http_equiv="Content-Security-Policy", content=POLICY),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="color-scheme", content="light dark"),
        tag("title", f"{data.title}, {period}"),
        tag("style", Markup(STYLE)),
    )
    body = tag(
        "body",
        tag(
            "header",
            tag("p", tag("b", data.title), f" · {period}", class_="where"),
            tag("h1", title),
            lede(data, reader),
        ),
        tag("main", joined([*filter(None, sections)])),
        tag("footer", tag("p", "Written by hypocaust from the house's own history.")),
    )
    return f"<!DOCTYPE html>\n{tag('html', head, body, lang='en')}\n"
