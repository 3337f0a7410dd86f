"""What is remembered of comparing probes; ``comparisons.py`` says how they are compared."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping


class Record(NamedTuple):
    """What days of comparing have shown of one probe, or of one loop's share of heat.

    Attributes:
        usual: how far it usually is from the others, in K (a share for loops).
        lately: how far it has been lately.
        days: days it was compared on, as far as they count.
        off_days: days in a row on which it was too far from what is usual.
        sunny_days: days, less cloudy ones, on which it was warmer than its place can be.
    """

    usual: float = 0.0
    lately: float = 0.0
    days: int = 0
    off_days: int = 0
    sunny_days: float = 0.0


Looks = dict[str, tuple[int, float]]  # how many, and the sum of what they showed


class Today(NamedTuple):
    """What is kept of a day that is not over.

    Attributes:
        began_s: its first look.
        coldest_c: lowest ceiling temperature so far.
        then_c: every probe's reading at that moment.
        excess_then_k: by house air probe, how much warmer than its peers it was at that moment.
        excess_k: by house air probe, the most that it was warmer than its peers.
        resting: by loop, looks at its resting outlet and the sum of its distances in K.
        banking: by loop, looks at it while it banked and the sum of the shares of the difference that its
            tubes took out of the air.
    """

    began_s: float
    coldest_c: float
    then_c: Mapping[str, float]
    excess_then_k: Mapping[str, float]
    excess_k: Mapping[str, float]
    resting: Looks
    banking: Looks


class Comparisons(NamedTuple):
    """All comparisons.

    Attributes:
        looked_s: when the probes were last looked at.
        today: the day so far, None before the first look.
        records: by probe.
        shares: by loop.
        suspicious: whether any of them may be worth telling (asked at every tick, found once a day).
    """

    looked_s: float
    today: Today | None
    records: Mapping[str, Record]
    shares: Mapping[str, Record]
    suspicious: bool = False


NO_RECORD = Record()


def nothing_compared(now_s: float) -> Comparisons:
    """Nothing seen yet."""
    return Comparisons(now_s, None, {}, {})
