"""Feeds a winter through the forecast and compares what was expected with what came."""

from __future__ import annotations

import math
import random
import statistics
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from controller.faults import DAY_S, HOUR_S
from controller.forecast.nights import MOMENTS
from controller.forecast.outlook import Outlook, outlook
from controller.forecast.watch import OVER_AFTER_SUNRISE_H, Given, Nights, no_nights, watched

if TYPE_CHECKING:
    from controller.forecast.watch import Look
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
    """

    night: int
    learned: int
    expected: Outlook | None


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
                played.said.setdefault(when, []).append(Said(night, nights.learned, found))
        before = share
    played.nights = nights
    return played


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
