"""``hypocaust report``: what the store did, as one page to read, print and hand on; or as JSON."""

from __future__ import annotations

import contextlib
import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from controller.cli.progress import say
from controller.cli.status_place import history_file
from controller.clock import SystemClock
from controller.errors import HypocaustError
from controller.history.database import StorageError
from controller.history.queries import History
from controller.letters import visible_json
from controller.report.data import ReportData
from controller.report.gather import gather, period_of
from controller.report.page.head import headline
from controller.report.page.page import page
from controller.report.page.reading import Reader
from controller.settings.load import SettingsError, load

if TYPE_CHECKING:
    from datetime import date


SHOWN, UNUSABLE = 0, 2
SCHEMA_DIALECT = "https://json-schema.org/draft/2020-12/schema"
STDOUT = "-"
MOST_DAYS = 731  # two years; each takes about 80 MB of memory while the report is made


class NoReportError(HypocaustError):
    """Something a person gave cannot be used; the text says what and what to do."""


@dataclass(frozen=True, slots=True)
class Request:
    """What was asked for on the command line.

    Attributes:
        file: the settings file.
        history: the history file itself (a copy, a rehearsal), None to follow the settings.
        first: first day, None for the usual one.
        last: last day, None for the newest.
        out: where the report goes, "-" for standard output, None for a name made of its days.
        as_json: whether to write JSON instead of a page.
        price_per_kwh: of heat and electricity, None if not known.
    """

    file: str
    history: str | None
    first: date | None
    last: date | None
    out: str | None
    as_json: bool
    price_per_kwh: float | None = None


def print_schema() -> int:
    """Print the JSON Schema of what ``report --json`` writes."""
    schema = {"$schema": SCHEMA_DIALECT, **ReportData.model_json_schema(mode="serialization")}
    print(json.dumps(schema, indent=2, ensure_ascii=False))
    return SHOWN


def report(request: Request, out: TextIO) -> int:
    """Write the report.

    Returns:
        0 if it was written, 2 if something given cannot be used.
    """
    clock = SystemClock()
    began_s = clock.monotonic_s()
    try:
        data, reader = _gathered(request)
        text = f"{data.model_dump_json(indent=2)}\n" if request.as_json else page(data, reader)
        target = _target(request, data)
        if target is None:
            out.write(visible_json(text) if request.as_json else text)
            return SHOWN
        _write(target, text)
    except (SettingsError, StorageError, NoReportError) as trouble:
        print(trouble, file=sys.stderr)
        return UNUSABLE
    seconds = clock.monotonic_s() - began_s
    out.write(f"{headline(data, reader)}.\nWritten to {target} in {seconds:.1f} s.")
    out.write("\n" if request.as_json else " Open it in a browser; print it from there for a PDF.\n")
    return SHOWN


def _gathered(request: Request) -> tuple[ReportData, Reader]:
    """What the report holds, and who it is for."""
    first, last = request.first, request.last
    if first is not None and last is not None and first > last:
        raise NoReportError(f"--from {first} is later than --to {last}: exchange them")
    settings = load(request.file)
    path = Path(request.history) if request.history is not None else history_file(request.file)
    with History(path) as history:
        period = period_of(history, first, last)
        if period is None:
            raise NoReportError(
                f"{path} holds nothing with a time yet: the controller has to run for a while first"
            )
        if period.days > MOST_DAYS:
            raise NoReportError(
                f"{period.first} to {period.last} are {period.days} days; expected at most {MOST_DAYS}: "
                "choose others with --from and --to"
            )
        say(f"Reading {period.days} days of the history ...")
        try:
            data = gather(history, settings, period, request.price_per_kwh)
        finally:
            say("")
    return data, Reader(settings.site.show, period.calendar)


def _target(request: Request, data: ReportData) -> Path | None:
    """The file to write, None for standard output."""
    if request.out == STDOUT or (request.out is None and request.as_json):
        return None
    if request.out is not None:
        return Path(request.out)
    return Path(f"{data.site}-{data.first}-to-{data.last}.html")


def _write(target: Path, text: str) -> None:
    """Write a file whole or not at all."""
    partial = target.with_name(f".{target.name}.partial")
    try:
        partial.write_text(text, encoding="utf-8")
        partial.replace(target)
    except OSError as problem:
        with contextlib.suppress(OSError):
            partial.unlink()
        raise NoReportError(
            f"--out: {target} cannot be written ({problem.strerror}); name a file in a directory of yours"
        ) from problem
