"""The daemon's calendar chores, wired to the history; nothing here touches control."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import reduce
from typing import TYPE_CHECKING

import structlog

from controller.clock import RELEASED
from controller.faults import FaultCode, Finding, Priority
from controller.history import backups
from controller.history.database import StorageError
from controller.history.queries import History
from controller.history.rows import EventCode
from controller.history.thinning import thin
from controller.record.summary_text import day_text, month_text, named
from controller.record.tally import MonthSummary, added
from controller.service.chores import Chores
from controller.service.time_of_day import ClockProof
from controller.settings.places import state_directory

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date, tzinfo
    from pathlib import Path

    from controller.clock import Clock
    from controller.diagnosis.alarms import Alarm
    from controller.record.tick import TickRecord
    from controller.settings.schema import Settings


class Upkeep:
    """Watches ticks, and does what the calendar asks for: summary, thinning, backup, float-test reminder.

    Attributes:
        month: the last finished month, None until its summary was made.
    """

    def __init__(
        self, clock: Clock, settings: Settings, history_file: Path, note: Callable[[EventCode, str], None]
    ) -> None:
        """Plan nothing yet; the chores begin once the clock is set.

        Args:
            clock: the daemon's clock.
            settings: how long fine readings are kept.
            history_file: the file to thin, to back up and to sum up.
            note: writes an event into it.
        """
        self._clock = clock
        self._keep_fine_days = settings.history.keep_fine_days
        self._file = history_file
        self._backups = state_directory(settings) / backups.FOLDER
        self._no_backup = ""
        self._note = note
        self._show = settings.site.show
        self._alarms: tuple[Alarm, ...] = ()
        self.month: MonthSummary | None = None
        self._proof = ClockProof(clock)
        self._log = structlog.get_logger("upkeep")
        self._chores = Chores(
            clock,
            daily_summary=self._summarise,
            backup=self._back_up,
            thinning=self._thin,
            float_test_reminder=self._remind,
            timezone=_local_zone(),
        )

    def observe(self, tick: TickRecord) -> None:
        """Keep what is wrong now, and follow the calendar."""
        self._alarms = tick.diagnosis.alarms
        self._proof.look()
        self._chores.poll()

    def findings(self) -> tuple[Finding, ...]:
        """The last backup that was due and could not be made; it is tried again every night."""
        problem = self._no_backup
        return (Finding(FaultCode.STORAGE, backups.FOLDER, problem),) if problem else ()

    def close(self) -> None:
        """Stop the calendar."""
        self._chores.close()

    def _summarise(self) -> None:
        """Yesterday and the last month in words, from the history, so that all runs of the program count."""
        wall_utc = self._clock.wall_utc()
        if wall_utc is None:
            return
        today, wrong = wall_utc.astimezone().date(), [named(alarm) for alarm in self._alarms]
        with History(self._file) as history:
            for day in history.days(today - timedelta(days=1), today - timedelta(days=1)):
                self._say(EventCode.DAY, day_text(day, self._show, wrong))
            self._summarise_month(history, today)

    def _summarise_month(self, history: History, today: date) -> None:
        """The month before this one, once it is over; noted once, however often the program starts."""
        last = today.replace(day=1) - timedelta(days=1)
        first = last.replace(day=1)
        if self.month is not None and self.month.sums.date == first.isoformat():
            return
        days = history.days(first, last)
        if not days:
            return
        sums = reduce(added, days)._replace(date=first.isoformat())
        begins_utc, ends_utc = _midnight_utc(first), _midnight_utc(today.replace(day=1))
        raised = [alarm.priority for alarm in history.alarms(begins_utc, ends_utc) if alarm.raised]
        text = month_text(sums, self._show, len(raised), raised.count(int(Priority.ACT_NOW)))
        if not any(event.code == EventCode.MONTH.value for event in history.events(ends_utc, None)):
            self._say(EventCode.MONTH, text)
        self.month = MonthSummary(sums, text)

    def _say(self, code: EventCode, text: str) -> None:
        """Into the log, and into the history."""
        self._log.info(f"{code.value}_summary", text=text)
        self._note(code, text)

    def _back_up(self) -> None:
        """Make this month's backup unless there is one; on the calendar's own thread, beside control."""
        wall_utc = self._clock.wall_utc()
        if wall_utc is None or not backups.is_due(self._backups, today := wall_utc.astimezone().date()):
            return
        try:
            made = backups.make(self._file, self._backups, today)
        except StorageError as problem:
            self._no_backup = str(problem)
            self._log.exception("backup_failed", what_to_do=str(problem))
        else:
            self._no_backup = ""
            self._log.info("backup_made", file=str(made), megabytes=round(made.stat().st_size / 1e6, 1))

    def _thin(self) -> None:
        """Thin old readings; with a wrong date recent ones would seem old, and thinning cannot be undone."""
        wall_utc = self._clock.wall_utc()
        if wall_utc is None or not self._proof.is_proven():
            self._log.info("thinning_waits", until="the time of day has not jumped for a day")
        else:
            thin(self._file, wall_utc, self._keep_fine_days)

    def _remind(self) -> None:
        self._log.warning(
            "float_test_due", what_to_do="lift every float by hand; pump and fans must answer within a second"
        )


def _midnight_utc(day: date) -> datetime:
    """When a day of this machine begins."""
    return datetime(day.year, day.month, day.day).astimezone(UTC)


def _local_zone() -> tzinfo:
    """The zone whose midnight the board keeps."""
    return RELEASED.astimezone().tzinfo or UTC
