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

    @property
    def electricity_j(self) -> float:
        """Of all fans and pumps."""
        fans_j = sum(loop.electricity_j for loop in self.loops.values())
        return fans_j + sum(pump.electricity_j for pump in self.pumps.values())

    @property
    def banked_j(self) -> float:
        """Heat into the soil, by all loops."""
        return sum(loop.banked_j for loop in self.loops.values())

    @property
    def returned_j(self) -> float:
        """Heat out of the soil, by all loops."""
        return sum(loop.returned_j for loop in self.loops.values())


class MonthSummary(NamedTuple):
    """A finished month.

    Attributes:
        sums: of all its days; the date is that of the first.
        text: the same in words.
    """

    sums: DayTally
    text: str


def added(one: DayTally, other: DayTally) -> DayTally:
    """Two parts of a day, or two days, together; the date is that of the first."""
    lows = [low for low in (one.air_min_c, other.air_min_c) if low is not None]
    highs = [high for high in (one.air_max_c, other.air_max_c) if high is not None]
    return DayTally(
        date=one.date,
        covered_s=one.covered_s + other.covered_s,
        air_min_c=min(lows, default=None),
        air_max_c=max(highs, default=None),
        loops={
            name: _loops_added(one.loops.get(name, LoopTally()), other.loops.get(name, LoopTally()))
            for name in {**one.loops, **other.loops}
        },
        pumps={
            name: _pumps_added(one.pumps.get(name, PumpTally()), other.pumps.get(name, PumpTally()))
            for name in {**one.pumps, **other.pumps}
        },
    )


def _loops_added(one: LoopTally, other: LoopTally) -> LoopTally:
    return LoopTally(
        one.run_s + other.run_s,
        one.starts + other.starts,
        one.electricity_j + other.electricity_j,
        one.banked_j + other.banked_j,
        one.returned_j + other.returned_j,
    )


def _pumps_added(one: PumpTally, other: PumpTally) -> PumpTally:
    return PumpTally(
        one.run_s + other.run_s, one.starts + other.starts, one.electricity_j + other.electricity_j
    )
