"""``hypocaust export``: the history as tables for a spreadsheet or a program; the controller may run."""

from __future__ import annotations

import csv
import os
import sys
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import islice
from typing import TYPE_CHECKING, Any, Protocol, TextIO

from controller.cli.csv_lines import plain_cells
from controller.cli.from_history import NoHistoryError, opened, range_of, refused
from controller.cli.local_time import NotATimeError
from controller.clock import SystemClock
from controller.durable import sync_directory
from controller.errors import HypocaustError
from controller.history.database import StorageError
from controller.history.tables import TABLES
from controller.letters import visible

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from controller.clock import Clock
    from controller.history.queries import History
    from controller.history.tables import Cell, Table

WRITTEN = 0
ROWS_AT_ONCE = 10_000  # of Parquet; some MB
INSTALL = 'pip install "hypocaust[export]", in the environment that hypocaust is installed in'


class NotWrittenError(HypocaustError):
    """The tables were not written; the text says why and what to do."""


@dataclass(frozen=True, slots=True)
class Request:
    """What was asked for on the command line.

    Attributes:
        file: the settings file, None for the usual places.
        history: the history file itself (a copy, a backup), None to follow the settings.
        since: first moment, as a person writes it, None for all there is.
        until: first moment after, None for all there is.
        out: the directory to write to.
        form: "csv" or "parquet".
        force: whether files that are there may be replaced.
    """

    file: str | None
    history: str | None
    since: str | None
    until: str | None
    out: Path
    form: str
    force: bool


class Sheet(Protocol):
    """A file that takes rows."""

    def add(self, rows: Sequence[tuple[Cell, ...]]) -> None:
        """Write rows."""

    def close(self) -> None:
        """All rows are there."""


class CsvSheet:
    """A CSV file in UTF-8, its first line the names of the columns."""

    def __init__(self, path: Path, table: Table) -> None:
        self._file = path.open("x", encoding="utf-8", errors="replace", newline="")
        self._lines = csv.writer(self._file, lineterminator="\n")
        self._lines.writerow(table.columns)

    def add(self, rows: Sequence[tuple[Cell, ...]]) -> None:
        """Write rows."""
        self._lines.writerows(
            plain_cells(visible(cell) if isinstance(cell, str) else cell for cell in row) for row in rows
        )

    def close(self) -> None:
        """All rows are there."""
        self._file.close()


class ParquetSheet:
    """A Parquet file whose columns have types: moments in UTC, dates, numbers, words."""

    def __init__(self, path: Path, table: Table) -> None:
        pa, parquet = _pyarrow()
        kinds = {
            datetime: pa.timestamp("ms", tz="UTC"),
            date: pa.date32(),
            str: pa.string(),
            float: pa.float64(),
            int: pa.int64(),
            bool: pa.bool_(),
        }
        self._pa = pa
        self._schema = pa.schema([(name, kinds[kind]) for name, kind in table.columns.items()])
        self._file = parquet.ParquetWriter(path, self._schema, compression="zstd")

    def add(self, rows: Sequence[tuple[Cell, ...]]) -> None:
        """Write rows."""
        columns = zip(zip(*rows, strict=True), self._schema, strict=True)
        arrays = [self._pa.array(cells, type=field.type) for cells, field in columns]
        self._file.write_batch(self._pa.RecordBatch.from_arrays(arrays, schema=self._schema))

    def close(self) -> None:
        """All rows are there."""
        self._file.close()


def export(request: Request, out: TextIO, clock: Clock | None = None) -> int:
    """Write every table of the history into files of their own and say how much there is.

    Returns:
        0 if all were written, 2 if something given cannot be used or a file could not be written.
    """
    try:
        with opened(request.file, request.history) as history:
            _export(history, request, out, clock or SystemClock())
    except (NoHistoryError, NotWrittenError) as trouble:
        return refused(str(trouble))
    except (NotATimeError, StorageError) as trouble:
        return refused(f"{trouble}.")
    except OSError as trouble:
        reason = trouble.strerror or str(trouble)
        return refused(
            f"{trouble.filename or request.out} cannot be written ({reason}). Look for room and rights."
        )
    return WRITTEN


def _export(history: History, request: Request, out: TextIO, clock: Clock) -> None:
    from_utc, until_utc = range_of(history, request.since, request.until, clock)
    to_utc = until_utc or (history.newest_utc() or from_utc) + timedelta(seconds=1)
    if from_utc >= to_utc:
        raise NotWrittenError("There is no time between --from and --to. Nothing was written.")
    make = _sheet_maker(request)
    # The dates of a house further west (a rehearsal, a file from elsewhere) may begin before this machine's.
    first_utc = from_utc - timedelta(days=1) if request.since is None else from_utc
    for table in TABLES:
        path = request.out / f"{table.name}.{request.form}"
        with _beside(path) as partial:
            count = _write(make(partial, table), table.rows(history, first_utc, to_utc))
        out.write(f"{path}: {count} rows\n")
    out.write(f"From {from_utc:%Y-%m-%dT%H:%M:%SZ} up to {to_utc:%Y-%m-%dT%H:%M:%SZ}, times in UTC.\n")
    if history.damaged_rows:
        print(f"{history.damaged_rows} damaged rows are left out; the card may be failing.", file=sys.stderr)
    if untimed := history.rows_without_time():
        print(f"{untimed} rows are left out: the clock was never set in their run.", file=sys.stderr)


def _sheet_maker(request: Request) -> type[CsvSheet | ParquetSheet]:
    """What makes the files, once it is clear that nothing that is there gets lost."""
    if request.form == "parquet":
        _pyarrow()
    request.out.mkdir(parents=True, exist_ok=True)
    names = [f"{table.name}.{request.form}" for table in TABLES]
    there = [name for name in names if os.path.lexists(request.out / name)]
    if there and not request.force:
        raise NotWrittenError(
            f"{request.out} holds {', '.join(there)} already. Nothing was written. Name another directory, "
            "or add --force to replace them."
        )
    return ParquetSheet if request.form == "parquet" else CsvSheet


def _write(sheet: Sheet, rows: Iterator[tuple[Cell, ...]]) -> int:
    count = 0
    with ExitStack() as last:
        last.callback(sheet.close)
        while batch := list(islice(rows, ROWS_AT_ONCE)):
            sheet.add(batch)
            count += len(batch)
    return count


@contextmanager
def _beside(path: Path) -> Iterator[Path]:
    """A name to write to; what is written gets its own name once it is whole and safely on the medium."""
    partial = path.with_name(f"{path.name}.partial")
    partial.unlink(missing_ok=True)
    try:
        yield partial
        with partial.open("rb") as file:
            os.fsync(file.fileno())
        partial.replace(path)
        sync_directory(path.parent)
    finally:
        partial.unlink(missing_ok=True)


def _pyarrow() -> tuple[Any, Any]:
    """The library for Parquet.

    Raises:
        NotWrittenError: it is not installed.
    """
    try:
        import pyarrow as pa  # noqa: PLC0415 - an extra, and large
        from pyarrow import parquet  # noqa: PLC0415
    except ImportError:
        raise NotWrittenError(
            f"Parquet needs the library pyarrow, which is not installed. Install it ({INSTALL}), or leave "
            "--format parquet out: CSV needs nothing more."
        ) from None
    return pa, parquet
