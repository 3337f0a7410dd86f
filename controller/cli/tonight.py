"""``hypocaust tonight [FILE] [--low 18F]``: how cold the night gets, and a forecast low typed in for it."""

from __future__ import annotations

import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from controller.cli.say import said_low
from controller.cli.status import print_lines, shown_status
from controller.cli.status_lines import WIDTH, Line, head, is_stale, wrapped
from controller.cli.status_place import status_file
from controller.clock import SystemClock
from controller.letters import plain
from controller.units import TemperatureUnit, temperature_text

if TYPE_CHECKING:
    from datetime import datetime

    from controller.telemetry.payloads import Status

UNUSABLE = 2
LEARNS = "It learns from every night; a value comes after 10 nights, its bounds after 25."


def tonight(path: str | None, asked: Path, low_c: float | None, out: TextIO) -> int:
    """Print the outlook on the night; with a forecast low, give it to the controller first.

    Args:
        path: the settings file of the running controller, None for the usual place.
        asked: the same, or the usual place.
        low_c: the forecast low outdoors, None to give none.
        out: where to print.

    Returns:
        0 if the outlook is fresh, 1 if the forecast was not taken, 2 if the status cannot be used, 3 if no
        controller runs.
    """
    screen = plain(out)
    if path is not None and not Path(path).is_file():
        print(f"There is no settings file {path}.", file=sys.stderr)
        return UNUSABLE
    if low_c is not None and (code := said_low(asked, low_c)):
        return code
    lines, code = shown_status(status_file(path), SystemClock(), _lines)
    print_lines(lines, screen)
    return code


def _lines(status: Status, age_s: float | None, now_utc: datetime | None) -> list[Line]:
    unit, night = TemperatureUnit(status.unit), status.tonight
    lines = list(head(status, age_s, now_utc))
    if night is None:
        return [*lines, Line("The controller that runs is of an earlier release and gives no outlook.")]
    if is_stale(status, age_s):
        return lines
    if night.low_c is None:
        lines += wrapped(f"No outlook on the night: {night.words}. {LEARNS}", "")
    else:
        lines += [
            Line(sentence) for part in night.words.split(". ") for sentence in textwrap.wrap(part, WIDTH)
        ]
    if night.forecast_low_c is not None:
        given = temperature_text(night.forecast_low_c, unit)
        lines.append(Line(f"With a forecast low of {given} outdoors, as it was given"))
    return [*lines, Line(f"Nights learned from: {night.nights_seen}")]
