"""Writes history beside the control loop: no tick waits for the card, and memory stays bounded."""

from __future__ import annotations

import contextlib
import sqlite3
import threading
from typing import TYPE_CHECKING

from controller.durable import room
from controller.faults import FaultCode, Finding
from controller.history import database, words
from controller.history.backlog import Backlog
from controller.history.encoder import TickEncoder, stamp_of, storable
from controller.history.insert import begin_run, fill_wall_times, insert
from controller.history.rows import At, EventCode, EventRow
from controller.units import duration_text

if TYPE_CHECKING:
    from pathlib import Path

    from controller.clock import Clock
    from controller.history.backlog import Numbered
    from controller.record.tick import TickRecord

# Rows in one transaction: large enough to catch up quickly, small enough not to hold the file for long.
BATCH_ROWS = 500
# About half a day of a busy house, or a week of readings alone; some hundred bytes each.
BACKLOG_ROWS = 2000
# A failing card is tried again after ever longer pauses; after it is mended nobody waits longer than this.
LONGEST_RETRY_S = 300.0
# Checking a large file may take a minute on a slow card; longer than this is a card that hangs.
HANGS_AFTER_S = 180.0
# With less of the file system free than this, an alarm calls a person. ext4 keeps as much for
# root. [practice]
LEAST_FREE_SHARE = 0.05
# What a row may cause without the file being at fault; such a row would fail for ever.
_ROW_ERRORS = (
    sqlite3.IntegrityError,
    sqlite3.ProgrammingError,
    sqlite3.DataError,
    OverflowError,
    UnicodeError,
)


def pause_s(write_every_s: float, failures: int) -> float:
    """Time to the next attempt in s: the usual pause, doubled for each failure in a row, within bounds."""
    return min(write_every_s * 2.0 ** min(failures, 10), max(LONGEST_RETRY_S, write_every_s))


class HistoryWriter:
    """Watches ticks and writes them down.

    ``observe`` only puts rows on a bounded backlog. ``start`` begins the thread that writes; without it
    (tests, rehearsal) ``write_if_due`` does the same on the caller's thread.

    Args:
        path: the SQLite file.
        clock: for pauses, and for the time of the stop event.
        boot_id: the kernel's name of this boot, empty if unknown.
        every_s: time between two rows of readings in s.
        write_every_s: time between two transactions in s; readings alone wait for a few of their kind.
        backlog_rows: most rows kept in memory while nothing can be written.
    """

    def __init__(
        self,
        path: Path,
        clock: Clock,
        boot_id: str,
        *,
        every_s: float = 300.0,
        write_every_s: float = 60.0,
        backlog_rows: int = BACKLOG_ROWS,
    ) -> None:
        self._path = path
        self._clock = clock
        self._boot_id = boot_id
        self._write_every_s = write_every_s
        self._encoder = TickEncoder(every_s)
        self._backlog = Backlog(backlog_rows)
        self._connection: database.Connection | None = None
        self._file_identity: tuple[int, int] | None = None
        self._run_id: int | None = None
        self._started_mono_ms = stamp_of(clock.monotonic_s(), None).mono_ms
        self._times_missing = True
        self._problem = ""
        self._aside: tuple[str, ...] = ()
        self._room = ""
        self._failures = 0
        self._busy_since_s: float | None = None
        self._thread: threading.Thread | None = None
        self._wake = threading.Event()

    def observe(self, tick: TickRecord) -> None:
        """Take note of a finished tick; never waits for the card and never fails because of it."""
        self._backlog.put(self._encoder.rows(tick))

    def note(self, code: EventCode, detail: str) -> None:
        """Take note of something that no tick has brought; from any thread."""
        at = stamp_of(self._clock.monotonic_s(), self._clock.wall_utc())
        self._backlog.put([EventRow(at, code, storable(detail))])

    def start(self) -> None:
        """Begin writing on a thread of its own."""
        self._thread = threading.Thread(target=self._work, name="history", daemon=True)
        self._thread.start()

    def alive(self) -> bool:
        """Whether the thread still runs; a card that hangs is a finding, no reason to restart control."""
        return self._thread is None or self._thread.is_alive()

    def findings(self) -> tuple[Finding, ...]:
        """What is wrong with the storage now, in plain words."""
        found = [Finding(FaultCode.STORAGE, name, words.set_aside(name)) for name in self._aside]
        problem, busy_since_s = self._problem, self._busy_since_s
        if busy_since_s is not None and self._clock.monotonic_s() - busy_since_s > HANGS_AFTER_S:
            problem = words.hangs(self._path, duration_text(self._clock.monotonic_s() - busy_since_s))
        if problem:
            dropped = self._backlog.dropped
            lost = f"; {dropped} rows of history are lost so far" if dropped else ""
            found.append(Finding(FaultCode.STORAGE, self._path.name, problem + lost))
        elif self._room:
            found.append(Finding(FaultCode.STORAGE, self._path.name, self._room))
        return tuple(found)

    def close(self, timeout_s: float = 5.0) -> bool:
        """Write what is waiting and stop; return whether all of it reached the file within the time.

        A thread that hangs on the card is left behind; it is a daemon thread and ends with the process.
        """
        at = stamp_of(self._clock.monotonic_s(), self._clock.wall_utc())
        self._backlog.put([*self._encoder.last_rows(at), EventRow(at, EventCode.STOP)])
        self._wake.set()
        if self._thread is None:
            self._finish()
        else:
            self._thread.join(timeout_s)
        ended = self._thread is None or not self._thread.is_alive()
        return ended and len(self._backlog) == 0

    def write_if_due(self) -> bool:
        """Write if enough waits or the last attempt failed; return whether nothing is wrong."""
        return self.write_now() if self._problem or self._backlog.due() else True

    def write_now(self) -> bool:
        """Write all that is waiting; return whether that worked. What failed is kept for the next time."""
        self._busy_since_s = self._clock.monotonic_s()
        try:
            self._write()
        except database.RefusedError as refusal:
            self._problem = str(refusal)
            self._close_connection()
        except (sqlite3.Error, OSError) as error:
            self._problem = words.for_writing(error, self._path)
            self._close_connection()  # opening anew checks the whole file and sets it aside if it is damaged
        else:
            self._problem = ""
        finally:
            self._busy_since_s = None
            with contextlib.suppress(OSError):
                self._aside = tuple(file.name for file in database.aside_files(self._path))
                self._room = self._room_left()
        self._failures = self._failures + 1 if self._problem else 0
        return not self._problem

    def _work(self) -> None:
        """The thread: write, pause, and write once more at the end."""
        while not self._clock.wait(self._wake, pause_s(self._write_every_s, self._failures)):
            self.write_if_due()
        self._finish()

    def _finish(self) -> None:
        """Last attempt; the file is closed whether it succeeds or not."""
        self.write_now()
        self._close_connection()

    def _write(self) -> None:
        """Write batch after batch until nothing waits; a batch that fails waits on."""
        connection = self._open()
        while batch := self._backlog.take(BATCH_ROWS):
            try:
                self._commit(connection, batch)
            except BaseException:
                self._backlog.give_back(batch)
                raise

    def _commit(self, connection: database.Connection, batch: list[Numbered]) -> None:
        """Write one batch in one transaction, with the count of lost rows and late wall times."""
        run_id = self._ensure_run(connection)
        connection.execute("BEGIN IMMEDIATE")  # never rolled back: after an error the connection is closed
        dropped = self._backlog.take_dropped()
        refused = 0
        try:
            for _, row in batch:
                self._times_missing |= row.at.wall_ms is None
                try:
                    insert(connection, run_id, row)
                except _ROW_ERRORS:
                    refused += 1
            if dropped:
                insert(connection, run_id, EventRow(_latest(batch), EventCode.DROPPED, f"{dropped} rows"))
            offset_ms = self._encoder.wall_less_mono_ms
            if self._times_missing and offset_ms is not None:
                fill_wall_times(connection, self._boot_id, run_id, offset_ms)
            connection.execute("COMMIT")
        except BaseException:
            self._backlog.count_dropped(dropped)
            raise
        self._times_missing = self._times_missing and offset_ms is None
        self._backlog.count_dropped(refused)

    def _open(self) -> database.Connection:
        """The open file; a file that cannot be used is set aside and a new one begun."""
        if self._connection is not None and self._identity() == self._file_identity:
            return self._connection
        self._close_connection()
        try:
            self._connection = database.open_for_writing(self._path)
        except database.UnusableError as error:
            database.set_aside(self._path, error.word)
            self._connection = database.open_for_writing(self._path)
        self._file_identity = self._identity()
        self._times_missing = True
        return self._connection

    def _ensure_run(self, connection: database.Connection) -> int:
        """The number of this run in this very file; a new file gets a new one."""
        known = connection.execute(
            "SELECT 1 FROM runs WHERE run_id = ? AND boot_id = ? AND started_mono_ms = ?",
            (self._run_id, self._boot_id, self._started_mono_ms),
        ).fetchone()
        if known is None or self._run_id is None:
            self._run_id = begin_run(connection, self._boot_id, self._started_mono_ms)
        return self._run_id

    def _room_left(self) -> str:
        """What to say of the room left on the card, nothing while there is enough."""
        free, total = room(self._path.parent)
        if free >= LEAST_FREE_SHARE * total:
            return ""
        return words.nearly_full(self._path, free, total)

    def _identity(self) -> tuple[int, int] | None:
        """Which file lies at the path; SQLite would go on writing into one that was deleted or replaced."""
        try:
            status = self._path.stat()
        except FileNotFoundError:
            return None
        return status.st_dev, status.st_ino

    def _close_connection(self) -> None:
        """Let go of the file."""
        connection, self._connection = self._connection, None
        if connection is not None:
            with contextlib.suppress(sqlite3.Error):  # what was not committed is still in the backlog
                connection.close()


def _latest(batch: list[Numbered]) -> At:
    """When the last row of a batch happened."""
    return batch[-1][1].at
