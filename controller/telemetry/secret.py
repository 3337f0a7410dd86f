"""The broker's password, from a file that nobody else can read. It never appears in a message or a log."""

from __future__ import annotations

import os
import stat

from controller.telemetry.trouble import LinkError

LONGEST_BYTES = 1024
ROOT = 0
OTHERS = stat.S_IRWXG | stat.S_IRWXO


def _without_waiting(path: str, flags: int) -> int:
    """Open a file without waiting for the other end of a pipe."""
    return os.open(path, flags | os.O_NONBLOCK)


def read_password(path: str) -> str:
    """The content of the password file without the line end.

    Raises:
        LinkError: the file cannot be read, is open to other users, is empty, too long or not UTF-8 text.
    """
    try:
        with open(path, "rb", opener=_without_waiting) as file:  # mode and content of one file
            about = os.fstat(file.fileno())
            content = file.read(LONGEST_BYTES + 1) if stat.S_ISREG(about.st_mode) else b""
    except (OSError, ValueError) as error:  # not named: a path that leads nowhere may be the password itself
        reason = getattr(error, "strerror", None) or "this is not a file name"
        raise LinkError(
            f"[mqtt] password_file cannot be read ({reason}); expected the path of a file with the password"
        ) from None
    mode = about.st_mode
    if not stat.S_ISREG(mode):
        raise LinkError(f"[mqtt] password_file {path} is not a file; expected one with the password in it")
    if about.st_uid not in (ROOT, os.geteuid()):
        raise LinkError(
            f"[mqtt] password_file {path} belongs to another user, who can change it; "
            f"run: chown {os.geteuid()} {path}"
        )
    if mode & OTHERS:
        raise LinkError(
            f"[mqtt] password_file {path} can be read by other users (mode {stat.S_IMODE(mode):04o}); "
            f"run: chmod 600 {path}"
        )
    if len(content) > LONGEST_BYTES:
        raise LinkError(
            f"[mqtt] password_file {path} is longer than {LONGEST_BYTES} bytes; is it the right file?"
        )
    try:
        password = content.decode().rstrip("\r\n")
    except UnicodeDecodeError:
        raise LinkError(f"[mqtt] password_file {path} is not UTF-8 text; is it the right file?") from None
    if not password:
        raise LinkError(f"[mqtt] password_file {path} is empty; put the password on its first line")
    return password
