"""Did it help? The house with the store as measured, against the same house without it as reckoned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from datetime import date

    from controller.evidence.interval import Interval
    from controller.evidence.series import LocalOffset, Series
    from controller.settings.schema import Settings

NEEDED_NIGHTS = 10


class Night(NamedTuple):
    """One night.

    Attributes:
        evening: the local date on which it began.
        heated: whether a fan ran between sunset and morning.
        low_c: lowest temperature among the crop, as measured.
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
        frost_nights_avoided: nights whose low would have been below the frost limit, less those that were.
        frost_hours_avoided: hours below the frost limit, without the store less with it.
        hot_hours_avoided: hours above the cooling limit, without the store less with it.
        heater_kwh: heat that a heater would have had to give for the same raise on the heated nights.
        money: what that heat costs less the electricity of the fans, None where no price is known.
        fit_error_k: scatter of the model on the house's own nights.
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
    return NotEnough(0, NEEDED_NIGHTS, "The reckoning without the store is not there yet.")
