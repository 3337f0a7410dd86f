"""The page: one file that anybody can read, and that nothing from settings or history can change."""

from __future__ import annotations

import re
from collections import Counter
from html.parser import HTMLParser
from itertools import pairwise, product
from typing import TYPE_CHECKING

import pytest

from controller.report.data import Interval
from controller.report.page.head import headline
from controller.report.page.style import DARK, LIGHT, PRINT
from controller.units import TemperatureUnit
from tests.report.houses import House, gathered, written

if TYPE_CHECKING:
    from pathlib import Path

    from controller.settings.schema import Settings

VOID = {"meta", "br", "col"}
HOSTILE = '<img src=x onerror="alert(1)">&lt;\x1b[2J'


class Outline(HTMLParser):
    """What a page is made of: every element with its attributes, in order, and that each was closed."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.feed(text)
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note it."""
        self.found.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """It must be the one that was opened last."""
        assert self.open.pop() == tag

    def of(self, name: str) -> list[dict[str, str | None]]:
        """All elements of a name."""
        return [attributes for tag, attributes in self.found if tag == name]


@pytest.fixture(scope="module")
def fortnight_page(tmp_path_factory: pytest.TempPathFactory, settings: Settings) -> str:
    """Of a fortnight with an alarm and with water."""
    house = House(settings, days=16, silent=(30.0, 33.0))
    house.alarm(20.0, "frost", detail="air 1.9 °C")
    house.alarm(26.0, "frost", raised=False)
    house.alarm(40.0, "of-another-release")
    house.change(30.0, "main", on=True, code="pump-wet", kind="pump")
    house.change(30.1, "main", on=False, code="pump-emptied", kind="pump")
    return written(house.write(tmp_path_factory.mktemp("page") / "h"), settings)


def test_the_page_needs_nothing_from_anywhere(fortnight_page: str) -> None:
    """No script, no address of another file, and a policy by which a browser loads none."""
    outline = Outline(fortnight_page)
    assert not {"script", "link", "img", "iframe", "object", "form"} & {tag for tag, _ in outline.found}
    for tag, attributes in outline.found:
        assert not {"src", "href", "srcset", "style"} & set(attributes), tag
        assert not any(name.startswith("on") for name in attributes), tag
    assert re.sub(r'xmlns="http://www.w3.org/2000/svg"', "", fortnight_page).count("://") == 0
    assert "url(" not in re.sub(r"url\(#[a-z-]+\)", "", fortnight_page)
    (policy,) = [meta for meta in outline.of("meta") if meta.get("http-equiv") == "Content-Security-Policy"]
    assert "default-src 'none'" in (policy["content"] or "")


def test_the_page_can_be_read_without_seeing_it(fortnight_page: str) -> None:
    """Language, headings in order, a name and a description for every chart, a table behind it."""
    outline = Outline(fortnight_page)
    assert outline.of("html")[0]["lang"] == "en"
    levels = [int(tag[1]) for tag, _ in outline.found if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later <= earlier + 1 for earlier, later in pairwise(levels))
    ids = [attributes["id"] for _, attributes in outline.found if "id" in attributes]
    assert max(Counter(ids).values()) == 1
    charts = [svg for svg in outline.of("svg") if svg.get("role") == "img"]
    assert len(charts) == len(outline.of("figure")) == 6
    for svg in charts:
        assert set((svg["aria-labelledby"] or "").split()) <= set(ids)
    assert len(outline.of("details")) >= len(charts)
    assert len(outline.of("table")) == len(outline.of("caption"))
    for section in outline.of("section"):
        assert section["aria-labelledby"] in ids


def test_no_name_in_the_settings_can_become_markup(tmp_path: Path, settings: Settings) -> None:
    """Nor can a loop's name, an alarm's words or a reason in the history."""
    site = settings.site.model_copy(update={"title": HOSTILE})
    loops = {HOSTILE: settings.loops["north"], **settings.loops}
    hostile = settings.model_copy(update={"site": site, "loops": loops})
    house = House(settings, days=3)
    house.alarm(20.0, HOSTILE, subject=HOSTILE, detail=HOSTILE)
    house.change(21.0, HOSTILE, on=True, code=HOSTILE)
    text = written(house.write(tmp_path / "h"), hostile)
    assert "<img" not in text
    assert "&lt;img src=x onerror=&quot;alert(1)&quot;&gt;&amp;lt;" in text
    assert "\x1b" not in text
    Outline(text)


def luminance(colour: str) -> float:
    """Relative luminance of a colour (WCAG 2.2, definition)."""
    parts = [int(colour[n : n + 2], 16) / 255.0 for n in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours (WCAG 2.2, definition)."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("colours", [LIGHT, DARK, PRINT], ids=["light", "dark", "print"])
def test_words_and_marks_stand_out_from_their_ground(colours: dict[str, str]) -> None:
    """Words by 4.5 to 1 and marks by 3 to 1 (WCAG 2.2, 1.4.3 and 1.4.11)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    for words, ground in product(("ink", "quiet"), ("paper",)):
        assert contrast(colours[words], colours[ground]) >= 4.5
    marks = ("outdoors", "house", "roof", "soil", "outlet", "into", "out", "cool", "wet", "other", "frost")
    for mark in marks:
        assert contrast(colours[mark], colours["paper"]) >= 3.0, mark


def test_temperatures_are_in_the_unit_of_the_person(tmp_path: Path, settings: Settings) -> None:
    """In Fahrenheit nothing is left in Celsius, nor a difference in kelvin."""
    site = settings.site.model_copy(update={"show": TemperatureUnit.FAHRENHEIT})
    house = House(settings, days=16)
    text = written(house.write(tmp_path / "h"), settings.model_copy(update={"site": site}))
    body = text.partition("<main>")[2].partition('id="method-section"')[0]
    assert "°F" in body
    assert "°C" not in body
    assert not re.search(r"\d\u00a0K\b", body)


def interval(low: float, value: float, high: float) -> Interval:
    """A figure with its ends."""
    return Interval(value=value, low=low, high=high)


def test_a_headline_says_only_what_the_figures_bear_out(tmp_path: Path, settings: Settings) -> None:
    """Nothing while there are too few nights; afterwards the nights and by how much they were warmer."""
    few, reader = gathered(House(settings, days=3).write(tmp_path / "few"), settings)
    assert headline(few, reader) == "3\u00a0days on record: what the store does cannot be said yet"
    unsure = few.model_copy(
        update={"figures": [few.figures[0].model_copy(update={"interval": interval(-0.3, 0.1, 0.5)})]}
    )
    assert "cannot be said yet" in headline(unsure, reader)
    sure = few.model_copy(
        update={
            "heated_nights": 41,
            "figures": [few.figures[0].model_copy(update={"interval": interval(1.6, 2.1, 2.6)})],
        }
    )
    assert headline(sure, reader) == "On 41\u00a0nights the store kept the house 2.1\u00a0K warmer"


def test_what_is_missing_is_said(tmp_path: Path, settings: Settings, one_loop: Settings) -> None:
    """Outdoor and bench probe, gaps, and that the history has no rain."""
    small = written(House(one_loop).write(tmp_path / "small"), one_loop)
    assert "No outdoor probe is in the settings" in small
    assert "No probe hangs among the crop" in small
    gap = written(House(settings, days=4, silent=(24.0, 60.0)).write(tmp_path / "gap"), settings)
    assert "Nothing is on record for these times: 11 Jan 00:00 for 36 h 00 min" in gap
    assert "The history holds no rain" in gap
    assert "No water came on the 4\u00a0days on record." in gap
