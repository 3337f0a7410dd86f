"""The days of a report: temperatures, heat and runs, and which of them deserve a picture."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING, Literal

from controller.evidence.accounting import JOULES_PER_KWH
from controller.record.tally import DayTally
from controller.report.calendar import DAY, days_between
from controller.report.data import Day, Picture
from controller.report.runs import Water

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import date

    from controller.evidence.accounting import Account
    from controller.report.calendar import Calendar
    from controller.report.data import Interval, Range, Run
    from controller.report.traces import Traces

Kind = Literal["best", "worst", "hottest"]
# A night is shown with the day before, in which its heat was banked, until the house is warm. [practice]
NIGHT_FROM, NIGHT_UNTIL = timedelta(hours=-18), timedelta(hours=12)
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
    whole = [day for day in days if day.covered_h >= LEAST_COVERED_H and day.house is not None]
    if not whole:
        return []
    worst = min(whole, key=lambda day: _range(day).low_c).date
    hottest = max(whole, key=lambda day: _range(day).high_c).date
    best = _best([day for day in whole if day.date != worst], raises)
    chosen: list[tuple[Kind, date]] = [("worst", worst), ("hottest", hottest)]
    if best is not None:
        chosen.insert(0, ("best", best))
    return [_picture(kind, day, raises.get(day), calendar, traces, runs) for kind, day in chosen]


def _best(days: Iterable[Day], raises: Mapping[date, Interval]) -> date | None:
    """The night that the store helped most."""

    def worth(day: Day) -> tuple[bool, float]:
        return (True, raises[day.date].value) if day.date in raises else (False, day.returned_kwh)

    best = max(days, key=worth, default=None)
    return None if best is None or worth(best)[1] <= 0.0 else best.date


def _range(day: Day) -> Range:
    if day.house is None:
        raise ValueError(f"nothing is known of the house on {day.date}")
    return day.house


def _picture(
    kind: Kind,
    day: date,
    raised: Interval | None,
    calendar: Calendar,
    traces: Traces,
    runs: Iterable[Run],
) -> Picture:
    midnight = datetime.combine(day, time())
    span = (timedelta(), DAY) if kind == "hottest" else (NIGHT_FROM, NIGHT_UNTIL)
    began, ended = (calendar.utc(midnight + part) for part in span)
    steps = traces.between(began, ended)
    house = traces.range_of("house", steps)
    return Picture(
        kind=kind,
        date=day,
        began=began,
        ended=ended,
        step_s=traces.series.step_s,
        lines=traces.lines(steps),
        runs=sorted(
            (run for run in runs if run.ended > began and run.began < ended), key=lambda run: run.began
        ),
        raise_k=raised if kind != "hottest" else None,
        low_c=None if house is None else house.low_c,
        high_c=None if house is None else house.high_c,
    )
