"""Fans that are run by a hand that knows the year: what ``bound.py`` searches with.

The hand works by a few numbers (when to return warmth, from which difference on to bank, how long before
frost; from when on to cool, and when to cool the soil by night). It sees the true temperatures, has no probe
errors, no purge of the tubes and no minimum run, and looks every five minutes. It knows how far off the next
frost and the next heat are in the same house without fans. The limits that protect roots and the lockouts
for water are kept, because a strategy that breaks those has not controlled better.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from controller.faults import DAY_S, HOUR_S
from controller.record.tally import JOULES_PER_KWH
from controller.rehearsal.tracker import COLD_C, HOT_C
from controller.simulator.house.model import Model
from controller.simulator.plant.probes import root_zone_depth_m
from tests.lab.scoreboard.cases import DAYS, FIRST_DAY
from tests.lab.scoreboard.reached import reached

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from controller.settings.schema import Settings
    from controller.simulator.weather.year import Weather
    from tests.lab.scoreboard.reached import Reached

LOOK_S = 300.0
LOOKS_AN_HOUR = round(HOUR_S / LOOK_S)
RETURN_FROM_K = 0.3  # soil over roof air
RETURN_BAND_K = 0.5
SPREAD_K = 0.3  # how much colder it must be for the last loop to join
BANK_BAND_K = 1.0
BANK_FLOOR_C = 4.7  # crop air that banking must not cool below
COOL_BAND_K = 1.0
PURGE_BAND_K = 0.5
PURGE_AHEAD_DAYS = 2.0  # the soil is cooled by night only this long before a hot hour
NEVER, ALWAYS = 1e9, -1e9


@dataclass(frozen=True, slots=True)
class Numbers:
    """How the fans are run. As they stand they only warm, and bank all year.

    Attributes:
        return_below_c: crop air at which the first loop returns heat.
        bank_from_k: roof air over soil from which banking is worth it.
        bank_full_c: soil so warm that no more is banked.
        bank_ahead_days: how long before a frosty hour banking begins.
        cool_above_c: crop air from which the house is cooled.
        cool_from_k: roof air over soil from which cooling is worth it.
        purge_from_k: soil over roof air from which cooling the soil by night is worth it.
        purge_to_c: soil that is cool enough.
    """

    return_below_c: float = 4.3
    bank_from_k: float = 1.0
    bank_full_c: float = NEVER
    bank_ahead_days: float = NEVER
    cool_above_c: float = NEVER
    cool_from_k: float = 5.0
    purge_from_k: float = NEVER
    purge_to_c: float = 27.0


STILL = Numbers(return_below_c=ALWAYS, bank_from_k=NEVER)


@dataclass(frozen=True, slots=True)
class Ahead:
    """Hours from each hour of the year to the next that is frosty, and to the next that is hot."""

    frost_h: NDArray[np.float64]
    heat_h: NDArray[np.float64]

    @classmethod
    def of(cls, bench_c: Sequence[float]) -> Ahead:
        """What is ahead in a house without fans, from its crop air hour by hour."""
        air_c = np.asarray(bench_c)
        return cls(_hours_to_next(air_c < COLD_C), _hours_to_next(air_c > HOT_C))


def _hours_to_next(there: NDArray[np.bool_]) -> NDArray[np.float64]:
    hours = np.arange(there.size, dtype=np.float64)
    nearest = np.minimum.accumulate(np.where(there, hours, NEVER)[::-1])[::-1]
    return nearest - hours


def season(
    settings: Settings,
    weather: Weather,
    numbers: Numbers,
    days: float = DAYS,
    ahead: Ahead | None = None,
) -> Reached:
    """Run a year with these numbers.

    Args:
        settings: of the house.
        weather: the year.
        numbers: how the fans are run.
        days: how many of the year.
        ahead: what is known of it; without it frost and heat are taken to be always near.

    Raises:
        ModelError: the tubes do not fit the house.
    """
    return season_by_hour(settings, weather, numbers, days, ahead)[0]


def season_by_hour(
    settings: Settings,
    weather: Weather,
    numbers: Numbers,
    days: float = DAYS,
    ahead: Ahead | None = None,
    *,
    untouched_soil: bool = False,
) -> tuple[Reached, list[float]]:
    """As ``season``, and the air among the crop at the end of each hour.

    With ``untouched_soil`` the ground is kept as warm as it is at that time in the same house without fans:
    it takes and gives heat for nothing.
    """
    first_s = weather.seconds_into_year(FIRST_DAY)
    model = Model(settings, weather, first_s)
    hands = _Hands(settings, model, numbers)
    still = Model(settings, weather, first_s) if untouched_soil else None
    idle = None if still is None else _Hands(settings, still, STILL)
    cold_ks = hot_ks = 0.0
    bench_c: list[float] = []
    used_j = [0.0]
    for look in range(round(days * DAY_S / LOOK_S)):
        hour = look // LOOKS_AN_HOUR
        if still is not None and idle is not None:
            model.temp_c[...] = still.temp_c
            idle.look(0.0, 0.0)
            idle.wait(look * LOOK_S)
        frost_h, heat_h = (ahead.frost_h[hour], ahead.heat_h[hour]) if ahead is not None else (0.0, 0.0)
        hands.look(frost_h / 24.0, heat_h / 24.0)
        hands.wait(look * LOOK_S)
        air_c = float(model.house.bench_c)
        cold_ks += max(COLD_C - air_c, 0.0) * LOOK_S
        hot_ks += max(air_c - HOT_C, 0.0) * LOOK_S
        if (look + 1) % LOOKS_AN_HOUR == 0:
            bench_c.append(air_c)
            used_j.append(float(model.sums.fans_j))
    kwh = np.diff(used_j) / JOULES_PER_KWH
    return reached(settings, cold_ks / HOUR_S, hot_ks / HOUR_S, bench_c, kwh), bench_c


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
        self._runs_for = [""] * len(loops)

    def look(self, frost_days: float, heat_days: float) -> None:
        """Switch the fans for the next stretch; frost and heat are this far off."""
        model, loops = self._model, range(len(self._depths_m))
        soil_c = [model.soil_c(loop, depth_m) for loop, depth_m in enumerate(self._depths_m)]
        warmest_first = sorted(loops, key=lambda loop: (self._runs_for[loop] != "return", -soil_c[loop]))
        for place, loop in enumerate(warmest_first):
            share = place / max(len(soil_c) - 1, 1)
            root_c = model.soil_c(loop, self._roots_m[loop])
            wanted = ""
            if self._worth_returning(loop, share, soil_c[loop], root_c):
                wanted = "return"
            elif self._worth_cooling(loop, soil_c[loop], root_c):
                wanted = "cool"
            elif self._worth_banking(loop, frost_days, soil_c[loop], root_c):
                wanted = "bank"
            elif heat_days <= PURGE_AHEAD_DAYS and self._worth_purging(loop, soil_c[loop], root_c):
                wanted = "purge"
            self._runs_for[loop] = wanted
            model.switches[loop] = float(wanted != "")

    def _worth_returning(self, loop: int, share: float, soil_c: float, root_c: float) -> bool:
        numbers, house, on = self._numbers, self._model.house, self._runs_for[loop] == "return"
        below_c = numbers.return_below_c - share * SPREAD_K + (RETURN_BAND_K if on else 0.0)
        from_k = RETURN_FROM_K * (0.5 if on else 1.0)
        wanted = house.bench_c <= below_c and soil_c - house.ceiling_c >= from_k
        return bool(wanted and root_c > self._points.root_zone_min_c)

    def _worth_banking(self, loop: int, frost_days: float, soil_c: float, root_c: float) -> bool:
        numbers, house, on = self._numbers, self._model.house, self._runs_for[loop] == "bank"
        from_k = max(numbers.bank_from_k - (BANK_BAND_K if on else 0.0), 0.0)
        in_season = frost_days <= numbers.bank_ahead_days and soil_c < numbers.bank_full_c
        wanted = house.bench_c >= BANK_FLOOR_C and house.ceiling_c - soil_c >= from_k
        return bool(in_season and wanted and root_c < self._points.root_zone_max_c)

    def _worth_cooling(self, loop: int, soil_c: float, root_c: float) -> bool:
        numbers, house, on = self._numbers, self._model.house, self._runs_for[loop] == "cool"
        band_k = COOL_BAND_K if on else 0.0
        wanted = house.ceiling_c - soil_c >= numbers.cool_from_k - band_k
        hot = house.bench_c >= numbers.cool_above_c - band_k
        return bool(hot and wanted and root_c < self._points.root_zone_rescue_max_c)

    def _worth_purging(self, loop: int, soil_c: float, root_c: float) -> bool:
        numbers, on = self._numbers, self._runs_for[loop] == "purge"
        to_c = numbers.purge_to_c + (0.0 if on else PURGE_BAND_K)
        wanted = soil_c - self._model.house.ceiling_c >= numbers.purge_from_k - (PURGE_BAND_K if on else 0.0)
        return bool(wanted and soil_c >= to_c and root_c > self._points.root_zone_min_c)

    def wait(self, passed_s: float) -> None:
        """Let the time to the next look pass; pump while a float is wet."""
        left_s = LOOK_S
        while left_s > 1e-3:
            self._mind_the_water()
            done_s = self._model.advance(passed_s, left_s)
            self._passed(done_s)
            passed_s += done_s
            left_s -= done_s

    def _mind_the_water(self) -> None:
        """Pump while a float is wet; no fan then, nor while the tubes drain."""
        model, fans = self._model, len(self._depths_m)
        for sump, dry_s in enumerate(self._dry_s):
            wet = model.sumps[sump].float_wet > 0.0
            model.switches[fans + sump] = float(wet)
            if wet or dry_s < self._drain_down_s:
                for loop, mine in enumerate(self._sump_of):
                    if mine == sump:
                        model.switches[loop] = 0.0
                        self._runs_for[loop] = ""

    def _passed(self, time_s: float) -> None:
        """Time went by, all of it with the floats as they were at its beginning."""
        fans = len(self._depths_m)
        for sump, dry_s in enumerate(self._dry_s):
            was_wet = self._model.switches[fans + sump] > 0.0
            self._dry_s[sump] = 0.0 if was_wet else dry_s + time_s
