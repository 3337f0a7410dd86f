"""The days of a report: temperatures, heat and runs, and which of them deserve a picture."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING, Literal

from controller.record.tally import JOULES_PER_KWH, DayTally
from controller.report.calendar import DAY, days_between
from controller.report.data import Day, Picture
from controller.report.runs import Water

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import date

    from controller.evidence.accounting import Account
    from controller.report.calendar import Calendar
    from controller.report.data import Interval, Run
    from controller.report.traces import Traces

Kind = Literal["best", "worst", "hottest"]
# A night is shown with the day before, in which its heat was banked, until the house is warm. [practice]
NIGHT_FROM, NIGHT_UNTIL = timedelta(hours=-18), timedelta(hours=12)
HALF_DAY = timedelta(hours=12)
# A day of which less was seen is no fair example of anything. [practice]
LEAST_COVERED_H = 20.0


@dataclass(frozen=True, slots=True)
class Known:
    """What the history has of the days.

    Attributes:
        traces: temperatures.
        account: heat.
        tallies: the controller's own sums, by date.
    """

    traces: Traces
    account: Account
    tallies: Mapping[str | None, DayTally]


def days_of(
    first: date,
    last: date,
    calendar: Calendar,
    known: Known,
    runs: Iterable[Run],
) -> list[Day]:
    """Every day from the first to the last of which anything is known."""
    water: defaultdict[date, Water] = defaultdict(Water)
    for run in runs:
        water[calendar.local(run.began if run.kind == "pump" else run.ended).date()].add(run)
    days = []
    for day in days_between(first, last):
        steps = known.traces.between(calendar.begin(day), calendar.begin(day + DAY))
        found = _day(day, known, steps, water[day])
        if found.covered_h or found.house or found.outdoors or found.soil:
            days.append(found)
    return days


def _day(day: date, known: Known, steps: slice, water: Water) -> Day:
    sums = known.tallies.get(day.isoformat(), DayTally())
    heat, traces = known.account.day(day), known.traces
    return Day(
        date=day,
        covered_h=sums.covered_s / 3600.0,
        outdoors=traces.range_of("outdoors", steps),
        house=traces.range_of("house", steps),
        soil=traces.range_of("soil", steps),
        fan_h=heat.run_s / 3600.0,
        electricity_kwh=heat.electricity_j / JOULES_PER_KWH,
        banked_kwh=heat.banked_j / JOULES_PER_KWH,
        returned_kwh=heat.returned_j / JOULES_PER_KWH,
        pump_wet_runs=water.wet_runs,
        pump_wet_s=water.wet_s,
        pump_other_runs=water.other_runs,
        pump_other_s=water.other_s,
        fans_stopped_by_water=water.fans_stopped,
    )


def pictures_of(
    days: Sequence[Day],
    raises: Mapping[date, Interval],
    calendar: Calendar,
    traces: Traces,
    runs: Sequence[Run],
) -> list[Picture]:
    """The worst night, the best of the others, and the hottest day.

    The worst is the one with the coldest house; the best is the one that the store raised most, or, where
    that is not known, the one with most heat returned.

    Args:
        days: of the report.
        raises: by what the store raised each night's minimum, as far as known, by the day on which that
            night ended.
        calendar: of the house.
        traces: its temperatures.
        runs: of fans and pumps.
    """
    show = _Show(calendar, traces, runs)
    whole = [day for day in days if day.covered_h >= LEAST_COVERED_H]
    highs = {day.date: day.house.high_c for day in whole if day.house is not None}
    lows = {day.date: low for day in whole if (low := show.night_low_c(day.date)) is not None}
    chosen: list[tuple[Kind, date]] = []
    if lows:
        worst = min(lows, key=lambda day: lows[day])
        best = _best([day for day in whole if day.date in lows and day.date != worst], raises)
        chosen = [("worst", worst)] if best is None else [("best", best), ("worst", worst)]
    if highs:
        chosen.append(("hottest", max(highs, key=lambda day: highs[day])))
    return [show.picture(kind, day, raises.get(day)) for kind, day in chosen]


def _best(days: Iterable[Day], raises: Mapping[date, Interval]) -> date | None:
    """The night that the store helped most."""

    def worth(day: Day) -> tuple[bool, float]:
        return (True, raises[day.date].value) if day.date in raises else (False, day.returned_kwh)

    best = max(days, key=worth, default=None)
    return None if best is None or worth(best)[1] <= 0.0 else best.date


@dataclass(frozen=True, slots=True)
class _Show:
    """Makes pictures of days and of the nights that end on them."""

    calendar: Calendar
    traces: Traces
    runs: Sequence[Run]

    def night_low_c(self, day: date) -> float | None:
        """The lowest temperature of the house from the noon before to the noon of a day."""
        found = self.traces.range_of("house", self._steps(day, -HALF_DAY, HALF_DAY))
        return None if found is None else found.low_c

    def picture(self, kind: Kind, day: date, raised: Interval | None) -> Picture:
        """The hottest day from midnight to midnight; a night with the day before it."""
        span = (timedelta(), DAY) if kind == "hottest" else (NIGHT_FROM, NIGHT_UNTIL)
        began, ended = (self.calendar.utc(datetime.combine(day, time()) + part) for part in span)
        house = self.traces.range_of("house", self._steps(day, *span))
        return Picture(
            kind=kind,
            date=day,
            began=began,
            ended=ended,
            step_s=self.traces.series.step_s,
            lines=self.traces.lines(self._steps(day, *span)),
            runs=sorted(
                (run for run in self.runs if run.ended > began and run.began < ended),
                key=lambda run: run.began,
            ),
            raise_k=raised if kind != "hottest" else None,
            low_c=self.night_low_c(day) if kind != "hottest" else None if house is None else house.low_c,
            high_c=None if house is None else house.high_c,
        )

    def _steps(self, day: date, began: timedelta, ended: timedelta) -> slice:
        """The steps of a span around the midnight at which a day begins."""
        midnight = datetime.combine(day, time())
        return self.traces.between(*(self.calendar.utc(midnight + part) for part in (began, ended)))
