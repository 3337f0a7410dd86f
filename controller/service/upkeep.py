"""The daemon's calendar chores, wired to the history; nothing here touches control."""

from __future__ import annotations

from datetime import UTC
from typing import TYPE_CHECKING

import structlog

from controller.clock import RELEASED
from controller.faults import FaultCode, Finding
from controller.history import backups
from controller.history.database import StorageError
from controller.history.thinning import thin
from controller.record.tally import JOULES_PER_KWH
from controller.service.chores import Chores
from controller.service.time_of_day import ClockProof
from controller.settings.places import state_directory

if TYPE_CHECKING:
    from datetime import tzinfo
    from pathlib import Path

    from controller.clock import Clock
    from controller.record.tally import DayTally
    from controller.record.tick import TickRecord
    from controller.settings.schema import Settings


class Upkeep:
    """Watches ticks, and does what the calendar asks for: summary, thinning, backup, float-test reminder."""

    def __init__(self, clock: Clock, settings: Settings, history_file: Path) -> None:
        """Plan nothing yet; the chores begin once the clock is set.

        Args:
            clock: the daemon's clock.
            settings: how long fine readings are kept.
            history_file: the file to thin and to back up.
        """
        self._clock = clock
        self._keep_fine_days = settings.history.keep_fine_days
        self._file = history_file
        self._backups = state_directory(settings) / backups.FOLDER
        self._no_backup = ""
        self._yesterday: DayTally | None = None
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
        """Keep the last finished day and follow the calendar."""
        if tick.finished_day is not None:
            self._yesterday = tick.finished_day
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
        day = self._yesterday
        if day is None:
            return
        self._log.info(
            "day_summary",
            date=day.date,
            air_min_c=day.air_min_c,
            air_max_c=day.air_max_c,
            fan_kwh=round(sum(loop.electricity_j for loop in day.loops.values()) / JOULES_PER_KWH, 2),
            banked_kwh=round(sum(loop.banked_j for loop in day.loops.values()) / JOULES_PER_KWH, 1),
            returned_kwh=round(sum(loop.returned_j for loop in day.loops.values()) / JOULES_PER_KWH, 1),
            pump_starts=sum(pump.starts for pump in day.pumps.values()),
        )

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


def _local_zone() -> tzinfo:
    """The zone whose midnight the board keeps."""
    return RELEASED.astimezone().tzinfo or UTC
