"""Promises over a whole episode: one watch that outlives every restart of the controller, in true time.

The controller's own watch begins anew with each start and cannot see what a restart forgets. This one is
told when the outputs went off and when the board booted, and moves everything it remembers into the new
boot's time, so that a rest of ten minutes is ten minutes of the motor, whatever the controller's clocks say.
Power that is off counts as rest: the motor stands still. What happened after the last write that a restart
can read is unknown history; P4 then asks for a rest first, and no count of starts is owed for what nobody
can know.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from controller.equipment import Kind
from controller.readings.reading import Good
from controller.record.promises import PromiseWatch
from controller.record.wet_spells import WetFloats

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from controller.equipment import OutputId
    from controller.outputs.ports import Switch
    from controller.record.promises import Broken
    from controller.record.tick import TickRecord
    from controller.settings.schema import Settings

STOPS_WITHIN_S = 1.0  # P2


class LastingWatch:
    """The product's own watch, carried over restarts."""

    def __init__(self) -> None:
        self.watch = PromiseWatch()

    def observe(self, tick: TickRecord) -> list[Broken]:
        """Check one finished tick."""
        return self.watch.observe(tick)

    def outputs_went_off(self, now_s: float, settings: Settings) -> None:
        """Every output went off without a decision: the power failed, or the process ended."""
        pumped = {
            name
            for (kind, name), motor in self.watch.motors.motors.items()
            if kind == Kind.PUMP and motor.on_since_s is not None
        }
        self.watch.wet_floats = WetFloats()  # nobody looks until the next start
        for (kind, name), motor in self.watch.motors.motors.items():
            if motor.on_since_s is None:
                continue
            if kind == Kind.PUMP:
                water = self.watch.water.sumps[name]
                water.dry_while_on_s = water.blind_since_s = None
                if now_s - motor.on_since_s >= settings.pump.longest_run_s:
                    water.last_full_run_end_s = now_s
            motor.on_since_s, motor.off_since_s = None, now_s
        seen_s = now_s if self.watch._last_now_s is None else self.watch._last_now_s
        for name, water in self.watch.water.sumps.items():
            water.unread(name in pumped, seen_s)  # nobody looks at the floats any more
        for pin in self.watch.pins._pins.values():
            if pin.on_since_s is not None:
                pin.on_since_s, pin.off_since_s = None, now_s
            pin.start_recorded, pin.stop_recorded, pin.stop_unrecorded = False, None, False

    def history_unknown(self, since_s: float) -> None:
        """Nothing that happened from then on can be read after the restart."""
        for pin in self.watch.pins._pins.values():
            pin.starts_s = [at for at in pin.starts_s if at <= since_s]
        for (kind, name), motor in self.watch.motors.motors.items():
            motor.starts_s = [at for at in motor.starts_s if at <= since_s]
            if kind == Kind.PUMP:
                water = self.watch.water.sumps[name]
                ended_s = water.last_full_run_end_s
                if ended_s is not None and ended_s > since_s:
                    water.last_full_run_end_s = None

    def forget_fire(self) -> None:
        """Nobody can know of the fire any more: the board's storage was replaced."""
        self.watch._fire = False

    def booted(self, by_s: float) -> None:
        """The board booted: a moment that was ``t`` is ``t + by_s`` now; 0 where it only started again."""
        watch = self.watch
        for motor in watch.motors.motors.values():
            motor.on_since_s = _moved(motor.on_since_s, by_s)
            motor.off_since_s = _moved(motor.off_since_s, by_s)
            motor.starts_s = [at + by_s for at in motor.starts_s]
        for water in watch.water.sumps.values():
            water.last_water_s = _moved(water.last_water_s, by_s)
            water.dry_while_on_s = _moved(water.dry_while_on_s, by_s)
            water.blind_since_s = _moved(water.blind_since_s, by_s)
            water.last_full_run_end_s = _moved(water.last_full_run_end_s, by_s)
            if (lost := water.silence) is not None and by_s:  # nobody knows how long a boot takes
                water.silence = lost._replace(
                    since_s=lost.since_s + by_s, until_s=lost.until_s + by_s, excusable=False
                )
            water.blind_spans = [span._replace(end_s=span.end_s + by_s) for span in water.blind_spans]
        for pin in self.watch.pins._pins.values():
            pin.on_since_s = _moved(pin.on_since_s, by_s)
            pin.off_since_s = _moved(pin.off_since_s, by_s)
            pin.starts_s = [at + by_s for at in pin.starts_s]
        watch.pins._last_start_s = _moved(watch.pins._last_start_s, by_s)
        watch._last_now_s = _moved(watch._last_now_s, by_s)
        watch.motors.last_start_s = _moved(watch.motors.last_start_s, by_s)


def _moved(at_s: float | None, by_s: float) -> float | None:
    return None if at_s is None else at_s + by_s


class TrueWater:
    """P2 on the true float: a fan stands still a second after its sound float has risen.

    What cannot be driven any more keeps its level whatever is decided; then the command counts.
    """

    def __init__(
        self, settings: Settings, switches: Mapping[OutputId, Switch], is_deaf: Callable[[OutputId], bool]
    ) -> None:
        self._sumps = {
            name: {output: switches[output] for output in switches if _drains_to(settings, output, name)}
            for name in settings.sumps
        }
        self._is_deaf = is_deaf
        self._wet_since_s = dict.fromkeys(settings.sumps, math.inf)

    def observe(self, tick: TickRecord, float_wet: Mapping[str, bool], now_s: float) -> str | None:
        """Check after a tick; returns what is broken, in words."""
        for name, fans in self._sumps.items():
            if not float_wet[name]:
                self._wet_since_s[name] = math.inf
                continue
            self._wet_since_s[name] = since_s = min(self._wet_since_s[name], now_s)
            if now_s - since_s > STOPS_WITHIN_S and any(self._runs(tick, *fan) for fan in fans.items()):
                level = tick.snapshot.sumps.get(name)
                seen = level.value.value if isinstance(level, Good) else "unknown"
                return f"P2: a fan runs {now_s - since_s:.1f} s after the float of {name} rose (seen: {seen})"
        return None

    def look_away(self) -> None:
        """Nobody could act for a while; the second counts from the next look."""
        self._wet_since_s = dict.fromkeys(self._wet_since_s, math.inf)

    def _runs(self, tick: TickRecord, output: OutputId, fan: Switch) -> bool:
        if not self._is_deaf(output):
            return fan.is_on()
        command = tick.decision.commands.get(output)
        return command is not None and command.on


def _drains_to(settings: Settings, output: OutputId, sump: str) -> bool:
    return output.kind != Kind.PUMP and settings.loops[output.name].sump == sump
