"""``hypocaust status [FILE] [--watch] [--all]``: what the house does now, from the status file alone."""

from __future__ import annotations

import contextlib
import os
import textwrap
import threading
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from pydantic import ValidationError

from controller.cli.local_time import parsed_utc
from controller.cli.status_glance import cut, glance
from controller.cli.status_lines import WIDTH, Line, Weight, is_stale
from controller.cli.status_page import page
from controller.cli.status_place import status_file
from controller.clock import SystemClock, boot_id
from controller.letters import PlainStream, plain, visible
from controller.settings.ownership import NotOursError, open_directory, read_file
from controller.telemetry.payloads import Status

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from controller.clock import Clock

FRESH, UNUSABLE, NOT_RUNNING = 0, 2, 3
REDRAW_S = 2.0
USUAL_ROWS = 24
LARGEST_FILE_BYTES = 1_000_000
CLEAR, BOLD, RED, NORMAL = "\x1b[H\x1b[2J", "\x1b[1m", "\x1b[31m", "\x1b[0m"
STYLES = {Weight.PLAIN: "", Weight.HEADING: BOLD, Weight.WARNING: BOLD + RED}


def status(
    path: str | None,
    out: TextIO,
    *,
    watch: bool = False,
    everything: bool = False,
    clock: Clock | None = None,
) -> int:
    """Print the status; with ``watch`` again and again until interrupted.

    Args:
        path: the settings file that says where the runtime directory is, None for the usual place.
        out: where to print.
        watch: whether to redraw every 2 s.
        everything: whether to print all there is rather than one screen of it.
        clock: time, the board's own unless given.

    Returns:
        0 if the status is fresh (or was watched), 2 if it cannot be used, 3 if the controller does not seem
        to run.
    """
    clock = clock or SystemClock()
    screen = plain(out)
    if path is not None and not Path(path).is_file():
        screen.write(f"There is no settings file {path}.\n")
        return UNUSABLE
    file = status_file(path)
    if not watch:
        lines, code = look(file, clock, None if everything else _height(screen))
        print_lines(lines, screen)
        return code
    never = threading.Event()
    with contextlib.suppress(KeyboardInterrupt):
        while True:
            height = _height(screen)
            lines, _ = look(file, clock, None if everything else height)
            if screen.isatty():
                screen.control(CLEAR)
                lines = cut(lines, height, "without --watch" if everything else "--all")
            print_lines(lines, screen)
            clock.wait(never, REDRAW_S)
    return FRESH


def _height(screen: PlainStream) -> int:
    """How many lines fit above the prompt; what is not a terminal gets as many as the smallest one."""
    try:
        rows = os.get_terminal_size(screen.fileno()).lines if screen.isatty() else 0
    except (OSError, ValueError):
        rows = 0
    return (rows or USUAL_ROWS) - 1


def print_lines(lines: list[Line], screen: PlainStream) -> None:
    """Print lines, with colours where a person sees them."""
    styled = screen.isatty() and not os.environ.get("NO_COLOR")
    for line in lines:
        style = STYLES[line.weight] if styled else ""
        screen.control(style)
        screen.write(visible(line.text))
        screen.control(f"{NORMAL}\n" if style else "\n")
    screen.flush()


def look(file: Path, clock: Clock, height: int | None) -> tuple[list[Line], int]:
    """The page as it is now and the exit code that goes with it.

    Args:
        file: the status file.
        clock: time.
        height: how many lines there may be, None for all there is.
    """

    def shown(read: Status, age_s: float | None, now_utc: datetime | None) -> list[Line]:
        return page(read, age_s, now_utc) if height is None else glance(read, age_s, now_utc, height)

    return shown_status(file, clock, shown)


def shown_status(
    file: Path, clock: Clock, shown: Callable[[Status, float | None, datetime | None], list[Line]]
) -> tuple[list[Line], int]:
    """What is made of the status as it is now, or why it cannot be used, and the exit code that goes with it.

    Args:
        file: the status file.
        clock: time.
        shown: makes lines of the status, its age in s (None: of another boot) and the time now.
    """
    try:
        with open_directory(file.parent) as directory:
            content = read_file(directory, file.name, LARGEST_FILE_BYTES)
    except NotOursError as stranger:
        text = f"The status at {file} is not shown: {stranger}. Anybody could have written it."
        return _said(text, "Remove it, or name the right settings file."), UNUSABLE
    except FileNotFoundError:
        text = f"No status at {file}: the controller does not run, or has not finished its first tick yet."
        return _said(text, "Start it with: systemctl start hypocaust"), NOT_RUNNING
    except OSError as error:
        return _said(f"The status at {file} cannot be read: {error.strerror}."), UNUSABLE
    try:
        read = Status.model_validate_json(content)
        age_s = _age_s(read, file, clock)
        lines = shown(read, age_s, _now_utc(read, age_s, clock))
        return lines, NOT_RUNNING if is_stale(read, age_s) else FRESH
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        where = ".".join(str(part) for part in first["loc"]) or "the whole file"
        text = f"The status at {file} is damaged or from another release ({where}: {first['msg']})."
    except (OverflowError, ValueError, OSError):
        text = f"The status at {file} is damaged: it holds a number or a date that no house can have."
    return _said(text, "Restart the controller with: systemctl restart hypocaust"), UNUSABLE


def _now_utc(read: Status, age_s: float | None, clock: Clock) -> datetime | None:
    """Now by the controller's own clock, which for a simulated house is another one than the board's."""
    at = parsed_utc(read.at)
    return clock.wall_utc() if at is None or age_s is None else at + timedelta(seconds=age_s)


def _said(*paragraphs: str) -> list[Line]:
    """Messages within the width of a terminal; a path is never broken, so that it can be copied."""
    wrapper = textwrap.TextWrapper(WIDTH, break_long_words=False, break_on_hyphens=False)
    return [Line(line) for text in paragraphs for line in wrapper.wrap(text)]


def _age_s(read: Status, file: Path, clock: Clock) -> float | None:
    """Seconds since the status was written, None if that was before the board last started."""
    if read.boot_id:
        return None if read.boot_id != boot_id() else max(clock.monotonic_s() - read.at_mono_s, 0.0)
    # No boot to compare with (a simulated house in a hurry has its own time): the date of the file must do.
    now_utc = clock.wall_utc()
    if now_utc is None:
        return None
    return max(now_utc.timestamp() - file.stat().st_mtime, 0.0)
