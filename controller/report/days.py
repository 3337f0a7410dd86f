"""The days of a report: temperatures, heat and runs, and which of them deserve a picture."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING, Literal

from controller.record.tally import JOULES_PER_KWH, DayTally
from controller.report.calendar import DAY, days_between
from controller.report.data import Day, Picture
from controller.report.runs import WET_CODES

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import date

    from controller.report.calendar import Calendar
    from controller.report.data import Interval, Range, Run
    from controller.report.traces import Traces

Kind = Literal["best", "worst", "hottest"]
# A night is shown with the day before it, in which its heat was banked, until the house is warm again. [practice]
NIGHT_FROM, NIGHT_UNTIL = timedelta(hours=-18), timedelta(hours=12)
# A day of which less was seen is no fair example of anything. [practice]
LEAST_COVERED_H = 20.0


def days_of(
    first: date,
    last: date,
    calendar: Calendar,
    tallies: Iterable[DayTally],
    traces: Traces,
    runs: Iterable[Run],
) -> list[Day]:
    """Every day from the first to the last of which anything is known."""
    sums = {tally.date: tally for tally in tallies}
    pumped = defaultdict[date, Counter[bool]](Counter)
    for run in runs:
        if run.kind == "pump":
            pumped[calendar.local(run.began).date()][run.code in WET_CODES] += 1
    days = []
    for day in days_between(first, last):
        steps = traces.between(calendar.begin(day), calendar.begin(day + DAY))
        found = _day(day, sums.get(day.isoformat(), DayTally()), traces, steps, pumped[day])
        if found.covered_h or found.house or found.outdoors or found.soil:
            days.append(found)
    return days


def _day(day: date, sums: DayTally, traces: Traces, steps: slice, pumped: Mapping[bool, int]) -> Day:
    loops, pumps = sums.loops.values(), sums.pumps.values()
    return Day(
        date=day,
        covered_h=sums.covered_s / 3600.0,
        outdoors=traces.range_of("outdoors", steps),
        house=traces.range_of("house", steps),
        soil=traces.range_of("soil", steps),
        fan_h=sum(loop.run_s for loop in loops) / 3600.0,
        electricity_kwh=sum(loop.electricity_j for loop in loops) / JOULES_PER_KWH,
        banked_kwh=sum(loop.banked_j for loop in loops) / JOULES_PER_KWH,
        returned_kwh=sum(loop.returned_j for loop in loops) / JOULES_PER_KWH,
        pump_s=sum(pump.run_s for pump in pumps),
        pump_wet_runs=pumped.get(True, 0),
        pump_other_runs=pumped.get(False, 0),
    )


def pictures_of(
    days: Sequence[Day],
    raises: Mapping[date, Interval],
    calendar: Calendar,
    traces: Traces,
    runs: Sequence[Run],
) -> list[Picture]:
    """The best night, the worst night and the hottest day.

    The best night is the one that the store raised most; where that is not known, the one with most heat returned.
    The worst is the one with the coldest house.

    Args:
        days: of the report.
        raises: by what the store raised each night's minimum, by the day on which the night ended, as far as known.
        calendar: of the house.
        traces: its temperatures.
        runs: of fans and pumps.
    """
    whole = [day for day in days if day.covered_h >= LEAST_COVERED_H and day.house is not None]
    chosen: list[tuple[Kind, date]] = []
    best = max(raises, key=lambda day: raises[day].value, default=None) or _most_returned(whole)
    if best is not None:
        chosen.append(("best", best))
    if whole:
        chosen.append(("worst", min(whole, key=lambda day: _range(day).low_c).date))
        chosen.append(("hottest", max(whole, key=lambda day: _range(day).high_c).date))
    return [_picture(kind, day, raises.get(day), calendar, traces, runs) for kind, day in chosen]


def _most_returned(days: Iterable[Day]) -> date | None:
    best = max(days, key=lambda day: day.returned_kwh, default=None)
    return None if best is None or best.returned_kwh <= 0.0 else best.date


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
