"""What stands in a history file: read from beside a running program, or from the files a killed one left."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

# wall_ms is left out: rows from before the clock was set are given their time later, on purpose.
TABLES = {
    "readings": "run_id, mono_ms, span_s, set_id, milli_c",
    "changes": "run_id, mono_ms, kind, name, is_on, code, numbers, sentence",
    "alarms": "run_id, mono_ms, code, subject, priority, raised, detail",
    "events": "run_id, mono_ms, code, detail",
}

Rows = set[tuple[object, ...]]


def committed_now(path: Path) -> Rows:
    """Every committed row, as any other program sees it while the daemon runs; empty before the first."""
    if not path.exists():
        return set()
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=5.0)) as connection:
        try:
            return _rows(connection)
        except sqlite3.OperationalError as problem:
            if "no such table" in str(problem) or "unable to open" in str(problem):
                return set()  # killed or looked at before its first transaction
            raise


def left_behind(path: Path) -> tuple[str, Rows]:
    """SQLite's verdict on the files of a killed program, and their rows.

    Only a copy is opened: opening repairs, and that is the next start's business.
    """
    if not path.exists():
        return "ok", set()
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / path.name
        for suffix in ("", "-wal"):
            if Path(f"{path}{suffix}").exists():
                shutil.copyfile(f"{path}{suffix}", f"{copy}{suffix}")
        with closing(sqlite3.connect(copy)) as connection:
            (verdict,) = connection.execute("PRAGMA integrity_check").fetchone()
            tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
            return str(verdict), _rows(connection) if tables else set()


def _rows(connection: sqlite3.Connection) -> Rows:
    return {
        (table, *row)
        for table, columns in TABLES.items()
        for row in connection.execute(f"SELECT {columns} FROM {table}")  # noqa: S608 - fixed names
    }
