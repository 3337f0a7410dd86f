"""Follows the nights of the house: remembers what the evening showed, and learns from it in the morning."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from controller.faults import HOUR_S
from controller.forecast.features import HOURS_KEPT, UNSEEN, Hour, View, features
from controller.forecast.nights import MOMENTS, USUAL_GAINS, Guess, Moment, expected, learned, no_moments
from controller.forecast.scale import stretched

if TYPE_CHECKING:
    from controller.forecast.hours import NightHour

NAN = math.nan
# No probe in or around a house reads more; what does is not taken in.
COLDEST_C, HOTTEST_C = -90.0, 130.0
LOOK_EVERY_S = 300.0
# A longer silence between two looks is a gap: nothing is known of it.
LONGEST_LOOK_S = 900.0
# A night is learned from if so much of it was seen.
LEAST_SEEN = 0.9
# A guess belongs to its moment if it was made within this share of the night after it.
BELATED = 0.08
# After sunrise the house is coldest within an hour; then the night is over.
OVER_AFTER_SUNRISE_H = 1.0
# The clock may be put right by so much without ending a night, which is more than summer time.
LARGEST_STEP_H = 1.5
# What last night brought says nothing after so many hours.
LAST_NIGHT_HOLDS_H = 60.0
# A forecast low that was given holds for so long at most.
GIVEN_HOLDS_S = 24.0 * HOUR_S
# The usual fade of the soil while the fans return its warmth follows new nights by this share.
FADE_FOLLOWS, LEAST_WARMING_H = 0.2, 1.0


class Look(NamedTuple):
    """What is seen at one moment; not a number where it cannot be read.

    Attributes:
        outdoor_c: air outdoors.
        air_c: the colder of roof and bench.
        ceiling_c: air under the roof.
        soil_c: mean of the soils at the tubes.
        warming: whether any fan returns warmth.
        utc_s: seconds since 1970, None while the clock is not set.
        hour: where in the night it is, None while nothing shows it.
        warms_below_c: where the fans begin to return warmth.
    """

    outdoor_c: float
    air_c: float
    ceiling_c: float
    soil_c: float
    warming: bool
    utc_s: float | None
    hour: NightHour | None
    warms_below_c: float


class Given(NamedTuple):
    """A forecast low that somebody typed in or a file held, for the night that comes or is in progress."""

    low_c: float
    at_s: float


class Past(NamedTuple):
    """What the last night brought: its coldest in the house and outdoors, and when it was over."""

    low_c: float
    outdoor_c: float
    over_s: float


class Passing(NamedTuple):
    """The night in progress.

    Attributes:
        guesses: what each moment has given so far.
        low_c: coldest of the house since sunset, not a number before it.
        outdoor_c: coldest outdoors since sunset.
        seen_s: how long it was seen since sunset.
        warming_s: how long fans have returned warmth.
        faded_k: how much the soil has cooled meanwhile.
    """

    guesses: tuple[Guess | None, ...] = (None,) * len(MOMENTS)
    low_c: float = NAN
    outdoor_c: float = NAN
    seen_s: float = 0.0
    warming_s: float = 0.0
    faded_k: float = 0.0


NO_NIGHT = Passing()


class Nights(NamedTuple):
    """Everything the forecast remembers. Immutable; times are monotonic.

    Attributes:
        moments: what was learned for each of ``MOMENTS``.
        learned: nights learned from, all of them.
        fade_k_h: how much the soil cools in an hour of returning warmth, not a number until seen.
        past: the last night, None until one was seen.
        passing: the one in progress.
        hours: what the last full hours have shown, newest last.
        hour_due_s: when the next one is due.
        given: a forecast low, None without one.
        look: the last look, None before the first.
        at_s: when that was.
    """

    moments: tuple[Moment, ...]
    learned: int = 0
    fade_k_h: float = NAN
    past: Past | None = None
    passing: Passing = NO_NIGHT
    hours: tuple[Hour, ...] = ()
    hour_due_s: float = -math.inf
    given: Given | None = None
    look: Look | None = None
    at_s: float = -math.inf


def no_nights() -> Nights:
    """Before the first look."""
    return Nights(no_moments())


def is_due(nights: Nights, now_s: float) -> bool:
    """Whether it is time for another look."""
    return not 0.0 <= now_s - nights.at_s < LOOK_EVERY_S


def watched(before: Nights, look: Look, now_s: float) -> Nights:
    """What is known after one more look."""
    outdoor_c, air_c, ceiling_c, soil_c = map(_believable, look[:4])
    look = look._replace(outdoor_c=outdoor_c, air_c=air_c, ceiling_c=ceiling_c, soil_c=soil_c)
    passed_s = now_s - before.at_s
    gap = not 0.0 <= passed_s <= LONGEST_LOOK_S
    nights = before
    if nights.given is not None and not 0.0 <= now_s - nights.given.at_s <= GIVEN_HOLDS_S:
        nights = nights._replace(given=None)
    nights = _with_hour(nights, look, now_s)
    seen_s = 0.0 if gap else passed_s
    hour = look.hour
    if hour is None:
        nights = nights._replace(passing=NO_NIGHT)
    else:
        nights = _ended(nights, hour, passed_s, now_s)
        nights = _in_the_night(nights, look, hour, seen_s)
        nights = nights._replace(look=look, at_s=now_s)
        nights = _guessed(nights, hour, now_s)
    return nights._replace(look=look, at_s=now_s)


def _believable(celsius: float) -> float:
    return celsius if COLDEST_C < celsius < HOTTEST_C else NAN


def _with_hour(nights: Nights, look: Look, now_s: float) -> Nights:
    """The full hours, one more if it is due; hours nobody saw are left empty."""
    late_h = (now_s - nights.hour_due_s) / HOUR_S
    if late_h < 0.0:
        return (
            nights if late_h > -1.0 - LONGEST_LOOK_S / HOUR_S else nights._replace(hours=(), hour_due_s=now_s)
        )
    missed = min(int(late_h), HOURS_KEPT) if math.isfinite(late_h) else 0
    new = Hour(look.outdoor_c, look.air_c, look.ceiling_c)
    hours = (*nights.hours, *((UNSEEN,) * missed), new)[-HOURS_KEPT:]
    due_s = (
        nights.hour_due_s + (missed + 1.0) * HOUR_S
        if missed < HOURS_KEPT and nights.hours
        else now_s + HOUR_S
    )
    return nights._replace(hours=hours, hour_due_s=due_s)


def _ended(nights: Nights, hour: NightHour, passed_s: float, now_s: float) -> Nights:
    """The night is over: learn from it. Or the clock has jumped: forget it."""
    before = nights.look.hour if nights.look is not None else None
    if before is None:
        return nights
    step_h = hour.since_h - before.since_h - passed_s / HOUR_S
    step_h -= 24.0 * round(step_h / 24.0)
    if abs(step_h) > LARGEST_STEP_H:
        return nights._replace(passing=NO_NIGHT)
    ends_h = hour.length_h + OVER_AFTER_SUNRISE_H
    if before.since_h < ends_h <= hour.since_h or hour.since_h < before.since_h - 12.0:
        return _morning(nights, hour, now_s)
    return nights


def _morning(nights: Nights, hour: NightHour, now_s: float) -> Nights:
    """What the night has taught."""
    passing, nights = nights.passing, nights._replace(passing=NO_NIGHT)
    if passing.seen_s == 0.0:
        return nights
    nights = nights._replace(given=None)
    if passing.seen_s < LEAST_SEEN * hour.length_h * HOUR_S:
        return nights
    if not math.isfinite(passing.low_c + passing.outdoor_c):
        return nights
    warms_below_c = nights.look.warms_below_c if nights.look is not None else -math.inf
    low_c = stretched(passing.low_c, warms_below_c)
    moments = tuple(
        moment if guess is None else learned(moment, number, guess, low_c, passing.outdoor_c)
        for number, (moment, guess) in enumerate(zip(nights.moments, passing.guesses, strict=True))
    )
    fade_k_h, warming_h = nights.fade_k_h, passing.warming_s / HOUR_S
    if warming_h >= LEAST_WARMING_H:
        new = passing.faded_k / warming_h
        fade_k_h = new if math.isnan(fade_k_h) else fade_k_h + FADE_FOLLOWS * (new - fade_k_h)
    return nights._replace(
        moments=moments,
        learned=nights.learned + any(guess is not None for guess in passing.guesses),
        fade_k_h=fade_k_h,
        past=Past(passing.low_c, passing.outdoor_c, now_s),
    )


def _in_the_night(nights: Nights, look: Look, hour: NightHour, seen_s: float) -> Nights:
    """The night in progress with this look."""
    if not 0.0 <= hour.since_h <= hour.length_h + OVER_AFTER_SUNRISE_H:
        return nights
    passing, before = nights.passing, nights.look
    good = math.isfinite(look.air_c)
    warming_s, faded_k = passing.warming_s, passing.faded_k
    if before is not None and before.warming and seen_s > 0.0:
        fall_k = before.soil_c - look.soil_c
        if math.isfinite(fall_k):
            warming_s, faded_k = warming_s + seen_s, faded_k + fall_k
    return nights._replace(
        passing=passing._replace(
            low_c=_less(passing.low_c, look.air_c),
            outdoor_c=_less(passing.outdoor_c, look.outdoor_c),
            seen_s=passing.seen_s + (seen_s if good else 0.0),
            warming_s=warming_s,
            faded_k=faded_k,
        )
    )


def _guessed(nights: Nights, hour: NightHour, now_s: float) -> Nights:
    """The night in progress with what its moments give, each once."""
    passing = nights.passing
    for number, moment in enumerate(MOMENTS):
        if passing.guesses[number] is None and moment <= hour.share < moment + BELATED:
            guess = guess_at(nights, number, now_s)
            if guess is not None:
                guesses = (*passing.guesses[:number], guess, *passing.guesses[number + 1 :])
                passing = passing._replace(guesses=guesses)
    return nights._replace(passing=passing)


def guess_at(nights: Nights, number: int, now_s: float) -> Guess | None:
    """What one of the moments gives by what is seen now; None where too little is."""
    row = row_now(nights, now_s)
    if row is None or nights.look is None:
        return None
    given_c = None if nights.given is None else nights.given.low_c
    so_far_c = stretched(low_so_far_c(nights), nights.look.warms_below_c)
    return expected(nights.moments[number], USUAL_GAINS[number], row, so_far_c, given_c)


def row_now(nights: Nights, now_s: float) -> list[float] | None:
    """The features now."""
    look, past = nights.look, nights.past
    if look is None or past is None or now_s - past.over_s > LAST_NIGHT_HOLDS_H * HOUR_S:
        return None
    return features(
        View(
            look.outdoor_c,
            look.air_c,
            look.ceiling_c,
            look.soil_c,
            stretched(low_so_far_c(nights), look.warms_below_c),
            stretched(past.low_c, look.warms_below_c),
            past.outdoor_c,
            nights.hours,
            look.utc_s,
        )
    )


def low_so_far_c(nights: Nights) -> float:
    """The coldest of the house since sunset; the air now before it."""
    low_c = nights.passing.low_c
    if math.isnan(low_c):
        return NAN if nights.look is None else nights.look.air_c
    return low_c


def _less(one: float, other: float) -> float:
    """The lesser of two, where one is not a number the other."""
    if math.isnan(one) or other < one:
        return other
    return one
