"""A house-winter with its truth: the same house in the same weather with fans that stand."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from controller.evidence import calibration
from controller.evidence.fit import fit
from controller.evidence.helped import Helped, NotEnough, did_it_help
from controller.evidence.nights import FIT_STEPS, for_fit, log_of, nights_of
from controller.evidence.reckoning import reckon
from controller.history.queries import History
from controller.history.series import read_series
from tests.lab.winters import WITH, WITHOUT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.evidence.reckoning import Without
    from controller.evidence.series import LocalOffset, Series
    from controller.settings.schema import Settings
    from tests.lab.winters import Winter

    Floats = NDArray[np.float64]

# Nights at the beginning that are left out: what is behind them was not logged.
FIRST_NIGHTS = 10


@dataclass(frozen=True)
class Played:
    """A house-winter, read.

    Attributes:
        winter: which.
        settings: the house.
        series: its log with hypocaust.
        still: the log of the house with fans that stand.
        offset: of local time.
    """

    winter: Winter
    settings: Settings
    series: Series
    still: Series
    offset: LocalOffset


def read(winter: Winter) -> Played:
    """Read a winter that was played."""
    truth, settings = winter.truth(), winter.settings()
    begin, end = (datetime.fromtimestamp(s, UTC) for s in (truth.ended_s[0] - 3600.0, truth.ended_s[-1]))
    found = {}
    for strategy in (WITH, WITHOUT):
        with History(winter.history(strategy)) as history:
            found[strategy] = read_series(history, settings, begin, end)
    return Played(winter, settings, found[WITH], found[WITHOUT], lambda _: truth.utc_offset_s)


@dataclass(frozen=True)
class Judged:
    """What was claimed of a house-winter, and what is true.

    Attributes:
        name: of the winter.
        helped: the claims.
        true_k: true raise of the low, heated nights.
        claimed_k: claimed, the same nights.
        regressed_k: by a plain regression on nights without the fans, the same nights.
        true_all_k: true mean raise over all nights.
        frost_nights: avoided in truth.
        frost_hours: the same.
        hot_hours: the same.
        hot_hours_still: hours above the limit with fans that stand.
    """

    name: str
    helped: Helped
    true_k: Floats
    claimed_k: Floats
    regressed_k: Floats
    true_all_k: float
    frost_nights: float
    frost_hours: float
    hot_hours: float
    hot_hours_still: float

    @property
    def season_error_k(self) -> float:
        """Claimed less true mean raise of the heated nights."""
        return float(np.mean(self.claimed_k - self.true_k))

    @property
    def night_error_k(self) -> float:
        """Root mean square of the nights' errors."""
        return rms(self.claimed_k - self.true_k)


def rms(errors: Floats) -> float:
    """Root mean square."""
    return math.sqrt(float(np.mean(errors * errors))) if errors.size else math.nan


def judge(played: Played) -> Judged | NotEnough:
    """Claim, and compare with the truth."""
    helped = did_it_help(played.series, played.settings, played.offset)
    if isinstance(helped, NotEnough):
        return helped
    limits = played.settings.setpoints
    without, true_c = reckoned(played)
    low_c, claimed_c, heated, known = _lows(without, true_c)
    chosen = heated & known
    bench, still = _column(without.log.bench_c), _column(_bench(played, played.still))
    both = np.isfinite(bench) & np.isfinite(still)

    def hours(over: Floats, other: Floats) -> float:
        return float(np.sum(over[both] > 0.0) - np.sum(other[both] > 0.0)) * played.series.step_s / 3600.0

    frost_c, hot_c = limits.frost_limit_c, limits.cool_above_c
    return Judged(
        played.winter.name,
        helped,
        (low_c - true_c)[chosen],
        (low_c - claimed_c)[chosen],
        _regressed(without, heated, known)[chosen],
        float(np.mean((low_c - true_c)[known])),
        float(np.sum(true_c[known] < frost_c) - np.sum(low_c[known] < frost_c)),
        hours(frost_c - still, frost_c - bench),
        hours(still - hot_c, bench - hot_c),
        hours(still - hot_c, np.full_like(still, -1.0)),
    )


def reckoned(played: Played) -> tuple[Without, Floats]:
    """The house without its store as reckoned, and the true low of each night without it (°C)."""
    log = log_of(played.series, played.settings, played.offset)
    nights = nights_of(log)
    without = reckon(log, nights, fit(for_fit(log, nights), FIT_STEPS * log.step_s))
    still = _column(_bench(played, played.still))
    lows = [np.nanmin(still[night.steps.start : night.steps.stop], initial=np.inf) for night in nights]
    return without, np.array(lows)


def modelled(played: Played) -> tuple[Floats, Floats]:
    """The raise of the heated nights by the model as fitted, without any scale, and the true one."""
    without, true_c = reckoned(played)
    low_c, claimed_c, heated, known = _lows(without, true_c)
    chosen = heated & known
    return (low_c - claimed_c)[chosen] / calibration.NIGHT_SCALE, (low_c - true_c)[chosen]


def _lows(without: Without, true_c: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Low as measured and as reckoned without the store, whether heated, and whether the truth is known."""
    low_c = np.array([low.low_c for low in without.lows])
    claimed_c = np.array([low.without_c for low in without.lows])
    heated = np.array([low.night.heated for low in without.lows])
    known = np.isfinite(true_c) & (np.arange(low_c.size) >= FIRST_NIGHTS)
    return low_c, claimed_c, heated, known


def _regressed(without: Without, heated: Floats, known: Floats) -> Floats:
    """The raise by a plain regression of the low on that outdoors and the soil, on nights without fans."""
    outdoors, ground = _column(without.log.outdoors_c), _column(without.log.ground_c)
    inputs = np.array(
        [
            (1.0, np.nanmin(outdoors[steps.start : steps.stop]), np.nanmean(ground[steps.start : steps.stop]))
            for steps in (low.night.steps for low in without.lows)
        ]
    )
    low_c = np.array([low.low_c for low in without.lows])
    idle = ~heated & known
    weights = np.linalg.lstsq(inputs[idle], low_c[idle], rcond=None)[0]
    return low_c - inputs @ weights


def _bench(played: Played, series: Series) -> list[float | None]:
    groups = played.settings.derived.groups
    return series.mean(groups.benches or groups.ceilings)


def _column(values: list[float | None]) -> Floats:
    return np.array([math.nan if value is None else value for value in values])
