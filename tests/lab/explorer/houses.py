"""The houses that are explored: which timers and parts meet in one state space."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.lab.explorer.search import House
from tests.lab.explorer.small_house import Air, Timers, Water

if TYPE_CHECKING:
    from collections.abc import Callable


DRY_OR_WET = (Water.DRY, Water.WET)


def shed() -> House:
    """One loop, one sump; mild and hot days and a float that can be read: a slice for the tests."""
    return House({"bed": "pit"}, Timers(), (Air.NEUTRAL, Air.HOT), DRY_OR_WET)


def bed() -> House:
    """One loop, one sump, and everything that can be seen."""
    return House({"bed": "pit"}, Timers())


def pair() -> House:
    """Two loops, one sump, shorter timers: two fans and a pump that have to wait for each other."""
    timers = Timers(run_on=1, longest_run=2, rest=3, pump_rest=1)
    return House({"north": "pit", "south": "pit"}, timers)


HOUSES: dict[str, Callable[[], House]] = {"shed": shed, "bed": bed, "pair": pair}
