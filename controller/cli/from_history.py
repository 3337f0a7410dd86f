"""The history that a command was asked to read: where it is, which time is meant, why it is refused."""

from __future__ import annotations

import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

from controller.cli.local_time import moment_of
from controller.cli.status_place import history_file
from controller.errors import HypocaustError
from controller.history.queries import History

if TYPE_CHECKING:
    from datetime import datetime

    from controller.clock import Clock


UNUSABLE = 2
WIDTH = 80


def refused(text: str, code: int = UNUSABLE) -> int:
    """Say why a command was not done, and give its exit code."""
    print(textwrap.fill(text, WIDTH, break_long_words=False, break_on_hyphens=False), file=sys.stderr)
    return code


class NoHistoryError(HypocaustError):
    """There is nothing to read; the text says why and what to do."""


def opened(file: str | None, history: str | None) -> History:
    """The history file itself if it was named (a copy, a backup), or the one of the settings file.

    Raises:
        NoHistoryError: the settings file is missing, or this user may not read the history.
        StorageError: it does not exist or cannot be read.
    """
    if file is not None and not Path(file).is_file():
        raise NoHistoryError(f"There is no settings file {file}.")
    path = Path(history) if history is not None else history_file(file)
    try:
        path.stat()
    except PermissionError:
        raise NoHistoryError(
            f"{path} may not be read. Use sudo, or the user the controller runs as."
        ) from None
    except (OSError, ValueError):
        pass  # what is wrong with it is said when it is opened
    return History(path)


def range_of(
    history: History, since: str | None, until: str | None, clock: Clock
) -> tuple[datetime, datetime | None]:
    """The half-open range a person means; without a beginning all there is, without an end None.

    A history may be newer than the clock of this machine: what "today" is follows the later of both.

    Raises:
        NotATimeError: the words name no time.
        NoHistoryError: the history is empty, and nobody knows what time it is.
    """
    newest, board = history.newest_utc(), clock.wall_utc()
    if board is None and newest is None:
        raise NoHistoryError("The history is empty, and the time of day is not known.")
    now = max(moment for moment in (board, newest) if moment is not None)
    oldest = history.oldest_utc() or now
    from_utc = oldest if since is None else moment_of(since, now)
    return from_utc, None if until is None else moment_of(until, now)
