"""Opening, checking, setting aside, copying."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest

from controller.history import database


def make_history(path) -> None:
    """A history file with one run in it."""
    with closing(database.open_for_writing(path)) as connection:
        connection.execute("INSERT INTO runs (boot_id, started_mono_ms) VALUES ('boot-a', 1)")


def damage(path, start: int) -> None:
    """A history file of some hundred pages, a few of them overwritten."""
    with closing(database.open_for_writing(path)) as connection:
        connection.executemany(
            "INSERT INTO runs (boot_id, started_mono_ms) VALUES (?, 1)", [(f"boot-{n}",) for n in range(2000)]
        )
    data = bytearray(path.read_bytes())
    data[start : start + 3000] = b"\xa5" * 3000
    path.write_bytes(data)


def test_a_new_file_has_its_mark_its_version_and_a_write_ahead_log(path):
    """A new file says whose it is and which version, and is kept so that a power cut cannot tear it."""
    with closing(database.open_for_writing(path)) as connection:
        answers = [
            connection.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("application_id", "user_version", "journal_mode", "synchronous", "auto_vacuum")
        ]
    assert answers == [database.APPLICATION_ID, len(database.migrations()), "wal", 1, 2]


def test_opening_again_keeps_what_is_there(path):
    """Migrations that were applied are not applied again."""
    make_history(path)
    with closing(database.open_for_writing(path)) as connection:
        assert connection.execute("SELECT count(*) FROM runs").fetchone() == (1,)


def test_migrations_are_numbered_without_gaps():
    """The number in the name is the version the file brings the tables to."""
    assert [int(file.name[:4]) for file in database.migrations()] == [
        n + 1 for n in range(len(database.migrations()))
    ]


def test_a_migration_that_fails_leaves_the_file_as_it_was(path, tmp_path, monkeypatch):
    """A later migration with an error is undone as a whole, and its version is not written."""
    make_history(path)
    folder = tmp_path / "migrations"
    folder.mkdir()
    for file in database.migrations():
        (folder / file.name).write_bytes(file.read_bytes())
    later = len(database.migrations()) + 1
    (folder / f"{later:04d}_broken.sql").write_text(
        "CREATE TABLE half (x);\nINSERT INTO nowhere VALUES (1);\n"
    )
    monkeypatch.setattr(database, "MIGRATIONS", folder)
    with pytest.raises(sqlite3.OperationalError, match="nowhere"):
        database.open_for_writing(path)
    with closing(database.open_for_reading(path)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (later - 1,)
        assert connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'half'").fetchone() == (0,)


def test_a_newer_file_is_refused(path):
    """Tables of a release to come are not touched."""
    make_history(path)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA user_version = 99")
    with pytest.raises(database.NewerVersionError):
        database.open_for_writing(path)


@pytest.mark.parametrize("statement", ["CREATE TABLE theirs (x)", "PRAGMA application_id = 7"])
def test_another_programs_database_is_left_alone(path, statement):
    """A file that carries another mark, or tables without ours, is refused and stays as it is."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(statement)
        connection.execute("PRAGMA user_version = 1")
    with pytest.raises(database.RefusedError, match="another program"):
        database.open_for_writing(path)
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'runs'").fetchone() == (0,)


@pytest.mark.parametrize("start", [0, 4096 + 100], ids=["header", "a page within"])
def test_a_damaged_file_is_noticed_on_opening(path, start):
    """Overwritten bytes are found wherever they are."""
    damage(path, start)
    with pytest.raises(database.DamagedError):
        database.open_for_writing(path)


def test_setting_aside_never_overwrites_and_stops_at_the_limit(path):
    """Each file gets a number of its own, and a card that damages file after file is not filled with them."""
    for n in range(database.ASIDE_LIMIT):
        path.write_text(f"damage {n}")
        assert database.set_aside(path, "damaged").name == f"history.sqlite3.damaged-{n + 1}"
    path.write_text("one more")
    with pytest.raises(database.RefusedError, match="replace it"):
        database.set_aside(path, "damaged")
    assert path.read_text() == "one more"
    assert [file.read_text() for file in database.aside_files(path)] == [f"damage {n}" for n in range(5)]


def test_reading_can_change_nothing(path):
    """A connection for reading refuses to write."""
    make_history(path)
    with closing(database.open_for_reading(path)) as connection, pytest.raises(sqlite3.OperationalError):
        connection.execute("DELETE FROM runs")
