"""What the controller starts with: its settings file, or the last good copy of one that is refused."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from controller.settings.last_good import copy_of, read_copy
from controller.settings.load import SettingsError, parse, read
from controller.settings.watch import Rejected

if TYPE_CHECKING:
    from pathlib import Path

    from controller.settings.schema import Settings


@dataclass(frozen=True, slots=True)
class Start:
    """Good settings, and where they are from.

    Attributes:
        path: the settings file.
        settings: what is in force.
        text: what the file holds, None where the copy stands in for it.
        copy: the last good copy, where it stands in for the file.
        rejected: why it does.
    """

    path: Path
    settings: Settings
    text: str | None
    copy: Path | None = None
    rejected: Rejected | None = None


def begin(path: Path) -> Start:
    """Read the settings file, or if it is refused its last good copy.

    Raises:
        SettingsError: the file is refused, and no copy of it can be used.
    """
    try:
        return begin_with_file(path)
    except SettingsError as trouble:
        copy = copy_of(path)
        settings = _settings_in(copy, path)
        if settings is None:
            raise
        return Start(path, settings, None, copy, Rejected(trouble.problems, str(trouble)))


def begin_with_file(path: Path) -> Start:
    """Read the settings file and nothing else.

    Raises:
        SettingsError: it is refused.
    """
    loaded = read(path)
    return Start(path, loaded.settings, loaded.text)


def usable_copy(path: Path) -> Path | None:
    """The last good copy of a settings file, if the controller could start with it."""
    copy = copy_of(path)
    return None if _settings_in(copy, path) is None else copy


def _settings_in(copy: Path, path: Path) -> Settings | None:
    text = read_copy(copy, path)
    if text is None:
        return None
    try:
        return parse(text, str(copy))
    except SettingsError:
        return None
