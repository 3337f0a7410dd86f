"""Feeds a winter through the forecast and compares what was expected with what came."""

from __future__ import annotations

import math
import random
import statistics
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from controller.diagnosis.evening import with_store
from controller.diagnosis.heat_share import UNKNOWN_SHARE
from controller.faults import DAY_S, HOUR_S
from controller.forecast.nights import MOMENTS
from controller.forecast.outlook import Outlook, outlook
from controller.forecast.watch import OVER_AFTER_SUNRISE_H, Given, Nights, no_nights, watched

if TYPE_CHECKING:
    from controller.forecast.watch import Look
    from controller.settings.schema import Settings
    from tests.lab.tonight.looks import Seen

FORECAST_ERROR_K, FORECAST_BIAS_K = 1.5, 2.0  # a valley below the station is colder than it by this
FROM_NIGHT = 30
COLD_C = 6.0
# What a probe resolves; an upper bound that equals the low so far is not missed by less.
TOUCHES_K = 0.1


@dataclass(frozen=True, slots=True)
class Said:
    """What was expected of one night at one time.

    Attributes:
        night: the day its evening belongs to, counted from 1970.
        learned: nights learned from before.
        expected: the outlook, None if there was none.
        without: the same night with fans that stand, and between what bounds; None if that was not said.
    """

    night: int
    learned: int
    expected: Outlook | None
    without: tuple[float, float, float] | None = None


@dataclass(slots=True)
class Played:
    """One winter, fed through the forecast.

    Attributes:
        lows: by night, the coldest of the house and the coldest outdoors.
        said: by time of the night ("sunset", "midnight", and "17" to "21" o'clock), what was expected.
        nights: what was learned in the end.
    """

    lows: dict[int, tuple[float, float]]
    said: dict[str, list[Said]] = field(default_factory=dict)
    nights: Nights = field(default_factory=no_nights)


def night_of(utc_s: float, look: Look) -> int:
    """The night a look belongs to."""
    assert look.hour is not None
    return int((utc_s - look.hour.since_h * HOUR_S + DAY_S / 2.0) // DAY_S)


def true_lows(seen: Seen) -> dict[int, tuple[float, float]]:
    """By night, the coldest of the house and the coldest outdoors."""
    lows: dict[int, tuple[float, float]] = {}
    for utc_s, look in seen.looks:
        if look.hour is not None and 0.0 <= look.hour.since_h <= look.hour.length_h + OVER_AFTER_SUNRISE_H:
            night = night_of(utc_s, look)
            air_c, outdoor_c = lows.get(night, (math.inf, math.inf))
            lows[night] = min(air_c, look.air_c), min(outdoor_c, look.outdoor_c)
    return lows


def play(seen: Seen, forecast_seed: int | None = None) -> Played:
    """Feed a winter through the forecast.

    Args:
        seen: the winter.
        forecast_seed: gives each night a forecast low, the true one with an error; None for no forecasts.
    """
    played = Played(true_lows(seen))
    given = _forecasts(played.lows, forecast_seed)
    nights, before, given_for = no_nights(), -1.0, -1
    asked: set[tuple[int, str]] = set()
    for utc_s, look in seen.looks:
        assert look.hour is not None
        night, share = night_of(utc_s, look), look.hour.share
        if night in given and night != given_for and MOMENTS[0] <= share < 1.0:
            nights, given_for = nights._replace(given=Given(given[night], utc_s)), night
        nights = watched(nights, look, utc_s)
        clock_h = (utc_s / HOUR_S + seen.offset_h) % 24.0
        for when, is_now in (
            ("sunset", before < 0.0 <= share),
            ("midnight", clock_h < 1.0 / 12.0),
            *((str(hour), hour <= clock_h < hour + 1.0 / 12.0) for hour in range(17, 22)),
        ):
            if is_now and (night, when) not in asked:
                asked.add((night, when))
                expected = outlook(nights, utc_s)
                found = expected if isinstance(expected, Outlook) else None
                without = None if found is None else _without(found, nights, seen.settings)
                played.said.setdefault(when, []).append(Said(night, nights.learned, found, without))
        before = share
    played.nights = nights
    return played


def _without(night: Outlook, nights: Nights, settings: Settings) -> tuple[float, float, float] | None:
    """The night with fans that stand, and its bounds, where both are said."""
    shares = dict.fromkeys(settings.loops, UNKNOWN_SHARE)
    expected = with_store(night, nights, shares, settings)
    found = (expected.without_c, expected.without_from_c, expected.without_to_c)
    return None if None in found else found  # type: ignore[return-value]


@dataclass(frozen=True, slots=True)
class WithoutScore:
    """How good the nights without the store are, on nights in which the fans were expected to warm the house.

    Attributes:
        nights: how many.
        raise_k: mean of how much warmer the house was in truth than with fans that stood.
        error_k: mean absolute error of the coldest without the store.
        within: share of nights within its bounds.
    """

    nights: int
    raise_k: float
    error_k: float
    within: float


def score_without(played: Played, still: dict[int, tuple[float, float]], when: str) -> WithoutScore | None:
    """Judge it against the winter with fans that stand; None where no fans were expected to run."""
    rows = [
        (said.without, still[said.night][0], played.lows[said.night][0])
        for said in played.said[when]
        if said.without is not None
        and said.expected is not None
        and said.without[0] < said.expected.low_c
        and said.night in still
    ]
    if not rows:
        return None
    return WithoutScore(
        len(rows),
        statistics.fmean(with_c - without_c for _, without_c, with_c in rows),
        statistics.fmean(abs(value_c - without_c) for (value_c, _, _), without_c, _ in rows),
        statistics.fmean(from_c <= without_c <= to_c + TOUCHES_K for (_, from_c, to_c), without_c, _ in rows),
    )


def _forecasts(lows: dict[int, tuple[float, float]], seed: int | None) -> dict[int, float]:
    if seed is None:
        return {}
    chance = random.Random(seed)  # noqa: S311 - a draw, not a secret
    return {
        night: outdoor_c + FORECAST_BIAS_K + chance.gauss(0.0, FORECAST_ERROR_K)
        for night, (_, outdoor_c) in sorted(lows.items())
    }


@dataclass(frozen=True, slots=True)
class Score:
    """How good it was over a winter, in K and shares.

    Attributes:
        nights: how many are judged.
        error_k: mean absolute error.
        as_last_k: that of "as last night" on the same nights.
        cold_error_k: the first on nights below 6 °C.
        cold_as_last_k: the second on them.
        within: share of nights within the bounds.
        half_k: mean half-width of the bounds.
    """

    nights: int
    error_k: float
    as_last_k: float
    cold_error_k: float
    cold_as_last_k: float
    within: float
    half_k: float

    @property
    def better(self) -> float:
        """By what share it is better than "as last night"."""
        return 1.0 - self.error_k / self.as_last_k


def score(played: Played, when: str) -> Score:
    """Judge what was said at one time of the night, from the thirtieth night on."""
    rows = []
    for said in played.said[when]:
        night = said.night
        if said.learned >= FROM_NIGHT and said.expected is not None and night - 1 in played.lows:
            low_c = played.lows[night][0]
            rows.append((low_c, said.expected, abs(played.lows[night - 1][0] - low_c)))
    cold = [row for row in rows if row[0] < COLD_C]
    bounded = [(low_c, one) for low_c, one, _ in rows if one.from_c is not None and one.to_c is not None]
    return Score(
        len(rows),
        statistics.fmean(abs(one.low_c - low_c) for low_c, one, _ in rows),
        statistics.fmean(last_k for *_, last_k in rows),
        statistics.fmean([abs(one.low_c - low_c) for low_c, one, _ in cold] or [math.nan]),
        statistics.fmean([last_k for *_, last_k in cold] or [math.nan]),
        statistics.fmean(
            (one.from_c or 0.0) <= low_c <= (one.to_c or 0.0) + TOUCHES_K for low_c, one in bounded
        ),
        statistics.fmean(one.half_k or math.nan for _, one in bounded),
    )
