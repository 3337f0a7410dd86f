"""Copies of the history, and the way back: each is packed, checked and on the medium before it counts.

A copy is made in one piece while the controller writes on. It has larger pages than the file in use, which
makes it a fifth smaller (measured); on the way back it gets the small ones again, which wear the card less.
"""

from __future__ import annotations

import contextlib
import math
import os
import re
import sqlite3
from datetime import date
from typing import TYPE_CHECKING

from controller.durable import room, sync_directory
from controller.history import words
from controller.history.database import (
    CACHE_KIB,
    PAGE_BYTES,
    RefusedError,
    StorageError,
    UnusableError,
    damage_named,
    in_words,
    open_for_reading,
    set_aside,
    thoroughly_checked,
    version_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

FOLDER = "backup"
# A fault that shows late may be in the newest; the card is not to be filled with more. [practice]
KEEP = 2
COPY_PAGE_BYTES = 4096
# Beyond the copy itself this much of the card stays free, for all that is written meanwhile. [practice]
SPARE_BYTES = 20_000_000
REPLACED = "replaced"
# What backups may write in a month: 1 MB a day beside the 3.4 to 4 MB of the running program, so that a card
# gets 5 MB a day at most.
MONTHLY_BYTES = 30_000_000
_NAME = re.compile(r"history-(\d{4}-\d\d-\d\d)\.sqlite3")


def is_due(folder: Path, today: date) -> bool:
    """Whether this month needs a backup: each does, but of a long history only every second or third."""
    days = {day: file for day, file in _days(folder).items() if day <= today}
    if not days:
        return True
    newest = max(days)
    try:
        size = days[newest].stat().st_size
    except OSError:
        return True
    passed = 12 * (today.year - newest.year) + today.month - newest.month
    return passed >= max(math.ceil(size / MONTHLY_BYTES), 1)


def make(path: Path, folder: Path, today: date) -> Path:
    """Copy the history into a folder of backups; older ones stay until this one is good.

    Args:
        path: the history; the controller may write to it meanwhile.
        folder: where the backups are; made if it is missing.
        today: what the copy is named after.

    Returns:
        The new backup.

    Raises:
        StorageError: there is no room, the history cannot be read, or the copy not be written or checked.
    """
    target = folder / f"history-{today.isoformat()}.sqlite3"
    with in_words(words.for_reading, path):
        needed = path.stat().st_size + SPARE_BYTES
    with in_words(words.for_writing, target):
        folder.mkdir(parents=True, exist_ok=True)
        _make_room(folder, needed, today)
    with _copied(path, target, COPY_PAGE_BYTES) as partial, in_words(words.for_writing, target):
        partial.replace(target)
        sync_directory(folder)
        _keep_newest(folder, KEEP, today)
    return target


def restore(backup: Path, path: Path) -> Path | None:
    """Put a copy of a backup in the place of the history; only while no controller runs.

    The backup is checked first, and what is in place is kept under another name.

    Returns:
        Where the history that was in place is kept now, None if there was none.

    Raises:
        StorageError: the backup cannot be used, or the history not be put in place; nothing has changed then.
    """
    with _copied(backup, path, PAGE_BYTES) as partial, in_words(words.for_writing, path):
        aside = set_aside(path, REPLACED) if path.exists() else None
        partial.replace(path)
        sync_directory(path.parent)
    return aside


@contextlib.contextmanager
def _copied(source: Path, target: Path, page_bytes: int) -> Iterator[Path]:
    """A checked copy beside the target, safely on the medium, to be given its name; removed if it is not."""
    partial = target.with_name(f"{target.name}.partial")
    try:
        try:
            _copy(source, partial, page_bytes)
        except UnusableError as error:
            raise StorageError(words.not_copied(error, source)) from error
        except OSError as error:
            raise StorageError(words.for_writing(error, target)) from error
        yield partial
    finally:
        for suffix in ("", "-journal", "-wal", "-shm"):
            partial.with_name(partial.name + suffix).unlink(missing_ok=True)


def _copy(source: Path, partial: Path, page_bytes: int) -> None:
    """Pack a history into a new file, check it and see it through to the medium.

    Raises:
        UnusableError: the history is damaged or newer than this release.
        StorageError: it cannot be read, is none of ours, or the copy cannot be written.
        OSError: the copy cannot be written.
    """
    partial.unlink(missing_ok=True)
    with in_words(words.for_reading, source):
        connection = open_for_reading(source)
    with contextlib.closing(connection):
        try:
            with damage_named():
                _refuse_an_empty_one(version_of(connection, source))
                connection.execute(f"PRAGMA cache_size = -{CACHE_KIB}")  # the copy's as well; memory is short
                connection.execute(f"PRAGMA page_size = {page_bytes}")
                connection.execute("VACUUM INTO ?", (str(partial),))
                with contextlib.closing(open_for_reading(partial)) as copy:
                    copy.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
                    thoroughly_checked(copy)
        except RefusedError:
            raise StorageError(words.not_a_history(source)) from None
        except sqlite3.Error as error:
            raise StorageError(words.for_writing(error, partial)) from error
    with partial.open("rb") as file:
        os.fsync(file.fileno())


def _refuse_an_empty_one(version: int) -> None:
    """An empty file is no history."""
    if version == 0:
        raise RefusedError


def _make_room(folder: Path, needed: int, today: date) -> None:
    """Remove older backups, but never the newest, until a new one has room.

    Raises:
        StorageError: it has none.
        OSError: the card does not answer.
    """
    for keep in (KEEP, 1):
        _keep_newest(folder, keep, today)
        free, _ = room(folder)
        if free >= needed:
            return
    raise StorageError(words.no_room_for_backup(folder, free, needed))


def _days(folder: Path) -> dict[date, Path]:
    """The backups in a folder by the day they are named after."""
    found = {}
    with contextlib.suppress(OSError):
        for file in folder.iterdir():
            if name := _NAME.fullmatch(file.name):
                with contextlib.suppress(ValueError):
                    found[date.fromisoformat(name[1])] = file
    return found


def _keep_newest(folder: Path, count: int, today: date) -> None:
    """Remove all but the newest backups; one of a day to come comes of a wrong clock and goes first."""
    days = _days(folder)
    newest_first = sorted(days, key=lambda day: (day <= today, day), reverse=True)
    for day in newest_first[count:]:
        days[day].unlink(missing_ok=True)
