"""A TOML file as a document, or one clear reason why it cannot be read.

Whatever lies at the path, reading it takes bounded time and memory: size, depth and number of keys are looked
at before any reader sees the text. Knows nothing of settings and loads little, as ``safe`` reads with it too.
"""

from __future__ import annotations

import os
import re
import stat
import tomllib
from typing import TYPE_CHECKING, Any

from controller.errors import HypocaustError
from controller.settings.extent import excess
from controller.settings.locate import lines_of

if TYPE_CHECKING:
    from pathlib import Path

    from controller.settings.locate import KeyPath

# A house of 16 loops and 64 probes with a comment on every line stays below a fifth of this.
LARGEST_FILE_BYTES = 250_000
NO_FILE = "this is not a file; expected a TOML file such as house.toml"

# A key with one of these words has a value that no message and no log may repeat.
SECRET_WORDS = ("password", "secret", "token", "credential")

_POSITION = re.compile(r"\(at line (\d+), column (\d+)\)")
_CURLY_QUOTES = re.compile(r"=\s*[“”„‘’‚«»]")
_UNQUOTED = re.compile(r"=\s*([+-]?[0-9.,]{1,20}\s{0,3}(?:°?[CFK]|[A-Za-z][A-Za-z0-9/]{0,11}))\s*(?:#.*)?$")


class NotTomlError(HypocaustError):
    """What keeps a file from being read as TOML and what was expected.

    Attributes:
        line: where, counted from 1; None where the whole file is meant.
    """

    def __init__(self, message: str, line: int | None = None) -> None:
        super().__init__(message)
        self.line = line


def beginning_of(path: Path) -> bytes:
    """What a file holds, at most one byte more than the largest that is read.

    Raises:
        NotTomlError: there is no such file, or it is a pipe, a device or a directory.
    """
    try:
        # A pipe must not make us wait for its other end; its kind shows once it is open.
        with open(path, "rb", opener=_at_once) as file:
            return file.read(LARGEST_FILE_BYTES + 1)
    except (OSError, ValueError) as trouble:  # ValueError: a NUL in the name
        reason = getattr(trouble, "strerror", None) or "this is not a file name"
        raise NotTomlError(f"it cannot be read ({reason}); expected a TOML file there") from None


def _at_once(path: str, flags: int) -> int:
    """Open a file without waiting for the other end of a pipe.

    Raises:
        NotTomlError: what was opened is no file.
    """
    handle = os.open(path, flags | os.O_NONBLOCK)
    if not stat.S_ISREG(os.fstat(handle).st_mode):
        os.close(handle)
        raise NotTomlError(NO_FILE)
    return handle


def text_of(path: Path) -> str:
    """The text of a file.

    Raises:
        NotTomlError: it cannot be read, with the reason.
    """
    content = beginning_of(path)
    if len(content) > LARGEST_FILE_BYTES:
        raise NotTomlError(
            f"the file is larger than {LARGEST_FILE_BYTES // 1000} kB; expected a TOML file of a few kB"
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as trouble:
        message = "the file is not UTF-8 text; save it again as plain text with the encoding UTF-8"
        raise NotTomlError(message, content.count(b"\n", 0, trouble.start) + 1) from None


def parsed(text: str) -> tuple[dict[str, Any], dict[KeyPath, int]]:
    """The document and the lines of its keys.

    Raises:
        NotTomlError: the text is not TOML; reading stops at the first place that is not.
    """
    if too_much := excess(text):
        words, at = too_much
        raise NotTomlError(words, text.count("\n", 0, at) + 1)
    try:
        return tomllib.loads(text), lines_of(text)
    except tomllib.TOMLDecodeError as trouble:
        raise _syntax_error(text, str(trouble)) from None
    except RecursionError:
        raise NotTomlError("brackets are nested too deeply to be read") from None
    except ValueError:  # Python refuses to read a whole number of more than 4300 digits
        raise NotTomlError("a number has too many digits to be read") from None


def _syntax_error(text: str, trouble: str) -> NotTomlError:
    """Where and why the TOML reader gave up."""
    lines = text.split("\n")
    found = _POSITION.search(trouble)
    number, column = (int(found[1]), f"column {found[2]}: ") if found else (len(lines), "")
    return NotTomlError(column + _syntax_words(lines[number - 1].strip(), trouble), number)


def _syntax_words(line: str, trouble: str) -> str:
    """The usual slips in plain words; for the others what the TOML reader says."""
    unquoted = _UNQUOTED.search(line)
    if unquoted:
        quotable = not any(word in line.casefold() for word in SECRET_WORDS)
        return f'a value with a unit needs quotes; expected "{unquoted[1] if quotable else "6 °C"}"'
    if _CURLY_QUOTES.search(line):
        return "there are curly quotes, as word processors make them; expected straight ones"
    if trouble.startswith(("Cannot", "Duplicate")):
        return "this key or table is in the file already; expected it once only"
    if trouble.startswith("Illegal character '\\n'"):
        return "the line ends before its closing quote; expected a quote at both ends of the value"
    what = trouble.partition(" (at ")[0]
    return f'this is not TOML ({what}); expected lines like  name = "value"  under a [table]'
