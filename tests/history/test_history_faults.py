"""Faults of every kind at the writer's port, in any order: no row goes missing without being counted."""

from __future__ import annotations

import errno
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

from hypothesis import given, settings
from hypothesis import strategies as st

from controller.faults import FaultCode
from controller.history import database
from controller.history.encoder import TickEncoder
from controller.history.writer import HistoryWriter
from tests.history.conftest import HandClock, fan_change, make_tick

if TYPE_CHECKING:
    from collections.abc import Callable

ROOM_FOR_ROWS = 40
# What the kernel and SQLite say of a card that is full, worn out, pulled out, locked or read-only.
CODES = ("FULL", "READONLY", "IOERR", "CANTOPEN", "BUSY", "NOMEM", "PERM")
ERRNOS = (errno.EIO, errno.EROFS, errno.ENOSPC, errno.ENODEV)
PLACES = ("BEGIN", "INSERT", "SELECT", "COMMIT", "open")


def sqlite_error(code: str) -> sqlite3.Error:
    """An error as the sqlite3 module raises it."""
    error = sqlite3.OperationalError(f"made up: {code}")
    error.sqlite_errorcode = getattr(sqlite3, f"SQLITE_{code}")
    error.sqlite_errorname = f"SQLITE_{code}"
    return error


ERRORS = st.one_of(
    st.sampled_from(CODES).map(sqlite_error),
    st.sampled_from(ERRNOS).map(lambda number: OSError(number, "card")),
)


class Failing:
    """A connection that fails at statements of one kind."""

    def __init__(self, connection: sqlite3.Connection, place: str, error: Exception) -> None:
        self._connection, self._place, self._error = connection, place, error

    def execute(self, statement: str, *values: Any) -> Any:
        """As in `sqlite3`, unless this is the statement that fails."""
        if statement.startswith(self._place):
            raise self._error
        return self._connection.execute(statement, *values)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._connection, name)


def opening(good: Callable[[Path], Any], place: str | None, error: Exception | None) -> Callable[[Path], Any]:
    """How the file is opened while the card has this fault."""

    def open_it(path: Path) -> Any:
        if error is None or place is None:
            return good(path)
        if place == "open":
            raise error
        return Failing(good(path), place, error)

    return open_it


STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("ticks"), st.integers(1, 30), st.none()),
        st.tuples(st.just("fault"), st.sampled_from(PLACES), ERRORS),
        st.tuples(st.just("mended"), st.none(), st.none()),
    ),
    max_size=12,
)


@settings(max_examples=15, deadline=None)
@given(steps=STEPS)
def test_every_row_arrives_once_or_is_counted_as_lost(steps: list[tuple[str, Any, Any]]) -> None:
    """Whatever fails and when: no tick hears of it, a person does, memory is bounded, and the sums add up."""
    good = database.open_for_writing
    clock, encoder, observed = HandClock(), TickEncoder(300.0), 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "history.sqlite3"
        writer = HistoryWriter(path, clock, "boot-a", backlog_rows=ROOM_FOR_ROWS)
        try:
            for what, first, second in [*steps, ("mended", None, None), ("ticks", 1, None)]:
                if what == "ticks":
                    for _ in range(first):
                        clock.advance(1.0)
                        tick = make_tick(clock, {"p": 20.0}, changes=[fan_change()])
                        observed += len(encoder.rows(tick))
                        writer.observe(tick)
                        assert len(writer._backlog) <= ROOM_FOR_ROWS
                else:
                    writer._close_connection()
                    database.open_for_writing = opening(good, first, second)
                well = writer.write_now()
                assert [finding.code for finding in writer.findings()] == (
                    [] if well else [FaultCode.STORAGE]
                )
        finally:
            database.open_for_writing = good
            writer._close_connection()
        rows, lost = written(path)
    assert len(set(rows)) == len(rows)
    assert len(rows) + lost == observed


def written(path: Path) -> tuple[list[tuple[Any, ...]], int]:
    """Every row in the file but the reports of lost ones, and how many they report."""
    with closing(sqlite3.connect(path)) as connection:
        rows = [
            (table, mono_ms, code)
            for table, code in (("changes", "code"), ("events", "code"), ("readings", "milli_c"))
            for mono_ms, code in connection.execute(f"SELECT mono_ms, {code} FROM {table}")  # noqa: S608 - fixed
            if code != "rows-dropped"
        ]
        told = connection.execute("SELECT detail FROM events WHERE code = 'rows-dropped'").fetchall()
    return rows, sum(int(detail.split()[0]) for (detail,) in told)
