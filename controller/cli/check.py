"""``hypocaust check FILE``: is this settings file good?"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from controller.settings.begin import usable_copy
from controller.settings.load import SettingsError, load
from controller.settings.migrations import plan
from controller.settings.notes import notes
from controller.settings.schema.surroundings import FORMAT
from controller.settings.toml_edit import ByHandError
from controller.settings.toml_file import NotTomlError, text_of

if TYPE_CHECKING:
    from controller.settings.schema import Settings

GOOD = 0
BAD = 2


def check(path: str, out: TextIO | None = None, err: TextIO | None = None) -> int:
    """Read a settings file and report everything that is wrong with it.

    Args:
        path: the file.
        out: where the summary and the notes go; standard output if None.
        err: where the errors go, one line each with file and line; standard error if None.

    Returns:
        0 if the file is good, 2 if it is not.
    """
    out = sys.stdout if out is None else out
    err = sys.stderr if err is None else err
    try:
        settings = load(path)
    except SettingsError as trouble:
        print(trouble, file=err)
        if (copy := usable_copy(Path(path))) is not None:
            print(f"note: until this is mended a start would use the last good copy, {copy}", file=err)
        _say_if_older(path, err)
        return BAD
    print(summary(Path(path).name, settings), file=out)
    for note in notes(settings):
        print(f"  note: {note}", file=out)
    _say_if_older(path, out)
    return GOOD


def _say_if_older(path: str, to: TextIO) -> None:
    """Say what brings a file of an older form up to date; a good file can be one, too."""
    try:
        text = text_of(Path(path))
        found = plan(text)
    except (NotTomlError, ByHandError):
        return
    if found.text != text:
        written = f"it is written in format {found.found} of the settings, and this release has {FORMAT}"
        print(f"note: {written}. See what changes: hypocaust migrate {path}", file=to)


def summary(name: str, settings: Settings) -> str:
    """One line on a good file: what it describes."""
    counts = ", ".join(
        (
            _counted(len(settings.loops), "loop"),
            _counted(len(settings.sumps), "sump"),
            _counted(len(settings.probes), "probe"),
        )
    )
    link = settings.mqtt
    publishes = f"publishes to {link.host}:{link.port}" if link else "publishes nothing"
    return f"{name} is good: {counts}; shows {settings.site.show.value}; {publishes}"


def _counted(count: int, thing: str) -> str:
    """A count with its thing in the singular or plural."""
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"
