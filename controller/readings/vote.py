"""Makes one reading out of the probes of one place."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING, Final

from controller.readings.reading import Good, Missing, Why

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.readings.reading import Reading

LAG_S: Final = 60.0  # a value this much older than a fresh one has no vote. [practice]
ENOUGH: Final = 2  # probes that must agree where there are several


def median(values: list[float]) -> float:
    """The middle value, or the mean of the two in the middle; there is at least one."""
    values.sort()
    half = len(values) // 2
    return values[half] if len(values) % 2 else (values[half - 1] + values[half]) / 2.0


def vote(readings: Sequence[Reading], spread_k: float) -> tuple[Reading, tuple[int, ...]]:
    """One reading for a place, and which probes it does not agree with.

    One good probe speaks for itself. Of several, those further than ``spread_k`` from their median are
    dropped (two are dropped together when they are further than that from each other), and at least two
    must be left. Two in dispute give nothing: with no third nobody can say which is wrong, and choosing
    the colder or the warmer would make every drifting probe run or stop a fan for one of its reasons. The
    probes' own readings stay good, so that the watch for fire and frost still hears the highest and the
    lowest.

    Args:
        readings: judged readings of the place's probes, at least one.
        spread_k: how far they may be apart in K.

    Returns:
        The reading, as old as the oldest value in it, and the positions of the probes that were dropped.
    """
    good = [(reading, position) for position, reading in enumerate(readings) if isinstance(reading, Good)]
    if not good:
        return readings[0], ()
    newest_s = max([reading.at_mono_s for reading, _ in good])
    good = [one for one in good if newest_s - one[0].at_mono_s <= LAG_S]
    if len(good) == 1:
        return good[0][0], ()
    middle_c = median([reading.value for reading, _ in good])
    reach_k = spread_k / 2.0 if len(good) == ENOUGH else spread_k
    far = tuple([position for reading, position in good if abs(reading.value - middle_c) > reach_k])
    if not far:
        return Good(middle_c, min([reading.at_mono_s for reading, _ in good])), ()
    near = [reading for reading, position in good if position not in far]
    if len(near) < ENOUGH:
        return Missing(Why.OUTVOTED, newest_s), tuple([position for _, position in good])
    value_c = median([reading.value for reading in near])
    return Good(value_c, min([reading.at_mono_s for reading in near])), far


class Ballot:
    """The vote of one place over time: what was agreed last stays good for the hold time of the place.

    Attributes:
        dropped: positions of the probes that the last result does not agree with.
        settled_until_s: until then nothing changes unless a probe's reading does.
    """

    __slots__ = ("_agreed", "_since_s", "dropped", "settled_until_s")

    def __init__(self) -> None:
        self.dropped: tuple[int, ...] = ()
        self.settled_until_s = -inf
        self._agreed: Good[float] | None = None
        self._since_s: float | None = None

    def count(
        self, readings: Sequence[Reading], spread_k: float, hold_s: float, now_mono_s: float
    ) -> Reading:
        """Vote on new readings.

        Args:
            readings: judged readings of the place's probes, at least one.
            spread_k: how far they may be apart in K.
            hold_s: how long an agreed value outlasts a dispute in s.
            now_mono_s: now.
        """
        reading, self.dropped = vote(readings, spread_k)
        self.settled_until_s = inf
        agreed = self._agreed
        if isinstance(reading, Good):
            self._agreed = reading
            self._since_s = None
        elif reading.why is Why.OUTVOTED:
            if agreed is not None and now_mono_s - agreed.at_mono_s <= hold_s:
                self.settled_until_s = agreed.at_mono_s + hold_s
                reading = agreed
            else:
                self._since_s = reading.since_mono_s if self._since_s is None else self._since_s
                reading = Missing(Why.OUTVOTED, self._since_s)
        return reading
