"""What nights have taught, as short texts for the memory: many numbers in few letters.

Numbers are written as 32-bit floats in base64, because a decimal fraction is three times as long and every
write wears the card. What cannot be read again is forgotten; the house then learns anew.
"""

from __future__ import annotations

import math
from array import array
from base64 import b64decode, b64encode
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from controller.faults import DAY_S
from controller.forecast.features import HOURS_KEPT, SIZE, Hour
from controller.forecast.nights import MOMENTS, Errors, Gain, Guess, solved
from controller.forecast.ridge import Sums
from controller.forecast.watch import Given, Nights, Passing, Past, no_nights

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from controller.forecast.nights import Moment

PRODUCTS = SIZE * (SIZE + 1) // 2
A_MOMENT = PRODUCTS + 2 * SIZE + 2 * len(Errors._fields) + len(Gain._fields)
A_GUESS = SIZE + 4
PAST, GIVEN, A_NIGHT = 3, 2, 5
LONGEST = 8000
# Bounds of what can be meant; a damaged number must not rule the outlook for months.
LARGEST = 1e7

Packed = Annotated[str, Field(max_length=LONGEST, pattern=r"^[A-Za-z0-9+/=]*$")]
Amount = Annotated[float, Field(ge=-LARGEST, le=LARGEST, allow_inf_nan=False)]


class NightsKept(BaseModel):
    """What the forecast has learned; times as ages."""

    model_config = ConfigDict(strict=True, extra="forbid")

    learned: Annotated[int, Field(ge=0, le=1_000_000)]
    fade_k_h: Amount | None
    moments: Packed
    past: Annotated[list[Amount], Field(max_length=PAST)]
    given: Annotated[list[Amount], Field(max_length=GIVEN)] = []
    night: Packed = ""
    hours: Packed = ""
    hour_due_in_s: Amount = 0.0
    look_age_s: Annotated[float, Field(ge=0.0, le=10.0 * DAY_S)] | None = None


def kept_nights(nights: Nights, now_s: float) -> dict[str, Any]:
    """What must outlive a restart, ready for ``NightsKept``."""
    past, given, passing = nights.past, nights.given, nights.passing
    age_s = now_s - nights.at_s
    within = 0.0 <= age_s <= DAY_S
    return {
        "learned": nights.learned,
        "fade_k_h": nights.fade_k_h if math.isfinite(nights.fade_k_h) else None,
        "moments": _packed(number for moment in nights.moments for number in _of_moment(moment)),
        "past": [] if past is None else [past.low_c, past.outdoor_c, _age(now_s - past.over_s)],
        "given": [] if given is None else [given.low_c, _age(now_s - given.at_s)],
        "night": _packed([*_of_night(passing), *(n for guess in passing.guesses for n in _of_guess(guess))]),
        "hours": _packed(number for hour in nights.hours for number in hour),
        "hour_due_in_s": _bounded(nights.hour_due_s - now_s) if within else 0.0,
        "look_age_s": age_s if within else None,
    }


def restored_nights(kept: NightsKept, same_boot: bool, gap_s: float, now_s: float) -> Nights:
    """What was learned before a restart; the night in progress only within the same boot.

    Args:
        kept: what was kept.
        same_boot: whether the machine has not been restarted in between.
        gap_s: how long ago it was kept, within the same boot.
        now_s: monotonic time.
    """
    fresh = no_nights()
    numbers = _unpacked(kept.moments, A_MOMENT * len(MOMENTS))
    if numbers is None or len(kept.past) not in (0, PAST):
        return fresh
    moments = tuple(
        _moment(number, numbers[number * A_MOMENT : (number + 1) * A_MOMENT])
        for number in range(len(MOMENTS))
    )
    past = Past(kept.past[0], kept.past[1], now_s - kept.past[2] - gap_s) if kept.past else None
    fade_k_h = math.nan if kept.fade_k_h is None else kept.fade_k_h
    nights = fresh._replace(moments=moments, learned=kept.learned, fade_k_h=fade_k_h, past=past)
    if not same_boot:
        return nights
    if len(kept.given) == GIVEN:
        nights = nights._replace(given=Given(kept.given[0], now_s - kept.given[1] - gap_s))
    night = _unpacked(kept.night, A_NIGHT + A_GUESS * len(MOMENTS), may_lack=True)
    if night is not None and kept.look_age_s is not None:
        guesses = tuple(
            _guess(night[A_NIGHT + number * A_GUESS : A_NIGHT + (number + 1) * A_GUESS])
            for number in range(len(MOMENTS))
        )
        nights = nights._replace(
            passing=Passing(guesses, *night[:A_NIGHT]), at_s=now_s - kept.look_age_s - gap_s
        )
    hours = _unpacked(kept.hours, None, may_lack=True)
    if hours is not None and len(hours) % len(Hour._fields) == 0:
        step = len(Hour._fields)
        rows = tuple(Hour(*hours[at : at + step]) for at in range(0, len(hours), step))[-HOURS_KEPT:]
        nights = nights._replace(hours=rows, hour_due_s=now_s + kept.hour_due_in_s - gap_s)
    return nights


def _of_moment(moment: Moment) -> Iterable[float]:
    sums = moment.sums
    return (
        *sums.products,
        *sums.targets[0],
        *sums.targets[1],
        *moment.by_log,
        *moment.by_forecast,
        *moment.gain,
    )


def _moment(number: int, numbers: Sequence[float]) -> Moment:
    products, rest = numbers[:PRODUCTS], numbers[PRODUCTS:]
    house, outdoors, rest = rest[:SIZE], rest[SIZE : 2 * SIZE], rest[2 * SIZE :]
    sums = Sums(array("d", products), (array("d", house), array("d", outdoors)))
    return solved(number, sums)._replace(
        by_log=_errors(rest[:3]), by_forecast=_errors(rest[3:6]), gain=Gain(*rest[6:])
    )


def _errors(numbers: Sequence[float]) -> Errors:
    count, weight, squares = numbers
    return Errors(int(count), max(weight, 0.0), max(squares, 0.0))


def _of_night(passing: Passing) -> Sequence[float]:
    return passing[1:]


def _of_guess(guess: Guess | None) -> Sequence[float]:
    if guess is None:
        return (math.nan,) * A_GUESS
    more = (guess.with_forecast_c, guess.news_k)
    return (*guess.row, guess.low_c, guess.outdoor_c, *(math.nan if one is None else one for one in more))


def _guess(numbers: Sequence[float]) -> Guess | None:
    row, (low_c, outdoor_c, with_c, news_k) = numbers[:SIZE], numbers[SIZE:]
    if not all(map(math.isfinite, (*row, low_c, outdoor_c))):
        return None
    given = math.isfinite(with_c + news_k)
    return Guess(tuple(row), low_c, outdoor_c, with_c if given else None, news_k if given else None)


def _packed(numbers: Iterable[float]) -> str:
    return b64encode(array("f", [_bounded(number) for number in numbers]).tobytes()).decode("ascii")


def _age(seconds: float) -> float:
    return max(_bounded(seconds), 0.0)


def _bounded(number: float) -> float:
    return number if math.isnan(number) else max(min(number, LARGEST), -LARGEST)


def _unpacked(text: str, count: int | None, *, may_lack: bool = False) -> list[float] | None:
    """The numbers; None if they are not as many, or some are not what was written."""
    try:
        numbers = array("f", b64decode(text, validate=True)).tolist()
    except ValueError:
        return None
    if count is not None and len(numbers) != count:
        return None
    good = all(abs(number) <= LARGEST or (may_lack and math.isnan(number)) for number in numbers)
    return numbers if good else None
