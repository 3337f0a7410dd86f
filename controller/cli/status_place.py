"""Where the running controller keeps what other commands read, even if its settings file is broken now.

What the file says comes first; where it cannot be read as TOML at all, its last good copy stands in; and
where there is none, the usual places.
"""

from __future__ import annotations

import os
from pathlib import Path

from controller.settings.last_good import (
    DEFAULT_RUNTIME_DIRECTORY,
    DEFAULT_STATE_DIRECTORY,
    FILE_NAME,
    copy_of,
    read_copy,
)
from controller.settings.places import HISTORY_NAME, STATUS_NAME, desk_directory, is_own
from controller.settings.toml_file import NotTomlError, parsed, text_of


def status_file(path: str | None) -> Path:
    """The status of the real house, or of a simulated one of that name if no real one has written any."""
    real = runtime_directory(path) / STATUS_NAME
    return _real_or_desk(real, path, Path("run") / STATUS_NAME)


def history_file(path: str | None) -> Path:
    """The history of the real house, or of a simulated one of that name if no real one has written any."""
    written = _written(path)
    given = _text(written, "history", "file")
    state = os.environ.get("STATE_DIRECTORY") or _text(written, "service", "state_directory")
    real = Path(given) if given else Path(state or DEFAULT_STATE_DIRECTORY) / HISTORY_NAME
    return real if given else _real_or_desk(real, path, Path("state") / HISTORY_NAME)


def runtime_directory(path: str | None) -> Path:
    """Where the status file lives and requests are left."""
    if given := os.environ.get("RUNTIME_DIRECTORY"):
        return Path(given)
    return Path(_text(_written(path), "service", "runtime_directory") or DEFAULT_RUNTIME_DIRECTORY)


def _real_or_desk(real: Path, path: str | None, on_desk: Path) -> Path:
    """A file of the real house, or the one of a simulated house if only that is there."""
    desk = _desk(path)
    if os.access(real, os.F_OK) or desk is None:
        return real
    file = desk / on_desk
    return file if is_own(desk.parent) and os.access(file, os.F_OK) else real


def _desk(path: str | None) -> Path | None:
    """Where a simulated house of these settings keeps its files."""
    name = _text(_written(path), "site", "name")
    if name:
        return desk_directory(name) if Path(name).name == name else None
    if path is None:
        return None
    house = desk_directory("any").parent
    copies = house.glob(f"*/state/{FILE_NAME}") if is_own(house) else ()
    return next((copy.parents[1] for copy in copies if read_copy(copy, Path(path)) is not None), None)


def _text(written: dict[str, object], table: str, key: str) -> str:
    found = written.get(table)
    value = found.get(key) if isinstance(found, dict) else None
    return value if isinstance(value, str) else ""


def _written(path: str | None) -> dict[str, object]:
    """The settings file as far as it can be read just now, or its last good copy."""
    if path is None:
        return {}
    try:
        return parsed(text_of(Path(path)))[0]
    except NotTomlError:
        pass
    copy = read_copy(copy_of(Path(path)), Path(path))
    try:
        return {} if copy is None else parsed(copy)[0]
    except NotTomlError:
        return {}
