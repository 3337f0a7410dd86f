"""Reads a forecast low from a file that another program renews, such as a script that asks a weather service.

One line: the date of the evening on which the night begins, and the temperature with its unit, as in
``2026-01-31 -7.5 °C``. The file is looked at once a minute and read when it has changed; only a date that is
this evening's counts. Nothing in it can do more than move the outlook on the night.
"""

from __future__ import annotations

import os
import stat
from datetime import timedelta
from typing import TYPE_CHECKING

from controller.faults import MINUTE_S, FaultCode, Finding
from controller.readings.said import COLDEST_LOW_C, HOTTEST_LOW_C, Act, Said
from controller.settings.schema.quantities import QuantityError, read_quantity

if TYPE_CHECKING:
    from datetime import datetime

    from controller.clock import Clock

LONGEST_BYTES = 200
HALF_A_DAY = timedelta(hours=12)
EXPECTED = "expected one line such as 2026-01-31 -7.5 °C"


class ForecastFile:
    """The file of ``site.forecast_file``. Never raises; what is wrong with it shows in :meth:`findings`."""

    def __init__(self, path: str, clock: Clock) -> None:
        """Begin with nothing read.

        Args:
            path: of the file, empty for none.
            clock: paces the looks, and says which evening it is.
        """
        self._path = path
        self._clock = clock
        self._looked_s: float | None = None
        self._read: tuple[str, float] | None = None
        self._mark: tuple[int, int, int] | None = None
        self._given: tuple[str, float] | None = None
        self._trouble = ""

    def said(self) -> tuple[Said, ...]:
        """The forecast low of this evening's night, once for each new one."""
        now_s = self._clock.monotonic_s()
        if not self._path or (self._looked_s is not None and 0.0 <= now_s - self._looked_s < MINUTE_S):
            return ()
        self._looked_s = now_s
        self._look()
        now_utc = self._clock.wall_utc()
        if self._read is None or now_utc is None or self._read == self._given:
            return ()
        date, low_c = self._read
        if date != evening(now_utc):
            return ()
        self._given = self._read
        return (Said(Act.LOW, f"{low_c:.2f}"),)

    def findings(self) -> tuple[Finding, ...]:
        """What is wrong with the file now."""
        return (Finding(FaultCode.FORECAST_FILE, self._path, self._trouble),) if self._trouble else ()

    def _look(self) -> None:
        """Read the file again if it has changed."""
        try:
            # A pipe or a device in its place must neither block the tick nor be read.
            file = os.open(self._path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
            try:
                about = os.fstat(file)
                if not stat.S_ISREG(about.st_mode):
                    raise ValueError("it is not a plain file")
                mark = (about.st_ino, about.st_mtime_ns, about.st_size)
                if mark == self._mark:
                    return
                self._mark = mark
                self._read = read_low(os.read(file, LONGEST_BYTES + 1))
            finally:
                os.close(file)
        except FileNotFoundError:
            self._mark, self._read, self._trouble = None, None, "there is no such file"
        except OSError as problem:
            self._mark, self._read, self._trouble = None, None, f"cannot be read ({problem.strerror})"
        except ValueError as problem:
            self._read, self._trouble = None, f"is not used: {problem}"
        else:
            self._trouble = ""


def evening(now_utc: datetime) -> str:
    """The date of the evening that began the night in progress; from noon on, of the next one."""
    return (now_utc.astimezone() - HALF_A_DAY).date().isoformat()


def read_low(content: bytes) -> tuple[str, float]:
    """The date and the low in °C.

    Raises:
        ValueError: it is not one line of that kind; the text says why.
    """
    if len(content) > LONGEST_BYTES:
        raise ValueError(f"it is longer than {LONGEST_BYTES} letters; {EXPECTED}")
    try:
        lines = content.decode("utf-8").split("\n")
    except UnicodeDecodeError:
        raise ValueError(f"line 1 is no text; {EXPECTED}") from None
    date, _, written = lines[0].strip().partition(" ")
    if "".join(lines[1:]).strip() or not date or not written:
        raise ValueError(EXPECTED)
    parts = date.split("-")
    if len(date) != len("2026-01-31") or len(parts) != 3 or not all(part.isdecimal() for part in parts):  # noqa: PLR2004
        raise ValueError(f"line 1 does not begin with a date; {EXPECTED}")
    try:
        low_c = read_quantity("temperature", written.strip()).si
    except QuantityError as refused:
        raise ValueError(f"line 1: {refused}") from None
    if not COLDEST_LOW_C <= low_c <= HOTTEST_LOW_C:
        raise ValueError("line 1: the temperature is out of range; expected -80 °C to 40 °C")
    return date, low_c
