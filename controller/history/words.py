"""Storage trouble in the words of the person who has to do something about it."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

# SQLite's names of result codes (sqlite.org/rescode.html), by what a person has to do about them.
_ADVICE = (
    (
        ("SQLITE_FULL", "SQLITE_IOERR_SHMSIZE"),
        "no room left for {path}: delete what is not needed, or fit a larger card",
    ),
    (
        ("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH"),
        (
            "{path} cannot be written: check that the card is not mounted read-only, and that the file and"
            " its folder belong to the user the controller runs as (sudo chown --reference=FOLDER FILE)"
        ),
    ),
    (
        ("SQLITE_BUSY", "SQLITE_LOCKED"),
        "{path} is held by another program: close whatever has it open",
    ),
    (
        ("SQLITE_CORRUPT", "SQLITE_NOTADB"),
        "{path} is damaged; a new file is begun",
    ),
)


def for_writing(error: Exception, path: Path) -> str:
    """Say why the file cannot be written and what to do."""
    name = str(getattr(error, "sqlite_errorname", ""))
    if not path.parent.is_dir():
        return f"the folder {path.parent} does not exist: create it, or name another"
    for names, text in _ADVICE:
        if name.startswith(names):
            return text.format(path=path)
    return f"{path} cannot be written ({error}): check the card, replace it if this comes back"


def for_reading(error: Exception, path: Path) -> str:
    """Say why the file cannot be read and what to do."""
    if not os.path.lexists(path):
        return (
            f"there is no history at {path}: it begins when the controller first runs; check [history] file"
        )
    name = str(getattr(error, "sqlite_errorname", ""))
    if name.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB")):
        return f"{path} is damaged: the controller sets it aside and begins a new one; read a backup instead"
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return f"{path} is held by another program: close whatever has it open, then try again"
    if name.startswith("SQLITE_ERROR"):
        return f"{path} does not have the tables of this release ({error}): let the controller run on it once"
    return f"{path} cannot be read ({error}): run this as the user the controller runs as"


def unusable(error: Exception, path: Path) -> str:
    """Say that a file is damaged or too new, where a reader met it."""
    return f"{path} cannot be used ({error}): the controller sets it aside and begins a new one"


def foreign(path: Path) -> str:
    """Say that the file belongs to another program."""
    return (
        f"{path} is a database of another program and was left alone: choose another name in [history] file"
    )


def too_many_aside(path: Path) -> str:
    """Say that damaged files pile up."""
    return (
        f"damaged history files pile up beside {path}: the card is failing, replace it, and move the files"
        " named .damaged- elsewhere"
    )


def set_aside(name: str) -> str:
    """Say that a file was renamed and a new one begun."""
    if ".newer-" in name:
        return (
            f"the history was written by a newer release and is kept as {name}; a new one was begun. Install"
            " that release again and rename it back, or move the file elsewhere"
        )
    return (
        f"the history was damaged and is kept as {name}; a new one was begun. Check the card, then move the"
        " file elsewhere"
    )


def nearly_full(path: Path, free_bytes: int, total_bytes: int) -> str:
    """Say that room runs out while there is still time to do something about it."""
    return (
        f"only {free_bytes / 1e6:.0f} MB of {total_bytes / 1e6:.0f} MB are free where {path} is kept: delete"
        " what is not needed, or fit a larger card"
    )


def not_copied(error: Exception, path: Path) -> str:
    """Say that a history cannot be copied because of what is in it."""
    return f"{path} cannot be copied ({error}): nothing was changed; use another backup, and check the card"


def not_a_history(path: Path) -> str:
    """Say that a file is something else."""
    return f"{path} is not a history of this program: name one of its backups"


def no_room_for_backup(folder: Path, free_bytes: int, needed_bytes: int) -> str:
    """Say that a backup finds no room."""
    return (
        f"no backup of the history was made: {folder} has {free_bytes / 1e6:.0f} MB free and needs"
        f" {needed_bytes / 1e6:.0f} MB; delete what is not needed, or fit a larger card"
    )


def hangs(path: Path, duration: str) -> str:
    """Say that the card does not answer."""
    return f"the card has not answered for {duration} while {path} was being written: check it, replace it"
