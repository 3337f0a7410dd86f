"""When the memory is written, and how much of it a restart could read.

The controller writes its memory at every switching and once a minute. Nobody reads most of it, and writing it
would take most of a campaign's time, so it is written after a start, where a restart or a failing disk is
near, and four times a day all the same. A copy replaces the one before as a whole, so a restart reads what it
always would.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.faults import HOUR_S, MINUTE_S
from tests.lab.campaign.place import DISKS
from tests.lab.campaign.troubles import TroubleKind

if TYPE_CHECKING:
    from tests.lab.campaign.draw import Episode
    from tests.lab.campaign.life import Life
    from tests.lab.campaign.troubles import Trouble

BEFORE_S = 75 * MINUTE_S  # a regular write to the card comes every quarter of an hour
AFTER_S = 20 * MINUTE_S
EVERY_S = 6 * HOUR_S
LONG_AGO_S = -1e12


class Keeping:
    """Follows what is kept, in the monotonic time of the present boot."""

    def __init__(self, episode: Episode, now_s: float) -> None:
        self._disk_s = [each.at_s for each in episode.troubles if each.kind in DISKS]
        self._next_s = self._started_s = 0.0
        self._card_s = self._runtime_s = now_s

    def started(self, now_s: float) -> None:
        """The controller has started, and may have found its memory damaged."""
        self._started_s = now_s

    def due(self, now_s: float, next_ending_s: float) -> bool:
        """Whether the memory is written in this tick."""
        if now_s >= self._next_s:
            self._next_s = now_s + EVERY_S
            return True
        near = now_s >= next_ending_s - BEFORE_S or now_s <= self._started_s + AFTER_S
        return near or any(-BEFORE_S <= now_s - disk_s <= AFTER_S for disk_s in self._disk_s)

    def note(self, life: Life, mono_s: float) -> None:
        """After a tick that wrote it: let it reach the card, and note which copies are good."""
        if life.keep():
            self._card_s = mono_s
        if life.runtime_is_good():
            self._runtime_s = mono_s

    def known_until_s(self, ending: Trouble) -> float:
        """Up to when a restart after this ending can know what happened."""
        if ending.kind is TroubleKind.MEMORY_LOST:
            return LONG_AGO_S
        return max(self._card_s, self._runtime_s) if ending.same_boot else self._card_s

    def booted(self, by_s: float) -> None:
        """Monotonic time is another by this."""
        self._card_s += by_s
        self._runtime_s += by_s
