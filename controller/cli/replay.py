"""``hypocaust replay``: recorded days once more, with these settings and with others, and the difference."""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING, TextIO

from controller.cli.from_history import UNUSABLE, NoHistoryError, opened, range_of, refused
from controller.cli.local_time import NotATimeError
from controller.cli.progress import say
from controller.clock import SystemClock
from controller.history.database import StorageError
from controller.letters import visible_json
from controller.replay.as_json import SCHEMA, as_json
from controller.replay.compare import Result
from controller.replay.run import OtherHouseError, midnight_before, replay, same_wiring
from controller.replay.text import as_text
from controller.settings.load import load
from controller.settings.problems import SettingsError

if TYPE_CHECKING:
    from pathlib import Path

    from controller.clock import Clock
    from controller.settings.schema import Settings

SHOWN = 0


@dataclass(frozen=True, slots=True)
class Request:
    """What was asked for on the command line.

    Attributes:
        file: the settings file that was in force.
        history: the history file itself (a copy, a backup), None to follow the settings.
        since: first day, as a person writes it, None for all there is.
        until: up to the midnight before this, None for all there is.
        other: the settings to try, None to compare with the record only.
        changes: whether switchings are listed.
        form: "text" or "json".
    """

    file: Path
    history: str | None
    since: str | None
    until: str | None
    other: Path | None
    changes: bool
    form: str


def replay_days(request: Request, out: TextIO, clock: Clock | None = None) -> int:
    """Replay and print.

    Returns:
        0 if it was shown, 2 if something given or the history cannot be used.
    """
    try:
        settings = load(request.file)
        other = None if request.other is None else load(request.other)
        result = _played(request, settings, other, clock or SystemClock())
    except SettingsError as trouble:
        print(trouble, file=sys.stderr)
        return UNUSABLE
    except NoHistoryError as trouble:
        return refused(str(trouble))
    except (NotATimeError, StorageError, OtherHouseError) as trouble:
        return refused(f"{trouble}.")
    if request.form == "json":
        shown = json.dumps(as_json(result, changes=request.changes), indent=2, ensure_ascii=False)
        out.write(f"{visible_json(shown)}\n")
    else:
        out.writelines(f"{line}\n" for line in as_text(result, changes=request.changes))
    return SHOWN


def _played(request: Request, settings: Settings, other: Settings | None, clock: Clock) -> Result:
    if other is not None:
        same_wiring(settings, other)
    with opened(str(request.file), request.history) as history:
        from_utc, until_utc = range_of(history, request.since, request.until, clock)
        newest = history.newest_utc() or from_utc
        from_utc = midnight_before(from_utc)
        to_utc = newest if until_utc is None else min(midnight_before(until_utc), newest)
        if from_utc >= to_utc:
            raise NoHistoryError("There is nothing recorded in that range. Days begin and end at midnight.")
        say("Replaying; a recorded week takes some seconds ...")
        here = replay(history, settings, None, from_utc, to_utc)
        tried = None if other is None else replay(history, settings, other, from_utc, to_utc)
        say("")
        if history.damaged_rows:
            print(f"{history.damaged_rows} damaged rows of the history are left out.", file=sys.stderr)
    names = (request.file.name, "" if request.other is None else request.other.name)
    return Result(from_utc, to_utc, settings.site.show, names, here, tried)


def print_schema() -> int:
    """Print the JSON Schema of what ``replay --json`` prints."""
    print(json.dumps(SCHEMA, indent=2, ensure_ascii=False))
    return SHOWN
