"""What could have been reached with the year known: a bound that was found by search, not proven.

One way of running the fans is written with numbers in it (when to return, from which difference and in which
months to bank). It sees the true temperatures, has no probe errors, no purge and no minimum run, and looks
every five minutes. For one given year and house the numbers are searched for that leave the fewest
degree-hours below 4 °C; electricity counts only between equals. The limits that protect roots and the
lockouts for water are kept, because a strategy that breaks those has not controlled better.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from controller.faults import DAY_S, HOUR_S
from controller.record.tally import JOULES_PER_KWH
from controller.rehearsal.tracker import COLD_C, HOT_C
from controller.simulator.house.model import Model
from controller.simulator.plant.probes import root_zone_depth_m
from controller.simulator.weather.load import load_weather
from tests.lab.scoreboard.cases import DAYS, FIRST_DAY

if TYPE_CHECKING:
    from controller.settings.schema import Settings
    from controller.simulator.weather.year import Weather
    from tests.lab.scoreboard.cases import Case

LOOK_S = 300.0
RETURN_BAND_K = 0.5
BANK_BAND_K = 1.0


@dataclass(frozen=True, slots=True)
class Numbers:
    """How the fans are run.

    Attributes:
        return_below_c: crop air at which the first loop returns heat.
        spread_k: how much colder it must be for the last loop to join.
        return_from_k: soil over roof air from which returning is worth it.
        bank_from_k: roof air over soil from which banking is worth it.
        bank_floor_c: crop air that banking must not cool below.
        bank_first_day: day of the year on which banking begins.
        bank_last_day: day of the year on which it ends; the same as the first for all year.
    """

    return_below_c: float = 4.3
    spread_k: float = 0.3
    return_from_k: float = 0.3
    bank_from_k: float = 1.0
    bank_floor_c: float = 4.7
    bank_first_day: float = 182.0
    bank_last_day: float = 181.0


STILL = Numbers(return_below_c=-99.0, bank_floor_c=99.0)

# What is tried for each number, besides what is best so far.
TRIED: dict[str, tuple[float, ...]] = {
    "bank_from_k": (0.5, 2.0),
    "bank_floor_c": (4.3,),
    "return_from_k": (0.1,),
    "return_below_c": (4.1, 4.6),
    "spread_k": (0.0, 0.6),
    "bank_first_day": (220.0,),
    "bank_last_day": (150.0,),
}
# The numbers lean on each other, so that more rounds find a little more; each takes minutes for a case.
ROUNDS = 1


@dataclass(frozen=True, slots=True)
class Reached:
    """What a season came to."""

    cold_kh: float
    hot_kh: float
    fans_kwh: float
    heat_kwh: float


@dataclass(frozen=True, slots=True)
class Bound:
    """The best season that was found, and the numbers that reached it."""

    reached: Reached
    numbers: Numbers
    tried: int


def find_bound(case: Case) -> Bound:
    """Search number by number for the season with the fewest degree-hours below 4 °C."""
    settings, weather = case.settings(), load_weather(case.weather, case.seed)
    best, tried = Numbers(), 1
    reached = season(settings, weather, best)
    for _ in range(ROUNDS):
        before = best
        for number, values in TRIED.items():
            for value in values:
                numbers = replace(best, **{number: value})
                if numbers == best:
                    continue
                now = season(settings, weather, numbers)
                tried += 1
                if (now.cold_kh, now.fans_kwh) < (reached.cold_kh, reached.fans_kwh):
                    best, reached = numbers, now
        if best == before:
            break
    return Bound(reached, best, tried)


def season(settings: Settings, weather: Weather, numbers: Numbers, days: float = DAYS) -> Reached:
    """Run a season with these numbers.

    Raises:
        ModelError: the tubes do not fit the house.
    """
    start_s = weather.seconds_into_year(FIRST_DAY)
    model = Model(settings, weather, start_s)
    hands = _Hands(settings, model, numbers)
    passed_s = cold_ks = hot_ks = 0.0
    while passed_s < days * DAY_S:
        day = (start_s + passed_s) / DAY_S % 365.0
        hands.look(day)
        left_s = LOOK_S
        while left_s > 1e-3:
            hands.mind_the_water()
            done_s = model.advance(passed_s, left_s)
            hands.passed(done_s)
            passed_s += done_s
            left_s -= done_s
        air_c = model.house.bench_c
        cold_ks += max(COLD_C - air_c, 0.0) * LOOK_S
        hot_ks += max(air_c - HOT_C, 0.0) * LOOK_S
    books = model.sums
    return Reached(
        cold_ks / HOUR_S,
        hot_ks / HOUR_S,
        books.fans_j / JOULES_PER_KWH,
        (books.charged_j + books.discharged_j) / JOULES_PER_KWH,
    )


class _Hands:
    """Switches the fans and pumps of a model by these numbers."""

    def __init__(self, settings: Settings, model: Model, numbers: Numbers) -> None:
        self._numbers, self._model = numbers, model
        self._points = settings.setpoints
        self._drain_down_s = settings.pump.drain_down_s
        loops = list(settings.loops.values())
        self._depths_m = [loop.depth_m for loop in loops]
        with_root_probe = {probe.loop for probe in settings.probes.values() if probe.place == "root-zone"}
        self._roots_m = [
            root_zone_depth_m(loop.depth_m) if name in with_root_probe else loop.depth_m
            for name, loop in settings.loops.items()
        ]
        self._sump_of = [model.sump_names.index(loop.sump) for loop in loops]
        self._dry_s = [self._drain_down_s] * len(model.sump_names)
        self._returning = [False] * len(loops)
        self._banking = [False] * len(loops)

    def look(self, day: float) -> None:
        """Switch the fans for the next stretch."""
        model, loops = self._model, range(len(self._depths_m))
        air_c, roof_c = model.house.bench_c, model.house.ceiling_c
        soil_c = [model.soil_c(loop, depth_m) for loop, depth_m in enumerate(self._depths_m)]
        warmest_first = sorted(loops, key=lambda loop: (not self._returning[loop], -soil_c[loop]))
        for place, loop in enumerate(warmest_first):
            share = place / max(len(soil_c) - 1, 1)
            root_c = model.soil_c(loop, self._roots_m[loop])
            self._returning[loop] = self._worth_returning(loop, share, air_c, soil_c[loop] - roof_c, root_c)
            self._banking[loop] = self._worth_banking(loop, day, air_c, roof_c - soil_c[loop], root_c)
            model.switches[loop] = float(self._returning[loop] or self._banking[loop])

    def _worth_returning(self, loop: int, share: float, air_c: float, over_k: float, root_c: float) -> bool:
        numbers, on = self._numbers, self._returning[loop]
        below_c = numbers.return_below_c - share * numbers.spread_k + (RETURN_BAND_K if on else 0.0)
        from_k = numbers.return_from_k * (0.5 if on else 1.0)
        return air_c <= below_c and over_k >= from_k and root_c > self._points.root_zone_min_c

    def _worth_banking(self, loop: int, day: float, air_c: float, over_k: float, root_c: float) -> bool:
        numbers = self._numbers
        first, last = numbers.bank_first_day, numbers.bank_last_day
        in_season = first <= day < last if first < last else (day >= first or day < last)
        from_k = numbers.bank_from_k - (BANK_BAND_K if self._banking[loop] else 0.0)
        wanted = in_season and air_c >= numbers.bank_floor_c and over_k >= max(from_k, 0.0)
        return wanted and root_c < self._points.root_zone_max_c

    def mind_the_water(self) -> None:
        """Pump while a float is wet; no fan then, nor while the tubes drain."""
        model, fans = self._model, len(self._depths_m)
        for sump, dry_s in enumerate(self._dry_s):
            wet = model.sumps[sump].float_wet > 0.0
            model.switches[fans + sump] = float(wet)
            if wet or dry_s < self._drain_down_s:
                for loop, mine in enumerate(self._sump_of):
                    if mine == sump:
                        model.switches[loop] = 0.0
                        self._returning[loop] = self._banking[loop] = False

    def passed(self, time_s: float) -> None:
        """Time went by, all of it with the floats as they were at its beginning."""
        fans = len(self._depths_m)
        for sump, dry_s in enumerate(self._dry_s):
            was_wet = self._model.switches[fans + sump] > 0.0
            self._dry_s[sump] = 0.0 if was_wet else dry_s + time_s
