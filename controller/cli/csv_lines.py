"""Lines of CSV (RFC 4180) that a spreadsheet reads as what they are."""

from __future__ import annotations

import csv
import io
from datetime import datetime
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


def csv_line(cells: Iterable[object]) -> str:
    """One line of plain cells."""
    line = io.StringIO()
    csv.writer(line, lineterminator="\n").writerow(plain_cells(cells))
    return line.getvalue()


def plain_cells(cells: Iterable[object]) -> list[object]:
    """A moment in UTC, True as 1, None as nothing; and no text can pass for a formula."""
    return [_plain(cell) for cell in cells]


def _plain(cell: object) -> object:
    if isinstance(cell, str):
        return f"'{cell}" if cell.startswith(("=", "+", "-", "@")) else cell
    if isinstance(cell, datetime):
        return _written(cell)
    return int(cell) if isinstance(cell, bool) else cell


@lru_cache(maxsize=4)
def _written(moment_utc: datetime) -> str:
    """A moment; the same one stands in many lines."""
    return moment_utc.strftime("%Y-%m-%dT%H:%M:%SZ")
