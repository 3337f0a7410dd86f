"""What is expected of the night now: the coldest of the house, and between what bounds."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from controller.forecast.nights import MOMENTS
from controller.forecast.scale import stretched, unstretched
from controller.forecast.watch import guess_at, low_so_far_c

if TYPE_CHECKING:
    from controller.forecast.watch import Nights

# Nights before there is a value, and before there are bounds.
NIGHTS_FOR_A_VALUE, NIGHTS_FOR_BOUNDS = 10, 25
# Before so many nights with a forecast low its bounds are those of the log alone, which are wider.
NIGHTS_FOR_FORECAST_BOUNDS = 10
# From how long before sunset on anything is said: the first of the moments.
FROM_SHARE = MOMENTS[0]
# The bounds are this many usual errors away: for errors that lie normally, 84 of 100 nights are within.
BOUNDS = 1.4


class Outlook(NamedTuple):
    """What is expected of this night.

    Attributes:
        low_c: coldest of the house.
        half_k: half the width of the bounds, None before there are any.
        from_c: it may become so cold.
        to_c: or only so cold; never more than the house has had already.
        by_forecast: whether a forecast low was used.
    """

    low_c: float
    half_k: float | None
    from_c: float | None
    to_c: float | None
    by_forecast: bool


def outlook(nights: Nights, now_s: float) -> Outlook | str:
    """What is expected now, or why nothing is."""
    look = nights.look
    if look is None or look.hour is None:
        return "the time of day is not known yet"
    share = look.hour.share
    if not FROM_SHARE <= share < 1.0:
        return "it is day; an outlook is given from the afternoon on"
    if nights.learned < NIGHTS_FOR_A_VALUE:
        missing = NIGHTS_FOR_A_VALUE - nights.learned
        return f"{missing} more night{'s' if missing > 1 else ''} must be seen first"
    first = max(number for number, moment in enumerate(MOMENTS) if moment <= share)
    second = min(first + 1, len(MOMENTS) - 1)
    part, later = _part(nights, first, now_s), _part(nights, second, now_s)
    if part is None or later is None:
        return "air, soil or outdoors cannot be read, or last night was not seen"
    ahead = (share - MOMENTS[first]) / (MOMENTS[second] - MOMENTS[first]) if second > first else 0.0
    low_c = part.low_c + ahead * (later.low_c - part.low_c)
    usual_k = part.usual_k + ahead * (later.usual_k - part.usual_k)
    by_forecast = part.by_forecast
    warms_below_c = look.warms_below_c
    if second == first:  # what is left of the night is left of its fall
        left = (1.0 - share) / (1.0 - MOMENTS[first])
        so_far_c = stretched(low_so_far_c(nights), warms_below_c)
        low_c = so_far_c + left * (low_c - so_far_c)
        usual_k *= left
    value_c = unstretched(low_c, warms_below_c)
    if nights.learned < NIGHTS_FOR_BOUNDS or not math.isfinite(usual_k):
        return Outlook(value_c, None, None, None, by_forecast)
    from_c, to_c = (unstretched(low_c + side * BOUNDS * usual_k, warms_below_c) for side in (-1.0, 1.0))
    return Outlook(value_c, (to_c - from_c) / 2.0, from_c, min(to_c, low_so_far_c(nights)), by_forecast)


class _Part(NamedTuple):
    """What one moment gives: the value, how far it usually is off, whether a forecast low was used."""

    low_c: float
    usual_k: float
    by_forecast: bool


def _part(nights: Nights, number: int, now_s: float) -> _Part | None:
    guess = guess_at(nights, number, now_s)
    if guess is None:
        return None
    moment = nights.moments[number]
    by_log_k = moment.by_log.usual_k() or math.nan
    if guess.with_forecast_c is None:
        return _Part(guess.low_c, by_log_k, by_forecast=False)
    known = moment.by_forecast.nights >= NIGHTS_FOR_FORECAST_BOUNDS
    usual_k = moment.by_forecast.usual_k() if known else None
    return _Part(guess.with_forecast_c, usual_k or by_log_k, by_forecast=True)
