"""Writes what ``rehearse --out`` leaves behind: a summary, a table of hours, and pictures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.rehearsal.report.tables import write_hours

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from controller.rehearsal.hours import HourRow
    from controller.rehearsal.run import Outcome
    from controller.units import TemperatureUnit

SUMMARY, HOURS = "summary.json", "hours.csv"
WHOLE, COLDEST, HOTTEST, YEAR = "week.png", "week-cold.png", "week-hot.png", "year.png"
LONGEST_WHOLE_DAYS = 31.0  # more days than these would blur in one picture
SHORTEST_YEAR_DAYS = 60.0  # months are worth comparing from here


def write(directory: Path, outcome: Outcome, unit: TemperatureUnit) -> list[str]:
    """Write everything; files of the same names from an earlier rehearsal go first.

    Args:
        directory: where to; it exists.
        outcome: a rehearsal with hourly rows.
        unit: of the temperatures in the pictures; tables and summary are in °C.

    Returns:
        The names of the files.

    Raises:
        OSError: one of them cannot be written.
    """
    from controller.rehearsal.report.months_picture import draw_months  # noqa: PLC0415 - heavy
    from controller.rehearsal.report.week_picture import draw_week, week_of  # noqa: PLC0415

    for name in (SUMMARY, HOURS, WHOLE, COLDEST, HOTTEST, YEAR):
        (directory / name).unlink(missing_ok=True)
    summary, rows = outcome.summary, outcome.rows
    (directory / SUMMARY).write_text(summary.model_dump_json(indent=2) + "\n", encoding="utf-8")
    write_hours(directory / HOURS, rows)
    pictures: dict[str, tuple[str, Sequence[HourRow]]] = {}
    if len(rows) < 2:  # noqa: PLR2004 - a line has two ends
        return [SUMMARY, HOURS]
    if summary.days <= LONGEST_WHOLE_DAYS:
        pictures[WHOLE] = ("The whole rehearsal", rows)
    else:
        pictures[COLDEST] = ("The coldest week", week_of(rows, coldest=True))
        pictures[HOTTEST] = ("The hottest week", week_of(rows, coldest=False))
    place = f"{summary.site}, in the weather of {summary.weather}"
    for name, (title, shown) in pictures.items():
        draw_week(directory / name, title, place, shown, outcome.spans, unit)
    if summary.days <= SHORTEST_YEAR_DAYS:
        return [SUMMARY, HOURS, *pictures]
    draw_months(directory / YEAR, place, rows, unit)
    return [SUMMARY, HOURS, *pictures, YEAR]
