"""The broker's password, from a file that nobody else can read. It never appears in a message or a log."""

from __future__ import annotations

import os
import stat

from controller.telemetry.trouble import LinkError

LONGEST_BYTES = 1024
OTHERS = stat.S_IRWXG | stat.S_IRWXO


def read_password(path: str) -> str:
    """The content of the password file without the line end.

    Raises:
        LinkError: the file cannot be read, is open to other users, is empty, too long or not UTF-8 text.
    """
    try:
        with open(path, "rb") as file:  # noqa: PTH123 - the mode must be that of the file that is read
            mode = os.fstat(file.fileno()).st_mode
            content = file.read(LONGEST_BYTES + 1)
    except OSError as error:
        raise LinkError(f"[mqtt] password_file {path} cannot be read: {error.strerror}") from None
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
