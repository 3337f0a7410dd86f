"""What the messages about the past need from the history: two days as curves, a year in months."""

from __future__ import annotations

from datetime import date, timedelta
from functools import reduce
from statistics import fmean
from typing import TYPE_CHECKING, NamedTuple

from controller.history.series import LONGEST_RUN, Grid, running_shares
from controller.readings.reading import Why
from controller.record.tally import added

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from controller.history.queries import History
    from controller.record.tally import DayTally
    from controller.settings.schema import Settings

Curve = list[float | None]


class MonthTally(NamedTuple):
    """Sums of one month: its name (``2026-11``), days with records, coldest and warmest air, heat in J."""

    month: str
    days: int
    air_min_c: float | None
    air_max_c: float | None
    electricity_j: float
    banked_j: float
    returned_j: float


def curves(
    history: History, settings: Settings, until_utc: datetime, step_s: float, count: int
) -> Mapping[tuple[str, str], Curve]:
    """Means of each of ``count`` steps before ``until_utc``: °C for air and soil, 0 to 1 for fans and pumps.

    Keys are what is shown (ceiling, bench, outdoor, soil, fan, pump) and the loop or sump, empty for the air.
    None where no probe of the place could be believed, and for motors where nothing was recorded.

    Raises:
        controller.history.database.StorageError: the file cannot be read.
    """
    begin_utc = until_utc - timedelta(seconds=step_s * count)
    grid = Grid(begin_utc.timestamp(), step_s, count)
    places = {(place, ""): settings.probe_names(place) for place in ("ceiling", "bench", "outdoor")}
    places |= {("soil", loop): settings.probe_names("soil", loop) for loop in settings.loops}
    found: dict[tuple[str, str], list[list[float]]] = {key: [[] for _ in range(count)] for key in places}
    recorded = [False] * count
    seen_s: dict[int, float] = {}
    for sample in history.samples(begin_utc, until_utc):
        at_s = sample.when.at_utc.timestamp()
        step = grid.step_of(at_s)
        recorded[step] = True
        seen_s[sample.when.run_id] = at_s
        for key, probes in places.items():
            values = (sample.values.get(probe) for probe in probes)
            found[key][step].extend(v for v in values if v is not None and not isinstance(v, Why))
    means: dict[tuple[str, str], Curve] = {
        key: [fmean(step) if step else None for step in line] for key, line in found.items()
    }
    changes = history.changes(begin_utc - LONGEST_RUN, until_utc)
    for output, shares in running_shares(changes, settings, grid, seen_s, runs_on_s=0.0).items():
        known = zip(shares, recorded, strict=True)
        means[output.kind.value, output.name] = [share if seen else None for share, seen in known]
    return means


def months(history: History, today: date) -> tuple[MonthTally, ...]:
    """The twelve months before this one and this one up to yesterday, those with records only, oldest first.

    Raises:
        controller.history.database.StorageError: the file cannot be read.
    """
    first = date(today.year - 1, today.month, 1)
    days: dict[str, list[DayTally]] = {}
    for day in history.days(first, today - timedelta(days=1)):
        days.setdefault(str(day.date)[:7], []).append(day)
    return tuple(_month(name, days[name]) for name in sorted(days))


def _month(name: str, days: list[DayTally]) -> MonthTally:
    sums = reduce(added, days)
    return MonthTally(
        name,
        len(days),
        sums.air_min_c,
        sums.air_max_c,
        sums.electricity_j,
        sums.banked_j,
        sums.returned_j,
    )
