"""Hours and nights beyond a limit, without the store less with it, and how sure the difference is.

A count has no simple law, so it is taken three times: as reckoned, and with the raise at both ends of its
range for the whole season. What single nights or days miss is added as far as it does not average out.
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import TYPE_CHECKING

from controller.evidence import calibration
from controller.evidence.interval import Interval
from controller.evidence.reckoning import Z90

if TYPE_CHECKING:
    from collections.abc import Callable

    from controller.evidence.reckoning import Without


def nights_avoided(without: Without, limit_c: float) -> Interval:
    """Nights whose low is below the limit, without the store less with it."""

    def count(scale: float) -> float:
        raised = ((low, scale * (low.low_c - low.without_c)) for low in without.lows)
        return float(sum((low.low_c - by_k < limit_c) - (low.low_c < limit_c) for low, by_k in raised))

    normal = NormalDist(sigma=calibration.NIGHT_ERROR_K)
    chances = [normal.cdf(limit_c - low.without_c) for low in without.lows if low.low_c != low.without_c]
    single = math.sqrt(sum(chance * (1.0 - chance) for chance in chances))
    return _three_times(count, without.season_spread(), single)


def frost_hours_avoided(without: Without, limit_c: float) -> Interval:
    """Hours among the crop below the limit, without the store less with it."""

    def count(scale: float, shift_k: float = 0.0) -> float:
        steps = 0
        for bench_c, raise_k in zip(without.log.bench_c, without.raise_k, strict=True):
            if bench_c is not None and raise_k != 0.0:
                without_c = bench_c + shift_k - calibration.HOURS_SCALE * scale * raise_k
                steps += (without_c < limit_c) - (bench_c < limit_c)
        return steps * without.log.step_s / 3600.0

    missed_h = 0.5 * (count(1.0, -calibration.NIGHT_ERROR_K) - count(1.0, calibration.NIGHT_ERROR_K))
    nights = sum(low.without_c < limit_c + 1.0 for low in without.lows)
    return _three_times(count, without.season_spread(), abs(missed_h) * _left(nights))


def hot_hours_avoided(without: Without, limit_c: float, vents_above_c: float) -> Interval:
    """Hours among the crop above the limit, without the store less with it.

    Args:
        without: the house without its store.
        limit_c: from which hours count.
        vents_above_c: temperature from which openers open vents, infinity without any.
    """
    aired = [
        _aired(without, bench_c, outdoors_c, vents_above_c)
        for bench_c, outdoors_c in zip(without.log.bench_c, without.log.outdoors_c, strict=True)
    ]

    def count(scale: float) -> float:
        steps = 0
        for bench_c, raise_k, share in zip(without.log.bench_c, without.raise_k, aired, strict=True):
            if bench_c is not None and raise_k != 0.0:
                steps += (bench_c - scale * share * raise_k > limit_c) - (bench_c > limit_c)
        return steps * without.log.step_s / 3600.0

    return _three_times(count, calibration.DAY_SPREAD, 0.0)


def _aired(without: Without, bench_c: float | None, outdoors_c: float | None, vents_above_c: float) -> float:
    """What is left of the model's raise when the house is aired, as a share.

    The less a house in the sun is warmer than outdoors, the more air goes through it, and the less the fans
    change: its loss is what the sun leaves in the air over the difference. An opener holds it within a few
    kelvin of where it begins to open, whatever the fans do.
    """
    loss, mass = without.house[:2]
    if bench_c is None or outdoors_c is None:
        return 1.0
    warmer_k = max(bench_c - outdoors_c, 0.5)
    if bench_c >= vents_above_c:
        warmer_k = min(warmer_k, calibration.OPENER_K)
    aired = max(loss, calibration.AIRED_W_M2 / warmer_k)
    return (loss + mass) / (aired + mass)


def _left(days: int) -> float:
    """What is left of the error of single days in the sum over some, as a share of all erring alike."""
    return math.sqrt(min(calibration.NIGHTS_ALIKE / days, 1.0)) if days else 1.0


def _three_times(count: Callable[[float], float], spread: float, single: float) -> Interval:
    """The count with its range: of the scale for the whole season, and of single days."""
    value = count(1.0)
    ends = sorted((count(max(1.0 - Z90 * spread, 0.0)), count(1.0 + Z90 * spread)))
    return Interval(
        value,
        value - math.hypot(value - min(ends[0], value), Z90 * single),
        value + math.hypot(max(ends[1], value) - value, Z90 * single),
    )
