"""What nights have taught: one regression for each part of the night, and how far each was off.

The coldest of the house and the coldest outdoors are learned from the same row of numbers. A forecast low
moves the first by what it says beyond the second, as a Kalman filter would (gain = covariance over variance);
its constant bias is learned away.
"""

from __future__ import annotations

import math
from operator import mul
from typing import TYPE_CHECKING, NamedTuple

from controller.forecast.features import SIZE
from controller.forecast.prior import PRIORS
from controller.forecast.ridge import Sums, no_sums, taught, weights

if TYPE_CHECKING:
    from collections.abc import Sequence

# Parts of the night at which something is learned: shares of it gone, 0 at sunset and 1 at sunrise.
MOMENTS = (-0.2, 0.0, 0.25, 0.5, 0.8)
# An old night counts half after about six weeks. Found on the winters of ``tests.lab.winters.SETTING``.
KEEPS = 0.985
# The same for how far forecasts are off: half after three weeks.
ERRORS_KEEP = 0.97
# Before forecast lows have shown how good they are: how much news they bring, what of it moves the house at
# each of the moments, and how many nights that belief is worth; a constant bias is believed sooner.
USUAL_NEWS_K, FORECAST_WORTH, BIAS_WORTH = 2.5, 10.0, 1.0
USUAL_GAINS = (0.35, 0.35, 0.3, 0.2, 0.1)


class Errors(NamedTuple):
    """How far something was off.

    Attributes:
        nights: all of them.
        weight: nights, faded.
        squares: of the errors in K², faded sum.
    """

    nights: int = 0
    weight: float = 0.0
    squares: float = 0.0

    def with_one(self, error_k: float) -> Errors:
        """One more night."""
        return Errors(
            min(self.nights + 1, 10_000),
            ERRORS_KEEP * self.weight + 1.0,
            ERRORS_KEEP * self.squares + error_k * error_k,
        )

    def usual_k(self) -> float | None:
        """Root mean square, None without any night."""
        return math.sqrt(self.squares / self.weight) if self.weight > 0.0 else None


class Gain(NamedTuple):
    """How a forecast low moves what is expected; faded sums over nights that had one.

    Attributes:
        weight: nights.
        news: of what the forecast said beyond what was expected outdoors, in K.
        news_squares: of its square in K².
        errors: of what the house then was beyond what was expected, in K.
        products: of both.
    """

    weight: float = 0.0
    news: float = 0.0
    news_squares: float = 0.0
    errors: float = 0.0
    products: float = 0.0


class Moment(NamedTuple):
    """What was learned for one part of the night.

    Attributes:
        sums: rows against the coldest of the house, on the even scale, and the coldest outdoors; both less
            the air outdoors.
        house: the weights that follow from them for the house.
        outdoors: likewise for outdoors.
        by_log: how far the log alone was off.
        by_forecast: how far it was off with a forecast low.
        gain: how a forecast low moves it.
    """

    sums: Sums
    house: Sequence[float]
    outdoors: Sequence[float]
    by_log: Errors = Errors()
    by_forecast: Errors = Errors()
    gain: Gain = Gain()


class Guess(NamedTuple):
    """What one moment gave, kept until the morning.

    Attributes:
        row: the features.
        low_c: coldest of the house by the log, on the even scale (``controller.forecast.scale``).
        outdoor_c: coldest outdoors by the log.
        with_forecast_c: coldest of the house with a forecast low, on the even scale; None without one.
        news_k: what the forecast low said beyond ``outdoor_c``, None without one.
    """

    row: tuple[float, ...]
    low_c: float
    outdoor_c: float
    with_forecast_c: float | None = None
    news_k: float | None = None


def no_moments() -> tuple[Moment, ...]:
    """Nothing learned."""
    return tuple(solved(number, no_sums(SIZE, 2)) for number in range(len(MOMENTS)))


def solved(number: int, sums: Sums) -> Moment:
    """A moment with these sums, of which nothing else is known.

    Args:
        number: which of ``MOMENTS``.
        sums: what was learned.
    """
    house, outdoors = weights(sums, PRIORS[number])
    return Moment(sums, house, outdoors)


def expected(
    moment: Moment, usual_gain: float, row: Sequence[float], low_so_far_c: float, forecast_c: float | None
) -> Guess:
    """What one moment's regression says now.

    Args:
        moment: what was learned.
        usual_gain: what a forecast low moves the house by before that was learned.
        row: the features now.
        low_so_far_c: the coldest of the house so far, on the even scale; it can only become colder.
        forecast_c: a forecast low outdoors, None without one.
    """
    out = row[1]
    low_c = out + sum(map(mul, moment.house, row))
    outdoor_c = out + sum(map(mul, moment.outdoors, row))
    plain = Guess(tuple(row), min(low_c, low_so_far_c), outdoor_c)
    if forecast_c is None:
        return plain
    news_k = forecast_c - outdoor_c
    moved_c = low_c + _moved_k(moment.gain, usual_gain, news_k)
    return plain._replace(with_forecast_c=min(moved_c, low_so_far_c), news_k=news_k)


def _moved_k(gain: Gain, usual_gain: float, news_k: float) -> float:
    """What the news of a forecast low is worth for the house."""
    bias_k = gain.news / (gain.weight + BIAS_WORTH)
    products = gain.products - bias_k * gain.errors
    squares = gain.news_squares - gain.weight * bias_k * bias_k
    spread = FORECAST_WORTH * USUAL_NEWS_K**2
    slope = (max(products, 0.0) + usual_gain * spread) / (max(squares, 0.0) + spread)
    return slope * (news_k - bias_k)


def learned(moment: Moment, number: int, guess: Guess, low_c: float, outdoor_c: float) -> Moment:
    """The moment with one more night.

    Args:
        moment: before.
        number: which of ``MOMENTS`` it is.
        guess: what was expected at that moment of the night.
        low_c: how cold the house became, on the even scale.
        outdoor_c: how cold it became outdoors.
    """
    out = guess.row[1]
    taught_one = solved(number, taught(moment.sums, guess.row, (low_c - out, outdoor_c - out), KEEPS))
    moment = moment._replace(
        sums=taught_one.sums,
        house=taught_one.house,
        outdoors=taught_one.outdoors,
        by_log=moment.by_log.with_one(low_c - guess.low_c),
    )
    if guess.with_forecast_c is None or guess.news_k is None:
        return moment
    error_k, gain = low_c - guess.low_c, moment.gain
    added = (1.0, guess.news_k, guess.news_k**2, error_k, guess.news_k * error_k)
    return moment._replace(
        by_forecast=moment.by_forecast.with_one(low_c - guess.with_forecast_c),
        gain=Gain(*(KEEPS * old + new for old, new in zip(gain, added, strict=True))),
    )
