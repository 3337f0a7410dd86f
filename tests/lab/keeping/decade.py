"""Years of history made quickly: rows of a busy house, through the daemon's own writer and thinning."""

from __future__ import annotations

import json
import math
import random
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from controller.decision.reasons import Reason, ReasonCode
from controller.history.encoder import numbers_text
from controller.history.rows import AlarmRow, At, ChangeRow, DayRow, ReadingRow
from controller.history.thinning import thin
from controller.history.writer import HistoryWriter
from controller.record.tally import DayTally, LoopTally, PumpTally
from controller.units import TemperatureUnit

if TYPE_CHECKING:
    import threading
    from collections.abc import Iterator
    from pathlib import Path

    from controller.history.rows import Row
    from controller.settings.schema import Settings

START = datetime(2026, 1, 1, tzinfo=UTC)
DAY_MS = 86_400_000
STEP_MS = 300_000
# How far each place swings about the mean of its day. [practice]
SWINGS_K = {"ceiling": 11.0, "bench": 7.0, "outdoor": 6.0, "outlet": 4.0, "root-zone": 1.5, "soil": 0.4}


@dataclass
class Clock:
    """A clock that follows the rows."""

    wall: datetime = START

    def monotonic_s(self) -> float:
        """Seconds since the start."""
        return (self.wall - START).total_seconds() + 1000.0

    def wall_utc(self) -> datetime:
        """Now."""
        return self.wall

    def wait(self, wake: threading.Event, timeout_s: float) -> bool:
        """No thread waits here."""
        raise NotImplementedError(wake, timeout_s)


class BusyHouse:
    """Rows of one day after the other.

    Args:
        settings: which probes, loops and sumps there are.
        starts: fan starts a day, of all loops together.
        seed: for what wanders.
    """

    def __init__(self, settings: Settings, starts: int, seed: int = 0) -> None:
        self._probes = {name: probe.place for name, probe in settings.probes.items()}
        self._loops = tuple(settings.loops)
        self._sumps = tuple(settings.sumps)
        self._starts = starts
        self._random = random.Random(seed)  # noqa: S311 - nothing secret
        self._wander = dict.fromkeys(self._probes, 0.0)

    def day(self, number: int) -> list[Row]:
        """What a day leaves in the history, in order of time."""
        rows = [*self._readings(number), *self._changes(number), *self._alarms(number)]
        return [*sorted(rows, key=lambda row: row.at.mono_ms), self._sums(number)]

    def _readings(self, number: int) -> Iterator[Row]:
        season_c = 12.0 - 9.0 * math.cos(2.0 * math.pi * number / 365.25)
        for passed_ms in range(0, DAY_MS, STEP_MS):
            wave = -math.cos(2.0 * math.pi * (passed_ms / DAY_MS - 0.1))
            values: list[int | str] = []
            for name, place in self._probes.items():
                drift_k = self._wander[name] = 0.97 * self._wander[name] + self._random.gauss(0.0, 0.15)
                sixteenths = round(16.0 * (season_c + SWINGS_K[place] * wave + drift_k))
                values.append(round(sixteenths * 62.5))  # the probes' last digit is a sixteenth of a kelvin
            if self._random.random() < 0.01:
                values[self._random.randrange(len(values))] = "SILENT"
            cell = json.dumps(values, separators=(",", ":"))
            yield ReadingRow(_at(number, passed_ms), tuple(self._probes), cell)

    def _changes(self, number: int) -> Iterator[Row]:
        for start in range(self._starts):
            loop = self._loops[start % len(self._loops)]
            begins_ms = round(DAY_MS * (start + self._random.random() / 2.0) / self._starts)
            ceiling_c, soil_c = self._random.uniform(14.0, 34.0), self._random.uniform(8.0, 14.0)
            known = {"air_c": ceiling_c - 2.0, "ceiling_c": ceiling_c, "soil_c": soil_c}
            bank = known | {"setpoint_c": 5.0, "until_c": 6.0, "until_k": 1.0, "power_w": 120.0}
            bank |= {"difference_k": ceiling_c - soil_c, "heat_w": 330.0 * (ceiling_c - soil_c)}
            yield _change(number, begins_ms, "fan", loop, Reason(ReasonCode.BANK, bank))
            small = known | {"difference_k": 0.9375, "needed_k": 1.0}
            off = Reason(ReasonCode.DIFFERENCE_SMALL, small)
            yield _change(number, begins_ms + 1_500_000, "fan", loop, off, on=False)
        for sump in self._sumps:
            wet = Reason(ReasonCode.PUMP_WET, {"starts": 1, "most": 10})
            yield _change(number, DAY_MS // 2, "pump", sump, wet)
            dry = Reason(ReasonCode.PUMP_EMPTIED, {"run_s": 55.0, "run_on_s": 20.0})
            yield _change(number, DAY_MS // 2 + 55_000, "pump", sump, dry, on=False)

    def _alarms(self, number: int) -> Iterator[Row]:
        if number % 7 == 0:
            detail = "air 1.2 °C; expected to fall to about -0.5 °C by 06:00, with the fans"
            for hour, raised in ((2, True), (9, False)):
                yield AlarmRow(_at(number, hour * 3_600_000), "frost", "", 1, raised, detail)

    def _sums(self, number: int) -> DayRow:
        date = (START + timedelta(days=number)).date().isoformat()
        share = self._starts // len(self._loops)
        loops = {
            name: LoopTally(1500.0 * share, share, 1.8e5 * share, 4.1e6, 1.234e6) for name in self._loops
        }
        pumps = {name: PumpTally(55.0, 1, 22_000.0) for name in self._sumps}
        return DayRow(_at(number, DAY_MS - 1), DayTally(date, 86_400.0, 3.0625, 24.1875, loops, pumps), True)


def fill(path: Path, house: BusyHouse, days: int, keep_fine_days: int, every: int = 28) -> Iterator[int]:
    """Write days and thin what is old, every few weeks as often as it takes.

    Yields:
        how many days are written, after each of them.
    """
    clock = Clock()
    writer = HistoryWriter(path, clock, "boot")
    for number in range(days):
        writer._backlog.put(house.day(number))
        clock.wall = START + timedelta(days=number + 1)
        if not writer.write_now():
            raise RuntimeError(writer.findings())
        if number % every == every - 1:
            while thin(path, clock.wall, keep_fine_days).more:
                pass
        yield number + 1
    writer.close()


def _at(number: int, passed_ms: int) -> At:
    since_ms = number * DAY_MS + passed_ms
    return At(since_ms + 1_000_000, round(START.timestamp() * 1000) + since_ms)


def _change(
    number: int, passed_ms: int, kind: str, name: str, reason: Reason, *, on: bool = True
) -> ChangeRow:
    numbers = numbers_text(reason.numbers)
    sentence = reason.sentence(TemperatureUnit.CELSIUS)
    return ChangeRow(_at(number, passed_ms), kind, name, on, reason.code.value, numbers, sentence)
