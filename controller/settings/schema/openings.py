"""Tables on what can be opened in the building, and what stands for them where none is written."""

import math
from collections.abc import Mapping
from typing import Literal

from controller.settings.schema.section import Section, setting
from controller.settings.schema.surroundings import House
from controller.settings.schema.values import Celsius, Metres, SquareMetres, TimeOfDay

OpeningKind = Literal["roof vent", "side vent", "door"]
Worked = Literal["opener", "person", "never"]

# Roof vents of a house whose file names no openings (recommended least area over floor, ASAE EP406) [memory]
VENTS_PER_FLOOR = 0.15
VENTS_NAME = "roof-vents"


class Opening(Section):
    """[openings.NAME]: openings of one kind; used by the rehearsal and the reports, not by fan control."""

    kind: OpeningKind = setting(
        ..., "The kind of opening. A door reaches down to the ground.", example='"door"'
    )
    area_m2: SquareMetres = setting(
        ...,
        "The clear area of all of them together, fully open.",
        smaller="Hotter days.",
        larger="Cooler days.",
        low="0.01 m2",
        high="2000 m2",
        example='"1.6 m2"',
    )
    height_m: Metres = setting(
        ...,
        "The height of their middle above the floor.",
        smaller="Lets cool air in; airs best together with high ones.",
        larger="Lets warm air out; airs best together with low ones.",
        low="0.1 m",
        high="15 m",
        example='"1.0 m"',
    )
    worked: Worked = setting(
        ...,
        'What works them: an automatic "opener" at any hour, a "person" between two times of day, or '
        'nothing: they "never" open.',
        example='"person"',
    )
    open_above_c: Celsius = setting(
        "30 °C",
        "Bench temperature above which they are open; an opener begins here and has them wide open at 4 K "
        "more.",
        smaller="Open more often, cooler days.",
        larger="Open in the heat only.",
        low="5 °C",
        high="60 °C",
    )
    open_from: TimeOfDay = setting("08:00", "Time of day from which the person opens them.")
    open_until: TimeOfDay = setting(
        "18:00", 'Time of day at which the person shuts them; "24:00" for the end of the day.'
    )


def openings_of(house: House, openings: Mapping[str, Opening]) -> Mapping[str, Opening]:
    """What can be opened: the openings of the file, or the roof vents that stand for them.

    A file without any has roof vents of 15 % of the floor, with an opener set to ``vents_open_above``; with
    "never" there it has no opening at all.
    """
    if openings or math.isinf(house.vents_open_above_c):
        return openings
    return {
        VENTS_NAME: Opening.model_construct(
            kind="roof vent",
            area_m2=VENTS_PER_FLOOR * house.length_m * house.width_m,
            height_m=house.ridge_m,
            worked="opener",
            open_above_c=house.vents_open_above_c,
        )
    }
