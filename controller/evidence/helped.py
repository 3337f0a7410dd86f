"""Did it help? The house with the store as measured, against the same house without it as reckoned.

The model of the house (``house_model``) is fitted to the house's own nights and played through the whole log
with nothing but the heat of the fans; what that makes of the air is taken off what was measured. Intervals
hold the spread of the model over other houses, of the parameters of this one, and of single nights.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from controller.evidence.counting import frost_hours_avoided, hot_hours_avoided, nights_avoided
from controller.evidence.fit import fit
from controller.evidence.heat import doubts_of
from controller.evidence.interval import Interval, around
from controller.evidence.nights import FIT_STEPS, for_fit, log_of, nights_of
from controller.evidence.reckoning import Z90, reckon
from controller.record.tally import JOULES_PER_KWH

if TYPE_CHECKING:
    from datetime import date

    from controller.evidence.reckoning import Low, Without
    from controller.evidence.series import LocalOffset, Series
    from controller.settings.schema import Settings

NEEDED_NIGHTS = 10


class Night(NamedTuple):
    """One night.

    Attributes:
        evening: the local date on which it began.
        heated: whether fans ran for long in it and brought warmth.
        low_c: lowest temperature among the crop from noon to noon, as measured.
        without_c: what it would have been without the store.
    """

    evening: date
    heated: bool
    low_c: float
    without_c: Interval


@dataclass(frozen=True, slots=True)
class Helped:
    """What the store did.

    Attributes:
        nights: how many have a figure.
        heated_nights: on how many of them fans ran.
        raise_heated_k: raise of the night's low, mean over the nights on which fans ran.
        raise_all_k: the same over all nights.
        frost_nights_avoided: nights below the frost limit, without the store less with it.
        frost_hours_avoided: hours below the frost limit, without the store less with it.
        hot_hours_avoided: hours above the cooling limit, without the store less with it.
        heater_kwh: heat that a heater would have had to give for the same raise on the heated nights.
        money: what that heat costs less the electricity of the fans, None where no price is known.
        fit_error_k: what the model misses from step to step of the house's own nights (root mean square).
        rows: night by night.
        doubts: sentences on what was not believed.
    """

    nights: int
    heated_nights: int
    raise_heated_k: Interval
    raise_all_k: Interval
    frost_nights_avoided: Interval
    frost_hours_avoided: Interval
    hot_hours_avoided: Interval
    heater_kwh: Interval
    money: Interval | None
    fit_error_k: float
    rows: tuple[Night, ...]
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NotEnough:
    """Too little is known for a figure.

    Attributes:
        heated_nights: nights on which fans ran and the air was read.
        needed: how many it takes.
        sentence: what is missing.
    """

    heated_nights: int
    needed: int
    sentence: str


def did_it_help(
    series: Series,
    settings: Settings,
    offset: LocalOffset,
    price_per_kwh: float | None = None,
) -> Helped | NotEnough:
    """Say what the store did for the house, from its own log.

    Args:
        series: the log, a winter of it at best.
        settings: probes, loops and limits.
        offset: of local time.
        price_per_kwh: of heat and electricity alike, in any currency; None if not known.
    """
    outdoors = settings.probe_names("outdoor")
    if not outdoors or not settings.derived.groups.soils:
        place = "the soil at the tubes" if outdoors else "the air outdoors"
        sentence = (
            f"No probe measures {place}, and without it the house without the store cannot be reckoned."
        )
        return NotEnough(0, NEEDED_NIGHTS, sentence)
    log = log_of(series, settings, offset)
    nights = nights_of(log)
    heated = sum(night.heated for night in nights)
    fitted = for_fit(log, nights)
    if heated < NEEDED_NIGHTS or len(fitted) < NEEDED_NIGHTS:
        return NotEnough(heated, NEEDED_NIGHTS, _missing(heated, len(fitted)))
    without = reckon(log, nights, fit(fitted, FIT_STEPS * log.step_s))
    return _figures(without, settings, price_per_kwh)


def _missing(heated: int, fitted: int) -> str:
    """What is missing, for people."""
    if heated < NEEDED_NIGHTS:
        more = NEEDED_NIGHTS - heated
        nights = "1 more night" if more == 1 else f"{more} more nights"
        return f"{nights} on which fans heat must be read: {heated} of {NEEDED_NIGHTS} are there."
    return f"Only {fitted} nights were read from dusk to dawn without a gap; {NEEDED_NIGHTS} are needed."


def _figures(without: Without, settings: Settings, price_per_kwh: float | None) -> Helped:
    limits, house = settings.setpoints, settings.house
    rows = tuple(_row(low) for low in without.lows)
    heater_kwh = without.heater_kwh(house.length_m * house.width_m)
    fans_kwh = without.log.electricity_j / JOULES_PER_KWH
    return Helped(
        nights=len(rows),
        heated_nights=sum(row.heated for row in rows),
        raise_heated_k=without.mean_raise_k(heated_only=True),
        raise_all_k=without.mean_raise_k(heated_only=False),
        frost_nights_avoided=nights_avoided(without, limits.frost_limit_c),
        frost_hours_avoided=frost_hours_avoided(without, limits.frost_limit_c),
        hot_hours_avoided=hot_hours_avoided(without, limits.cool_above_c, _vents_above_c(settings)),
        heater_kwh=heater_kwh,
        money=None
        if price_per_kwh is None
        else Interval(*((kwh - fans_kwh) * price_per_kwh for kwh in heater_kwh)),
        fit_error_k=without.fit_error_k,
        rows=rows,
        doubts=tuple(doubts_of(without.log.heats).values()),
    )


def _vents_above_c(settings: Settings) -> float:
    """The temperature from which openers open vents, infinity without any."""
    openings = settings.all_openings().values()
    return min((vent.open_above_c for vent in openings if vent.worked == "opener"), default=math.inf)


def _row(low: Low) -> Night:
    return Night(low.night.evening, low.night.heated, low.low_c, around(low.without_c, Z90 * low.spread_k))
