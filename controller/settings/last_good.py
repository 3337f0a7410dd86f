"""The last good copy of a settings file, kept in the state directory: where it is, reading and writing it.

It is a copy of the text under one line of its own that names the file it was taken from, so that it never
stands in for another house's file. Knows nothing of settings and loads little, because ``safe`` reads it.
"""

from __future__ import annotations

import json
import os
import re
import stat
from pathlib import Path
from typing import TYPE_CHECKING

from controller.durable import sync_directory
from controller.settings.toml_file import LARGEST_FILE_BYTES, NotTomlError, beginning_of, parsed

if TYPE_CHECKING:
    from collections.abc import Mapping

DEFAULT_STATE_DIRECTORY = "/var/lib/hypocaust"
DEFAULT_RUNTIME_DIRECTORY = "/run/hypocaust"
FILE_NAME = "last-good.toml"
READABLE_BY_GROUP = 0o640
_MARK = "# Kept by hypocaust, do not edit: the last good copy of "
_DIRECTORY = re.compile(r"""^\s*state_directory\s*=\s*(["'])([^"'\n]+)\1""", re.MULTILINE)


def copy_of(path: Path, environ: Mapping[str, str] | None = None) -> Path:
    """Where the copy of a settings file is kept, as far as a damaged or missing file says."""
    given = (os.environ if environ is None else environ).get("STATE_DIRECTORY")
    return Path(given or _written_directory(path) or DEFAULT_STATE_DIRECTORY) / FILE_NAME


def _written_directory(path: Path) -> str | None:
    try:
        text = beginning_of(path).decode("utf-8", errors="replace")
    except NotTomlError:
        return None
    try:
        service = parsed(text)[0].get("service")
    except NotTomlError:
        found = _DIRECTORY.search(text)
        return found[2] if found else None
    given = service.get("state_directory") if isinstance(service, dict) else None
    return given if isinstance(given, str) else None


def read_copy(copy: Path, path: Path) -> str | None:
    """The text of the copy if it was taken from this file and nobody else can have written it, or None."""
    try:
        handle = os.open(copy, os.O_RDONLY | os.O_NOFOLLOW | os.O_CLOEXEC | os.O_NONBLOCK)
    except (OSError, ValueError):
        return None
    with os.fdopen(handle, "rb") as file:
        if not _is_ours(os.fstat(handle), copy.parent):
            return None
        try:
            mark, _, text = file.read(2 * LARGEST_FILE_BYTES).decode("utf-8").partition("\n")
        except (OSError, UnicodeDecodeError):
            return None
    return text if mark == _mark(path) else None


def _is_ours(status: os.stat_result, directory: Path) -> bool:
    """Whether it belongs to this user (for root: to the directory's owner) and nobody else can write it."""
    owners = {0, os.geteuid()} | ({directory.stat().st_uid} if os.geteuid() == 0 else set())
    closed = not status.st_mode & (stat.S_IWGRP | stat.S_IWOTH)
    return stat.S_ISREG(status.st_mode) and status.st_uid in owners and closed


def write_copy(copy: Path, path: Path, text: str) -> None:
    """Replace the copy as a whole; a power cut leaves the old one or the new one.

    Raises:
        OSError: it cannot be written.
    """
    if read_copy(copy, path) == text:
        return
    beside = copy.with_suffix(".new")
    flags = os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_NOFOLLOW | os.O_CLOEXEC
    with os.fdopen(os.open(beside, flags, READABLE_BY_GROUP), "wb") as file:
        os.fchmod(file.fileno(), READABLE_BY_GROUP)
        file.write(f"{_mark(path)}\n{text}".encode())
        file.flush()
        os.fsync(file.fileno())
    beside.replace(copy)
    sync_directory(copy.parent)


def _mark(path: Path) -> str:
    return f"{_MARK}{json.dumps(str(path.absolute()))}"
