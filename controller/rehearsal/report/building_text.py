"""What a rehearsal assumes of the building, in words: who opens what, and when."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.units import TemperatureUnit, temperature_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from controller.rehearsal.summary import Building, OpeningAssumed


def assumptions(building: Building, unit: TemperatureUnit) -> Iterator[str]:
    """A sentence for everything that can be opened, or one that nothing can."""
    if not building.openings:
        yield "this house has nothing that opens; it stays shut on hot days"
    for name, opening in building.openings.items():
        size = f"{opening.area_m2:.3g} m2"
        if building.openings_named:
            who = "a person" if opening.worked == "person" else "an automatic opener"
            yield f"{name} ({opening.kind}, {size}): assumes that {_worked(opening, who, unit)}"
        else:
            worked = _worked(opening, "somebody, or an automatic opener,", unit)
            yield f"the settings name no openings, so this assumes {size} of roof vents and that {worked}"


def _worked(opening: OpeningAssumed, who: str, unit: TemperatureUnit) -> str:
    if opening.open_above_c is None:
        return "they stay shut"
    above = temperature_text(opening.open_above_c, unit)
    hours = "at any hour"
    if opening.open_from is not None:
        hours = f"between {opening.open_from} and {opening.open_until}"
    return f"{who} opens them when the bench is warmer than {above}, {hours}"
