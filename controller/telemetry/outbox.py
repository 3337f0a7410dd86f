"""Messages that wait for the broker: bounded for any outage. Knows nothing of MQTT libraries."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass

STATES_ROOM = 4  # one part in so many of an outbox is kept for states


@dataclass(frozen=True, slots=True)
class Letter:
    """One message to be sent.

    Attributes:
        topic: full topic.
        payload: JSON, or empty to delete what the broker retains.
        qos: 0 at most once, 1 at least once.
        retain: whether the broker keeps it for those who come later.
        expires_s: after this it is worth nothing any more, None if it stays true.
        in_order: True for messages whose every step matters (alarms, days); False for states, where only the
            newest of a topic matters.
        seq: number of the control tick behind it.
    """

    topic: str
    payload: bytes
    qos: int
    retain: bool
    expires_s: float | None = None
    in_order: bool = False
    seq: int = 0


class Outbox:
    """Keeps the newest state of every topic and the alarms in their order; safe to use from any thread.

    When it is full the oldest state goes first, because the next one brings it back. A quarter of the room is
    the states' all the same: after an outage full of alarms people must hear of the present, too. So where
    there are fewer states than that the oldest alarm goes.

    Args:
        limit: most messages kept, 1 or more.
    """

    def __init__(self, limit: int) -> None:
        if limit < 1:
            raise ValueError(f"an outbox holds at least one message, not {limit}")
        self._limit = limit
        self._lock = threading.Lock()
        self._states: OrderedDict[str, Letter] = OrderedDict()
        self._ordered: list[Letter] = []
        self._dropped = 0

    def put(self, letter: Letter) -> None:
        """Add a message; never blocks for long and never fails."""
        with self._lock:
            if letter.in_order:
                self._ordered.append(letter)
            else:
                self._states.pop(letter.topic, None)
                self._states[letter.topic] = letter
            self._shrink()

    def take(self) -> Letter | None:
        """Remove and return the next message, alarms before states, or None if the box is empty."""
        with self._lock:
            if self._ordered:
                return self._ordered.pop(0)
            if self._states:
                return self._states.popitem(last=False)[1]
            return None

    def give_back(self, letters: list[Letter]) -> None:
        """Return messages, oldest first, that were taken but never confirmed; a newer state wins."""
        with self._lock:
            self._ordered[:0] = [letter for letter in letters if letter.in_order]
            for letter in reversed([letter for letter in letters if not letter.in_order]):
                if letter.topic not in self._states:
                    self._states[letter.topic] = letter
                    self._states.move_to_end(letter.topic, last=False)
            self._shrink()

    @property
    def dropped(self) -> int:
        """Messages given up because the outbox was full."""
        with self._lock:
            return self._dropped

    def __len__(self) -> int:
        with self._lock:
            return self._size()

    def _size(self) -> int:
        return len(self._states) + len(self._ordered)

    def _shrink(self) -> None:
        while self._size() > self._limit:
            if not self._ordered or len(self._states) > self._limit // STATES_ROOM:
                self._states.popitem(last=False)
            else:
                self._ordered.pop(0)
            self._dropped += 1
