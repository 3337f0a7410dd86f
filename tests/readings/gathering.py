"""A house whose probes and float say what the test says, gathered tick by tick."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.readings.gather import Gatherer
from controller.readings.reading import Level, RawFailure, RawLevel, RawSample, RawTemperature, Why

if TYPE_CHECKING:
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Judging, Settings

EVERY_S = 15.0


class House:
    """A gatherer and a house around it: all probes at 15 °C and a dry sump, unless set otherwise."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.judging: Judging = settings.judging
        self.gatherer = Gatherer(settings)
        self.now_s = 1000.0
        self.value_c: dict[str, float] = dict.fromkeys(settings.probes, 15.0)
        self.failing: dict[str, Why] = {}
        self.level: Level | None = Level.DRY

    def tick(self, times: int = 1) -> Snapshot:
        """New samples of all probes and a look at the float."""
        for _ in range(times):
            self.now_s += EVERY_S
            raw: dict[str, RawSample] = {
                name: RawTemperature(value_c, self.now_s) for name, value_c in self.value_c.items()
            }
            raw |= {name: RawFailure(cause, self.now_s) for name, cause in self.failing.items()}
            looks = {"main": [RawLevel(self.level, self.now_s)]}
            snapshot = self.gatherer.gather(raw, looks, self.now_s, self.judging)
        return snapshot
