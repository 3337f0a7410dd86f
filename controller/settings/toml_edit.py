"""Changing single values of a TOML text, with everything else a person wrote left as it is.

Only what stands on a line of its own is changed. The result is compared with the document that was meant, so
that a text this does not understand is refused and never spoilt.
"""

from __future__ import annotations

import re
import tomllib
from copy import deepcopy
from typing import TYPE_CHECKING, Any

from controller.errors import HypocaustError
from controller.settings.locate import lines_of
from controller.settings.toml_file import parsed

if TYPE_CHECKING:
    from controller.settings.locate import KeyPath

_ENTRY = re.compile(
    r"""^(?P<indent>[ \t]*)(?P<key>(?:[\w."'-]|[ \t]*\.[ \t]*)*?[\w"'-]+)(?P<equals>[ \t]*=[ \t]*)"""
    r"""(?P<value>"(?:[^"\\]|\\.)*"|'[^']*'|[^\s,\]}#"']+)(?P<rest>[ \t]*(?:\#.*)?)$""",
    re.VERBOSE,
)
_HEADER = re.compile(r"^[ \t]*\[[^\[\]]+\][ \t]*(?:#.*)?$")


class ByHandError(HypocaustError):
    """The text is written in a way that only a person can change; says where and what."""


class TomlEdit:
    """A TOML text while it is being changed.

    Attributes:
        document: what it says now.
    """

    def __init__(self, text: str) -> None:
        """Take a text.

        Raises:
            NotTomlError: it is not TOML.
        """
        self._lines = text.splitlines()
        self.document: dict[str, Any] = deepcopy(parsed(text)[0])

    def text(self) -> str:
        """The changed text.

        Raises:
            ByHandError: it does not say what was meant.
        """
        text = "\n".join(self._lines) + "\n"
        try:
            said = tomllib.loads(text)
        except tomllib.TOMLDecodeError:
            said = {}
        if said != self.document:
            raise ByHandError("the file is written in a way that cannot be changed safely")
        return text

    def value(self, table: str, key: str) -> Any:
        """What a key of a table holds, or None."""
        inner = self.document.get(table)
        return inner.get(key) if isinstance(inner, dict) else None

    def drop(self, table: str, key: str, why: str) -> None:
        """Turn a setting into a comment, so that nothing a person wrote is lost.

        Raises:
            ByHandError: it does not stand on a line of its own.
        """
        number, entry = self._entry((table, key))
        self._lines[number] = f"{entry['indent']}# {why}: {self._lines[number].strip()}"
        del self.document[table][key]

    def put(self, table: str, key: str, value: str | float | bool, why: str = "") -> None:
        """Write a value: over the old one, or as a new line under the table's header, or with a new table.

        Raises:
            ByHandError: the old value does not stand on a line of its own.
        """
        written = f'"{value}"' if isinstance(value, str) else str(value).lower()
        if self.value(table, key) is not None:
            number, entry = self._entry((table, key))
            before = "".join(entry[part] for part in ("indent", "key", "equals"))
            self._lines[number] = f"{before}{written}{entry['rest']}"
        else:
            self._insert(table, f"{key} = {written}" + (f"  # {why}" if why else ""))
        self.document.setdefault(table, {})[key] = value

    def move(self, table: str, key: str, to_table: str, to_key: str) -> None:
        """Give a setting another name in another table; its value and its comment come along.

        Raises:
            ByHandError: it does not stand on a line of its own.
        """
        number, entry = self._entry((table, key))
        line = f"{to_key}{entry['equals']}{entry['value']}{entry['rest']}"
        del self._lines[number]
        self._insert(to_table, line)
        self.document.setdefault(to_table, {})[to_key] = self.document[table].pop(key)

    def drop_empty(self, table: str, why: str) -> None:
        """Turn the header of a table that has become empty into a comment.

        Raises:
            ByHandError: it has no header of its own.
        """
        number = self._header(table)
        if self.document.get(table) != {} or number is None:
            raise ByHandError(f"[{table}] cannot be removed safely; remove it by hand")
        self._lines[number] = f"# {why}: {self._lines[number].strip()}"
        del self.document[table]

    def _positions(self) -> dict[KeyPath, int]:
        return lines_of("\n".join(self._lines) + "\n")

    def _entry(self, path: KeyPath) -> tuple[int, re.Match[str]]:
        """The line of a setting (from 0) and its parts."""
        number = self._positions()[path] - 1
        entry = _ENTRY.match(self._lines[number])
        if entry is None or entry["key"].rpartition(".")[2].strip(" \t\"'") != path[-1]:
            where = ".".join(map(str, path))
            raise ByHandError(
                f"line {number + 1}: {where} does not stand on a line of its own; change it by hand"
            )
        return number, entry

    def _header(self, table: str) -> int | None:
        """The line (from 0) of a table's own header, None where it has none."""
        number = self._positions().get((table,))
        if number is None or not _HEADER.match(self._lines[number - 1]):
            return None
        named = self._lines[number - 1].partition("]")[0].strip(" \t[\"'")
        return number - 1 if named == table else None

    def _insert(self, table: str, line: str) -> None:
        """Put a line under a table's header; without one, a new table at the end."""
        number = self._header(table)
        if number is not None:
            self._lines.insert(number + 1, line)
        else:
            self._lines += ["", f"[{table}]", line]
