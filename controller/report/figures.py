"""The five figures at the head of a report."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from controller.evidence.helped import Helped
from controller.report.data import Figure, Interval

if TYPE_CHECKING:
    from controller.evidence import interval as evidence
    from controller.evidence.accounting import Heat
    from controller.evidence.helped import NotEnough
    from controller.report.data import FigureCode

NO_RUN = "No fan has run, so there is no heat to count."
Unit = Literal["K", "1", "h", "kWh"]


def figures_of(helped: Helped | NotEnough, heat: Heat) -> list[Figure]:
    """The figures, or what is missing for each.

    Args:
        helped: the house against itself without the store.
        heat: of all loops and the whole time.
    """
    found: dict[tuple[FigureCode, Unit], evidence.Interval | None] = {
        ("night-raise", "K"): None,
        ("frost-nights-avoided", "1"): None,
        ("hot-hours-avoided", "h"): None,
        ("heater-heat", "kWh"): None,
    }
    missing = ""
    if isinstance(helped, Helped):
        values = (
            helped.raise_heated_k,
            helped.frost_nights_avoided,
            helped.hot_hours_avoided,
            helped.heater_kwh,
        )
        found = dict(zip(found, values, strict=True))
    else:
        missing = helped.sentence
    figures = [
        Figure(code=code, unit=unit, interval=interval(value), covers=90, missing=missing)
        for (code, unit), value in found.items()
    ]
    ratio = heat.heat_per_kwh
    figures.append(
        Figure(
            code="heat-per-electricity",
            unit="kWh",
            interval=interval(ratio),
            covers=95,
            missing="" if ratio else NO_RUN,
        )
    )
    return figures


def more_of(helped: Helped | NotEnough) -> list[Figure]:
    """Two more figures, nothing where the data do not allow them."""
    if not isinstance(helped, Helped):
        return []
    values: tuple[tuple[FigureCode, Unit, evidence.Interval], ...] = (
        ("all-nights-raise", "K", helped.raise_all_k),
        ("frost-hours-avoided", "h", helped.frost_hours_avoided),
    )
    return [
        Figure(code=code, unit=unit, interval=interval(value), covers=90, missing="")
        for code, unit, value in values
    ]


def interval(found: evidence.Interval | None) -> Interval | None:
    """The same as a part of a report."""
    return None if found is None else Interval(value=found.value, low=found.low, high=found.high)
