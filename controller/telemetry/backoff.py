"""How long to wait before the next attempt: longer each time, and never in step with others."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import random

SHORTEST_S = 1.0
# Phones see the house again within a minute of the broker's return, however long it was away.
LONGEST_S = 45.0


class Backoff:
    """Doubling pauses from 1 s to 45 s, each shortened at random by up to half.

    The jitter keeps the controllers of many houses from returning to one broker in the same second.

    Args:
        dice: where the jitter comes from.
    """

    def __init__(self, dice: random.Random) -> None:
        self._dice = dice
        self._next_s = SHORTEST_S

    def pause_s(self) -> float:
        """The next pause in s."""
        longest_s = self._next_s
        self._next_s = min(longest_s * 2.0, LONGEST_S)
        return self._dice.uniform(longest_s / 2.0, longest_s)

    def reset(self) -> None:
        """Begin again with short pauses."""
        self._next_s = SHORTEST_S
