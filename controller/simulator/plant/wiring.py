"""Simulated outputs to set, floats and contacts to look at."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.readings.contacts import Contact, ContactKind, contact_pins
from controller.readings.reading import Level, RawLevel
from controller.simulator.plant.fault_kinds import FaultKind

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from controller.equipment import OutputId
    from controller.settings.schema import Settings
    from controller.simulator.house.model import Model
    from controller.simulator.plant.faults import FaultBoard

CHATTER_S = 2.0  # between two level changes of a bouncing float [practice]
MOST_CHATTER = 60  # changes that are kept for one look


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

    def __init__(
        self, settings: Settings, model: Model, board: FaultBoard, now_s: Callable[[], float]
    ) -> None:
        self._cut_reads = {
            name: Level.WET if sump.float_kind == "opens-on-rise" else Level.DRY
            for name, sump in settings.sumps.items()
        }
        self._names = model.sump_names
        self._wet = model.sumps["float_wet"]  # a window on the model, by sump
        self._board = board
        self._now_s = now_s
        self._looked_s = now_s()
        self._turns: dict[str, list[RawLevel]] = {name: [] for name in model.sump_names}

    def note_turns(self) -> None:
        """Remember levels as they are now, after a float has turned."""
        now_s = self._now_s()
        for index, name in enumerate(self._names):
            self._turns[name].append(RawLevel(self._level(index, name), now_s))

    def restart(self) -> None:
        """Nobody has looked yet."""
        self._looked_s = self._now_s()
        self._turns = {name: [] for name in self._names}

    def look(self) -> Mapping[str, list[RawLevel]]:
        """Level changes since the last look and the level now."""
        now_s = self._now_s()
        broken = self._board.any()
        looked = {}
        for index, name in enumerate(self._names):
            turns = self._turns[name]
            self._turns[name] = []
            level = self._level(index, name)
            if broken and self._board.find(FaultKind.FLOAT_CHATTER, name):
                turns.extend(self._bounces(now_s))
            turns.append(RawLevel(level, now_s))
            looked[name] = turns
        self._looked_s = now_s
        return looked

    def _bounces(self, now_s: float) -> list[RawLevel]:
        """What a bouncing float has shown since the last look."""
        count = min(int((now_s - self._looked_s) / CHATTER_S), MOST_CHATTER)
        return [
            RawLevel(Level.WET if back % 2 else Level.DRY, now_s - back * CHATTER_S)
            for back in range(count, 0, -1)
        ]

    def close(self) -> None:
        """Nothing to release."""

    def _level(self, index: int, name: str) -> Level | None:
        find = self._board.find
        if self._board.any():
            if find(FaultKind.FLOAT_UNREADABLE, name):
                return None
            if find(FaultKind.FLOAT_WIRE_CUT, name):
                return self._cut_reads[name]
            if find(FaultKind.FLOAT_STUCK_WET, name):
                return Level.WET
            if find(FaultKind.FLOAT_STUCK_DRY, name):
                return Level.DRY
        return Level.WET if self._wet[index] > 0.0 else Level.DRY


class SimulatedContacts:
    """The contacts of the simulated house, behind ``ContactSource``."""

    def __init__(
        self, settings: Settings, model: Model, board: FaultBoard, turns: Callable[[Contact], bool]
    ) -> None:
        self._contacts = tuple(contact_pins(settings))
        if settings.board.board_voltage:
            self._contacts += (Contact(ContactKind.VOLTAGE_LOW),)
        self._model = model
        self._board = board
        self._turns = turns

    def look(self) -> Mapping[Contact, bool | None]:
        """What every contact says now."""
        return {contact: self._yes(contact) for contact in self._contacts}

    def close(self) -> None:
        """Nothing to release."""

    def _yes(self, contact: Contact) -> bool:
        match contact.kind:
            case ContactKind.FAN_RUNS | ContactKind.PUMP_RUNS:
                return self._turns(contact)
            case ContactKind.HIGH_WATER:
                index = self._model.sump_names.index(contact.name)
                limits = self._model.whole.sumps.parameters[index]
                # Halfway from where the float below rises to where the tubes begin to fill. [practice]
                return bool(self._model.sumps[index].volume_m3 >= 0.5 * (limits.rise_m3 + limits.flood_m3))
            case ContactKind.SUPPLY_THERE:
                return self._board.find(FaultKind.SUPPLY_GONE) is None
        return self._board.find(FaultKind.VOLTAGE_LOW) is not None
