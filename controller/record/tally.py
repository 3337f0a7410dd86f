"""Sums over a day: what the fans and pumps did and what it brought."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

JOULES_PER_KWH = 3.6e6  # by definition


class LoopTally(NamedTuple):
    """One loop's sums: seconds run, starts, electricity and heat (banked into, returned from the soil)."""

    run_s: float = 0.0
    starts: int = 0
    electricity_j: float = 0.0
    banked_j: float = 0.0
    returned_j: float = 0.0


class PumpTally(NamedTuple):
    """One pump's sums."""

    run_s: float = 0.0
    starts: int = 0
    electricity_j: float = 0.0


NO_LOOPS: Final[Mapping[str, LoopTally]] = {}
NO_PUMPS: Final[Mapping[str, PumpTally]] = {}


class DayTally(NamedTuple):
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
    loops: Mapping[str, LoopTally] = NO_LOOPS
    pumps: Mapping[str, PumpTally] = NO_PUMPS
