"""What a sensor gives: a trusted value with its age, or the cause why it is missing. No sentinel numbers."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Generic, NamedTuple, TypeVar

T_co = TypeVar("T_co", covariant=True)


class Why(Enum):
    """Why a reading is missing, in the words a person reads after the probe's name."""

    NOT_FITTED = "is not fitted"
    NEVER_READ = "has not been read yet"
    SILENT = "does not answer"
    NOISY = "answers with damaged data"
    POWER_ON = "gives its power-on value (85 °C) instead of a measurement"
    NO_POWER = "reports too little supply power to measure"
    ALL_ZERO = "answers with nothing but zeros (data line shorted?)"
    OUT_OF_RANGE = "reads a temperature that its place cannot have"
    JUMP = "jumps further than air or soil can change"
    STUCK = "shows the same value while the others change"
    STALE = "has given nothing new for too long"
    OUTVOTED = "disagrees with the other probes of its place"
    UNREADABLE = "cannot be read"


@dataclass(frozen=True, slots=True)
class Good(Generic[T_co]):
    """A trusted value and when it was measured."""

    value: T_co
    at_mono_s: float


@dataclass(frozen=True, slots=True)
class Missing:
    """No value, with the cause and since when."""

    why: Why
    since_mono_s: float


Reading = Good[float] | Missing


class Level(Enum):
    """What the float says about the water in the sump."""

    WET = "wet"
    DRY = "dry"


LevelReading = Good[Level] | Missing


class RawTemperature(NamedTuple):
    """One conversion as the bus gave it.

    Attributes:
        value_c: the temperature in °C.
        at_mono_s: when it was converted.
        scratchpad: the nine bytes behind it where the bus gives them, else None.
    """

    value_c: float
    at_mono_s: float
    scratchpad: bytes | None = None


class RawFailure(NamedTuple):
    """A read that gave nothing, with the cause."""

    why: Why
    at_mono_s: float


RawSample = RawTemperature | RawFailure


class RawLevel(NamedTuple):
    """One look at the float input: ``level`` is None where the input could not be read."""

    level: Level | None
    at_mono_s: float
