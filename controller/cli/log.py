"""``hypocaust log``: the sentences of what happened, from the history; the controller may run meanwhile."""

from __future__ import annotations

import json
import sys
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TextIO

from controller.cli.csv_lines import csv_line
from controller.cli.from_history import WIDTH, NoHistoryError, opened, range_of, refused
from controller.cli.local_time import NotATimeError
from controller.clock import SystemClock
from controller.history.database import StorageError
from controller.history.story import Entry, story
from controller.letters import visible_json

if TYPE_CHECKING:
    from collections.abc import Iterable

    from controller.clock import Clock
    from controller.history.queries import History

SHOWN = 0
COLUMNS = ("at", "kind", "code", "about", "on", "urgency", "sentence")
SCHEMA = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": "hypocaust log --json",
    "description": "What happened, oldest first. Numbers are SI with the unit in the name.",
    "type": "array",
    "items": {
        "type": "object",
        "additionalProperties": False,
        "required": [*COLUMNS, "numbers"],
        "properties": {
            "at": {"type": "string", "format": "date-time", "description": "When, UTC."},
            "kind": {"enum": ["output", "alarm", "event"]},
            "code": {"type": "string", "description": "Of the reason, the alarm or the event."},
            "about": {"type": "string", "description": "Which output, loop, sump, probe or file."},
            "on": {"type": ["boolean", "null"], "description": "Output on, or alarm raised."},
            "urgency": {"enum": ["act now", "today", "this week", "", None]},
            "sentence": {"type": "string"},
            "numbers": {"type": "object", "additionalProperties": {"type": ["number", "string"]}},
        },
    },
}


@dataclass(frozen=True, slots=True)
class Request:
    """What was asked for on the command line.

    Attributes:
        file: the settings file, None for the usual places.
        history: the history file itself (a copy, a backup), None to follow the settings.
        since: first moment, as a person writes it.
        until: first moment after, None for now.
        alarms: alarms only.
        loop: one loop or sump only.
        form: "text", "json" or "csv".
    """

    file: str | None
    history: str | None
    since: str
    until: str | None
    alarms: bool
    loop: str | None
    form: str


def log(request: Request, out: TextIO, clock: Clock | None = None) -> int:
    """Print what happened.

    Returns:
        0 if it was shown, 2 if something given or the file cannot be used.
    """
    try:
        with opened(request.file, request.history) as history:
            return _print(history, request, out, clock or SystemClock())
    except NoHistoryError as trouble:
        return refused(str(trouble))
    except (NotATimeError, StorageError) as trouble:
        return refused(f"{trouble}.")


def _print(history: History, request: Request, out: TextIO, clock: Clock) -> int:
    from_utc, to_utc = range_of(history, request.since, request.until, clock)
    entries = story(history, from_utc, to_utc, alarms_only=request.alarms, loop=request.loop)
    shown = {"text": _text, "json": _json, "csv": _csv}[request.form](entries, out)
    if not shown and request.form == "text":
        newest = history.newest_utc()
        last = "" if newest is None else f" The last entry is of {newest.astimezone():%Y-%m-%d %H:%M}."
        out.write(f"Nothing since {from_utc.astimezone():%Y-%m-%d %H:%M}.{last}\n")
    if history.damaged_rows:
        count = history.damaged_rows
        print(f"{count} damaged rows of the history are left out; the card may be failing.", file=sys.stderr)
    return SHOWN


def _text(entries: Iterable[Entry], out: TextIO) -> int:
    """Sentences under the days they belong to, in local time."""
    count, day = 0, ""
    for entry in entries:
        count += 1
        local = entry.when.at_utc.astimezone()
        today = f"{local:%A} {local.day} {local:%B %Y}"
        if today != day:
            out.write(f"{'' if not day else chr(10)}{today}\n")
            day = today
        lead = f"{local:%H:%M:%S}  "
        lines = textwrap.wrap(entry.sentence, WIDTH - len(lead), break_on_hyphens=False) or [""]
        out.write(f"{lead}{lines[0]}\n")
        out.writelines(f"{' ' * len(lead)}{line}\n" for line in lines[1:])
    return count


def _json(entries: Iterable[Entry], out: TextIO) -> int:
    count = 0
    for count, entry in enumerate(entries, start=1):
        text = json.dumps(_row(entry) | {"numbers": dict(entry.numbers)}, ensure_ascii=False)
        out.write(f"{'[' if count == 1 else ','}\n{visible_json(text)}")
    out.write("\n]\n" if count else "[]\n")
    return count


def _csv(entries: Iterable[Entry], out: TextIO) -> int:
    count = 0
    out.write(csv_line(COLUMNS))
    for entry in entries:
        count += 1
        out.write(csv_line(_row(entry).values()))
    return count


def _row(entry: Entry) -> dict[str, Any]:
    return {
        "at": entry.when.at_utc.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "kind": entry.kind,
        "code": entry.code,
        "about": entry.about,
        "on": entry.on,
        "urgency": entry.urgency,
        "sentence": entry.sentence,
    }


def print_schema() -> int:
    """Print the JSON Schema of what ``log --json`` prints."""
    print(json.dumps(SCHEMA, indent=2, ensure_ascii=False))
    return SHOWN
