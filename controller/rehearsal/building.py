"""What a rehearsal takes the building to be, as far as it decides how hot the days get."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.rehearsal.summary import Building, OpeningAssumed

if TYPE_CHECKING:
    from controller.settings.schema import Opening, Settings


def building_of(settings: Settings) -> Building:
    """Openings, those of the file or those that stand for them, and crop and beds."""
    return Building(
        openings_named=bool(settings.openings),
        openings={name: _assumed(opening) for name, opening in settings.all_openings().items()},
        leaf_area=settings.house.leaf_area,
        bed_wetness=settings.house.bed_wetness,
    )


def _assumed(opening: Opening) -> OpeningAssumed:
    by_person = opening.worked == "person"
    return OpeningAssumed(
        kind=opening.kind,
        area_m2=opening.area_m2,
        height_m=opening.height_m,
        worked=opening.worked,
        open_above_c=None if opening.worked == "never" else opening.open_above_c,
        open_from=opening.open_from if by_person else None,
        open_until=opening.open_until if by_person else None,
    )
