"""Turns finished ticks into rows: which of them are worth keeping, and in what form."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING

from controller.history.rows import AlarmRow, At, ChangeRow, DayRow, EventCode, EventRow, ReadingRow
from controller.readings.reading import Good

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from controller.history.rows import Row
    from controller.readings.reading import Reading
    from controller.record.tally import DayTally
    from controller.record.tick import TickRecord
    from controller.settings.schema import Settings

# How often the unfinished day is saved, so that a crash or power cut costs at most this much of its sums.
SAVE_TODAY_EVERY_S = 3600.0
# Network time slews small errors away; a jump this large between two ticks means that the clock was set.
CLOCK_STEP_MS = 5000


class TickEncoder:
    """Remembers what was last written down and says what is new.

    Args:
        every_s: time between two rows of readings in s.
    """

    def __init__(self, every_s: float) -> None:
        self._every_s = every_s
        self._readings_due_s: float | None = None
        self._today_due_s: float | None = None
        self._settings: Settings | None = None
        self._today: DayTally | None = None
        self._wall_less_mono_ms: int | None = None

    @property
    def wall_less_mono_ms(self) -> int | None:
        """Wall time minus monotonic time in ms as last seen, None until the clock is set."""
        return self._wall_less_mono_ms

    def rows(self, tick: TickRecord) -> list[Row]:
        """The rows of one tick, in the order in which they are to be written."""
        at = stamp_of(tick.now_mono_s, tick.snapshot.wall_utc)
        rows: list[Row] = [*self._events(tick, at)]
        for change in (*tick.decision.changes, *tick.signals.changes):
            reason = change.reason
            rows.append(
                ChangeRow(
                    at,
                    change.output.kind,
                    change.output.name,
                    change.on,
                    reason.code.value,
                    numbers_text(reason.numbers),
                    reason.sentence(tick.settings.site.show),
                )
            )
        for event in tick.diagnosis.events:
            alarm = event.alarm
            subject, detail = storable(alarm.subject), storable(alarm.detail)
            rows.append(AlarmRow(at, alarm.code.value, subject, int(alarm.priority), event.raised, detail))
        rows += [EventRow(at, EventCode(n.act.value), storable(n.words)) for n in tick.diagnosis.notes]
        rows.extend(self._days(tick, at))
        if self._readings_due_s is None or tick.now_mono_s >= self._readings_due_s:
            self._readings_due_s = _next(self._readings_due_s, self._every_s, tick.now_mono_s)
            probes = tick.snapshot.probes
            rows.append(ReadingRow(at, tuple(probes), values_text(probes)))
        return rows

    def last_rows(self, at: At) -> list[Row]:
        """What is to be saved when the program stops: today as far as it has come."""
        return [] if self._today is None else [DayRow(at, self._today, finished=False)]

    def _events(self, tick: TickRecord, at: At) -> list[Row]:
        """Start, reload and what became of the clock."""
        rows: list[Row] = []
        if self._settings is None:
            rows.append(EventRow(at, EventCode.START))
        elif tick.settings is not self._settings:
            rows.append(EventRow(at, EventCode.SETTINGS))
        self._settings = tick.settings
        if at.wall_ms is None:
            return rows
        now_ms, before_ms = at.wall_ms - at.mono_ms, self._wall_less_mono_ms
        if before_ms is None:
            rows.append(EventRow(at, EventCode.CLOCK_SET))
        elif abs(now_ms - before_ms) > CLOCK_STEP_MS:
            rows.append(EventRow(at, EventCode.CLOCK_STEPPED, f"{(now_ms - before_ms) / 1000:+.0f} s"))
        self._wall_less_mono_ms = now_ms
        return rows

    def _days(self, tick: TickRecord, at: At) -> list[Row]:
        """The finished day at once, today now and then."""
        rows: list[Row] = []
        self._today = tick.today
        if tick.finished_day is not None:
            rows.append(DayRow(at, tick.finished_day, finished=True))
        if self._today_due_s is None:
            self._today_due_s = tick.now_mono_s + SAVE_TODAY_EVERY_S
        if tick.now_mono_s >= self._today_due_s:
            self._today_due_s = _next(self._today_due_s, SAVE_TODAY_EVERY_S, tick.now_mono_s)
            rows.append(DayRow(at, tick.today, finished=False))
        return rows


def storable(text: str) -> str:
    """A text with question marks for halves of characters, as names of files may hold them."""
    return text.encode("utf-8", "replace").decode("utf-8")


def stamp_of(mono_s: float, wall_utc: datetime | None) -> At:
    """Both times in whole milliseconds."""
    return At(round(mono_s * 1000), None if wall_utc is None else round(wall_utc.timestamp() * 1000))


def values_text(probes: Mapping[str, Reading]) -> str:
    """All readings as a JSON array: thousandths of a degree Celsius, or the name of what is wrong."""
    values = [
        round(reading.value * 1000) if isinstance(reading, Good) else reading.why.name
        for reading in probes.values()
    ]
    return json.dumps(values, separators=(",", ":"))


def numbers_text(numbers: Mapping[str, float | str]) -> str:
    """A reason's numbers as a JSON object, to thousandths; JSON has no infinity, which becomes a word."""
    plain = {name: _storable(n) if isinstance(n, float) else n for name, n in numbers.items()}
    return json.dumps(plain, separators=(",", ":"), ensure_ascii=False)


def _storable(number: float) -> float | str:
    """To thousandths of a kelvin, watt or second: more digits say nothing and fill the card."""
    return round(number, 3) if math.isfinite(number) else str(number)


def _next(due_s: float | None, every_s: float, now_s: float) -> float:
    """The next time on the grid after ``now_s``; the grid begins again where a whole step was missed."""
    if due_s is None or now_s - due_s >= every_s:
        return now_s + every_s
    return due_s + every_s
