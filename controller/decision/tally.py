"""Sums over a day: what the fans and pumps did and what it brought."""

from __future__ import annotations

from dataclasses import dataclass, field

JOULES_PER_KWH = 3.6e6  # by definition


@dataclass(frozen=True, slots=True)
class LoopTally:
    """One loop's sums: seconds run, starts, electricity and heat (banked into, returned from the soil)."""

    run_s: float = 0.0
    starts: int = 0
    electricity_j: float = 0.0
    banked_j: float = 0.0
    returned_j: float = 0.0


@dataclass(frozen=True, slots=True)
class PumpTally:
    """One pump's sums."""

    run_s: float = 0.0
    starts: int = 0
    electricity_j: float = 0.0


@dataclass(frozen=True, slots=True)
class DayTally:
    """A day's sums.

    Attributes:
        date: ISO date at the place of the house, or None while the clock is not set.
        covered_s: seconds of the day that were controlled.
        air_min_c: lowest bench air (ceiling where there is no bench probe), None if never read.
        air_max_c: highest.
        loops: by loop name.
        pumps: by sump name.
    """

    date: str | None = None
    covered_s: float = 0.0
    air_min_c: float | None = None
    air_max_c: float | None = None
    loops: dict[str, LoopTally] = field(default_factory=dict)
    pumps: dict[str, PumpTally] = field(default_factory=dict)
