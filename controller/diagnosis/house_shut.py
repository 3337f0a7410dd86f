"""Whether the house keeps its warmth on a cold night as it usually does, or stands open somewhere.

Two signs show an open door or vent in the dark. The bench keeps less of the way from the air outdoors up to
the soil than on other nights, and cold air that comes to lie below leaves the roof warmer than the bench.
Wind takes warmth as well, but mixes the air. Fans change both, so that every number of running fans has its
own usual figures; while one runs whose outlet has not proven that it moves heat, no look is taken.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

from controller.decision.state import Proof
from controller.diagnosis.tonight import NEAR_FROST_K, mean_soil_c
from controller.faults import HOUR_S, FaultCode, Finding
from controller.readings.reading import Good
from controller.units import difference_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from controller.decision.state import ControllerState, FanState
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Setpoints
    from controller.units import TemperatureUnit

LOOK_EVERY_S = 900.0
# Dark at these hours on all nights that are cold enough, and the air has settled after so long. [practice]
DARK_FROM_H, DARK_UNTIL_H, SETTLED_S = 21.0, 5.0, 1500.0
# Outdoors no warmer than this above where frost is near; soil warmer than that by so much. [practice]
COLD_ABOVE_K, LEAST_ROOM_K = 3.0, 6.0
# What a missing share of the usual warmth (0 to 1) and a warmer roof (K) come to together in an open house.
# Without fans wind does more. [practice]
OPEN_AT_REST, OPEN_WITH_FANS = 0.95, 0.4
LOOKS, SHUT_AGAIN = 6, 0.6
LEAST_SHARE_MISSING = 0.15
# Usual figures are known after three hours and follow within a few nights; what may be an open house teaches
# little, so that a torn film is called for weeks.
LOOKS_TO_KNOW, USUAL_LOOKS, DOUBTED_LOOKS = 12, 200, 2000


class UsualNight(NamedTuple):
    """What is usual with one number of running fans.

    Attributes:
        share: of the way from the air outdoors up to the soil that the bench keeps.
        roof_k: how much warmer than the bench the roof is.
        looks: that this was learned from, as far as they count.
    """

    share: float
    roof_k: float
    looks: int = 1


_FANS: Final = {0: "no fan runs", 1: "one fan runs"}
NO_USUAL: Final[Mapping[int, UsualNight]] = {}


class HouseWatch(NamedTuple):
    """What nights have shown of the house.

    Attributes:
        looked_s: when it was last looked at.
        fans: how many ran then.
        since_s: since when it is so many.
        usual: by number of running fans.
        signs: of this night, the last ones: 1 and more is an open house.
        open_: whether the house counts as open.
        gap_k: how much warmer than outdoors the bench was at the last look.
        usual_k: how much it usually is.
    """

    looked_s: float = -math.inf
    fans: int = 0
    since_s: float = -math.inf
    usual: Mapping[int, UsualNight] = NO_USUAL
    signs: tuple[float, ...] = ()
    open_: bool = False
    gap_k: float = 0.0
    usual_k: float = 0.0


NO_NIGHTS = HouseWatch()


def watched_house(
    before: HouseWatch,
    snapshot: Snapshot,
    state: ControllerState,
    points: Setpoints,
    hour: float | None,
    now_s: float,
) -> HouseWatch:
    """What is known after one tick; it looks every quarter of an hour, in the dark of cold nights.

    Args:
        before: what was known.
        snapshot: judged readings.
        state: which fans run, and what they have proven.
        points: the setpoints in force.
        hour: of the day, None while nothing shows it.
        now_s: now.
    """
    if now_s - before.looked_s < LOOK_EVERY_S:
        return before
    fans = sum(fan.demand is not None for fan in state.fans.values())
    since_s = before.since_s if fans == before.fans else now_s
    watch = before._replace(looked_s=now_s, fans=fans, since_s=since_s)
    dark = hour is not None and (hour >= DARK_FROM_H or hour < DARK_UNTIL_H)
    if not dark or now_s - before.looked_s > HOUR_S:
        return watch._replace(signs=(), open_=False)
    if now_s - since_s < SETTLED_S or not all(_is_sure(fan) for fan in state.fans.values()):
        return watch
    return _looked(watch, snapshot, points.frost_limit_c + NEAR_FROST_K + COLD_ABOVE_K)


def _is_sure(fan: FanState) -> bool:
    """Whether it is known what this fan does to the air."""
    return fan.demand is None or (fan.proof is Proof.PROVEN and not fan.failed_runs)


def _looked(watch: HouseWatch, snapshot: Snapshot, cold_c: float) -> HouseWatch:
    """One look, if the night is cold and everything that is needed can be read."""
    bench, ceiling, outdoor = snapshot.bench, snapshot.ceiling, snapshot.outdoor
    soil_c = mean_soil_c(snapshot)
    if soil_c is None:
        return watch
    if not (isinstance(bench, Good) and isinstance(ceiling, Good) and isinstance(outdoor, Good)):
        return watch
    room_k, gap_k = soil_c - outdoor.value, bench.value - outdoor.value
    if outdoor.value > cold_c or room_k < LEAST_ROOM_K:
        return watch
    share, roof_k, known = gap_k / room_k, ceiling.value - bench.value, watch.usual.get(watch.fans)
    if known is None or known.share <= 0.0:
        return watch._replace(usual={**watch.usual, watch.fans: UsualNight(share, roof_k)})
    missing = 1.0 - share / known.share
    sign = (missing + roof_k - known.roof_k) / (OPEN_WITH_FANS if watch.fans else OPEN_AT_REST)
    if missing < LEAST_SHARE_MISSING:
        sign = min(sign, 0.0)
    signs = (*watch.signs, sign)[-LOOKS:] if known.looks >= LOOKS_TO_KNOW else watch.signs
    mean = sum(signs) / LOOKS  # fewer looks than that are not enough
    doubted = bool(signs) and sign > SHUT_AGAIN and known.looks >= LOOKS_TO_KNOW
    looks = DOUBTED_LOOKS if doubted else min(known.looks + 1, USUAL_LOOKS)
    learned = UsualNight(
        known.share + (share - known.share) / looks,
        known.roof_k + (roof_k - known.roof_k) / looks,
        known.looks if doubted else looks,
    )
    return watch._replace(
        usual={**watch.usual, watch.fans: learned},
        signs=signs,
        open_=mean >= (SHUT_AGAIN if watch.open_ else 1.0),
        gap_k=gap_k,
        usual_k=known.share * room_k,
    )


def house_findings(watch: HouseWatch, unit: TemperatureUnit) -> Iterator[Finding]:
    """A house that stands open."""
    if watch.open_:
        fans = _FANS.get(watch.fans, f"{watch.fans} fans run")
        words = (
            f"the bench is only {difference_text(watch.gap_k, unit)} warmer than outdoors; "
            f"{difference_text(watch.usual_k, unit)} would be usual while {fans}"
        )
        yield Finding(FaultCode.HOUSE_OPEN, "", words)
