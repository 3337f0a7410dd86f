"""The calendar of a report: the days of the house, wherever and on whatever machine it is read."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, timezone
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

DAY = timedelta(days=1)
# All zones there are lie whole quarters of an hour from UTC (tz database).
QUARTER_S = 900
# A day ends at the first tick after midnight; a tick is late at most by this. [practice]
LATE = timedelta(minutes=30)


@dataclass(frozen=True, slots=True)
class Calendar:
    """Local days.

    Attributes:
        zone: of the house, None for that of this machine with its summer time.
    """

    zone: timezone | None = None

    def local(self, moment_utc: datetime) -> datetime:
        """A moment as the clock on the wall shows it, without a zone."""
        return moment_utc.astimezone(self.zone).replace(tzinfo=None)

    def utc(self, local: datetime) -> datetime:
        """The moment at which the clock on the wall shows this."""
        return (local if self.zone is None else local.replace(tzinfo=self.zone)).astimezone(UTC)

    def begin(self, day: date) -> datetime:
        """The first moment of a day."""
        return self.utc(datetime.combine(day, time()))

    def offset_s(self, moment_s: float) -> float:
        """Seconds that local time is ahead of UTC at a moment, in seconds since 1970."""
        if self.zone is not None:
            return self.zone.utcoffset(None).total_seconds()
        return _own_offset_s(moment_s // QUARTER_S * QUARTER_S)

    def words(self) -> str:
        """Whose time this is: ``of this machine``, or hours from UTC such as ``UTC-05:00``."""
        return "of this machine" if self.zone is None else str(self.zone)


@cache
def _own_offset_s(moment_s: float) -> float:
    """What this machine's zone is ahead of UTC; it changes at quarters of an hour alone (tz database)."""
    offset = datetime.fromtimestamp(moment_s, UTC).astimezone().utcoffset()
    return 0.0 if offset is None else offset.total_seconds()


def calendar_of(ends: Iterable[tuple[date, datetime]]) -> Calendar:
    """The calendar that the controller itself has kept.

    A history may be read far from its house, and a rehearsed one belongs to the place of its weather. So days
    count as the controller counted them, and this machine's own zone is taken only where it agrees.

    Args:
        ends: days and when each was over.
    """
    own, offsets = 0, Counter[int]()
    for day, ended in ends:
        midnight = datetime.combine(day + DAY, time())
        if timedelta() <= ended.astimezone().replace(tzinfo=None) - midnight < LATE:
            own += 1
        ahead_s = (midnight.replace(tzinfo=UTC) - ended).total_seconds()
        offsets[round(-(-ahead_s // QUARTER_S)) * QUARTER_S] += 1
    likely = [(count, offset_s) for offset_s, count in offsets.items() if abs(offset_s) <= 14 * 3600]
    if not likely or own * 2 >= sum(offsets.values()):
        return Calendar()
    return Calendar(timezone(timedelta(seconds=max(likely)[1])))


def days_between(first: date, last: date) -> Iterator[date]:
    """Every day from the first to the last."""
    for number in range((last - first).days + 1):
        yield first + number * DAY
