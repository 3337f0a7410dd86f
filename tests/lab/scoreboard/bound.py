"""What could have been reached with the year known, and with how little electricity: found, not proven.

For a year and a house the numbers of the hand that knows the year (``foresight.py``) are searched one by one,
for winter and for summer apart: first for the fewest degree-hours, then at a price for electricity. What all
tries reached gives a line: the least electricity that was found for each amount of frost or heat that is
left. A rule is measured by that line at what it has reached itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from controller.simulator.weather.load import load_weather
from tests.lab.scoreboard.cases import DAYS
from tests.lab.scoreboard.foresight import NEVER, STILL, Ahead, Numbers, season, season_by_hour
from tests.lab.scoreboard.reached import Half

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from tests.lab.scoreboard.cases import Case
    from tests.lab.scoreboard.reached import Reached

# Degree-hours and kWh.
Point = tuple[float, float]
SAME = 0.005  # two amounts that differ by less than this share of what fans off leave are the same
LEAST_KH = 20.0  # with less frost or heat than this to prevent, a share of it means nothing

# Where the search begins, and what is tried, round by round, at a price in degree-hours for each kWh. A round
# begins at the best so far at its price. A share more is found with more tries; each takes seconds of a core.
Tries = tuple[tuple[str, float], ...]
FIRST = {Half.WINTER: Numbers(), Half.SUMMER: replace(STILL, cool_above_c=32.0)}
ROUNDS: dict[Half, tuple[tuple[float, Tries], ...]] = {
    Half.WINTER: (
        (0.0, (("return_below_c", 4.6),)),
        (
            0.3,
            (
                ("bank_ahead_days", 45.0),
                ("bank_ahead_days", 15.0),
                ("bank_full_c", 18.0),
                ("bank_full_c", 14.0),
                ("bank_from_k", 2.0),
                ("bank_from_k", 4.0),
            ),
        ),
        (1.0, (("bank_full_c", 11.0),)),
    ),
    Half.SUMMER: (
        (
            0.0,
            (
                ("cool_from_k", 2.0),
                ("cool_above_c", 30.0),
                ("purge_from_k", 3.0),
                ("purge_to_c", 23.0),
            ),
        ),
        (1.0, (("purge_from_k", NEVER), ("cool_from_k", 8.0))),
    ),
}


@dataclass(frozen=True, slots=True)
class Bound:
    """The best of one half of the year that was found.

    Attributes:
        best: the year with the fewest degree-hours.
        numbers: what reached it.
        line: degree-hours and electricity, from fans that stand to the best; each next has fewer
            degree-hours for more electricity.
        tried: years that were played.
    """

    best: Reached
    numbers: Numbers
    line: tuple[Point, ...]
    tried: int

    def kwh_for(self, kh: float) -> float | None:
        """Least electricity that was found to leave as many degree-hours; None if that takes none.

        Between two points of the line it is read off a straight line, beyond the best it is the best's. The
        line's end is flat: a little more frost than the rule left must count as the same, or the rule would
        be measured by what hindsight spends on nothing.
        """
        kh += SAME * self.line[0][0]
        if kh >= self.line[0][0]:
            return None
        left_kh, kwh = zip(*reversed(self.line), strict=True)
        return float(np.interp(kh, left_kh, kwh))


@dataclass(frozen=True, slots=True)
class Hindsight:
    """The year with fans that stand, and a bound for each half in which there is something to prevent."""

    still: Reached
    bounds: Mapping[Half, Bound]


def find_bounds(case: Case) -> Hindsight:
    """Play a year without fans, and search both halves of it."""
    settings, weather = case.settings(), load_weather(case.weather, case.seed)
    still, bench_c = season_by_hour(settings, weather, STILL)
    ahead = Ahead.of(bench_c)

    def play(numbers: Numbers) -> Reached:
        return season(settings, weather, numbers, DAYS, ahead)

    return Hindsight(still, {half: search(half, play, still) for half in Half if still.kh(half) > LEAST_KH})


def search(half: Half, play: Callable[[Numbers], Reached], still: Reached) -> Bound:
    """Search number by number, round by round.

    Args:
        half: what is fought; the hand's electricity is all spent against it.
        play: plays a year.
        still: the year without fans.
    """
    best = FIRST[half]
    seen = {best: play(best)}

    def cost(numbers: Numbers, price: float) -> Point:
        kh, kwh = _point(half, seen[numbers])
        return kh + price * kwh, kwh

    for price, tries in ROUNDS[half]:
        best = min(seen, key=lambda numbers: cost(numbers, price))
        for name, value in tries:
            numbers = replace(best, **{name: value})
            if numbers not in seen:
                seen[numbers] = play(numbers)
            if cost(numbers, price) < cost(best, price):
                best = numbers
    least = min(seen, key=lambda numbers: cost(numbers, 0.0))
    points = [(still.kh(half), 0.0), *(_point(half, each) for each in seen.values())]
    return Bound(seen[least], least, line_of(points), len(seen))


def line_of(points: Iterable[Point]) -> tuple[Point, ...]:
    """Those points that no other beats in both degree-hours and electricity, the cheapest first."""
    line: list[Point] = []
    for kh, kwh in sorted(points, key=lambda point: (point[1], point[0])):
        if not line or kh < line[-1][0]:
            line.append((kh, kwh))
    return tuple(line)


def _point(half: Half, year: Reached) -> Point:
    return year.kh(half), year.fans_kwh
