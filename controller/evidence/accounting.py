"""Heat accounts by loop and local day: what went into the soil, what came back, and how well that is known.

Dry heat is measured: flow times the heat capacity of air times ceiling less outlet, and the heat of the
fan, which the air takes along. Intervals here hold the truth in 95 of 100 cases: expanded uncertainty with a
factor of 2 (GUM, JCGM 100:2008) [memory]. They are carried as parts that do not average out, because the
offset of a probe and the error of the flow are the same all season.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from controller.evidence.heat import LATENT_J_KG, doubts_of, heat_of
from controller.evidence.interval import Interval
from controller.evidence.series import day_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import date

    from controller.evidence.heat import LoopHeat
    from controller.evidence.series import LocalOffset, Series
    from controller.settings.schema import Loop, Settings

K = 2.0  # expanded uncertainty, about 95 %
# Standard uncertainty of one probe: anything within 0.5 K is as likely (DS18B20 data sheet; GUM 4.3.7).
PROBE_K = 0.5 / math.sqrt(3.0)
FLOW_SHARE = 0.10  # of a flow measured by hand at the outlets, standard uncertainty [practice]
FAN_SHARE = 0.2  # of the fan's electricity, which may not all reach the air [practice]
FILM_KG_M2 = 0.06  # water that clings to a plastic wall before it runs [practice]
METHOD_SHARE = 0.03  # of readings five minutes apart, and of the weight of the air [practice]


@dataclass(frozen=True, slots=True)
class Heat:
    """Sums over a loop or several, and over a day or more; they can be added.

    Attributes:
        run_s: seconds the fans ran.
        electricity_j: of the fans.
        banked_j: dry heat that went into the soil, fan heat included.
        returned_j: dry heat that came out of the soil.
        banked_j_per_k: what the first would grow by with each kelvin that ceiling less outlet grows.
        returned_j_per_k: the same of the second, with a kelvin that it shrinks.
        banked_fan_j: fan heat in the first.
        returned_fan_j: fan heat that the house got besides the second.
        moisture_j: the most that condensing moisture may have brought into the soil besides.
        drying_j: the most that drying tubes may have taken out of it besides.
    """

    run_s: float = 0.0
    electricity_j: float = 0.0
    banked_j: float = 0.0
    returned_j: float = 0.0
    banked_j_per_k: float = 0.0
    returned_j_per_k: float = 0.0
    banked_fan_j: float = 0.0
    returned_fan_j: float = 0.0
    moisture_j: float = 0.0
    drying_j: float = 0.0

    def __add__(self, other: Heat) -> Heat:
        """Both together."""
        return Heat(*(getattr(self, name) + getattr(other, name) for name in self.__slots__))

    @property
    def banked(self) -> Interval:
        """Dry heat into the soil in J."""
        return _interval(self.banked_j, self.banked_j_per_k, self.banked_fan_j)

    @property
    def returned(self) -> Interval:
        """Dry heat out of the soil in J."""
        return _interval(self.returned_j, self.returned_j_per_k, self.returned_fan_j)

    @property
    def banked_with_moisture(self) -> Interval:
        """All heat into the soil in J; its value stands in the middle of what moisture may bring."""
        most = _interval(self.banked_j + self.moisture_j, self.banked_j_per_k, self.banked_fan_j)
        return Interval(self.banked_j + 0.5 * self.moisture_j, self.banked.low, most.high)

    @property
    def returned_with_drying(self) -> Interval:
        """All heat out of the soil in J; its value stands in the middle of what drying may take."""
        dry = self.returned
        return Interval(dry.value + 0.5 * self.drying_j, dry.low, dry.high + self.drying_j)

    @property
    def latent_share(self) -> tuple[float, float]:
        """Least and most of moisture's share in the heat banked, 0 to 1."""
        whole_j = self.banked_j + self.moisture_j
        return 0.0, self.moisture_j / whole_j if whole_j > 0.0 else 0.0

    @property
    def heat_per_kwh(self) -> Interval | None:
        """Dry heat given back to the house, fan heat included, in kWh per kWh of electricity of all runs."""
        if self.electricity_j <= 0.0:
            return None
        given = self.returned
        fan_j = self.returned_fan_j
        return Interval(*((part + fan_j) / self.electricity_j for part in given))


def _interval(heat_j: float, j_per_k: float, fan_j: float) -> Interval:
    """Heat with its expanded uncertainty; less than nothing cannot have been moved that way."""
    parts = (
        math.sqrt(2.0) * PROBE_K * j_per_k,
        math.hypot(FLOW_SHARE, METHOD_SHARE) * heat_j,
        FAN_SHARE * fan_j,
    )
    half_j = K * math.sqrt(sum(part * part for part in parts))
    return Interval(heat_j, max(heat_j - half_j, 0.0), heat_j + half_j)


@dataclass(frozen=True, slots=True)
class Account:
    """The accounts of a range of the log.

    Attributes:
        days: by local date and loop; days on which a loop stood are left out.
        doubts: sentences on outlets that are not believed, by loop.
    """

    days: Mapping[date, Mapping[str, Heat]]
    doubts: Mapping[str, str]

    def day(self, day: date) -> Heat:
        """All loops on a day."""
        return total(self.days.get(day, {}).values())

    def by_month(self) -> dict[str, Heat]:
        """All loops, by month as in 2026-11."""
        months: dict[str, list[Heat]] = defaultdict(list)
        for day in self.days:
            months[day.isoformat()[:7]].append(self.day(day))
        return {month: total(days) for month, days in sorted(months.items())}

    def by_loop(self) -> dict[str, Heat]:
        """The whole range, by loop."""
        loops: dict[str, list[Heat]] = defaultdict(list)
        for heats in self.days.values():
            for name, heat in heats.items():
                loops[name].append(heat)
        return {name: total(heats) for name, heats in loops.items()}

    @property
    def whole(self) -> Heat:
        """All loops and the whole range."""
        return total(self.by_loop().values())


def total(heats: Iterable[Heat]) -> Heat:
    """Several added up."""
    return sum(heats, start=Heat())


def account(series: Series, settings: Settings, offset: LocalOffset) -> Account:
    """The heat accounts of a log.

    Args:
        series: the log.
        settings: loops and probes.
        offset: of local time.
    """
    heats = heat_of(series, settings)
    days: dict[date, dict[str, Heat]] = defaultdict(dict)
    dates = [day_of(local_s) for local_s in series.local_s(offset)]
    for name, loop in heats.items():
        by_day: dict[date, list[Heat]] = defaultdict(list)
        for step, on in enumerate(series.fans[name]):
            if on > 0.0:
                by_day[dates[step]].append(_step(loop, step, on * series.step_s, series.step_s))
        film_j = _film_j(settings.loops[name])
        for day, steps in by_day.items():
            heat = total(steps)
            days[day][name] = replace(heat, drying_j=film_j) if heat.returned_j > 0.0 else heat
    return Account(dict(sorted(days.items())), doubts_of(heats))


def _film_j(loop: Loop) -> float:
    """Heat that it takes to dry the walls of a loop's tubes once."""
    wall_m2 = math.pi * loop.tube_diameter_m * loop.tube_length_m * loop.tubes
    return FILM_KG_M2 * wall_m2 * LATENT_J_KG


def _step(loop: LoopHeat, step: int, run_s: float, step_s: float) -> Heat:
    """One step of one loop."""
    electricity_j, j_per_k = loop.power_w * run_s, loop.air_w_per_k * run_s
    heat_j = loop.heat_w[step] * step_s
    if heat_j > 0.0:
        return Heat(
            run_s,
            electricity_j,
            banked_j=heat_j,
            banked_j_per_k=j_per_k,
            banked_fan_j=electricity_j,
            moisture_j=loop.moisture_w[step] * step_s,
        )
    return Heat(
        run_s, electricity_j, returned_j=-heat_j, returned_j_per_k=j_per_k, returned_fan_j=electricity_j
    )
