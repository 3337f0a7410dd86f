"""What the messages about the past need from the history: two days as curves, a year in months."""

from __future__ import annotations

from datetime import date, timedelta
from statistics import fmean
from typing import TYPE_CHECKING, NamedTuple

from controller.readings.reading import Why

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from controller.history.queries import History, RecordedChange
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


class _Steps(NamedTuple):
    """Equal steps up to a moment."""

    begin_utc: datetime
    step_s: float
    number: int

    def of(self, at_utc: datetime) -> int:
        """The step a moment within them lies in."""
        return min(int((at_utc - self.begin_utc).total_seconds() // self.step_s), self.number - 1)

    def seconds(self, at_utc: datetime) -> float:
        """Seconds from their begin to a moment, within their range."""
        return min(max((at_utc - self.begin_utc).total_seconds(), 0.0), self.step_s * self.number)


def curves(
    history: History, settings: Settings, until_utc: datetime, step_s: float, count: int
) -> Mapping[tuple[str, str], Curve]:
    """Means of each of ``count`` steps before ``until_utc``: °C for air and soil, 0 to 1 for fans and pumps.

    Keys are what is shown (ceiling, bench, outdoor, soil, fan, pump) and the loop or sump, empty for the air.
    None where no probe of the place could be believed, and for motors where nothing was recorded.

    Raises:
        controller.history.database.StorageError: the file cannot be read.
    """
    steps = _Steps(until_utc - timedelta(seconds=step_s * count), step_s, count)
    places = {(place, ""): settings.probe_names(place) for place in ("ceiling", "bench", "outdoor")}
    places |= {("soil", loop): settings.probe_names("soil", loop) for loop in settings.loops}
    found: dict[tuple[str, str], list[list[float]]] = {key: [[] for _ in range(count)] for key in places}
    recorded = [False] * count
    run_ends: dict[int, datetime] = {}
    for sample in history.samples(steps.begin_utc, until_utc):
        step = steps.of(sample.when.at_utc)
        recorded[step] = True
        run_ends[sample.when.run_id] = sample.when.at_utc
        for key, probes in places.items():
            values = (sample.values.get(probe) for probe in probes)
            found[key][step].extend(v for v in values if v is not None and not isinstance(v, Why))
    means: dict[tuple[str, str], Curve] = {
        key: [fmean(step) if step else None for step in line] for key, line in found.items()
    }
    changes: dict[tuple[str, str], list[RecordedChange]] = {("fan", loop): [] for loop in settings.loops}
    changes |= {("pump", sump): [] for sump in settings.sumps}
    for change in history.changes(steps.begin_utc, until_utc):
        changes.get((change.output.kind.value, change.output.name), []).append(change)
    for key, line in changes.items():
        shares = _shares(line, run_ends, steps)
        means[key] = [share if known else None for share, known in zip(shares, recorded, strict=True)]
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
    loops = [loop for day in days for loop in day.loops.values()]
    pumps = [pump for day in days for pump in day.pumps.values()]
    return MonthTally(
        name,
        len(days),
        min((day.air_min_c for day in days if day.air_min_c is not None), default=None),
        max((day.air_max_c for day in days if day.air_max_c is not None), default=None),
        sum(loop.electricity_j for loop in loops) + sum(pump.electricity_j for pump in pumps),
        sum(loop.banked_j for loop in loops),
        sum(loop.returned_j for loop in loops),
    )


def _shares(changes: list[RecordedChange], run_ends: Mapping[int, datetime], steps: _Steps) -> list[float]:
    """Share of each step for which a motor was on; with the end of a run everything is off."""
    shares = [0.0] * steps.number
    on: RecordedChange | None = None
    for change in changes:
        if on is not None:
            same_run = on.when.run_id == change.when.run_id
            end_utc = change.when.at_utc if same_run else run_ends.get(on.when.run_id, on.when.at_utc)
            _add(shares, on.when.at_utc, end_utc, steps)
        on = change if change.on else None
    if on is not None:
        _add(shares, on.when.at_utc, run_ends.get(on.when.run_id, on.when.at_utc), steps)
    return shares


def _add(shares: list[float], from_utc: datetime, to_utc: datetime, steps: _Steps) -> None:
    """Add the time between two moments to the steps it lies in."""
    at_s, end_s = steps.seconds(from_utc), steps.seconds(to_utc)
    while at_s < end_s:
        step = int(at_s // steps.step_s)
        next_s = min((step + 1) * steps.step_s, end_s)
        shares[step] = min(shares[step] + (next_s - at_s) / steps.step_s, 1.0)
        at_s = next_s
