"""Letters that may reach a terminal: all others move its cursor, rewrite its lines or turn them round.

Escape, the control letters of both kinds (C0, C1), marks that turn the direction of writing, and whatever
else Unicode does not call printable. Strings come from brokers, files, names and settings, so they are looked
at where they leave and not where they come from.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import TextIO

STANDS_IN = "?"
LINE_ENDS = "\n\t"  # letters of a text that are not letters of a line


def visible(text: str, keep: str = "") -> str:
    """A text with a stand-in for every letter that is not printable; one for one, so that columns keep."""
    if text.isprintable():
        return text
    return "".join(
        letter if letter.isprintable() or letter in keep else " " if letter.isspace() else STANDS_IN
        for letter in text
    )


def visible_json(text: str) -> str:
    """A JSON text that means the same, with escapes for every letter that is not printable."""
    if text.isprintable():
        return text
    return "".join(
        letter if letter.isprintable() or letter in LINE_ENDS else json.dumps(letter)[1:-1] for letter in text
    )


class PlainStream:
    """A text stream that lets nothing but letters and line ends out, except what :meth:`control` is given.

    Attributes:
        raw: the stream behind it.
    """

    def __init__(self, raw: TextIO) -> None:
        self.raw = raw

    def write(self, text: str) -> int:
        """Write a text, whatever it holds."""
        self.raw.write(visible(text, keep=LINE_ENDS))
        return len(text)

    def writelines(self, lines: Iterable[str]) -> None:
        """Write several texts, whatever they hold."""
        for line in lines:
            self.write(line)

    def control(self, sequence: str) -> None:
        """Write a control sequence of our own."""
        self.raw.write(sequence)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.raw, name)


def plain(stream: TextIO | PlainStream) -> PlainStream:
    """The same stream with only letters leaving it."""
    return stream if isinstance(stream, PlainStream) else PlainStream(stream)
