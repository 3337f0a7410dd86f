"""Chores that follow the calendar: daily summary, thinning, backup, the reminder to lift the floats.

Nothing that heats, pumps or protects is done here. The scheduler follows the wall clock, and a board without
a battery clock jumps by days once the time arrives: it is therefore started only when the clock is set, every
chore runs at most daily (a jump makes it step through each missed run), and a later jump plans all anew.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, timedelta
from typing import TYPE_CHECKING, Any

import structlog

from controller.faults import HOUR_S
from controller.service.time_of_day import JUMP

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from datetime import datetime, tzinfo

    from controller.clock import Clock

log = structlog.get_logger(__name__)

# A chore that could not start on time may still start this much later.
GRACE_S = int(6 * HOUR_S)


@dataclass(frozen=True, slots=True)
class Timetable:
    """When a chore is due, in the fields of a cron line."""

    hour: int
    minute: int
    day_of_week: str | None = None
    day: int | None = None


TIMETABLES: Mapping[str, Timetable] = {
    "daily_summary": Timetable(hour=0, minute=5),
    "backup": Timetable(hour=3, minute=30),
    "thinning": Timetable(hour=2, minute=15, day_of_week="sun"),
    "float_test_reminder": Timetable(hour=8, minute=0, day=1),
}


class Chores:
    """The calendar chores of the daemon; those that are not given are not planned."""

    def __init__(
        self,
        clock: Clock,
        *,
        daily_summary: Callable[[], None] | None = None,
        backup: Callable[[], None] | None = None,
        thinning: Callable[[], None] | None = None,
        float_test_reminder: Callable[[], None] | None = None,
        timezone: tzinfo = UTC,
    ) -> None:
        """Take the chores; nothing runs before :meth:`poll` has seen a set clock.

        Args:
            clock: says whether the time of day is known and when it jumped.
            daily_summary: due at 00:05.
            backup: looks every day at 03:30 whether this month has a backup; a copy of years is too much for
                a card every day.
            thinning: due on Sundays at 02:15.
            float_test_reminder: due on the first of the month at 08:00.
            timezone: whose midnight it is.
        """
        given = {
            "daily_summary": daily_summary,
            "backup": backup,
            "thinning": thinning,
            "float_test_reminder": float_test_reminder,
        }
        self._clock = clock
        self._timezone = timezone
        self._chores = {name: chore for name, chore in given.items() if chore is not None}
        self._scheduler: Any = None
        self._wall_at_zero: datetime | None = None  # wall time of monotonic zero, when last planned

    def poll(self) -> bool:
        """Start once the clock is set and plan anew after a jump; cheap enough for every tick.

        Returns:
            Whether the chores are planned.
        """
        wall = self._clock.wall_utc()
        if wall is not None and self._chores:
            zero = wall - timedelta(seconds=self._clock.monotonic_s())
            if self._wall_at_zero is None or abs(zero - self._wall_at_zero) > JUMP:
                self._plan(wall)
                self._wall_at_zero = zero
        return self._scheduler is not None

    def next_runs(self) -> dict[str, datetime]:
        """When each planned chore is due next."""
        jobs = [] if self._scheduler is None else self._scheduler.get_jobs()
        return {job.id: job.next_run_time for job in jobs}

    def close(self) -> None:
        """Stop; a chore that is running is not waited for."""
        if self._scheduler is not None:
            self._scheduler.shutdown(wait=False)
            self._scheduler = None

    def _plan(self, wall: datetime) -> None:
        """Plan every chore at its next regular time after ``wall``, in place of any earlier plan."""
        from apscheduler.triggers.cron import CronTrigger  # noqa: PLC0415 - only the daemon needs it

        if self._scheduler is None:
            self._scheduler = self._make_scheduler()
            self._scheduler.start()
        for name, chore in self._chores.items():
            due = TIMETABLES[name]
            trigger = CronTrigger(
                hour=due.hour,
                minute=due.minute,
                day=due.day,
                day_of_week=due.day_of_week,
                timezone=self._timezone,
            )
            self._scheduler.add_job(
                chore,
                trigger,
                id=name,
                replace_existing=True,
                next_run_time=trigger.get_next_fire_time(None, wall),
                coalesce=True,
                max_instances=1,
                misfire_grace_time=GRACE_S,
            )
        log.info("chores_planned", next_runs={name: str(due) for name, due in self.next_runs().items()})

    def _make_scheduler(self) -> Any:
        """A scheduler with one worker that reports what did not run as planned."""
        from apscheduler.events import (  # noqa: PLC0415 - only the daemon needs it
            EVENT_JOB_ERROR,
            EVENT_JOB_MAX_INSTANCES,
            EVENT_JOB_MISSED,
        )
        from apscheduler.executors.pool import ThreadPoolExecutor  # noqa: PLC0415 - only the daemon needs it
        from apscheduler.schedulers.background import BackgroundScheduler  # noqa: PLC0415 - only the daemon needs it

        scheduler = BackgroundScheduler(timezone=self._timezone, executors={"default": ThreadPoolExecutor(1)})
        scheduler.add_listener(_log_trouble, EVENT_JOB_ERROR | EVENT_JOB_MISSED | EVENT_JOB_MAX_INSTANCES)
        return scheduler


def _log_trouble(event: Any) -> None:
    """Log a chore that failed or did not run."""
    problem = getattr(event, "exception", None)
    if problem is None:
        log.warning("chore_not_run", chore=event.job_id)
    else:
        log.error("chore_failed", chore=event.job_id, problem=repr(problem), exc_info=problem)
