"""Where the daemon's own files live, for the daemon and for the commands that read them."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.settings.schema import Settings


STATUS_NAME, HISTORY_NAME = "status.json", "history.sqlite3"


def runtime_directory(settings: Settings, environ: Mapping[str, str] | None = None) -> Path:
    """Files that need not outlive a boot: status, timers, requests. systemd's RUNTIME_DIRECTORY wins."""
    given = (os.environ if environ is None else environ).get("RUNTIME_DIRECTORY")
    return Path(given or settings.service.runtime_directory)


def state_directory(settings: Settings, environ: Mapping[str, str] | None = None) -> Path:
    """Files that must outlive a boot: history, latches. systemd's STATE_DIRECTORY wins."""
    given = (os.environ if environ is None else environ).get("STATE_DIRECTORY")
    return Path(given or settings.service.state_directory)


def history_file(settings: Settings, environ: Mapping[str, str] | None = None) -> Path:
    """The SQLite file of the history."""
    given = settings.history.file
    return Path(given) if given else state_directory(settings, environ) / HISTORY_NAME


def desk_directory(site: str) -> Path:
    """Where everything of a simulated house lives, so that it needs no rights and touches no real house."""
    import tempfile  # noqa: PLC0415 - at a desk only; it takes the archive libraries along

    return Path(tempfile.gettempdir()) / f"hypocaust-{os.getuid()}" / site


def is_own(directory: Path) -> bool:
    """Whether a directory in a place where everybody may make some is this person's own, and no link."""
    try:
        about = directory.lstat()
    except OSError:
        return False
    return stat.S_ISDIR(about.st_mode) and about.st_uid == os.getuid() and not about.st_mode & stat.S_IWOTH


def desk_environment(site: str) -> dict[str, str]:
    """The same variables that the service manager sets, pointing at the desk directory.

    Raises:
        OSError: the directory cannot be made, or belongs to somebody else.
    """
    directory = desk_directory(site)
    directory.parent.mkdir(mode=0o700, exist_ok=True)
    if not is_own(directory.parent):
        raise PermissionError(f"{directory.parent} belongs to somebody else; remove it or set TMPDIR")
    return {"RUNTIME_DIRECTORY": str(directory / "run"), "STATE_DIRECTORY": str(directory / "state")}
