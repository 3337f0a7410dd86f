"""The mark of a running controller: a locked file in its runtime directory, with a word that names this run.

The kernel takes the lock back when the program ends, however it ends; the word stays, and means nothing then.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
from typing import TYPE_CHECKING

from controller.errors import HypocaustError
from controller.settings.ownership import read_file

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

NAME = "running.lock"
LONGEST_WORD_BYTES = 64
OURS = 0o600


class AlreadyRunningError(HypocaustError):
    """A controller holds the mark."""


@contextlib.contextmanager
def marked(runtime_directory: Path) -> Iterator[str]:
    """Hold the mark; gives the word that names this run.

    Raises:
        AlreadyRunningError: another controller holds it.
        OSError: the file cannot be made or opened.
    """
    handle = _open(runtime_directory / NAME)
    try:
        os.fchmod(handle, OURS)  # a user who may open it may lock it, and so keep a controller from starting
        word = os.urandom(16).hex()
        os.ftruncate(handle, 0)
        os.pwrite(handle, word.encode(), 0)
        yield word
    finally:
        os.close(handle)


def running(directory: int) -> str | None:
    """The word of the controller that runs in an open runtime directory, None if none does.

    Raises:
        NotOursError: the mark belongs to a stranger.
        OSError: it cannot be read.
    """
    try:
        word = read_file(directory, NAME, LONGEST_WORD_BYTES)
        handle = os.open(NAME, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC, dir_fd=directory)
    except FileNotFoundError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return word.decode("ascii", errors="replace")
    finally:
        os.close(handle)
    return None


def _open(path: Path) -> int:
    """The mark's file, opened and locked; one that another user has left is replaced, unless it is held."""
    flags = os.O_CREAT | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC
    try:
        return _locked(os.open(path, os.O_RDWR | flags, OURS))
    except PermissionError:
        left = _locked(os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC))
    try:  # held while it is replaced, so that of two controllers only one does so
        path.unlink()
        return _locked(os.open(path, os.O_RDWR | os.O_EXCL | flags, OURS))
    finally:
        os.close(left)


def _locked(handle: int) -> int:
    """The same handle, locked.

    Raises:
        AlreadyRunningError: somebody else holds the lock.
    """
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as problem:
        os.close(handle)
        if isinstance(problem, BlockingIOError):
            raise AlreadyRunningError from None
        raise
    return handle
