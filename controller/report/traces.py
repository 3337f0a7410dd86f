"""Temperatures by place, step by step, and what they were on each day."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Literal

from controller.report.data import Line, Pause, Range

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.evidence.series import Series
    from controller.settings.schema import Settings

Place = Literal["outdoors", "soil", "roof", "house", "outlet"]
Column = list[float | None]
# Only a fan that ran for most of a step shows the air of the tubes at its outlet. [practice]
MOSTLY = 0.9
# A step without a reading is no pause: the daemon keeps one in five minutes, and a restart takes some.
SHORTEST_PAUSE = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Traces:
    """Means of each place on the grid of a series.

    Attributes:
        series: what they were made of.
        columns: by place, those that have a probe.
        house_from: where the house is measured.
    """

    series: Series
    columns: dict[Place, Column]
    house_from: Literal["bench", "ceiling", "none"]

    def between(self, began: datetime, ended: datetime) -> slice:
        """The steps that begin in a range of time."""
        first, last = (
            math.ceil((moment.timestamp() - self.series.from_s) / self.series.step_s)
            for moment in (began, ended)
        )
        return slice(max(first, 0), max(last, 0))

    def range_of(self, place: Place, steps: slice) -> Range | None:
        """Lowest and highest of a place in some steps."""
        read = [value for value in self.columns.get(place, [])[steps] if value is not None]
        return Range(low_c=min(read), high_c=max(read)) if read else None

    def lines(self, steps: slice) -> list[Line]:
        """Every place in some steps, to a hundredth of a degree."""
        return [
            Line(place=place, celsius=[None if v is None else round(v, 2) for v in column[steps]])
            for place, column in self.columns.items()
        ]

    def hourly(self) -> float:
        """Share of the steps with readings that have only an hourly mean."""
        known = sum(1 for step in self._read() if step)
        return sum(self.series.hourly) / known if known else 0.0

    def pauses(self) -> list[Pause]:
        """Times between two readings that are missing."""
        found: list[Pause] = []
        since: int | None = None
        for number, read in enumerate((*self._read(), True)):
            if not read:
                since = number if since is None else since
            elif since is not None:
                began, ended = self._moment(since), self._moment(number)
                if ended - began > SHORTEST_PAUSE:
                    found.append(Pause(began=began, ended=ended))
                since = None
        return found

    def _read(self) -> list[bool]:
        """Whether anything was read, step by step."""
        columns = self.series.temps.values()
        return [any(value is not None for value in step) for step in zip(*columns, strict=True)]

    def _moment(self, step: int) -> datetime:
        return datetime.fromtimestamp(self.series.from_s + step * self.series.step_s, UTC)


def traces_of(series: Series, settings: Settings) -> Traces:
    """The places of a house; loops count as one."""
    groups = settings.derived.groups
    house_from: Literal["bench", "ceiling", "none"]
    house_from = "bench" if groups.benches else "ceiling" if groups.ceilings else "none"
    probes: dict[Place, Sequence[str]] = {
        "outdoors": settings.probe_names("outdoor"),
        "soil": groups.soils,
        "roof": groups.ceilings if groups.benches else (),
        "house": groups.benches or groups.ceilings,
    }
    columns: dict[Place, Column] = {
        place: series.mean(list(names)) for place, names in probes.items() if names
    }
    if groups.outlets:
        columns["outlet"] = _outlets(series, groups.outlets)
    return Traces(series, columns, house_from)


def _outlets(series: Series, outlets: Sequence[tuple[str, str]]) -> Column:
    """The mean outlet of the loops whose fans ran."""
    sums, counts = [0.0] * len(series), [0] * len(series)
    for loop, probe in outlets:
        shares, values = series.fans.get(loop, ()), series.temps.get(probe, ())
        for step, (share, value) in enumerate(zip(shares, values, strict=False)):
            if share >= MOSTLY and value is not None:
                sums[step] += value
                counts[step] += 1
    return [total / count if count else None for total, count in zip(sums, counts, strict=True)]
