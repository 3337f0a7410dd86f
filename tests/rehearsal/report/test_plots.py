"""Pictures and tables of a rehearsal, from rows made by hand."""

from __future__ import annotations

import csv
import json
import math
import struct
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from itertools import pairwise

import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from controller.decision.reasons import ReasonCode
from controller.decision.state import Demand
from controller.rehearsal.hours import HourRow
from controller.rehearsal.journal import Doing, Span
from controller.rehearsal.report import files, pictures, week_picture
from controller.rehearsal.report.files import write
from controller.rehearsal.report.months_picture import months_of
from controller.rehearsal.report.pictures import Label, label_ends, paper, spread
from controller.rehearsal.report.week_picture import draw_week, week_of, why_still
from controller.rehearsal.run import Outcome
from controller.simulator.plant.plant import Truth
from controller.units import TemperatureUnit
from tests.rehearsal.made_up import SUMMARY

ZONE = timezone(timedelta(hours=-5))
START = datetime(2026, 1, 1, tzinfo=ZONE)


def row(hour, start=START):
    """One hour of an invented house: a daily swing on a yearly one, and fans at night."""
    ended = start + timedelta(hours=hour + 1)
    season = -math.cos(2.0 * math.pi * (hour / 24.0 - 20.0) / 365.0)
    outdoor_c = 10.0 + 12.0 * season + 5.0 * math.sin(2.0 * math.pi * (hour - 8.0) / 24.0)
    night = ended.hour < 6
    truth = Truth(
        air_c=outdoor_c + 6.0,
        bench_c=outdoor_c + 6.0,
        ceiling_c=outdoor_c + 7.0,
        outdoor_c=outdoor_c,
        air_rh=0.8,
        soil_c={"north": 14.0},
        outlet_c={"north": 12.0},
        heat_w={"north": 0.0},
        charged_j=0.0,
        discharged_j=0.0,
        latent_j=0.0,
        fan_energy_j=0.0,
        water_m3={"main": 0.0},
        float_wet={"main": False},
        pumping={"main": False},
        flooded={"north": False},
        fan_running={"north": night},
        vents_open=0.0,
    )
    fans = {"north": 3600.0 if night else 0.0}
    return HourRow(
        ended, truth, outdoor_c + 5.5, outdoor_c - 0.5, fans, {"main": 4.0}, {"main": 3.0},
        0.0 if night else 1.5, 2.0 if night else 0.0, 0.12,
    )  # fmt: skip


def outcome(days, start=START):
    """A rehearsal of so many days."""
    rows = tuple(row(hour, start) for hour in range(round(days * 24)))
    spans = (
        Span(Doing.FAN, "north", Demand.HEAT, start, start + timedelta(hours=5)),
        Span(Doing.FAN, "north", Demand.BANK, start + timedelta(hours=10), start + timedelta(hours=14)),
        Span(Doing.FAN, "north", Demand.PLAIN, start + timedelta(hours=20), start + timedelta(hours=21)),
        Span(Doing.WET, "main", None, start + timedelta(hours=3), start + timedelta(hours=3, minutes=2)),
        Span(Doing.PUMP, "main", None, start + timedelta(hours=3), start + timedelta(hours=3, minutes=3)),
    )
    return Outcome(SUMMARY.model_copy(update={"days": days}), (), rows, spans, ())


def size(path):
    """Width and height of a PNG, from its header."""
    head = path.read_bytes()[:24]
    assert head.startswith(b"\x89PNG")
    return struct.unpack(">II", head[16:24])


@pytest.mark.parametrize(
    ("days", "drawn"),
    [
        (0.04, []),
        (1.0, ["week.png"]),
        (31.0, ["week.png"]),
        (40.0, ["week-cold.png", "week-hot.png"]),
        (365.0, ["week-cold.png", "week-hot.png", "year.png"]),
    ],
)
def test_pictures_fit_the_length(tmp_path, days, drawn):
    """A short rehearsal is one picture, a longer one two weeks of it, a long one its months as well."""
    written = write(tmp_path, outcome(days), TemperatureUnit.CELSIUS)
    assert written == ["summary.json", "hours.csv", *drawn]
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(written)
    for name in drawn:
        assert size(tmp_path / name)[0] == 1200


def test_pictures_of_an_earlier_rehearsal_go(tmp_path):
    """A directory never shows pictures of two rehearsals; a person's own files stay."""
    (tmp_path / "year.png").write_text("old")
    (tmp_path / "notes.txt").write_text("mine")
    write(tmp_path, outcome(1.0), TemperatureUnit.FAHRENHEIT)
    assert not (tmp_path / "year.png").exists()
    assert (tmp_path / "notes.txt").read_text() == "mine"


def test_table_has_units_local_time_and_every_hour(tmp_path):
    """The table can be read by a program that knows nothing of the controller."""
    write(tmp_path, outcome(1.0), TemperatureUnit.FAHRENHEIT)
    with (tmp_path / files.HOURS).open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    assert len(table) == 24
    assert table[0]["hour_ended"] == "2026-01-01T01:00:00-05:00"
    assert table[0]["north_fan_s"] == "3600"
    assert float(table[12]["bench_c"]) == pytest.approx(row(12).truth.bench_c, abs=0.005)
    named = ("_c", "_pct", "_kwh", "_s", "hour_ended")
    assert all(column.endswith(named) for column in table[0])
    assert json.loads((tmp_path / files.SUMMARY).read_text(encoding="utf-8"))["days"] == 1.0


def test_an_empty_row_of_the_week_says_why():
    """The two causes of most hours, in the report's own words; hours with a run are not counted."""
    codes = [ReasonCode.STORE_NOT_WANTED] * 5 + [ReasonCode.SOIL_TOO_WARM] * 3 + [ReasonCode.RESTING] * 2
    rows = [replace(row(hour), idle={"north": code}) for hour, code in enumerate(codes)]
    rows.append(row(11))
    assert why_still("north", rows) == (
        "no run, because the soil was warm enough for the nights (5 h), the soil was too warm to cool the "
        "house (3 h)"
    )
    assert why_still("south", rows) == "no run"


def test_the_picture_of_a_week_writes_the_cause_into_an_empty_row_only(tmp_path, monkeypatch):
    """A loop that ran has its bars, another its cause."""
    said = []
    monkeypatch.setattr(week_picture, "why_still", lambda loop, _: said.append(loop) or "no run")
    rows = [row(hour) for hour in range(24)]
    ran = Span(Doing.FAN, "north", Demand.BANK, START, START + timedelta(hours=2))
    for spans in ((ran,), ()):
        draw_week(tmp_path / "week.png", "A day", "here", rows, spans, TemperatureUnit.CELSIUS)
    assert said == ["north"]


def test_coldest_and_hottest_week_begin_at_midnight():
    """The week is the coldest (hottest) of all weeks of whole days."""
    rows = outcome(365.0).rows
    for coldest, around in ((True, 20), (False, 202)):
        week = week_of(rows, coldest=coldest)
        assert len(week) == 7 * 24
        assert week[0].ended.hour == 1
        middle = (week[84].ended - START).days
        assert abs(middle - around) <= 2


def test_week_without_a_midnight_begins_somewhere():
    """Hours that never begin at midnight still give a week."""
    rows = outcome(40.0, START + timedelta(minutes=30)).rows
    assert len(week_of(rows, coldest=True)) == 7 * 24


def test_months_add_up():
    """Every hour belongs to one month, the hour that ends at midnight to the month that ends."""
    rows = outcome(59.0).rows
    months = months_of(rows)
    assert [month.first.month for month in months] == [1, 2]
    assert sum(month.electricity_kwh for month in months) == pytest.approx(59 * 24 * 0.12)
    assert months[0].electricity_kwh == pytest.approx(31 * 24 * 0.12)
    assert months[0].outdoor_min_c == min(r.outdoor_min_c for r in rows[: 31 * 24])


def test_labels_move_apart_as_little_as_needed():
    """Labels keep their order and their distance; those with room stay where they are."""
    assert spread([1.0, 5.0], 1.0) == [1.0, 5.0]
    assert spread([5.0, 5.0], 1.0) == [4.5, 5.5]
    placed = spread([0.0, 0.2, 0.4, 9.0], 1.0)
    assert placed == pytest.approx([-0.8, 0.2, 1.2, 9.0])
    assert spread([], 1.0) == []


def test_labels_never_overlap_and_stay_on_the_paper():
    """Five labels that end at the same height can all be read."""
    figure, (panel,) = paper("title", "where", (4.0,), 0.5)
    panel.plot([0, 1], [0.0, 10.0])
    label_ends(panel, [Label(2.0, f"line number {index}", "black") for index in range(5)])
    figure.canvas.draw()
    boxes = sorted((text.get_window_extent() for text in panel.texts), key=lambda box: box.y0)
    assert all(low.y1 <= high.y0 for low, high in pairwise(boxes))
    assert max(box.x1 for box in boxes) < figure.bbox.x1


def luminance(colour):
    """Relative luminance of WCAG 2.1."""
    parts = [part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in to_rgb(colour)]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def test_words_at_lines_are_dark_enough_to_read():
    """Small letters in a line's own colour have the contrast of 4.5 to white that WCAG 2.1 asks for."""
    figure, (panel,) = paper("title", "where", (4.0,), 0.5)
    palette = [
        getattr(pictures, name) for name in ["ORANGE", "SKY", "GREEN", "BLUE", "RED", "PURPLE", "GREY", "INK"]
    ]
    label_ends(panel, [Label(float(at), colour, colour) for at, colour in enumerate(palette)])
    for text in panel.texts:
        assert 1.05 / (luminance(text.get_color()) + 0.05) > 4.5, text.get_text()
    assert figure.axes == [panel]


@pytest.mark.parametrize("days", [1.0, 31.0, 365.0])
def test_no_words_leave_the_paper_or_run_into_each_other(tmp_path, monkeypatch, days):
    """In every picture all words are on the paper and none covers another."""
    drawn = []
    monkeypatch.setattr(Figure, "savefig", lambda figure, *_args, **_kwargs: drawn.append(figure))
    write(tmp_path, outcome(days), TemperatureUnit.FAHRENHEIT)
    assert drawn
    for figure in drawn:
        assert overlapping(figure) == []


def overlapping(figure):
    """Words that leave the paper, and pairs of words that run into each other."""
    figure.canvas.draw()
    boxes = [(text.get_text(), text.get_window_extent()) for text in words_of(figure)]
    paper_box = figure.bbox
    found = [
        text
        for text, box in boxes
        if box.x0 < 0 or box.y0 < 0 or box.x1 > paper_box.x1 or box.y1 > paper_box.y1
    ]
    letters = [(text, box.shrunk(0.98, 0.7)) for text, box in boxes]
    for index, (text, box) in enumerate(letters):
        found += [(text, other) for other, other_box in letters[index + 1 :] if box.overlaps(other_box)]
    return found


def words_of(figure):
    """Every text that is seen."""
    found = [*figure.texts]
    for panel in figure.axes:
        found += [*panel.texts, panel.title, panel._left_title]
        for axis in (panel.xaxis, panel.yaxis):
            low, high = sorted(axis.get_view_interval())
            ticks = [*axis.get_major_ticks(), *axis.get_minor_ticks()]
            found += [tick.label1 for tick in ticks if low <= tick.get_loc() <= high]
    return [text for text in found if text.get_text() and text.get_visible()]


def test_picture_that_cannot_be_written_is_an_os_error(tmp_path):
    """A full or vanished directory is reported to the caller, not swallowed."""
    figure, _ = paper("title", "where", (1.0,), 0.5)
    with pytest.raises(OSError, match="gone"):
        pictures.save(figure, tmp_path / "gone" / "a.png")
