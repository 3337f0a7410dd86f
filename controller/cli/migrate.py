"""``hypocaust migrate FILE``: what an older settings file needs for this release, shown before it is done."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

from controller.durable import sync_directory
from controller.settings.load import SettingsError, parse
from controller.settings.migrations import Plan, diff, plan
from controller.settings.schema.surroundings import FORMAT
from controller.settings.toml_edit import ByHandError
from controller.settings.toml_file import NotTomlError, text_of

if TYPE_CHECKING:
    from pathlib import Path

DONE, SHOWN, REFUSED = 0, 1, 2


def migrate(path: Path, write: bool) -> int:
    """Show the changes as a diff and, if asked to, make them.

    Args:
        path: the settings file.
        write: whether to change the file; the old one stays beside it.

    Returns:
        0 if there is nothing to do or it was done, 1 if there is something to do, 2 if it cannot be done.
    """
    try:
        text = text_of(path)
        found = plan(text)
    except NotTomlError as trouble:
        where = str(path) if trouble.line is None else f"{path}:{trouble.line}"
        print(f"{where}: {trouble}", file=sys.stderr)
        return REFUSED
    except ByHandError as trouble:
        print(f"{path}: {trouble}. Nothing was changed; config/CHANGES.md has the steps.", file=sys.stderr)
        return REFUSED
    if found.text == text:
        return _nothing(path, found)
    print(diff(str(path), text, found.text))
    print(f"\nThis file is written in format {found.found}; this release has format {FORMAT}:")
    for step in found.steps:
        print(f"  {step.to} ({step.day}): {step.what}")
    try:
        parse(found.text, str(path))
    except SettingsError as trouble:
        print(
            f"\nMend these by hand first; the lines are those of the changed file:\n{trouble}",
            file=sys.stderr,
        )
        return REFUSED
    if not write:
        print(f"Nothing is changed yet. To change it: hypocaust migrate {path} --write")
        return SHOWN
    return _written(path, found)


def _nothing(path: Path, found: Plan) -> int:
    if found.found > FORMAT:
        words = f"is written in format {found.found}, but this release knows {FORMAT} at most"
        print(f"{path}: {words}; install a newer release", file=sys.stderr)
        return REFUSED
    print(f"{path} needs no change for this release (format {FORMAT}).")
    return DONE


def _written(path: Path, found: Plan) -> int:
    """Put the new text into the file's place and keep the old file under another name."""
    real = path.resolve()
    try:
        kept = _keep(real, found.found)
        _replace(real, found.text)
    except OSError as problem:
        print(
            f"{path} cannot be changed: {problem.strerror}. Try: sudo hypocaust migrate {path} --write",
            file=sys.stderr,
        )
        return REFUSED
    print(f"Changed {path}; the old file is {kept}.")
    return DONE


def _keep(path: Path, form: int) -> Path:
    """Give the old file a second name that nothing has yet."""
    for attempt in range(1000):
        kept = path.with_name(f"{path.name}.format-{form}" + (f".{attempt}" if attempt else ""))
        try:
            os.link(path, kept)
        except FileExistsError:
            continue
        return kept
    raise FileExistsError(0, "there are too many old files beside it", str(path))


def _replace(path: Path, text: str) -> None:
    """Write a file anew in one step, for the same owner and with the same rights."""
    about = path.stat()
    beside = path.with_name(f".{path.name}.new")
    try:
        with os.fdopen(
            os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW, 0o600), "wb"
        ) as file:
            file.write(text.encode("utf-8"))
            if os.geteuid() == 0:
                os.fchown(file.fileno(), about.st_uid, about.st_gid)
            os.fchmod(file.fileno(), about.st_mode & 0o777)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError:
        beside.unlink(missing_ok=True)
        raise
    sync_directory(path.parent)
