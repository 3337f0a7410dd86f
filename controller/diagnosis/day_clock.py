"""The time of day without a clock: the house warms and cools once a day, so its air shows where the day is.

The wave of one day is fitted to the air under the roof: slow sums of its cosine and sine, the first harmonic
of a Fourier series, in which dull days count little and sunny ones much. It takes a day to be known and is
coarse, but it tells evening from morning; a clock that is set is always preferred.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from controller.faults import DAY_S, HOUR_S

DAY_H = 24.0
# The roof is warmest about this hour: the sun is highest at noon, and the ground follows late. [practice]
WARMEST_H = 13.5
# Older days fade with this time constant; three days bridge dull ones. [practice]
FORGET_S = 3.0 * DAY_S
# A wave with less than this amplitude may be the weather of a single day. [practice]
LEAST_SWING_K = 0.4
# After a longer silence than this the sums begin anew.
LONGEST_GAP_S = 6.0 * HOUR_S


class DayWave(NamedTuple):
    """The wave of a day in the air.

    Attributes:
        mean_c: slow mean of the air, None until there is one.
        cosine_k: how much of the day's wave is warmest at monotonic zero (and whole days after it).
        sine_k: the same, a quarter of a day later.
        since_s: since when it is summed up.
        at_s: when it was last updated.
    """

    mean_c: float | None = None
    cosine_k: float = 0.0
    sine_k: float = 0.0
    since_s: float = 0.0
    at_s: float = 0.0


def followed(wave: DayWave, air_c: float, now_s: float) -> DayWave:
    """The wave after one more look at the air."""
    passed_s = now_s - wave.at_s
    if wave.mean_c is None or passed_s > LONGEST_GAP_S:
        return DayWave(air_c, since_s=now_s, at_s=now_s)
    share = passed_s / FORGET_S
    angle = math.tau * now_s / DAY_S
    mean_c = wave.mean_c + share * (air_c - wave.mean_c)
    over_k = 2.0 * (air_c - mean_c)
    return DayWave(
        mean_c,
        wave.cosine_k + share * (over_k * math.cos(angle) - wave.cosine_k),
        wave.sine_k + share * (over_k * math.sin(angle) - wave.sine_k),
        wave.since_s,
        now_s,
    )


def hour_by_the_air(wave: DayWave, now_s: float) -> float | None:
    """The hour of the day, 0 to 24, as the air shows it; None while it shows too little."""
    if now_s - wave.since_s < DAY_S or math.hypot(wave.cosine_k, wave.sine_k) < LEAST_SWING_K:
        return None
    warmest_h = math.atan2(wave.sine_k, wave.cosine_k) / math.tau * DAY_H
    return (now_s / HOUR_S - warmest_h + WARMEST_H) % DAY_H
