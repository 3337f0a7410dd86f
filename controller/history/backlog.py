"""Rows waiting to be written: bounded, and readings go first when there is no room."""

from __future__ import annotations

import threading
from collections import deque
from heapq import merge
from itertools import islice
from typing import TYPE_CHECKING

from controller.history.rows import AlarmRow, ChangeRow, DayRow, ReadingRow

if TYPE_CHECKING:
    from collections.abc import Iterable

    from controller.history.rows import Row

READINGS, EVENTS, REASONS = range(3)
RANKS = (READINGS, EVENTS, REASONS)

# Each write wears the card by several blocks, however small it is: measured, 21 kB for three readings,
# most of it for the index beside SQLite's log. Readings and today's sums alone can wait for this many rows
# (half an hour at the default); reasons, alarms and events never do.
READINGS_IN_ONE_WRITE = 6

Numbered = tuple[int, "Row"]


def rank(row: Row) -> int:
    """How long a row is kept when room runs out: readings least, output changes and alarms longest.

    Today's sums so far rank as readings: the next ones replace them, and they can wait for company as well.
    """
    if isinstance(row, ReadingRow) or (isinstance(row, DayRow) and not row.finished):
        return READINGS
    return REASONS if isinstance(row, ChangeRow | AlarmRow) else EVENTS


class Backlog:
    """A first-in first-out store of at most ``limit`` rows, safe to use from two threads."""

    def __init__(self, limit: int) -> None:
        self._limit = limit
        self._lock = threading.Lock()
        self._lanes: tuple[deque[Numbered], ...] = tuple(deque() for _ in RANKS)
        self._count = 0
        self._dropped = 0

    def __len__(self) -> int:
        return sum(len(lane) for lane in self._lanes)

    def put(self, rows: Iterable[Row]) -> None:
        """Add rows; where there is no room the oldest of the least rank is dropped and counted."""
        with self._lock:
            for row in rows:
                self._lanes[rank(row)].append((self._count, row))
                self._count += 1
            self._shed()

    def due(self) -> bool:
        """Whether it is worth a write: anything but readings is, and so are a few readings together."""
        return any(self._lanes[EVENTS:]) or len(self._lanes[READINGS]) >= READINGS_IN_ONE_WRITE

    def take(self, most: int) -> list[Numbered]:
        """Take out the oldest ``most`` rows, in order."""
        with self._lock:
            batch = list(islice(merge(*self._lanes, key=_number), most))
            for _, row in batch:
                self._lanes[rank(row)].popleft()  # every lane is in order, so this is that very row
            return batch

    def give_back(self, batch: list[Numbered]) -> None:
        """Put a batch that could not be written back to the front."""
        with self._lock:
            for numbered in reversed(batch):
                self._lanes[rank(numbered[1])].appendleft(numbered)
            self._shed()

    def take_dropped(self) -> int:
        """Rows dropped since the last call."""
        with self._lock:
            dropped, self._dropped = self._dropped, 0
            return dropped

    def count_dropped(self, rows: int) -> None:
        """Add to the dropped rows (those the database refused, or whose count could not be written)."""
        with self._lock:
            self._dropped += rows

    @property
    def dropped(self) -> int:
        """Rows dropped and not yet written down as such."""
        return self._dropped

    def _shed(self) -> None:
        """Drop rows, least rank and oldest first, until the limit holds."""
        while len(self) > self._limit:
            next(lane for lane in self._lanes if lane).popleft()
            self._dropped += 1


def _number(numbered: Numbered) -> int:
    """What rows are ordered by."""
    return numbered[0]
