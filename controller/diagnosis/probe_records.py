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


class LoopDay(NamedTuple):
    """What is kept of the loops of a day that is not over.

    Attributes:
        rests: by loop, looks at its outlet while all fans were at rest, and the sum of the shares of the way
            from soil to house that it had settled at.
        soils_c: by loop, coldest soil, and the most that it has warmed since it was so cold.
        drive_kh: by loop, difference between ceiling and soil over the time it banked.
    """

    rests: Mapping[str, tuple[int, float]]
    soils_c: Mapping[str, tuple[float, float]]
    drive_kh: Mapping[str, float]


NEW_DAY = LoopDay({}, {}, {})


class Warmth(NamedTuple):
    """What days of banking have shown of one loop's soil.

    Attributes:
        usual: how much it warms for what the loop banks, in K per K·h.
        days: days that was learned from, as far as they count.
        idle_at_s: when it was last seen not to have warmed although the loop had banked, None if never.
    """

    usual: float
    days: int = 0
    idle_at_s: float | None = None


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
        loops: what else the loops are compared by.
    """

    began_s: float
    coldest_c: float
    then_c: Mapping[str, float]
    excess_then_k: Mapping[str, float]
    excess_k: Mapping[str, float]
    resting: Looks
    banking: Looks
    loops: LoopDay


class Comparisons(NamedTuple):
    """All comparisons.

    Attributes:
        looked_s: when the probes were last looked at.
        today: the day so far, None before the first look.
        records: by probe.
        shares: by loop, of the heat it takes out of the air.
        rests: by loop, where its outlet settles at rest.
        swings: by loop, how much its soil warms for what it banks, against the other loops.
        warmths: by loop, the same by itself.
        suspicious: whether any of them may be worth telling (asked at every tick, found once a day).
    """

    looked_s: float
    today: Today | None
    records: Mapping[str, Record]
    shares: Mapping[str, Record]
    rests: Mapping[str, Record]
    swings: Mapping[str, Record]
    warmths: Mapping[str, Warmth]
    suspicious: bool = False


NO_RECORD = Record()
# So many days in a row must agree before a person is called.
DAYS_TO_REPORT = 3
# The usual distance is learned over about a month, the present one over a few days.
USUAL_DAYS, LATELY_WEIGHT = 30, 0.5
DAYS_TO_KNOW = 5


def nothing_compared(now_s: float) -> Comparisons:
    """Nothing seen yet."""
    return Comparisons(now_s, None, {}, {}, {}, {}, {})


def with_day(record: Record, distance: float, limit: float, fixed: bool = False) -> Record:
    """One more day; the usual distance is learned, unless fixed at 0, but not from days that are off."""
    first = record.days == 0
    usual = 0.0 if fixed else (distance if first else record.usual)
    lately = distance if first else record.lately + LATELY_WEIGHT * (distance - record.lately)
    known = fixed or record.days >= DAYS_TO_KNOW
    off = known and abs(lately - usual) >= limit
    days = min(record.days + 1, USUAL_DAYS)
    if not (off or fixed):
        most = limit / USUAL_DAYS if known else limit  # a sudden change must not be learned as usual
        usual += min(max((distance - usual) / days, -most), most)
    off_days = min(record.off_days + 1, DAYS_TO_REPORT) if off else 0
    return record._replace(usual=usual, lately=lately, days=days, off_days=off_days)
