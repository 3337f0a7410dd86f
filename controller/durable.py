"""Files that outlive a power cut, and the room for them."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


def sync_directory(directory: Path) -> None:
    """Make a rename in a directory outlive a power cut (fsync(2): the directory needs its own).

    Raises:
        OSError: it cannot be opened, or the medium refuses.
    """
    handle = os.open(directory, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def room(directory: Path) -> tuple[int, int]:
    """Bytes that are free to us and bytes in all on the medium of a directory (statvfs(3)).

    Raises:
        OSError: the medium does not say.
    """
    found = os.statvfs(directory)
    return found.f_bavail * found.f_frsize, found.f_blocks * found.f_frsize
