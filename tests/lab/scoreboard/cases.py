"""The climates, houses and years that control is judged on.

Half of them may be used to choose defaults. The rest are looked at only afterwards; the tables keep the two
apart, so that a rule that merely suits the first shows. No year of continental Europe comes with the weather
library; Carolina 5 K colder is the nearest, but has the sun of 36° north.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from controller.settings.load import load

if TYPE_CHECKING:
    from controller.settings.schema import Settings

CONFIG = Path(__file__).parents[3] / "config"
# One whole summer, and then one whole winter, so that what autumn banks is still there for it.
FIRST_DAY = datetime(2026, 5, 1)  # noqa: DTZ001 - the rehearsal takes it for local time of the weather
DAYS = 365.0

SAMPLE, ONE_LOOP = CONFIG / "house.toml", CONFIG / "one-loop.toml"
DOORS_ONLY = Path(__file__).with_name("doors-only.toml")
CROP, DRY_BEDS = {"leaf_area": 1.2}, {"bed_wetness": 0.1}
# What makes a house another house: the file, what is changed in its [house], whether it keeps its [openings].
HOUSES: dict[str, tuple[Path, dict[str, Any], bool]] = {
    "three loops": (SAMPLE, {}, True),
    "one loop": (ONE_LOOP, {}, True),
    "leaky": (SAMPLE, {"air_changes_per_hour": 2.5}, True),
    "tight": (SAMPLE, {"air_changes_per_hour": 0.3}, True),
    "sand": (SAMPLE, {"soil": "sand"}, True),
    "clay": (SAMPLE, {"soil": "clay"}, True),
    "single film": (SAMPLE, {"cover": "single film"}, True),
    "doors, sparse crop": (DOORS_ONLY, {}, True),
    "doors, sparse crop, dry beds": (DOORS_ONLY, DRY_BEDS, True),
    "doors": (DOORS_ONLY, CROP, True),
    "large vents": (DOORS_ONLY, CROP, False),
    "shut": (DOORS_ONLY, DRY_BEDS | {"vents_open_above_c": math.inf}, False),
    "shut and shaded": (DOORS_ONLY, {"vents_open_above_c": math.inf, "shade_share": 0.5}, False),
}


def house(name: str) -> Settings:
    """One of ``HOUSES``, with the defaults under test."""
    file, changes, with_openings = HOUSES[name]
    settings = load(file)
    return settings.model_copy(
        update={
            "house": settings.house.model_copy(update=changes),
            "openings": settings.openings if with_openings else {},
        }
    )


@dataclass(frozen=True, slots=True)
class Case:
    """One season in one house.

    Attributes:
        weather: as for ``rehearse --weather``.
        house: a name out of ``HOUSES``.
        seed: of the year, if it is an invented one, and of the probes' errors.
        tuning: whether the defaults were chosen on it.
    """

    weather: str
    house: str
    seed: int
    tuning: bool

    @property
    def name(self) -> str:
        """For tables."""
        year = f" {self.seed}" if self.weather.startswith("invented-") else ""
        return f"{self.weather}{year}, {self.house}"

    def settings(self) -> Settings:
        """This house, with the defaults under test."""
        return house(self.house)


CASES = (
    Case("carolina", "three loops", 0, tuning=True),
    Case("carolina-8K", "three loops", 0, tuning=True),
    Case("alaska-coast", "three loops", 0, tuning=True),
    Case("carolina", "doors, sparse crop", 0, tuning=True),
    Case("miami", "doors, sparse crop", 0, tuning=True),
    Case("invented-carolina", "sand", 11, tuning=False),
    Case("invented-carolina-8K", "three loops", 12, tuning=False),
    Case("invented-alaska-coast", "leaky", 13, tuning=False),
    Case("invented-carolina", "shut and shaded", 21, tuning=False),
    Case("invented-carolina-5K", "doors, sparse crop", 22, tuning=False),
)
