"""What a person must know of frost: announced in the evening, called where it goes beyond that, then over.

Every sentence says what the fans do about it, and names the lock that is really in force.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.demand import WARMING
from controller.decision.reasons import ReasonCode
from controller.decision.state import Lockout
from controller.diagnosis.day_clock import DAY_H
from controller.diagnosis.evening_words import notice_now
from controller.diagnosis.tonight import (
    EVENING_H,
    Beyond,
    Night,
    beyond,
    coldest,
    night_now,
    out_of_danger,
)
from controller.faults import HOUR_S, MINUTE_S, FaultCode, Finding
from controller.readings.reading import Good
from controller.units import clock_text, duration_text, temperature_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from controller.decision.state import FanState
    from controller.diagnosis.evening import Evening
    from controller.diagnosis.tonight import Tonight
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Settings
    from controller.units import TemperatureUnit

# A person is called at once for water that stays; tubes that only drain are free again soon.
WATER = (Lockout.FLOOD, Lockout.FLOAT_UNREADABLE)
# Frost behind water calls again at every step of this size. [practice]
CALLS_AGAIN_K = 3.0
EMPTY_STORE = (ReasonCode.NOTHING_TO_RETURN, ReasonCode.LITTLE_TO_RETURN)


def frost_findings(
    snapshot: Snapshot,
    fans: Mapping[str, FanState],
    tonight: Tonight,
    evening: Evening,
    settings: Settings,
    now_s: float,
) -> Iterator[Finding]:
    """Frost that is announced, that goes beyond it, that water keeps the fans from, or that was."""
    points, unit = settings.setpoints, settings.site.show
    night, air_c = night_now(tonight, now_s), coldest(snapshot)
    if night is not None and night.announced_c is not None:
        outlook = notice_now(evening, snapshot.hour, now_s, unit)
        yield from _announcement(night, outlook, fans, settings)
    if air_c is None:
        yield from _unseen(snapshot, fans, settings)
    elif air_c <= points.frost_limit_c:
        air = f"air {temperature_text(air_c, unit)}"
        does = fans_words(fans, unit)
        if any(lockout in WATER for fan in fans.values() for lockout in fan.lockouts):
            level = int((points.frost_limit_c - air_c) / CALLS_AGAIN_K)
            yield Finding(FaultCode.FROST_IN_FLOOD, "", f"{air}; {does}", level)
        how = beyond(night, air_c, points)
        called = night is not None and night.called and not night.over
        if how is not None or called:
            words = f"{air}, {_how_words(how, night, settings)}; {does}"
            low_c = air_c if night is None or night.low_c is None or not called else night.low_c
            yield Finding(FaultCode.FROST, "", words, int(low_c <= points.hard_frost_c))
    elif night is not None and night.called and night.over and out_of_danger(tonight, now_s):
        yield Finding(FaultCode.FROST, "", _what_it_was(night, settings), over=True)


def fans_words(fans: Mapping[str, FanState], unit: TemperatureUnit) -> str:
    """What the fans do against the cold, and what keeps those that stand from it."""
    idle = {name: _why_idle(fan, unit) for name, fan in fans.items() if fan.demand not in WARMING}
    if not idle:
        return "every fan warms the house" if len(fans) > 1 else "the fan warms the house"
    whys = list(idle.values())
    if len(idle) == len(fans):
        same = len(set(whys)) == 1
        return f"no fan warms the house: {whys[0] if same else _each(idle)}"
    return f"{len(fans) - len(idle)} of {len(fans)} fans warm the house; not {_each(idle)}"


def _each(idle: Mapping[str, str]) -> str:
    return ", ".join(f"{name} ({why})" for name, why in idle.items())


def _why_idle(fan: FanState, unit: TemperatureUnit) -> str:
    if fan.lockouts:
        return fan.lockouts[0].value
    if fan.reason.code in EMPTY_STORE:
        return "the soil has no warmth left that a fan could bring"
    return fan.reason.sentence(unit)


def _how_words(how: Beyond | None, night: Night | None, settings: Settings) -> str:
    unit, words = settings.site.show, "not announced"
    if night is not None and night.announced_c is not None:
        words = f"{temperature_text(night.announced_c, unit)} was announced"
    if how is Beyond.HARD:
        return f"hard frost (below {temperature_text(settings.setpoints.hard_frost_c, unit)}), {words}"
    if how is None and night is not None and night.low_c is not None:
        words += f", and it has been {temperature_text(night.low_c, unit)}"
    return words


def _announcement(
    night: Night, outlook: str, fans: Mapping[str, FanState], settings: Settings
) -> Iterator[Finding]:
    """The announcement until the morning; then what the night was, if it brought frost and did not call."""
    unit = settings.site.show
    if night.over:
        if night.cold_s and not night.called:
            yield Finding(FaultCode.FROST_TONIGHT, "", _what_it_was(night, settings), over=True)
        return
    limit = temperature_text(settings.setpoints.frost_limit_c, unit)
    words = f"be ready for {temperature_text(night.announced_c or 0.0, unit)} before morning; "
    if night.cold_s:
        words += f"the limit of {limit} has been passed; {fans_words(fans, unit)}"
    else:
        words += f"the limit of {limit} may be passed {_when(night)}"
    if outlook:
        words += f". {outlook}"
    yield Finding(FaultCode.FROST_TONIGHT, "", words, night.news)


def _when(night: Night) -> str:
    """About when the limit will be passed, by the clock if one is set."""
    if night.by_clock:
        return f"from about {clock_text(round(night.limit_at_h))}"
    left_s = (night.limit_at_h - EVENING_H) % DAY_H * HOUR_S
    return f"about {duration_text(left_s)} after nightfall" if left_s > HOUR_S else "soon after nightfall"


def _what_it_was(night: Night, settings: Settings) -> str:
    """The night that is over, in one line."""
    unit = settings.site.show
    low = "" if night.low_c is None else f" {temperature_text(night.low_c, unit)}"
    at = "" if night.low_h is None else f" at {clock_text(night.low_h)}"
    frozen = night.frozen_s >= MINUTE_S
    below = f"below {temperature_text(0.0, unit)}"
    if not frozen:
        below = f"at the limit of {temperature_text(settings.setpoints.frost_limit_c, unit)} or below"
    for_s = night.frozen_s if frozen else night.cold_s
    return f"frost last night: low{low}{at}, {duration_text(for_s)} {below}; look at the crop"


def _unseen(snapshot: Snapshot, fans: Mapping[str, FanState], settings: Settings) -> Iterator[Finding]:
    """Frost by the outdoor probe, where no air of the house can be read."""
    outdoor, unit = snapshot.outdoor, settings.site.show
    if isinstance(outdoor, Good) and outdoor.value <= settings.setpoints.frost_limit_c:
        outside = temperature_text(outdoor.value, unit)
        words = f"no air probe in the house can be read, but outdoors it is {outside}"
        hard = outdoor.value <= settings.setpoints.hard_frost_c
        yield Finding(FaultCode.FROST, "", f"{words}; {fans_words(fans, unit)}", int(hard))
