"""Whose files are believed: those of root, of the service's user and of the person who asks.

A stranger who may write somewhere could otherwise show a person an invented house, or ask the controller for
something in another person's name. A file is opened first and then judged, so that what is judged is read.
"""

from __future__ import annotations

import contextlib
import errno
import functools
import os
import pwd
import stat
from typing import TYPE_CHECKING

from controller.errors import HypocaustError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

ROOT = 0
READABLE = 0o644  # what root leaves the service must be able to read
SERVICE_USER = "hypocaust"  # systemd/hypocaust.sysusers.conf


class NotOursError(HypocaustError):
    """A file or directory that anybody may have made; the text says whose it is."""


def believed_users() -> frozenset[int]:
    """Numbers of the users whose files are believed."""
    return frozenset({ROOT, os.getuid(), os.geteuid(), *_service_users()})


@functools.cache
def _service_users() -> tuple[int, ...]:
    """The service's user, if there is one; a desk has none."""
    try:
        return (pwd.getpwnam(SERVICE_USER).pw_uid,)
    except KeyError:
        return ()


def user_name(uid: int) -> str:
    """What a person calls a user."""
    try:
        return pwd.getpwuid(uid).pw_name
    except KeyError:
        return f"user {uid}"


@contextlib.contextmanager
def open_directory(path: Path) -> Iterator[int]:
    """Open a directory whose files can be believed.

    Raises:
        NotOursError: it is somebody else's, or everybody may write into it.
        OSError: it is not there, or cannot be opened.
    """
    handle = os.open(path, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        _look(os.fstat(handle), str(path))
        yield handle
    finally:
        os.close(handle)


def read_file(directory: int, name: str, most_bytes: int) -> bytes:
    """The beginning of a file in an open directory.

    Raises:
        NotOursError: it is a link or no file, or somebody else's.
        OSError: it is not there, or cannot be read.
    """
    try:
        handle = os.open(name, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC, dir_fd=directory)
    except OSError as problem:
        if problem.errno == errno.ELOOP:
            raise NotOursError(f"{name} is a link") from None
        raise
    try:
        about = os.fstat(handle)
        if not stat.S_ISREG(about.st_mode):
            raise NotOursError(f"{name} is not a file")
        _look(about, name)
        return os.read(handle, most_bytes)
    finally:
        os.close(handle)


def write_new(directory: int, name: str, content: bytes) -> None:
    """Put a file in place in one step, in an open directory; whatever has its name is replaced, not followed.

    Raises:
        OSError: the directory does not allow it.
    """
    beside = f".{name}.{os.urandom(8).hex()}"
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC
    handle = os.open(beside, flags, READABLE, dir_fd=directory)
    try:
        os.fchmod(handle, READABLE)
        os.write(handle, content)
        os.rename(beside, name, src_dir_fd=directory, dst_dir_fd=directory)
    except OSError:
        os.unlink(beside, dir_fd=directory)
        raise
    finally:
        os.close(handle)


def _look(about: os.stat_result, name: str) -> None:
    """Whether what was opened can be believed.

    Raises:
        NotOursError: it cannot.
    """
    if about.st_uid not in believed_users():
        raise NotOursError(f"{name} belongs to {user_name(about.st_uid)}, not to root, {SERVICE_USER} or you")
    if about.st_mode & stat.S_IWOTH and not about.st_mode & stat.S_ISVTX:
        raise NotOursError(f"{name} can be written by everybody")
