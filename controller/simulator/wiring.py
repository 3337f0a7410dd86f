"""Simulated outputs to set and floats to look at."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.readings.reading import Level, RawLevel
from controller.simulator import indices as at
from controller.simulator.faults import FaultKind

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from controller.decision.command import OutputId
    from controller.simulator.faults import FaultBoard
    from controller.simulator.model import Model

CHATTER_PER_LOOK = 3  # level changes that a bouncing float shows at every look


class SimulatedSwitch:
    """One output of the simulated house."""

    def __init__(self, output: OutputId, board: FaultBoard, changed: Callable[[], None]) -> None:
        self._output = output
        self._board = board
        self._changed = changed
        self._on = False

    def set(self, on: bool) -> None:
        """Drive the output.

        Raises:
            OSError: the fault script has broken its line.
        """
        if self._board.find(FaultKind.OUTPUT_DEAF, self._output.name):
            raise OSError(f"{self._output} cannot be driven")
        if on != self._on:
            self._on = on
            self._changed()

    def is_on(self) -> bool:
        """What it is driven to."""
        return self._on

    def close(self) -> None:
        """Drive it off."""
        if self._on:
            self._on = False
            self._changed()


class SimulatedFloats:
    """The floats of the simulated sumps, behind ``FloatSource``."""

    def __init__(self, model: Model, board: FaultBoard, now_s: Callable[[], float]) -> None:
        self._model = model
        self._board = board
        self._now_s = now_s
        self._turns: dict[str, list[RawLevel]] = {name: [] for name in model.sump_names}

    def note_turns(self) -> None:
        """Remember levels as they are now, after a float has turned."""
        now_s = self._now_s()
        for index, name in enumerate(self._model.sump_names):
            self._turns[name].append(RawLevel(self._level(index, name), now_s))

    def look(self) -> Mapping[str, list[RawLevel]]:
        """Level changes since the last look and the level now."""
        now_s = self._now_s()
        looked = {}
        for index, name in enumerate(self._model.sump_names):
            turns = self._turns[name]
            self._turns[name] = []
            level = self._level(index, name)
            if self._board.find(FaultKind.FLOAT_CHATTER, name):
                turns.extend(
                    RawLevel(Level.WET if turn % 2 == 0 else Level.DRY, now_s)
                    for turn in range(CHATTER_PER_LOOK)
                )
            turns.append(RawLevel(level, now_s))
            looked[name] = turns
        return looked

    def close(self) -> None:
        """Nothing to release."""

    def _level(self, index: int, name: str) -> Level | None:
        find = self._board.find
        if self._board.any():
            if find(FaultKind.FLOAT_UNREADABLE, name):
                return None
            if find(FaultKind.FLOAT_STUCK_WET, name):
                return Level.WET
            if find(FaultKind.FLOAT_STUCK_DRY, name):
                return Level.DRY
        return Level.WET if self._model.sumps[index, at.B_FLOAT_WET] > 0.0 else Level.DRY
