"""``hypocaust restore BACKUP``: put a backup in the place of the history, with the service stopped."""

from __future__ import annotations

import os
import sys
from contextlib import nullcontext
from typing import TYPE_CHECKING

from controller.cli.from_history import UNUSABLE, refused
from controller.history.backups import restore
from controller.history.database import StorageError
from controller.service.directories import StartError, claim
from controller.settings.load import load
from controller.settings.ownership import ROOT, user_name
from controller.settings.places import history_file, runtime_directory
from controller.settings.problems import SettingsError

if TYPE_CHECKING:
    from pathlib import Path
    from typing import TextIO

DONE, RUNS = 0, 3


def restore_history(backup: Path, settings_file: Path, out: TextIO) -> int:
    """Check a backup and put a copy of it in place; the history that was there is kept beside it.

    Returns:
        0 when it is in place, 2 if settings, backup or place cannot be used, 3 if a controller runs.
    """
    try:
        settings = load(settings_file)
    except SettingsError as trouble:
        print(trouble, file=sys.stderr)
        return UNUSABLE
    path, runtime = history_file(settings), runtime_directory(settings)
    if owner := _other_owner(path.parent):
        return refused(
            f"{path.parent} belongs to {owner}, who could not open what root leaves there. Do it as that "
            f"user: sudo -u {owner} hypocaust restore {backup}",
        )
    try:
        with claim(settings) if runtime.is_dir() else nullcontext():
            aside = restore(backup, path)
    except StartError as trouble:
        return refused(f"Stop the controller first: sudo systemctl stop hypocaust. {trouble}", RUNS)
    except StorageError as trouble:
        return refused(f"{trouble}.")
    out.write(f"{path} is now a copy of {backup}.\n")
    if aside is not None:
        out.write(f"What was there before is kept as {aside}.\n")
    return DONE


def _other_owner(folder: Path) -> str:
    """Who owns a folder that root is about to write to, empty if root does, or this is not root."""
    try:
        owner = folder.stat().st_uid
    except OSError:
        return ""
    return user_name(owner) if os.geteuid() == ROOT != owner else ""
