"""Histories as a controller leaves them, made row by row: days of sun and frost in the example house."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

from controller.history.database import open_for_writing
from controller.history.insert import begin_run, insert
from controller.history.queries import History
from controller.history.rows import AlarmRow, At, ChangeRow, DayRow, EventCode, EventRow, ReadingRow
from controller.record.tally import DayTally
from controller.report.gather import gather, period_of
from controller.report.page.page import page
from controller.report.page.reading import Reader

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from controller.history.rows import Row
    from controller.report.data import ReportData
    from controller.settings.schema import Settings

START = date(2026, 1, 10)
HOUR = timedelta(hours=1)
BANK = {
    "air_c": 12.0, "ceiling_c": 24.0, "soil_c": 14.0, "until_k": 1.0, "difference_k": 10.0,
    "heat_w": 3400.0, "power_w": 120.0,
}  # fmt: skip
HEAT = {
    "air_c": 4.2, "soil_c": 13.0, "setpoint_c": 4.5, "until_c": 5.5, "heat_w": 2500.0, "power_w": 120.0,
}  # fmt: skip


@dataclass
class House:
    """What happened in a house.

    Attributes:
        settings: whose probes and loops these are.
        days: how many from ``START`` on.
        zone_h: hours that the house's clock is ahead of UTC.
        every: between two readings.
        silent: hours since the start of which no reading was kept, from and until.
        rows: more rows, such as alarms.
        fans: whether the fans ran at all.
    """

    settings: Settings
    days: int = 4
    zone_h: int = 0
    every: timedelta = timedelta(minutes=10)
    silent: tuple[float, float] = (0.0, 0.0)
    rows: list[Row] = field(default_factory=list)
    fans: bool = True

    @property
    def began(self) -> datetime:
        """Local midnight at which everything begins."""
        return datetime(START.year, START.month, START.day, tzinfo=UTC) - self.zone_h * HOUR

    def at(self, hours: float) -> At:
        """A moment, in hours since the beginning."""
        wall = self.began + hours * HOUR
        return At(round(hours * 3.6e6) + 1_000_000, round(wall.timestamp() * 1000))

    def alarm(
        self, hours: float, code: str, *, raised: bool = True, subject: str = "", detail: str = ""
    ) -> None:
        """An alarm raised or over."""
        self.rows.append(AlarmRow(self.at(hours), code, subject, 1, raised, detail))

    def event(self, hours: float, code: EventCode, detail: str = "") -> None:
        """Something else."""
        self.rows.append(EventRow(self.at(hours), code, detail))

    def change(
        self,
        hours: float,
        name: str,
        on: bool,
        code: str,
        numbers: dict[str, float] | None = None,
        kind: str = "fan",
    ) -> None:
        """An output switched."""
        text = json.dumps(numbers or {})
        self.rows.append(ChangeRow(self.at(hours), kind, name, on, code, text, f"{code} as it was written"))

    def write(self, path: Path) -> Path:
        """Write it all down as one run of the program."""
        connection = open_for_writing(path)
        connection.execute("BEGIN")
        run = begin_run(connection, "boot", 0)
        if self.fans:
            self._fan_days()
        for row in sorted([*self._readings(), *self._days(), *self.rows], key=lambda row: row.at.mono_ms):
            insert(connection, run, row)
        connection.execute("COMMIT")
        connection.close()
        return path

    def _fan_days(self) -> None:
        """Every day heat is banked from 11 to 15 and returned from 20 to 6."""
        for day in range(self.days):
            for loop in self.settings.loops:
                self.change(24 * day + 6, loop, on=False, code="nothing-wanted")
                self.change(24 * day + 11, loop, on=True, code="bank", numbers=BANK)
                self.change(24 * day + 15, loop, on=False, code="difference-small")
                self.change(24 * day + 20, loop, on=True, code="heat", numbers=HEAT)

    def _readings(self) -> Iterator[ReadingRow]:
        names = tuple(self.settings.probes)
        steps = int(self.days * 24 * HOUR / self.every)
        for step in range(steps):
            hours = step * self.every / HOUR
            if self.silent[0] <= hours < self.silent[1]:
                continue
            values = [round(1000 * self.temperature(name, hours)) for name in names]
            yield ReadingRow(self.at(hours), names, json.dumps(values))

    def temperature(self, probe: str, hours: float) -> float:
        """What a probe reads: coldest at 4, warmest at 16, and a little colder each night than the last."""
        wave = math.cos((hours - 16.0) / 12.0 * math.pi)
        cold = -0.1 * hours / 24.0
        place = self.settings.probes[probe].place
        if place == "outdoor":
            return -3.0 + 5.0 * wave + cold
        if place in ("bench", "ceiling"):
            return 8.0 + (6.0 if place == "bench" else 9.0) * wave + cold
        return 14.0 + (2.0 * wave if place == "outlet" else 0.0)

    def _days(self) -> Iterator[DayRow]:
        for day in range(self.days):
            tally = DayTally(str(START + timedelta(days=day)), 86400.0, 2.0, 14.0)
            yield DayRow(self.at(24.0 * (day + 1)), tally, finished=True)


def gathered(path: Path, settings: Settings, price_per_kwh: float | None = None) -> tuple[ReportData, Reader]:
    """The report of a history."""
    with History(path) as history:
        period = period_of(history, None, None)
        assert period is not None
        return gather(history, settings, period, price_per_kwh), Reader(settings.site.show, period.calendar)


def written(path: Path, settings: Settings) -> str:
    """The page of a history."""
    return page(*gathered(path, settings))
