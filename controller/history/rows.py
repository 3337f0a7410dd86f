"""What is written down: one frozen type for each kind of row."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from controller.record.tally import DayTally


@dataclass(frozen=True, slots=True)
class At:
    """When: milliseconds since boot, and since 1970 in UTC (None until the clock is set)."""

    mono_ms: int
    wall_ms: int | None


class EventCode(Enum):
    """Things worth writing down that are neither an output change nor an alarm."""

    START = "start"
    STOP = "stop"
    SETTINGS = "settings-reload"
    CLOCK_SET = "clock-set"
    CLOCK_STEPPED = "clock-stepped"
    DROPPED = "rows-dropped"
    SEEN = "seen"
    HOUSE_EMPTY = "house-empty"
    HOUSE_PLANTED = "house-planted"
    DONE = "done"
    DAY = "day"
    MONTH = "month"
    LOW = "low"


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """All probes at one time; ``milli_c`` is the JSON array in the order of ``probes``."""

    at: At
    probes: tuple[str, ...]
    milli_c: str


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """One output change with its reason as code, numbers (JSON object) and sentence."""

    at: At
    kind: str
    name: str
    is_on: bool
    code: str
    numbers: str
    sentence: str


@dataclass(frozen=True, slots=True)
class AlarmRow:
    """One alarm raised or cleared."""

    at: At
    code: str
    subject: str
    priority: int
    raised: bool
    detail: str


@dataclass(frozen=True, slots=True)
class DayRow:
    """Sums of a day: of a finished one, or of today as far as it has come."""

    at: At
    tally: DayTally
    finished: bool


@dataclass(frozen=True, slots=True)
class EventRow:
    """One event."""

    at: At
    code: EventCode
    detail: str = ""


Row = ReadingRow | ChangeRow | AlarmRow | DayRow | EventRow
