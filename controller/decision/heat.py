"""Heat that a loop's outlet shows to move."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.readings.reading import Good

if TYPE_CHECKING:
    from controller.readings.reading import Reading
    from controller.settings.schema.derived import DerivedLoop


def proven_heat_w(loop: DerivedLoop, ceiling: Reading, outlet: Reading) -> float | None:
    """Dry heat the running loop leaves in the soil in W (negative: takes out), None if unknown."""
    if isinstance(ceiling, Good) and isinstance(outlet, Good):
        return loop.air_w_per_k * (ceiling.value - outlet.value)
    return None
