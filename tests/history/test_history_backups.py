"""Backups of the history, and the way back."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import date

import pytest

from controller.history import backups, database

TODAY = date(2026, 3, 7)
NAME = "history-2026-03-07.sqlite3"


@pytest.fixture
def folder(tmp_path):
    """Where the backups go; not there yet."""
    return tmp_path / "backup"


@pytest.fixture
def full(path, clock, writer, tick, change):
    """A history of a day."""
    for _ in range(288):
        writer.observe(tick({"ceiling": 21.5}, changes=[change()]))
        clock.advance(300)
    assert writer.close()
    return path


def rows(path, table="changes"):
    """How many rows there are."""
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]  # noqa: S608 - our own name


def damage(path, start=4096 + 100):
    """Overwrite a few pages."""
    data = bytearray(path.read_bytes())
    data[start : start + 6000] = b"\xa5" * 6000
    path.write_bytes(data)


def names(folder):
    """What lies in a folder."""
    return sorted(file.name for file in folder.iterdir())


def test_a_backup_holds_what_is_committed_while_the_writer_goes_on(full, folder):
    """The copy is whole, in one file, and does not disturb the open history."""
    with closing(database.open_for_writing(full)) as connection:
        made = backups.make(full, folder, TODAY)
        connection.execute("DELETE FROM changes")
    assert rows(full) == 0
    assert rows(made) == 288
    assert names(folder) == [NAME]


def test_a_month_has_one_backup_and_two_are_kept(full, folder):
    """Due again with the next month; the oldest goes, and one of a day to come goes first."""
    for day in (date(2028, 1, 1), date(2025, 12, 30), date(2026, 1, 2), date(2026, 2, 28)):
        backups.make(full, folder, day)
    assert backups.is_due(folder, TODAY)
    backups.make(full, folder, TODAY)
    assert names(folder) == ["history-2026-02-28.sqlite3", NAME]
    assert not backups.is_due(folder, date(2026, 3, 31))
    assert backups.is_due(folder, date(2026, 4, 1))


@pytest.mark.parametrize(("megabytes", "months"), [(0.1, 1), (29.9, 1), (30.1, 2), (60.1, 3)])
def test_a_long_history_is_backed_up_less_often(folder, megabytes, months):
    """So that backups write no more a month than a card is to bear, on the average."""
    folder.mkdir()
    with (folder / "history-2026-02-28.sqlite3").open("wb") as file:
        file.truncate(round(megabytes * 1e6))
    due = [passed for passed in range(1, 5) if backups.is_due(folder, date(2026, 2 + passed, 1))]
    assert due[0] == months


def test_without_room_nothing_is_begun_and_the_newest_backup_stays(full, folder, monkeypatch):
    """Older ones make room first; how much is missing is said."""
    for day in (date(2026, 1, 2), date(2026, 2, 2)):
        backups.make(full, folder, day)
    monkeypatch.setattr(backups, "room", lambda _: (1_000_000, 10**9))
    with pytest.raises(database.StorageError, match=r"has 1 MB free and needs 2\d MB"):
        backups.make(full, folder, TODAY)
    assert names(folder) == ["history-2026-02-02.sqlite3"]


def test_a_backup_that_cannot_be_made_says_so_and_leaves_nothing_behind(path, folder, tmp_path):
    """Neither without a history, nor where a file is in the way of the folder."""
    with pytest.raises(database.StorageError, match="there is no history"):
        backups.make(path, folder, TODAY)
    assert not folder.exists()
    database.open_for_writing(path).close()
    folder.write_text("in the way")
    with pytest.raises(database.StorageError, match=r"the folder .* does not exist"):
        backups.make(path, folder, TODAY)
    assert names(tmp_path) == ["backup", "history.sqlite3"]


@pytest.mark.parametrize("start", [0, 4096 + 100], ids=["header", "a page within"])
def test_a_damaged_history_does_not_replace_a_good_backup(full, folder, start):
    """A history that cannot be copied whole leaves the old copies alone, wherever the damage is."""
    good = backups.make(full, folder, date(2026, 2, 2)).read_bytes()
    damage(full, start)
    with pytest.raises(database.StorageError, match="cannot be copied"):
        backups.make(full, folder, TODAY)
    assert names(folder) == ["history-2026-02-02.sqlite3"]
    assert (folder / "history-2026-02-02.sqlite3").read_bytes() == good


def test_a_restored_history_is_the_old_one_and_the_present_one_is_kept(full, folder):
    """It opens for writing with the pages and the log that a file in use has."""
    made = backups.make(full, folder, TODAY)
    with closing(database.open_for_writing(full)) as connection:
        connection.execute("DELETE FROM changes")
    aside = backups.restore(made, full)
    assert aside.name == "history.sqlite3.replaced-1"
    assert (rows(aside), rows(full), rows(made)) == (0, 288, 288)
    with closing(database.open_for_writing(full)) as connection:
        asked = ("page_size", "journal_mode", "auto_vacuum", "application_id")
        found = [connection.execute(f"PRAGMA {name}").fetchone()[0] for name in asked]
    assert found == [database.PAGE_BYTES, "wal", 2, database.APPLICATION_ID]


def test_a_lost_history_is_restored_from_a_backup(full, folder):
    """With nothing in place there is nothing to keep."""
    made = backups.make(full, folder, TODAY)
    full.unlink()
    assert backups.restore(made, full) is None
    assert rows(full) == 288


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (damage, "cannot be copied"),
        (lambda file: file.write_text("a letter"), "cannot be copied"),
        (lambda file: file.write_bytes(b""), "is not a history"),
        (lambda file: file.unlink(), "there is no history"),
    ],
)
def test_a_backup_that_is_not_sound_replaces_nothing(full, folder, spoil, words):
    """The history in place stays as it is, and nothing else is left."""
    made = backups.make(full, folder, TODAY)
    spoil(made)
    before = full.read_bytes()
    with pytest.raises(database.StorageError, match=words):
        backups.restore(made, full)
    assert full.read_bytes() == before
    assert [name for name in names(full.parent) if name.startswith("history.sqlite3.")] == []


def test_another_programs_file_is_not_restored(full, folder):
    """Nor is a history of a release to come."""
    made = backups.make(full, folder, TODAY)
    with closing(sqlite3.connect(made)) as connection:
        connection.execute("PRAGMA user_version = 99")
    with pytest.raises(database.StorageError, match="version 99"):
        backups.restore(made, full)
    with closing(sqlite3.connect(made)) as connection:
        connection.execute("PRAGMA application_id = 7")
    with pytest.raises(database.StorageError, match="is not a history of this program"):
        backups.restore(made, full)
