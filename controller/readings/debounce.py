"""Turns the edges of a float switch into a water level that can be trusted, by time and not by count."""

from __future__ import annotations

from collections import deque
from math import inf
from typing import TYPE_CHECKING, Final

from controller.readings.reading import Good, Level, Missing, Why

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.readings.reading import LevelReading, RawLevel

STALE_AFTER_S: Final = 3.0  # the float is looked at just before it is judged; older: the look failed
CHATTER_EDGES: Final = 6  # more edges in a minute than this are no water. [practice]
CHATTER_OVER_S: Final = 60.0
# Edges closer than this are one contact closing once; they bounce for under 20 ms [memory]
BOUNCE_S: Final = 0.05


class Debounce:
    """One float's level over time.

    A level counts once it has lasted unbroken: wet for a moment, dry for longer. An input that cannot be
    read, or that nobody has looked at, counts as nothing at once and has to settle anew. A float that
    bounces counts as wet, because water that slops about is water, and wet is the side on which no fan
    blows.

    Attributes:
        chatters: whether the float bounces now.
        settles_at_mono_s: when the level will change if the input stays as it is, or None.

    Args:
        wet_after_s: how long the input must read wet before it counts, in s.
        dry_after_s: how long it must read dry before it counts, in s.
    """

    __slots__ = (
        "_asked_since_s",
        "_edges",
        "_lost_since_s",
        "_lost_why",
        "_raw",
        "_raw_since_s",
        "_seen_at_s",
        "_settled",
        "chatters",
        "dry_after_s",
        "settles_at_mono_s",
        "wet_after_s",
    )

    def __init__(self, wet_after_s: float, dry_after_s: float) -> None:
        self.wet_after_s = wet_after_s
        self.dry_after_s = dry_after_s
        self.chatters = False
        self.settles_at_mono_s: float | None = None
        self._settled: Level | None = None
        self._raw: Level | None = None
        self._raw_since_s = -inf
        self._seen_at_s = -inf
        self._asked_since_s = inf
        self._lost_why: Why | None = None
        self._lost_since_s = -inf
        self._edges: deque[float] = deque(maxlen=CHATTER_EDGES + 1)

    def judge(self, looks: Sequence[RawLevel], now_mono_s: float) -> LevelReading:
        """Take new looks into account and say what the level is now.

        Args:
            looks: edges and levels since the last call, oldest first.
            now_mono_s: now.
        """
        self._asked_since_s = min(self._asked_since_s, now_mono_s)
        for look in looks:
            self._take(look.level, max(look.at_mono_s, self._seen_at_s))
        if now_mono_s - max(self._seen_at_s, self._asked_since_s) > STALE_AFTER_S:
            self._lose(Why.STALE, max(self._seen_at_s, self._asked_since_s))
        edges = self._edges
        self.chatters = len(edges) > CHATTER_EDGES and now_mono_s - edges[0] <= CHATTER_OVER_S
        if self.chatters and self._raw is not None:
            self._settled = Level.WET  # so that dry has to last again once the bouncing is over
        self._settle(now_mono_s)
        return self._reading()

    def _take(self, level: Level | None, at_s: float) -> None:
        """One look or edge."""
        if level is None:
            self._lose(Why.UNREADABLE, at_s)
        elif level is not self._raw:
            if self._raw is Level.WET:
                self._settle(
                    at_s
                )  # water that came and went between two looks counts; a dry that is over does not
            if self._raw is not None and (not self._edges or at_s - self._edges[-1] >= BOUNCE_S):
                self._edges.append(at_s)
            self._raw = level
            self._raw_since_s = at_s
        self._seen_at_s = at_s

    def _lose(self, why: Why, since_s: float) -> None:
        """Trust no level until one has settled anew."""
        if self._lost_why is None:
            self._lost_since_s = since_s
        self._lost_why = why
        self._raw = None
        self._settled = None

    def _settle(self, at_s: float) -> None:
        """Let the raw level count if it has lasted until ``at_s``, and say when it will if it has not."""
        self.settles_at_mono_s = None
        raw = self._raw
        if raw is None or raw is self._settled:
            return
        due_s = self._raw_since_s + (self.wet_after_s if raw is Level.WET else self.dry_after_s)
        if at_s >= due_s:
            self._settled = raw
            self._lost_why = None
        else:
            self.settles_at_mono_s = due_s

    def _reading(self) -> LevelReading:
        """What is known, as of the last look."""
        if self._raw is not None and self.chatters:
            return Good(Level.WET, self._seen_at_s)
        if self._settled is not None:
            return Good(self._settled, self._seen_at_s)
        if self._lost_why is not None:
            return Missing(self._lost_why, self._lost_since_s)
        return Missing(Why.NEVER_READ, self._asked_since_s)
