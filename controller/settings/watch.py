"""Watching the settings file while the controller runs: good changes are taken over, bad ones never."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from controller.settings.draft import draft_of_settings
from controller.settings.load import Loaded, problems_between, read
from controller.settings.problems import Problem, SettingsError, dotted
from controller.settings.schema.quantities import plain_key
from controller.settings.schema.section import Section

if TYPE_CHECKING:
    from collections.abc import Iterator

    from controller.settings.schema import Settings

LIVE_TABLES = ("setpoints", "fans", "pump", "fire", "judging")
LIVE_KEYS = ("site.show", "site.format")
WIRED_KEYS = ("fire.clear_pin",)  # wiring in a table that is live otherwise

Stamp = tuple[int, int, int] | None
NEVER_SEEN: Stamp = (-1, -1, -1)


@dataclass(frozen=True, slots=True)
class Accepted:
    """The file is good.

    Attributes:
        settings: what is in force now: the new setpoints with the wiring the controller was started with.
        changed: dotted keys that are taken over with this reload.
        needs_restart: dotted keys (or tables) in the file that differ from the wiring in force.
        text: what the file holds.
    """

    settings: Settings
    changed: tuple[str, ...]
    needs_restart: tuple[str, ...]
    text: str


@dataclass(frozen=True, slots=True)
class Rejected:
    """The file is bad; the last good settings stay in force.

    Attributes:
        problems: everything that is wrong with it.
        text: the same as people read it, one line each with file and line.
    """

    problems: tuple[Problem, ...]
    text: str


Reload = Accepted | Rejected


class SettingsWatch:
    """Looks at the file whenever it is asked to; starts no thread and reads no clock.

    A change counts once the file has stayed the same from one look to the next, so that an editor that saves
    in two steps (or removes the file and writes it anew) is neither believed half way nor complained about.
    """

    def __init__(self, path: str | Path, active: Settings, rejected: bool = False) -> None:
        """Name the file; nothing is read yet.

        Args:
            path: the settings file.
            active: the settings in force.
            rejected: whether they are not from this file, because it was refused.
        """
        self._path = Path(path)
        self._active = active
        self._seen: Stamp = NEVER_SEEN
        self._judged: Stamp = NEVER_SEEN  # so that a change made while the controller started is noticed too
        self._rejected = rejected
        self._needs_restart: tuple[str, ...] = ()

    def poll(self) -> Reload | None:
        """Look for a change; None while there is nothing new to say."""
        stamp = _stamp(self._path)
        settled, self._seen = stamp == self._seen, stamp
        if stamp == self._judged or not settled:
            return None
        was_rejected, needed_restart = self._rejected, self._needs_restart
        result = self._judge(stamp)
        if isinstance(result, Rejected) or result.changed or was_rejected:
            return result
        return result if result.needs_restart != needed_restart else None

    def force(self) -> Reload:
        """Read the file now and answer in any case."""
        self._seen = _stamp(self._path)
        return self._judge(self._seen)

    def _judge(self, stamp: Stamp) -> Reload:
        """Read the file and remember what came of it."""
        self._judged = stamp
        try:
            result = take_over(self._active, read(self._path))
        except SettingsError as trouble:
            self._rejected = True
            return Rejected(trouble.problems, str(trouble))
        self._rejected = False
        self._active = result.settings
        self._needs_restart = result.needs_restart
        return result


def take_over(active: Settings, loaded: Loaded) -> Accepted:
    """What of a good file can be put in force at once.

    Raises:
        SettingsError: its setpoints contradict the wiring that stays in force until the next restart.
    """
    new = loaded.settings
    differences = tuple(_differences(active, new, ()))
    changed = tuple(key for key in differences if is_live(key))
    needs_restart = tuple(key for key in differences if not is_live(key))
    live: dict[str, Section] = {table: getattr(new, table) for table in LIVE_TABLES}
    live["fire"] = new.fire.model_copy(update={"clear_pin": active.fire.clear_pin})
    site = active.site.model_copy(update={"show": new.site.show, "format": new.site.format})
    mixed = active.model_copy(update={**live, "site": site})
    if needs_restart:
        written = {table: loaded.document[table] for table in LIVE_TABLES if table in loaded.document}
        problems = [
            replace(problem, message=f"{problem.message} (restart to put the new wiring in force first)")
            for problem in problems_between(draft_of_settings(mixed, written), loaded.lines)
        ]
        if problems:
            raise SettingsError(loaded.name, problems)
    return Accepted(mixed, changed, needs_restart, loaded.text)


def is_live(key: str) -> bool:
    """Whether a setting may change while the controller runs."""
    return key in LIVE_KEYS or (key.partition(".")[0] in LIVE_TABLES and key not in WIRED_KEYS)


def _differences(old: object, new: object, path: tuple[str, ...]) -> Iterator[str]:
    """Dotted keys in which two settings differ; a whole table where one of them does not have it."""
    if isinstance(old, Section) and isinstance(new, Section):
        for name in type(old).model_fields:
            yield from _differences(getattr(old, name), getattr(new, name), (*path, plain_key(name)))
    elif isinstance(old, dict) and isinstance(new, dict):
        for name in {**old, **new}:
            yield from _differences(old.get(name), new.get(name), (*path, name))
    elif old != new:
        yield dotted(path)


def _stamp(path: Path) -> Stamp:
    """What changes whenever the file does, or None while it cannot be seen."""
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_mtime_ns, status.st_size, status.st_ino
