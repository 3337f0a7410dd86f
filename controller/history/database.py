"""Opening the history file: checks, migrations, setting a damaged file aside.

Size, measured with 13 probes every five minutes and 40 switchings of fans a day (tests/lab/keeping): 51 kB
of file a day while everything is kept fine, 82 MB after ten years with 400 fine days. 2.1 MB a day are
written for it, its log and the log's index. A board whose clock is never set is never thinned (190 MB,
worked out from the daily figure).
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from controller.errors import HypocaustError
from controller.history import words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

MIGRATIONS = Path(__file__).parent / "migrations"
# "hypo" in ASCII: shows other programs whose file this is (sqlite.org/pragma.html, application_id).
APPLICATION_ID = 0x6879706F
BUSY_TIMEOUT_S = 5.0
# A page is written whole whatever has changed in it, and most transactions change little in two pages.
# Measured against SQLite's default of 4096: a third of the bytes handed to the kernel.
PAGE_BYTES = 1024
CACHE_KIB = 512  # SQLite would take 2 MB by default; batches are small
# SQLite maps the index beside its log into memory and makes room for it by writing one byte of every 4 kB
# (os_unix.c, unixShmMap) [memory]. Smaller blocks leave holes there; on a full card touching a hole is
# SIGBUS, the end of the program and not an error. Small partitions have such blocks (mke2fs.conf, "small").
LEAST_BLOCK_BYTES = 4096
# More damaged files than this mean that the card is failing; yet another one would only fill it.
ASIDE_LIMIT = 5
_FILES = ("", "-wal", "-shm")
# Primary result codes (sqlite.org/rescode.html) after which a file is not to be trusted any more.
_DAMAGE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)

Connection = sqlite3.Connection


class StorageError(HypocaustError):
    """What is wrong with the storage and what to do, in words for a person."""


class UnusableError(HypocaustError):
    """The file cannot be used and is to be set aside under the name ``word``."""

    word = ""


class DamagedError(UnusableError):
    """The file is not a sound SQLite database."""

    word = "damaged"


class NewerVersionError(UnusableError):
    """The file was written by a newer release, whose tables this one does not know."""

    word = "newer"


class RefusedError(StorageError):
    """Nothing is written until a person has acted; the text says what to do."""


def migrations() -> list[Path]:
    """The numbered SQL files, first to last."""
    return sorted(MIGRATIONS.glob("[0-9][0-9][0-9][0-9]_*.sql"))


def open_for_writing(path: Path) -> Connection:
    """Open or create the history file, check it and bring its tables up to date.

    Raises:
        DamagedError: it fails SQLite's own check.
        NewerVersionError: its version is higher than this release knows.
        RefusedError: it belongs to another program.
        sqlite3.Error: it cannot be opened, read or written now.
    """
    connection = sqlite3.connect(path, timeout=BUSY_TIMEOUT_S, isolation_level=None)
    try:
        with damage_named():
            version = version_of(connection, path)  # first, so that a file that is not ours stays untouched
            _check(connection)
            _configure(connection, version, _journal_mode(path))
            _migrate(connection, version)
    except BaseException:
        connection.close()
        raise
    return connection


def open_for_reading(path: Path) -> Connection:
    """Open an existing history file so that nothing can be changed in it.

    Raises:
        sqlite3.Error: it does not exist or cannot be opened.
    """
    uri = f"file:{quote(str(path.absolute()))}?mode=ro"
    return sqlite3.connect(uri, uri=True, timeout=BUSY_TIMEOUT_S, isolation_level=None)


def primary_code(error: sqlite3.Error) -> int:
    """SQLite's primary result code of an error (the low byte of the extended one), 0 if it has no code."""
    return int(getattr(error, "sqlite_errorcode", 0)) & 0xFF


def is_damage(error: sqlite3.Error) -> bool:
    """Whether the error says that the file itself is broken."""
    return primary_code(error) in _DAMAGE


def set_aside(path: Path, word: str) -> Path:
    """Rename the file and its companions to ``<file>.<word>-<n>`` and return the new name.

    Raises:
        RefusedError: enough of them lie there already.
        OSError: the folder does not allow it.
    """
    if len(aside_files(path)) >= ASIDE_LIMIT:
        raise RefusedError(words.too_many_aside(path))
    number = 1
    while path.with_name(f"{path.name}.{word}-{number}").exists():
        number += 1
    target = path.with_name(f"{path.name}.{word}-{number}")
    for suffix in _FILES:
        with contextlib.suppress(FileNotFoundError):
            Path(f"{path}{suffix}").replace(f"{target}{suffix}")
    return target


def aside_files(path: Path) -> list[Path]:
    """Files that were set aside and still lie beside the history file."""
    found = [*path.parent.glob(f"{path.name}.damaged-*"), *path.parent.glob(f"{path.name}.newer-*")]
    return sorted(file for file in found if not file.name.endswith(_FILES[1:]))


@contextlib.contextmanager
def in_words(say: Callable[[Exception, Path], str], path: Path) -> Iterator[None]:
    """Turn whatever SQLite or the file system objects to into a StorageError that ``say`` words."""
    try:
        yield
    except UnusableError as error:
        raise StorageError(words.unusable(error, path)) from error
    except (sqlite3.Error, OSError) as error:
        raise StorageError(say(error, path)) from error


def thoroughly_checked(connection: Connection) -> None:
    """Let SQLite check a copy as thoroughly as it can, indexes included.

    Raises:
        DamagedError: it fails.
        sqlite3.Error: it cannot be read.
    """
    (verdict,) = connection.execute("PRAGMA integrity_check(1)").fetchone()
    if verdict != "ok":
        raise DamagedError(str(verdict))


@contextlib.contextmanager
def damage_named() -> Iterator[None]:
    """Give SQLite's ways of saying that a file is broken one name, DamagedError."""
    try:
        yield
    except sqlite3.Error as error:
        if is_damage(error):
            raise DamagedError(str(error)) from error
        raise


def _check(connection: Connection) -> None:
    """Let SQLite look through the whole file."""
    (verdict,) = connection.execute("PRAGMA quick_check(1)").fetchone()
    if verdict != "ok":
        raise DamagedError(str(verdict))


def version_of(connection: Connection, path: Path) -> int:
    """The version of the file, 0 for a new one.

    Raises:
        NewerVersionError: its version is higher than this release knows.
        RefusedError: it belongs to another program.
        sqlite3.Error: it cannot be read.
    """
    version, owner = _value(connection, "user_version"), _value(connection, "application_id")
    (tables,) = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if owner not in (0, APPLICATION_ID) or (owner == 0 and tables):
        raise RefusedError(words.foreign(path))
    if version > len(migrations()):
        raise NewerVersionError(f"version {version}, known up to {len(migrations())}")
    return version


def _journal_mode(path: Path) -> str:
    """The write-ahead log where its index in memory is safe, the journal that needs none where it is not."""
    return "WAL" if os.statvfs(path.parent).f_bsize >= LEAST_BLOCK_BYTES else "TRUNCATE"


def _configure(connection: Connection, version: int, journal_mode: str) -> None:
    """Set what holds for every connection that writes."""
    if version == 0:
        connection.execute(f"PRAGMA page_size = {PAGE_BYTES}")
        connection.execute("PRAGMA auto_vacuum = INCREMENTAL")  # takes effect only before the first table
    connection.execute(f"PRAGMA journal_mode = {journal_mode}")
    connection.execute("PRAGMA synchronous = NORMAL")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
    connection.execute("PRAGMA journal_size_limit = 4194304")


def _migrate(connection: Connection, version: int) -> None:
    """Apply the migrations that the file does not have yet, each as a whole or not at all."""
    for number, script in enumerate(migrations()[version:], start=version + 1):
        text = script.read_text(encoding="utf-8")
        head = f"BEGIN IMMEDIATE; PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {number};"
        connection.executescript(f"{head}\n{text}\nCOMMIT;")  # undone by closing, should a statement fail


def _value(connection: Connection, pragma: str) -> int:
    """The number a pragma answers."""
    (value,) = connection.execute(f"PRAGMA {pragma}").fetchone()
    return int(value)
