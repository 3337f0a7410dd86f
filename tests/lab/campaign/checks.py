"""Everything that must hold after every tick, whatever goes wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.faults import DAY_S
from controller.simulator.plant.fault_kinds import FaultKind
from tests.lab.campaign.watch import LastingWatch, TrueWater

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from controller.equipment import OutputId
    from controller.record.tick import TickRecord
    from controller.settings.schema import Settings
    from controller.simulator.plant.faults import ScriptedFault
    from controller.simulator.plant.plant import SimulatedPlant
    from tests.lab.campaign.life import Life
    from tests.lab.campaign.sinks import Sink

FLOAT_FAULTS = "float-"


class Checks:
    """The promises of one episode.

    Attributes:
        watch: the watch that outlives restarts.
        broken: the first break of each promise, in words.
        ticks: how many ticks were checked.
    """

    def __init__(self, plant: SimulatedPlant, settings: Settings, faults: Sequence[ScriptedFault]) -> None:
        self.watch = LastingWatch()
        self.broken: list[str] = []
        self.ticks = 0
        self._plant = plant
        self._water = TrueWater(settings, plant.switches, self._is_deaf)
        self._float_faults = [fault for fault in faults if fault.kind.value.startswith(FLOAT_FAULTS)]
        self._last_settings: Settings | None = None
        self._floats_wet = plant.model.sumps["float_wet"]
        self._was_wet = True

    def started(self, now_s: float, *, settings_bad: bool) -> None:
        """The controller has started: with good settings, and with every output off."""
        self._last_settings = None
        if settings_bad:
            self.broke("P8: bad settings started the controller", now_s)
        if any(switch.is_on() for switch in self._plant.switches.values()):
            self.broke("P7: an output was on when the controller started", now_s)

    def observe(self, tick: TickRecord, now_s: float, *, settings_bad: bool, sinks: Iterable[Sink]) -> None:
        """Check a finished tick; ``now_s`` is true time since the start."""
        self.ticks += 1
        for broken in self.watch.observe(tick):
            self.broke(broken.detail, now_s)
        if self._any_wet():
            words = self._water.observe(tick, self._sound_wet(now_s), now_s)
            if words is not None:
                self.broke(words, now_s)
        if settings_bad and self._last_settings is not None and tick.settings is not self._last_settings:
            self.broke("P8: bad settings replaced good ones", now_s)
        self._last_settings = tick.settings
        for sink in sinks:
            if (overfull := sink.overfull()) is not None:
                self.broke(overfull, now_s)

    def stalled(self, on_for_s: float, lease_s: float, now_s: float) -> None:
        """Nobody has decided for so long: past the lease everything is off that can be driven at all."""
        self._water.look_away()
        if on_for_s < lease_s:
            return
        for output, switch in self._plant.switches.items():
            if switch.is_on() and not self._is_deaf(output):
                self.broke(f"P7: {output} on {on_for_s:.1f} s after the last decision", now_s)

    def own_watch(self, life: Life, now_s: float) -> None:
        """What the controller's own watch has found in a life."""
        for broken in life.loop.broken:
            self.broke(f"{broken.detail} (the controller's own watch)", now_s)

    def broke(self, words: str, now_s: float) -> None:
        """Keep the first break of each promise."""
        promise = words.split(":", maxsplit=1)[0]
        if not any(known.startswith(f"{promise}:") for known in self.broken):
            self.broken.append(f"{words} [day {now_s / DAY_S:.4f}]")

    def _any_wet(self) -> bool:
        """Whether a float is up, or was at the last tick."""
        before = self._was_wet
        self._was_wet = any(self._floats_wet.tolist())
        return before or self._was_wet

    def _is_deaf(self, output: OutputId) -> bool:
        return self._plant._board.find(FaultKind.OUTPUT_DEAF, output.name) is not None

    def _sound_wet(self, now_s: float) -> dict[str, bool]:
        """Sumps whose float has never been broken and has risen."""
        model = self._plant.model
        unsound = {fault.subject for fault in self._float_faults if fault.at_s <= now_s}
        return {
            name: bool(model.sumps[index].float_wet > 0.0) and name not in unsound
            for index, name in enumerate(model.sump_names)
        }
