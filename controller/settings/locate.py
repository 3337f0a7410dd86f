"""Where in the file a setting stands: the path of an error -> the line to look at.

The TOML reader of Python gives values without positions, so the text is walked a second time. The walk relies
on the text being valid TOML (https://toml.io/en/v1.0.0) and only keeps count of lines.
"""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

KeyPath = tuple[str | int, ...]

# Nothing here ever goes back, so that a long text takes no more memory than a short one.
_BLANK = re.compile(r"(?:[ \t\r\n]++|#[^\n]*+)*+")
_BLANK_IN_LINE = re.compile(r"[ \t]*")
_KEY_PART = re.compile(r"""[A-Za-z0-9_-]+|"(?:[^"\\\n]++|\\.)*+"|'[^'\n]*'""")
_STRING = re.compile(
    r'''"""(?:[^"\\]++|\\.|"(?!""))*+"""(?:"{0,2}(?!"))'''
    r"""|'''(?:[^']++|'(?!''))*+'''(?:'{0,2}(?!'))"""
    r"""|"(?:[^"\\\n]++|\\.)*+"|'[^'\n]*'""",
    re.DOTALL,
)
_OTHER_VALUE = re.compile(r"[^,\]}#\n]*")


def locate(lines: dict[KeyPath, int], path: Sequence[str | int]) -> int:
    """The line of a setting; of the table it is missing from, or 1, where it is not in the file itself."""
    for length in range(len(path), 0, -1):
        line = lines.get(tuple(path[:length]))
        if line is not None:
            return line
    return 1


def lines_of(text: str) -> dict[KeyPath, int]:
    """The line (from 1) of every key, table and array element of a valid TOML text."""
    return _Walk(text).lines


class _Walk:
    """One pass over the text."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.line = 1
        self.lines: dict[KeyPath, int] = {}
        self._headed: set[KeyPath] = set()
        self._array_lengths: dict[KeyPath, int] = {}
        self._document()

    def _document(self) -> None:
        """Everything from the first sign to the last."""
        table: KeyPath = ()
        self._skip(_BLANK)
        while self.at < len(self.text):
            if self._next_is("["):
                table = self._header()
            else:
                self._pair(table)
            self._skip(_BLANK)

    def _header(self) -> KeyPath:
        """A table header; returns the table it opens."""
        brackets = 2 if self._next_is("[[") else 1
        self.at += brackets
        table = self._through_arrays(self._key())
        self.at += brackets
        if brackets == 2:  # noqa: PLR2004
            index = self._array_lengths.get(table, 0)
            self._array_lengths[table] = index + 1
            self.lines.setdefault(table, self.line)
            table = (*table, index)
        self._note(table)
        if table not in self._headed:  # a header of its own outranks the first mention by a longer header
            self._headed.add(table)
            self.lines[table] = self.line
        return table

    def _through_arrays(self, key: KeyPath) -> KeyPath:
        """A header below an array of tables means the last table of that array."""
        path: KeyPath = ()
        for depth, part in enumerate(key):
            path = (*path, part)
            if depth < len(key) - 1 and path in self._array_lengths:
                path = (*path, self._array_lengths[path] - 1)
        return path

    def _pair(self, table: KeyPath) -> None:
        """A key, its equals sign and its value."""
        key = (*table, *self._key())
        self._note(key)
        self.at += 1  # the equals sign
        self._skip(_BLANK_IN_LINE)
        self._value(key)

    def _key(self) -> KeyPath:
        """A key with all its dotted parts."""
        parts: list[str | int] = []
        while True:
            self._skip(_BLANK_IN_LINE)
            parts.append(_plain(self._skip(_KEY_PART)))
            self._skip(_BLANK_IN_LINE)
            if not self._next_is("."):
                return tuple(parts)
            self.at += 1

    def _value(self, path: KeyPath) -> None:
        """A value of any kind."""
        if self._next_is("["):
            self._array(path)
        elif self._next_is("{"):
            self._inline_table(path)
        elif not self._skip(_STRING):
            self._skip(_OTHER_VALUE)

    def _array(self, path: KeyPath) -> None:
        """An array and the elements in it."""
        self.at += 1
        index = 0
        self._skip(_BLANK)
        while self.at < len(self.text) and not self._next_is("]"):
            self.lines[(*path, index)] = self.line
            self._value((*path, index))
            index += 1
            self._skip_comma()
        self.at += 1

    def _inline_table(self, path: KeyPath) -> None:
        """A table between braces and the keys in it."""
        self.at += 1
        self._skip(_BLANK)
        while self.at < len(self.text) and not self._next_is("}"):
            self._pair(path)
            self._skip_comma()
        self.at += 1

    def _skip_comma(self) -> None:
        """A comma with the blanks, line ends and comments around it."""
        self._skip(_BLANK)
        if self._next_is(","):
            self.at += 1
            self._skip(_BLANK)

    def _note(self, path: KeyPath) -> None:
        """Remember the line of a key and of every table it names for the first time."""
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], self.line)

    def _next_is(self, sign: str) -> bool:
        """Whether this sign comes next."""
        return self.text.startswith(sign, self.at)

    def _skip(self, pattern: re.Pattern[str]) -> str:
        """Step over what the pattern matches here, counting lines, and return it."""
        found = pattern.match(self.text, self.at)
        if found is None:
            return ""
        self.line += found.group().count("\n")
        self.at = found.end()
        return found.group()


def _plain(part: str) -> str:
    """One part of a key without its quotes and escapes."""
    return next(iter(tomllib.loads(f"{part} = 0"))) if part[:1] in {'"', "'"} else part
