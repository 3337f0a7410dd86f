"""Reads back from the history what the messages about the past need, beside control and never in its way."""

from __future__ import annotations

import threading
from datetime import date, timedelta
from typing import TYPE_CHECKING

import structlog

from controller.errors import HypocaustError

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from controller.record.tick import TickRecord
    from controller.settings.schema import Settings
    from controller.telemetry.publisher import Publisher

SETTLED_S = 30.0  # a start has more urgent things to do
# The sums of a day are on the card an hour after midnight at the latest; before, the day would be missing.
FIRST_HOUR = 1.0

log = structlog.get_logger(__name__)


class Recall:
    """Once the time of day is known: two days of curves, once a run; the year's months, once a day.

    Args:
        file: the history.
        publisher: takes what was read.
    """

    def __init__(self, file: Path, publisher: Publisher) -> None:
        self._file = file
        self._publisher = publisher
        self._read_on: str | None = None
        self._thread: threading.Thread | None = None

    def observe(self, tick: TickRecord) -> None:
        """Begin to read if something is due; returns at once."""
        wall_utc, day, hour = tick.snapshot.wall_utc, tick.today.date, tick.snapshot.hour
        began_s = self._publisher.two_days.began_mono_s
        if wall_utc is None or day is None or began_s is None or day == self._read_on:
            return
        run_s = tick.now_mono_s - began_s
        first = self._read_on is None
        busy = self._thread is not None and self._thread.is_alive()
        if busy or (run_s < SETTLED_S if first else (hour or 0.0) < FIRST_HOUR):
            return
        self._read_on = day
        began_utc = wall_utc - timedelta(seconds=run_s) if first else None
        self._thread = threading.Thread(
            target=self._read, args=(tick.settings, began_utc, date.fromisoformat(day)), daemon=True
        )
        self._thread.start()

    def wait(self, timeout_s: float) -> None:
        """Wait until what has begun is read."""
        if self._thread is not None:
            self._thread.join(timeout_s)

    def _read(self, settings: Settings, began_utc: datetime | None, today: date) -> None:
        """Read and hand over; without a history phones see less, and that is all."""
        from controller.history.look_back import curves, months  # noqa: PLC0415 - the daemon needs it once a day
        from controller.history.queries import History  # noqa: PLC0415
        from controller.telemetry.curves import STEP_S, STEPS, lines_of  # noqa: PLC0415
        from controller.telemetry.past import MonthSums  # noqa: PLC0415

        try:
            with History(self._file) as history:
                if began_utc is not None:
                    found = curves(history, settings, began_utc, STEP_S, STEPS)
                    self._publisher.two_days.remember(
                        {line: found[line] for line in lines_of(settings) if line in found}
                    )
                sums = months(history, today)
        except (HypocaustError, OSError) as problem:
            log.info("history_not_read_back", detail=str(problem))
            return
        self._publisher.remember_year(
            tuple(
                MonthSums(
                    month=month.month,
                    days=month.days,
                    air_min_c=None if month.air_min_c is None else round(month.air_min_c, 1),
                    air_max_c=None if month.air_max_c is None else round(month.air_max_c, 1),
                    electricity_j=round(month.electricity_j),
                    banked_j=round(month.banked_j),
                    returned_j=round(month.returned_j),
                )
                for month in sums
            )
        )
