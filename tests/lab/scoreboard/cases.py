"""The climates, houses and years that control is judged on.

Two thirds of them may be used to choose defaults. The rest are looked at only afterwards; the table
keeps the two apart, so that a rule that merely suits the first shows.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from controller.settings.load import load

if TYPE_CHECKING:
    from controller.settings.schema import Settings

CONFIG = Path(__file__).parents[3] / "config"
# A season from summer to summer, so that what autumn banks is still there for winter.
FIRST_DAY = datetime(2026, 7, 1)  # noqa: DTZ001 - the rehearsal takes it for local time of the weather
DAYS = 365.0

# What makes a house another house: the file, and what is changed in its [house] and [setpoints].
HOUSES: dict[str, tuple[str, dict[str, Any]]] = {
    "three loops": ("house.toml", {}),
    "one loop": ("one-loop.toml", {}),
    "leaky": ("house.toml", {"air_changes_per_hour": 2.5}),
    "tight": ("house.toml", {"air_changes_per_hour": 0.3}),
    "sand": ("house.toml", {"soil": "sand"}),
    "clay": ("house.toml", {"soil": "clay"}),
    "single film": ("house.toml", {"cover": "single film"}),
}


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
        file, changes = HOUSES[self.house]
        settings = load(CONFIG / file)
        return settings.model_copy(update={"house": settings.house.model_copy(update=changes)})


CASES = (
    Case("carolina", "three loops", 0, tuning=True),
    Case("carolina-8K", "three loops", 0, tuning=True),
    Case("miami", "three loops", 0, tuning=True),
    Case("carolina", "leaky", 0, tuning=True),
    Case("carolina", "one loop", 0, tuning=True),
    Case("invented-carolina-4K", "single film", 4, tuning=True),
    Case("alaska-coast", "three loops", 0, tuning=True),
    Case("alaska-coast", "one loop", 0, tuning=True),
    Case("invented-carolina", "sand", 11, tuning=False),
    Case("invented-carolina-8K", "three loops", 12, tuning=False),
    Case("invented-alaska-coast", "leaky", 13, tuning=False),
    Case("invented-carolina", "tight", 14, tuning=False),
)
