"""The house without its store: what was measured less what the model makes of the fans' heat."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from controller.evidence import calibration
from controller.evidence.house_model import Parameters, heater_w_m2, lingering, raise_by
from controller.evidence.interval import Interval, around
from controller.record.tally import JOULES_PER_KWH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.evidence.fit import Fit
    from controller.evidence.nights import Log, NightSteps

Z90 = 1.645  # half of the range that holds 90 of 100, over the standard deviation of a normal law
HEAT_SPREAD = 0.12  # of the heat of the fans: flow, probes and method, standard uncertainty (see accounting)
SLOPE = 0.05  # change of a parameter's logarithm, for slopes


class Low(NamedTuple):
    """A night with its lows.

    Attributes:
        night: which.
        low_c: as measured.
        without_c: without the store.
        spread_k: standard deviation of the latter.
    """

    night: NightSteps
    low_c: float
    without_c: float
    spread_k: float


@dataclass(frozen=True, slots=True)
class Without:
    """The house without its store.

    Attributes:
        log: the house with it.
        raise_k: what the fans' heat makes of the air, by the model as fitted.
        house: the model.
        fit_error_k: what the model misses from step to step of the house's own nights.
        spread: what the fit leaves open of the raise beyond what is usual, as a share.
        lows: night by night, oldest first.
    """

    log: Log
    raise_k: list[float]
    house: Parameters
    fit_error_k: float
    spread: float
    lows: tuple[Low, ...]

    def mean_raise_k(self, *, heated_only: bool) -> Interval:
        """Mean raise of the night's low."""
        lows = [low for low in self.lows if low.night.heated or not heated_only]
        mean_k = sum(low.low_c - low.without_c for low in lows) / len(lows)
        single_k = calibration.NIGHT_ERROR_K * math.sqrt(min(calibration.NIGHTS_ALIKE / len(lows), 1.0))
        return around(mean_k, Z90 * math.hypot(self.spread * mean_k, calibration.SEASON_ERROR_K, single_k))

    def season_spread(self) -> float:
        """Standard deviation of the raise, the same for all heated nights of the season, as a share of it."""
        mean = self.mean_raise_k(heated_only=True)
        return mean.half_width / (Z90 * mean.value) if mean.value > 0.0 else 1.0

    def heater_kwh(self, floor_m2: float) -> Interval:
        """Heat for the same raise on the heated nights, in kWh."""
        at_once_k = raise_by(self.house, self.log.heat_w_m2, self.log.step_s)
        heat_j = 0.0
        for low in self.lows:
            if low.night.heated:
                raises = [max(at_once_k[step], 0.0) for step in low.night.steps]
                dark = raises[len(raises) // 4 : -len(raises) // 6]  # from 18 to 8 o'clock, of noon to noon
                heat_j += sum(heater_w_m2(self.house, dark, self.log.step_s)) * self.log.step_s
        kwh = heat_j * floor_m2 / JOULES_PER_KWH
        return around(kwh, Z90 * HEAT_SPREAD * kwh, least=0.0)


def reckon(log: Log, nights: Sequence[NightSteps], found: Fit) -> Without:
    """Play the model through the log.

    Args:
        log: the house with its store.
        nights: those to reckon.
        found: the model.
    """
    raise_k = _raise_k(found.house, log)
    # The errors over houses hold what the fit of a whole winter leaves open; a short log leaves more.
    more = _fit_spread(log, nights, found, raise_k) ** 2 - calibration.USUAL_FIT_SPREAD**2
    spread = math.sqrt(max(more, 0.0))
    lows = []
    for night in nights:
        low_c, without_c = _lows(log, night, raise_k)
        spread_k = math.hypot(spread * (low_c - without_c), calibration.NIGHT_ERROR_K)
        lows.append(Low(night, low_c, without_c, spread_k))
    return Without(log, raise_k, found.house, found.error_k, spread, tuple(lows))


def _raise_k(house: Parameters, log: Log) -> list[float]:
    """What the fans' heat makes of the air, at once and for a day after."""
    at_once = raise_by(house, log.heat_w_m2, log.step_s)
    later = lingering(house, log.heat_w_m2, log.step_s)
    return [now_k + left_k for now_k, left_k in zip(at_once, later, strict=True)]


def _lows(log: Log, night: NightSteps, raise_k: Sequence[float]) -> tuple[float, float]:
    """The night's low as measured and without the store."""
    low_c = without_c = math.inf
    for step in night.steps:
        bench_c = log.bench_c[step]
        if bench_c is not None:
            low_c = min(low_c, bench_c)
            without_c = min(without_c, bench_c - calibration.NIGHT_SCALE * raise_k[step])
    return low_c, without_c


def _fit_spread(log: Log, nights: Sequence[NightSteps], found: Fit, raise_k: Sequence[float]) -> float:
    """How unsure the fit leaves the mean raise of the heated nights, as a share of it."""
    heated = [night for night in nights if night.heated]

    def total(raises: Sequence[float]) -> float:
        return sum(low - without for low, without in (_lows(log, night, raises) for night in heated))

    whole = total(raise_k)
    if whole <= 0.0:
        return 0.0
    slopes = []
    for index, value in enumerate(found.house):
        moved = Parameters(*(*found.house[:index], value * math.exp(SLOPE), *found.house[index + 1 :]))
        slopes.append((total(_raise_k(moved, log)) / whole - 1.0) / SLOPE)
    variance = sum(
        one * cell * other
        for one, cells in zip(slopes, found.covariance, strict=True)
        for other, cell in zip(slopes, cells, strict=True)
    )
    return math.sqrt(max(variance, 0.0))
