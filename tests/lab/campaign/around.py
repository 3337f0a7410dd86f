"""Lets troubles around the house begin and end: files, sinks, the wall clock, fire."""

from __future__ import annotations

import math
from datetime import timedelta
from typing import TYPE_CHECKING

from controller.faults import MINUTE_S
from tests.lab.campaign.place import SETTINGS
from tests.lab.campaign.sinks import failing_sink
from tests.lab.campaign.troubles import ENDINGS, TroubleKind

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from controller.simulator.plant.plant import SimulatedPlant
    from tests.lab.campaign.draw import Episode
    from tests.lab.campaign.life import Life
    from tests.lab.campaign.place import Machine
    from tests.lab.campaign.troubles import Trouble

TIME_IS_KNOWN_AFTER_S = 5 * MINUTE_S  # of a boot; until then the board does not know the time
# A rise that is a fire, up to where the air of the house model still is air.
FIRE_FROM_C, FIRE_K_S, FIRE_C, FIRE_BENCH_K = 25.0, 8.0 / 60.0, 75.0, 15.0
NEARLY_S = 1e-3


class Surroundings:
    """What goes on around the house in one episode."""

    def __init__(self, episode: Episode, plant: SimulatedPlant, machine: Machine, directory: Path) -> None:
        self._plant = plant
        self._machine = machine
        self._directory = directory
        self._coming = sorted(
            (each for each in episode.troubles if each.kind not in ENDINGS), key=lambda each: each.at_s
        )
        self._active: list[Trouble] = []
        self._wrong_s = 0.0
        self._unknown_until_s = 0.0
        self._sinks = 0

    def wall(self, start: datetime, now_s: float) -> datetime:
        """What the board takes the time for."""
        return start + timedelta(seconds=now_s + self._wrong_s)

    def next_s(self) -> float:
        """When there is something to do next; long ago while a fire burns, which wants every tick."""
        if self._burning():
            return -math.inf
        coming = [each.at_s for each in self._coming[:1]]
        known = [self._unknown_until_s] if self._unknown_until_s else []
        return min([math.inf, *coming, *known, *(each.until_s for each in self._active)])

    def mended_s(self, otherwise_s: float) -> float:
        """When somebody mends the settings."""
        return min((each.until_s for each in self._active if each.kind in SETTINGS), default=otherwise_s)

    def follow(self, life: Life | None, now_s: float) -> None:
        """Let begin and end what is due."""
        while self._coming and self._coming[0].at_s <= now_s + NEARLY_S:
            trouble = self._coming.pop(0)
            self._active.append(trouble)
            self._machine.begin(trouble)
            if trouble.kind is TroubleKind.CLOCK_STEP:
                self._step(life, trouble.by_s)
            if life is not None:
                self._begin_in(life, trouble)
        for trouble in [each for each in self._active if each.until_s <= now_s + NEARLY_S]:
            self._end(life, trouble)
        if self._burning():
            self._rage(now_s)
        if life is not None and self._unknown_until_s:
            life.clock.know_wall(self._time_is_known(now_s))
            if now_s >= self._unknown_until_s - NEARLY_S:
                self._unknown_until_s = 0.0

    def booted(self, now_s: float) -> None:
        """The board has booted; it has no battery clock."""
        self._unknown_until_s = now_s + TIME_IS_KNOWN_AFTER_S

    def meet(self, life: Life) -> None:
        """A new life finds what is under way."""
        for trouble in self._active:
            self._begin_in(life, trouble)

    def _time_is_known(self, now_s: float) -> bool:
        unset = any(each.kind is TroubleKind.CLOCK_UNSET for each in self._active)
        return not unset and now_s >= self._unknown_until_s - NEARLY_S

    def _begin_in(self, life: Life, trouble: Trouble) -> None:
        """What a trouble does to a running process."""
        self._sinks += 1
        directory = self._directory / f"sink-{self._sinks}"
        directory.mkdir()
        sink = failing_sink(trouble.kind, directory, life.clock, life.settings)
        if sink is not None:
            life.put_sink(trouble, sink)
        if trouble.kind is TroubleKind.CLOCK_UNSET:
            life.clock.know_wall(False)

    def _end(self, life: Life | None, trouble: Trouble) -> None:
        self._active.remove(trouble)
        self._machine.end(trouble)
        if trouble.kind is TroubleKind.CLOCK_STEP:
            self._step(life, -trouble.by_s)
        if life is not None:
            life.take_sink(trouble)
            if trouble.kind is TroubleKind.CLOCK_UNSET:
                life.clock.know_wall(self._time_is_known(trouble.until_s))

    def _step(self, life: Life | None, by_s: float) -> None:
        self._wrong_s += by_s
        if life is not None:
            life.clock.step_wall(by_s)

    def _burning(self) -> bool:
        return any(each.kind is TroubleKind.FIRE for each in self._active)

    def _rage(self, now_s: float) -> None:
        """Fire heats the air under the roof, faster than sun can."""
        began_s = min(each.at_s for each in self._active if each.kind is TroubleKind.FIRE)
        hot_c = min(FIRE_FROM_C + FIRE_K_S * (now_s - began_s), FIRE_C)
        house = self._plant.model.house
        house.ceiling_c = max(house.ceiling_c, hot_c)
        house.bench_c = max(house.bench_c, hot_c - FIRE_BENCH_K)
