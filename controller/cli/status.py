"""``hypocaust status [FILE] [--watch]``: what the house does now, from the status file alone."""

from __future__ import annotations

import contextlib
import os
import textwrap
import threading
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from pydantic import ValidationError

from controller.cli.status_page import WIDTH, Line, Weight, is_stale, page
from controller.clock import SystemClock, boot_id
from controller.letters import PlainStream, plain, visible
from controller.settings.ownership import NotOursError, open_directory, read_file
from controller.settings.places import desk_directory, is_own
from controller.settings.schema import Service
from controller.settings.toml_file import NotTomlError, parsed, text_of
from controller.telemetry.payloads import Status
from controller.telemetry.status_file import NAME

if TYPE_CHECKING:
    from controller.clock import Clock

FRESH, UNUSABLE, NOT_RUNNING = 0, 2, 3
REDRAW_S = 2.0
LARGEST_FILE_BYTES = 1_000_000
CLEAR, BOLD, RED, NORMAL = "\x1b[H\x1b[2J", "\x1b[1m", "\x1b[31m", "\x1b[0m"
STYLES = {Weight.PLAIN: "", Weight.HEADING: BOLD, Weight.WARNING: BOLD + RED}


def status(path: str | None, watch: bool, out: TextIO, clock: Clock | None = None) -> int:
    """Print the status; with ``watch`` again and again until interrupted.

    Args:
        path: the settings file that says where the runtime directory is, None for the usual place.
        watch: whether to redraw every 2 s.
        out: where to print.
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
        return _show(file, clock, screen)
    never = threading.Event()
    with contextlib.suppress(KeyboardInterrupt):
        while True:
            if screen.isatty():
                screen.control(CLEAR)
            _show(file, clock, screen)
            clock.wait(never, REDRAW_S)
    return FRESH


def _show(file: Path, clock: Clock, screen: PlainStream) -> int:
    styled = screen.isatty() and not os.environ.get("NO_COLOR")
    lines, code = look(file, clock)
    for line in lines:
        style = STYLES[line.weight] if styled else ""
        screen.control(style)
        screen.write(visible(line.text))
        screen.control(f"{NORMAL}\n" if style else "\n")
    screen.flush()
    return code


def look(file: Path, clock: Clock) -> tuple[list[Line], int]:
    """The page as it is now and the exit code that goes with it."""
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
        return page(read, age_s), NOT_RUNNING if is_stale(read, age_s) else FRESH
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        where = ".".join(str(part) for part in first["loc"]) or "the whole file"
        text = f"The status at {file} is damaged or from another release ({where}: {first['msg']})."
    except OverflowError:
        text = f"The status at {file} is damaged: it holds a number that is too large for any house."
    return _said(text, "Restart the controller with: systemctl restart hypocaust"), UNUSABLE


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


def status_file(path: str | None) -> Path:
    """The status of the real house, or of a simulated one of that name if no real one has written any."""
    real = runtime_directory(path) / NAME
    site = _written(path).get("site")
    name = site.get("name") if isinstance(site, dict) else None
    if os.access(real, os.F_OK) or not isinstance(name, str) or Path(name).name != name:
        return real
    desk = desk_directory(name)
    file = desk / "run" / NAME
    return file if is_own(desk.parent) and os.access(file, os.F_OK) else real


def runtime_directory(path: str | None) -> Path:
    """Where the status file lives, even if the settings file is being edited and is not valid just now."""
    if given := os.environ.get("RUNTIME_DIRECTORY"):
        return Path(given)
    service = _written(path).get("service")
    given = service.get("runtime_directory") if isinstance(service, dict) else None
    return Path(given if isinstance(given, str) else Service().runtime_directory)


def _written(path: str | None) -> dict[str, object]:
    """The settings file as far as it can be read just now."""
    if path is None:
        return {}
    try:
        return parsed(text_of(Path(path)))[0]
    except NotTomlError:
        return {}
