"""Whether the soil of a loop warms at all while its fan banks, against what it usually does.

Water in the tubes of a sump keeps the air from all of its loops at once, so that no loop can be compared with
another. Outlets then show it only where house and soil are far apart. But the heat does not reach the soil
either, and after some hours of banking that is plain. Silt does the same to the soil beside it while the air
of the loop still moves through other tubes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from controller.diagnosis.probe_records import Warmth
from controller.faults import HOUR_S, FaultCode, Finding

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from controller.diagnosis.probe_records import LoopDay
    from controller.diagnosis.start_records import StartRecord

# A day with less banking shows too little in steps of 1/16 K, and heat takes hours to the middle between two
# tubes. [practice]
LEAST_DRIVE_KH = 20.0
# On the least day of rehearsed sound years (Carolina, 8 K colder, Alaska's coast) a soil warmed by 0.32 of
# what is usual, beside silt by 0.09 at most.
IDLE_SHARE = 0.2
# Soil that thaws takes heat without warming.
THAWED_C = 1.0
DAYS_TO_KNOW, USUAL_DAYS = 3, 30
SAME_DAY_S = 12.0 * HOUR_S


def warmths_after(day: LoopDay, before: Mapping[str, Warmth]) -> Mapping[str, Warmth]:
    """What is usual after one more day; days on which a soil did not warm teach nothing."""
    after = dict(before)
    for name, shown in _shown(day).items():
        known = before.get(name)
        if known is None:
            known = Warmth(shown)
        elif _is_idle(shown, known):
            continue
        days = min(known.days + 1, USUAL_DAYS)
        after[name] = Warmth(known.usual + (shown - known.usual) / days, days)
    return after


def with_idle(day: LoopDay, before: Mapping[str, Warmth], now_s: float) -> Mapping[str, Warmth]:
    """The same, with the loops whose soil has not warmed today so far."""
    idle = {
        name: before[name]._replace(idle_at_s=now_s)
        for name, shown in _shown(day).items()
        if name in before and _is_idle(shown, before[name])
    }
    return {**before, **idle} if idle else before


def _shown(day: LoopDay) -> dict[str, float]:
    """How much each soil has warmed today for what its loop has banked, in K per K·h, where that shows."""
    return {
        name: day.soils_c[name][1] / driven_kh
        for name, driven_kh in day.drive_kh.items()
        if driven_kh >= LEAST_DRIVE_KH and day.soils_c[name][0] >= THAWED_C
    }


def _is_idle(shown: float, known: Warmth) -> bool:
    return known.days >= DAYS_TO_KNOW and shown < IDLE_SHARE * known.usual


class Soils(NamedTuple):
    """Loops whose soil does not warm although their fans have banked for hours.

    Attributes:
        idle: all of them.
        still: those whose air has not been seen to move since; water may stand in their tubes.
        aired: those whose air has moved on the same day or since. Their soil probe no longer shows what the
            tubes do, so that nothing else can be judged by it.
    """

    idle: frozenset[str]
    still: frozenset[str]
    aired: frozenset[str]


NO_SOILS: Final = Soils(frozenset(), frozenset(), frozenset())


def idle_soils(warmths: Mapping[str, Warmth], starts: Mapping[str, StartRecord]) -> Soils:
    """What the soils show now; a soil that has warmed on a later day is left out."""
    idle = {name: one.idle_at_s for name, one in warmths.items() if one.idle_at_s is not None}
    if not idle:
        return NO_SOILS
    return Soils(
        frozenset(idle),
        frozenset(name for name, at_s in idle.items() if starts[name].moved_s <= at_s),
        frozenset(name for name, at_s in idle.items() if starts[name].moved_s > at_s - SAME_DAY_S),
    )


def soil_findings(soils: Soils, named: Iterable[Finding]) -> Iterator[Finding]:
    """Loops whose soil alone shows that they lack air.

    Args:
        soils: what the soils show.
        named: what the fans have shown; whole sumps that are shut are not named loop by loop.
    """
    if not any(one.code is FaultCode.TUBES_SHUT for one in named):
        for name in sorted(soils.idle):
            words = "its soil has not warmed, although its fan has banked for hours"
            yield Finding(FaultCode.LOOP_WEAK, name, words)
