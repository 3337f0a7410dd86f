"""Writes what ``rehearse --out`` leaves of a comparison, beside each rehearsal's own directory."""

from __future__ import annotations

import csv
import re
from typing import TYPE_CHECKING

from pydantic import RootModel

from controller.rehearsal.report.measures import MEASURES
from controller.rehearsal.summary import Summary

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from controller.units import TemperatureUnit

SUMMARIES, TABLE, PICTURE = "comparison.json", "comparison.csv", "comparison.png"


class Summaries(RootModel[list[Summary]]):
    """Rehearsals side by side, in the order they were asked for; differences are taken from the first."""


def directory_name(number: int, name: str) -> str:
    """The directory of a rehearsal: its place from 1, and its name in letters any file system takes."""
    return f"{number}-{re.sub(r'[^A-Za-z0-9.+-]+', '-', name).strip('-.')}"


def write_comparison(directory: Path, summaries: Sequence[Summary], unit: TemperatureUnit) -> list[str]:
    """Write summaries, a table with a row for each rehearsal, and a picture.

    Args:
        directory: where to; it exists.
        summaries: at least two, each with a name.
        unit: of the temperatures in the picture; the others are in °C.

    Returns:
        The names of the files.

    Raises:
        OSError: one of them cannot be written.
    """
    from controller.rehearsal.report.compared_picture import draw_comparison  # noqa: PLC0415 - heavy

    text = Summaries(list(summaries)).model_dump_json(indent=2)
    (directory / SUMMARIES).write_text(text + "\n", encoding="utf-8")
    with (directory / TABLE).open("w", encoding="utf-8", newline="") as file:
        records = [_record(number, summary) for number, summary in enumerate(summaries, start=1)]
        writer = csv.DictWriter(file, list(records[0]))
        writer.writeheader()
        writer.writerows(records)
    draw_comparison(directory / PICTURE, summaries, unit)
    return [SUMMARIES, TABLE, PICTURE]


def _record(number: int, summary: Summary) -> dict[str, str]:
    record = {
        "name": summary.name,
        "directory": directory_name(number, summary.name),
        "site": summary.site,
        "weather": summary.weather,
        "strategy": summary.strategy,
        "start": summary.start,
        "days": f"{summary.days:g}",
        "seed": str(summary.seed),
    }
    values = {measure.column: measure.of(summary) for measure in MEASURES}
    return record | {column: "" if value is None else f"{value:.4g}" for column, value in values.items()}
