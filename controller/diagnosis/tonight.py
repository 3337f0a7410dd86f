"""How cold the house may get tonight, judged in the evening, and what the night then brought.

No forecast is known here. The evening's outdoor air less what it lately fell by night gives the coldest hour
outdoors; the house stays above that by a share of the distance to the soil, which nights before have shown
too. Nights come in spells, so the coldest of the last three counts as well. The lower of both is taken, and
announced a kelvin lower still: a needless announcement costs a walk, a missing one the crop.

Evening is from 17 to 22 o'clock by the local clock, when somebody is still up. While the clock is not set the
air of the house shows the hour (``day_clock``); until it does, nothing is announced and frost calls at once.
"""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING, NamedTuple

from controller.diagnosis.day_clock import DAY_H, DayWave, followed, hour_by_the_air
from controller.faults import DAY_S, HOUR_S
from controller.readings.reading import Good

if TYPE_CHECKING:
    from controller.decision.state import Need
    from controller.readings.reading import Reading
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Setpoints

EVENING_H, EVENING_ENDS_H = 17.0, 22.0  # [practice]
# What the night has brought is counted until then; frost by day belongs to the evening before it. [practice]
SUNRISE_H, MORNING_H, NOON_H = 6.0, 7.0, 12.0
NIGHTS_KEPT, SPELL_NIGHTS = 5, 3
# Figures of a clear night in an empty memory: outdoors falls by this, the house keeps this share. [practice]
USUAL_FALL_K, USUAL_SHARE = 8.0, 0.3
# Of a night's fall so much is still to come at the end of the evening. [practice]
FALL_LEFT = 0.4
# A house no warmer than this above the air outdoors shows nothing of the share that it keeps. [practice]
SHOWS_SHARE_FROM_K = 4.0
# How far a spell's nights follow the evening's air, and how much colder the next may be. Found, with the
# number of nights, on two of the five sound years of tests/lab/detection.
FOLLOWS, SPELL_MARGIN_K = 0.3, 0.3
# Announced is so much less than expected, and again when so much less is expected than was announced.
MARGIN_K = NEWS_K = 1.0
# Above the limit by this, for this long, the house is out of danger.
OUT_OF_DANGER_K, OUT_OF_DANGER_S = 0.5, HOUR_S
# Frost is near while something is within this of the limit.
NEAR_FROST_K = 5.0
LOOK_EVERY_S = 60.0
LONGEST_LOOK_S = 900.0  # a gap in the ticks is no time of frost


class PastNight(NamedTuple):
    """What one night has shown.

    Attributes:
        low_c: the coldest the house became.
        evening_c: air outdoors in the evening, None without a probe there.
        fall_k: how far outdoors fell from then on.
        share: how much of the distance between soil and outdoors the house has kept, None if it shows none.
    """

    low_c: float
    evening_c: float | None = None
    fall_k: float | None = None
    share: float | None = None


class Warned(NamedTuple):
    """How cold the house may get: what decides whether that is announced, and what is then announced."""

    low_c: float
    announced_c: float


class Night(NamedTuple):
    """The night in progress, from one evening to the next.

    Attributes:
        began_s: when its evening began.
        evening_c: air outdoors then.
        soil_c: mean of the soils then.
        low_c: coldest of the house so far, None until it has been read.
        low_at_s: when.
        low_h: the hour of day then, None while the clock is not set.
        outdoor_low_c: coldest outdoors so far.
        frozen_s: how long the house was below 0 °C.
        cold_s: how long it was at or below the crop limit.
        announced_c: how cold it was announced to get, None if it was not.
        limit_at_h: the hour about which the limit will be passed, by that announcement.
        by_clock: whether hours are those of a clock that is set.
        news: how often the announcement has become worse.
        called: whether the house became colder than a person had been warned of.
        over: whether it is morning and the house is out of danger, or noon.
    """

    began_s: float
    evening_c: float | None = None
    soil_c: float | None = None
    low_c: float | None = None
    low_at_s: float = 0.0
    low_h: float | None = None
    outdoor_low_c: float | None = None
    frozen_s: float = 0.0
    cold_s: float = 0.0
    announced_c: float | None = None
    limit_at_h: float = 0.0
    by_clock: bool = True
    news: int = 0
    called: bool = False
    over: bool = False


class Tonight(NamedTuple):
    """Everything the judgement of nights remembers.

    Attributes:
        wave: what the air shows of the time of day.
        nights: what the last nights have shown, oldest first.
        night: the one in progress, None until an evening has come.
        air_c: last good air of the house, the colder of roof and bench.
        outdoor_c: last good air outdoors.
        hour: of the day, None while nothing shows it.
        at_s: when this was last updated.
        danger_until_s: when the house was last not yet out of danger.
    """

    wave: DayWave
    nights: tuple[PastNight, ...]
    night: Night | None
    air_c: float | None
    outdoor_c: float | None
    hour: float | None
    at_s: float
    danger_until_s: float


def nothing_known(now_s: float) -> Tonight:
    """Before the first look."""
    return Tonight(DayWave(), (), None, None, None, None, now_s, now_s)


def coldest(snapshot: Snapshot) -> float | None:
    """The colder of roof and bench, None where neither can be read."""
    return _least(_value(snapshot.bench), _value(snapshot.ceiling))


def near_frost(tonight: Tonight, need: Need, frost_limit_c: float) -> bool:
    """Whether the last good air, outdoors or the coldest lately is near the crop's limit."""
    known = (tonight.air_c, tonight.outdoor_c, need.coldest_c)
    return any(value is not None and value <= frost_limit_c + NEAR_FROST_K for value in known)


def out_of_danger(tonight: Tonight, now_s: float) -> bool:
    """Whether the house has been clear of the limit for a while."""
    return now_s - tonight.danger_until_s >= OUT_OF_DANGER_S


def night_now(tonight: Tonight, now_s: float) -> Night | None:
    """The night in progress, or the last one until the next evening; None once its evening is a day past."""
    night = tonight.night
    return None if night is None or now_s - night.began_s > DAY_S + HOUR_S else night


class Beyond(Enum):
    """How a cold house goes beyond what a person was warned of."""

    UNANNOUNCED = "not announced"
    COLDER = "colder than announced"
    HARD = "hard frost"


def beyond(night: Night | None, air_c: float, points: Setpoints) -> Beyond | None:
    """Whether air this cold is more than was announced, or hard frost; the worst of it."""
    if air_c <= points.hard_frost_c:
        return Beyond.HARD
    if night is None or night.announced_c is None:
        return Beyond.UNANNOUNCED
    return Beyond.COLDER if air_c < night.announced_c - MARGIN_K else None


def watched_night(
    before: Tonight, snapshot: Snapshot, points: Setpoints, now_s: float, warned: Warned | None = None
) -> Tonight:
    """What is known after one tick; it looks once a minute.

    Args:
        before: what the tick before has left.
        snapshot: judged readings of this tick.
        points: the limits of the crop.
        now_s: monotonic time of this tick in s.
        warned: what the outlook expects, None while it has learned too little; then the rule here counts.
    """
    passed_s = now_s - before.at_s
    if 0.0 <= passed_s < LOOK_EVERY_S and before.air_c is not None:
        return before
    air_c, outdoor_c = coldest(snapshot), _value(snapshot.outdoor)
    wave, roof_c = before.wave, _value(snapshot.ceiling)
    if roof_c is not None:
        wave = followed(wave, roof_c, now_s)
    by_clock = snapshot.hour is not None
    hour = snapshot.hour if by_clock else hour_by_the_air(wave, now_s)
    nights, night = before.nights, before.night
    if hour is not None and _evening_begins(night, hour, now_s):
        if night is not None:
            nights = _with(nights, night)
        night = Night(now_s, outdoor_c, mean_soil_c(snapshot))
    if night is not None and hour is not None:
        night = _after(night, air_c, outdoor_c, hour if by_clock else None, now_s)
        if not night.over and MORNING_H <= hour < EVENING_H:
            night = night._replace(over=hour >= NOON_H or out_of_danger(before, now_s))
        if EVENING_H <= hour < EVENING_ENDS_H:
            low_c = _least(
                _low_by_outdoors_c(nights, outdoor_c, mean_soil_c(snapshot), hour),
                _low_of_a_spell_c(nights, night.evening_c),
            )
            warned = _with_air(warned or _warned(low_c), air_c)
            night = _announced(night, warned, air_c, points.frost_limit_c, hour)._replace(by_clock=by_clock)
        if _is_night(hour) and air_c is not None:
            night = _counted(night, air_c, points, min(passed_s, LONGEST_LOOK_S))
    safe = air_c is not None and air_c > points.frost_limit_c + OUT_OF_DANGER_K
    return Tonight(
        wave,
        nights,
        night,
        before.air_c if air_c is None else air_c,
        before.outdoor_c if outdoor_c is None else outdoor_c,
        hour,
        now_s,
        before.danger_until_s if safe else now_s,
    )


def _low_by_outdoors_c(
    nights: tuple[PastNight, ...], outdoor_c: float | None, soil_c: float | None, hour: float
) -> float | None:
    """How cold the house will get by the air outdoors at this hour of the evening, None without a probe."""
    if outdoor_c is None or soil_c is None:
        return None
    falls = [night.fall_k for night in nights if night.fall_k is not None]
    shares = [night.share for night in nights if night.share is not None]
    gone = (1.0 - FALL_LEFT) * (hour - EVENING_H) / (EVENING_ENDS_H - EVENING_H)
    low_c = outdoor_c - (1.0 - gone) * max(_mean(falls, USUAL_FALL_K), 0.0)
    return low_c + _mean(shares, USUAL_SHARE) * max(soil_c - low_c, 0.0)


def _low_of_a_spell_c(nights: tuple[PastNight, ...], evening_c: float | None) -> float | None:
    """How cold the house will get if this night follows the last ones, None without any."""
    lows = []
    for night in nights[-SPELL_NIGHTS:]:
        warmer_k = 0.0
        if evening_c is not None and night.evening_c is not None:
            warmer_k = FOLLOWS * (evening_c - night.evening_c)
        lows.append(night.low_c + warmer_k - SPELL_MARGIN_K)
    return min(lows, default=None)


def _evening_begins(night: Night | None, hour: float, now_s: float) -> bool:
    """Whether this look opens a new night: an evening hour, and the last evening is over for long."""
    if not EVENING_H <= hour < EVENING_ENDS_H:
        return False
    return night is None or now_s - night.began_s > (EVENING_ENDS_H - EVENING_H + 1.0) * HOUR_S


def _is_night(hour: float) -> bool:
    return hour >= EVENING_H or hour < NOON_H


def _after(
    night: Night, air_c: float | None, outdoor_c: float | None, clock_h: float | None, now_s: float
) -> Night:
    """The night with this look's temperatures, while it lasts."""
    if clock_h is not None and not _is_night(clock_h):
        return night
    if air_c is not None and (night.low_c is None or air_c < night.low_c):
        night = night._replace(low_c=air_c, low_at_s=now_s, low_h=clock_h)
    return night._replace(outdoor_low_c=_least(night.outdoor_low_c, outdoor_c))


def _counted(night: Night, air_c: float, points: Setpoints, passed_s: float) -> Night:
    if air_c > points.frost_limit_c:
        return night
    return night._replace(
        cold_s=night.cold_s + passed_s,
        frozen_s=night.frozen_s + (passed_s if air_c < 0.0 else 0.0),
        called=night.called or beyond(night, air_c, points) is not None,
    )


def _warned(low_c: float | None) -> Warned | None:
    return None if low_c is None else Warned(low_c, low_c - MARGIN_K)


def _with_air(warned: Warned | None, air_c: float | None) -> Warned | None:
    """The warning, no warmer than the house is already."""
    if warned is None or air_c is None:
        return warned or _warned(air_c)
    return Warned(min(warned.low_c, air_c), min(warned.announced_c, air_c - MARGIN_K))


def _announced(
    night: Night, warned: Warned | None, air_c: float | None, limit_c: float, hour: float
) -> Night:
    """The night with its announcement, made or made worse, if the crop's limit is in danger."""
    if warned is None or warned.low_c > limit_c:
        return night
    announced_c = warned.announced_c
    if night.announced_c is not None and announced_c > night.announced_c - NEWS_K:
        return night
    passes_h = hour
    if air_c is not None and air_c > limit_c:
        passes_h += (air_c - limit_c) / (air_c - announced_c) * (DAY_H + SUNRISE_H - hour)
    news = night.news + (night.announced_c is not None)
    return night._replace(announced_c=announced_c, limit_at_h=passes_h % DAY_H, news=news)


def _with(nights: tuple[PastNight, ...], night: Night) -> tuple[PastNight, ...]:
    """The last nights and one that is over."""
    if night.low_c is None:
        return nights
    fall_k = share = None
    if night.evening_c is not None and night.outdoor_low_c is not None:
        fall_k = night.evening_c - night.outdoor_low_c
        if night.soil_c is not None and (room_k := night.soil_c - night.outdoor_low_c) > SHOWS_SHARE_FROM_K:
            share = min(max((night.low_c - night.outdoor_low_c) / room_k, 0.0), 1.0)
    return (*nights, PastNight(night.low_c, night.evening_c, fall_k, share))[-NIGHTS_KEPT:]


def mean_soil_c(snapshot: Snapshot) -> float | None:
    """The mean of the soils at the tubes, None where none can be read."""
    soils = [loop.soil.value for loop in snapshot.loops.values() if isinstance(loop.soil, Good)]
    return sum(soils) / len(soils) if soils else None


def _mean(values: list[float], otherwise: float) -> float:
    return sum(values) / len(values) if values else otherwise


def _least(*values: float | None) -> float | None:
    known = [value for value in values if value is not None]
    return min(known) if known else None


def _value(reading: Reading) -> float | None:
    return reading.value if isinstance(reading, Good) else None
