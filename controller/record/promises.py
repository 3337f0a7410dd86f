"""The safety promises, checked on every finished tick by code that shares nothing with the rules it checks.

The same watch runs in every rehearsal, in the property tests and in the daemon. P2, P7, P8, P9, P14 and P15
are about processes, files, sockets and failures; they are proven by tests of the running program instead.
Here are P5, P6, P10 and P12; P1 and P3 are judged in ``water_watch``, P4, P11 and P13 in ``motor_watch`` and,
on what the outputs themselves did, in ``pin_watch``, P13 of signals in ``signal_watch``, and P16 in
``wet_spells``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from controller.decision.reasons import ReasonCode
from controller.decision.state import Demand
from controller.equipment import Kind
from controller.faults import HOUR_S, FaultCode
from controller.readings.reading import Good
from controller.record.motor_watch import SAFETY_TRIPS, MotorWatch, SeenMotor
from controller.record.pin_watch import PinWatch
from controller.record.signal_watch import SignalWatch
from controller.record.water_watch import WaterWatch
from controller.record.wet_spells import Standing, WetFloats

if TYPE_CHECKING:
    from controller.decision.command import OutputChange
    from controller.record.tick import TickRecord

# Ends of runs that nobody decided; like a restart they count as no failed try of a pump.
CUTS = frozenset({ReasonCode.NO_DECISION, ReasonCode.OUTPUT_FAILED})
AIR = ("ceiling", "bench", "outlet")
LITTLE_COOLER_K = 10.0


@dataclass(frozen=True, slots=True)
class Broken:
    """A promise that did not hold in a tick."""

    promise: str
    at_mono_s: float
    detail: str


class PromiseWatch:
    """Follows every tick and reports each promise that does not hold."""

    def __init__(self) -> None:
        self.checked_ticks = 0
        self.motors = MotorWatch()
        self.water = WaterWatch()
        self.pins = PinWatch(SAFETY_TRIPS)
        self.signals = SignalWatch()
        self.wet_floats = WetFloats()
        self._last_now_s: float | None = None
        self._fire = False
        self._hot_since_s: dict[str, float] = {}
        self._whole = True

    def observe(self, tick: TickRecord) -> list[Broken]:
        """Check one finished tick; returns what is broken, normally nothing.

        After a tick that could not be checked to its end the watch takes the motors as it finds them.
        """
        whole, self._whole = self._whole, False
        self.checked_ticks += 1
        broken: list[str] = []
        if not whole:
            self.motors.take_over(tick)
        self.water.follow(tick, lambda name: self.motors.on_since_s(Kind.PUMP, name) is not None)
        self._check_time(tick, broken)
        self._check_fire(tick, broken)
        for change in tick.decision.changes:
            self._check_change(tick, change, broken)
        if tick.pins.on:
            for output, at_s in self.motors.count_from_pins(tick).items():
                if output.kind is Kind.PUMP:
                    self.water.pump_turned_late(output.name, at_s)
            broken += self.pins.observe(tick)
        broken += self.signals.observe(tick)
        self._check_outputs(tick, broken)
        self._check_wet_floats(tick, broken)
        self._whole = True
        now_s = tick.now_mono_s
        return [Broken(words[: words.index(":")], now_s, words) for words in broken]

    def _check_time(self, tick: TickRecord, broken: list[str]) -> None:
        if self._last_now_s is not None and tick.now_mono_s < self._last_now_s:
            broken.append("P10: the clock behind all durations went backwards")
        self._last_now_s = tick.now_mono_s

    def _check_fire(self, tick: TickRecord, broken: list[str]) -> None:
        if tick.snapshot.cleared and FaultCode.FIRE in tick.snapshot.cleared:
            self._fire = False
        level_c, probes = tick.settings.fire.level_c, tick.settings.probes
        air = {
            name: reading.value
            for name, reading in tick.snapshot.probes.items()
            if isinstance(reading, Good) and name in probes and probes[name].place in AIR
        }
        hot = {name for name, value in air.items() if value >= level_c}
        # A probe that was hot and cannot be read, or has cooled a little, has shown nothing new.
        kept = {name for name in self._hot_since_s if air.get(name, level_c) > level_c - LITTLE_COOLER_K}
        self._hot_since_s = {name: self._hot_since_s.get(name, tick.now_mono_s) for name in hot | kept}
        if len(hot) > 1 or len(hot) == len(air) > 0:
            self._fire = True
        if self._fire and tick.state.fire.latched_detail is None:
            broken.append("P5: a fire signature did not latch")

    def _check_change(self, tick: TickRecord, change: OutputChange, broken: list[str]) -> None:
        pump = change.output.kind is Kind.PUMP
        if change.on:
            self.motors.started(tick, change, broken)
            if pump:
                self.water.pump_started(tick, change.output.name, broken)
            return
        ran_s = self.motors.stopped(tick, change, broken)
        if pump:
            self.water.pump_stopped(tick, change.output.name, ran_s)

    def _check_outputs(self, tick: TickRecord, broken: list[str]) -> None:
        for output, command in tick.decision.commands.items():
            since_s = self.motors.on_since_s(output.kind, output.name)
            if command.on != (since_s is not None):
                broken.append(f"P13: {output} changed without a recorded reason")
            if not command.on:
                continue
            if output.kind is Kind.FAN:
                self._check_running_fan(tick, output.name, since_s, broken)
            else:
                self.water.check_pump(tick, output.name, since_s, broken)

    def _check_running_fan(
        self, tick: TickRecord, name: str, since_s: float | None, broken: list[str]
    ) -> None:
        settings, snapshot, now_s = tick.settings, tick.snapshot, tick.now_mono_s
        if self._fire:
            broken.append(f"P5: fan {name} on after a fire signature")
        if any(now_s - since_s < HOUR_S for since_s in self._hot_since_s.values()):
            broken.append(f"P5: fan {name} on while one air probe alone shows a fire")
        self.water.check_fan(tick, name, since_s, broken)
        readings = snapshot.loops[name]
        ceiling, soil, root_zone = snapshot.ceiling, readings.soil, readings.root_zone
        if not (isinstance(ceiling, Good) and isinstance(soil, Good)):
            broken.append(f"P6: fan {name} on without a ceiling or soil reading that can be believed")
            return
        judging = settings.judging
        if now_s - ceiling.at_mono_s > judging.air_hold_s or now_s - soil.at_mono_s > judging.soil_hold_s:
            broken.append(f"P6: fan {name} on with a reading older than its hold time")
        points = settings.setpoints
        where, roots = ("root zone", root_zone) if isinstance(root_zone, Good) else ("soil", soil)
        root_c = roots.value
        demand = tick.state.fans[name].demand
        # A plain rule names no purpose, and a short trial run a week is no banking.
        rescue = demand in (Demand.COOL, Demand.PLAIN, Demand.TRIAL)
        high_c = points.root_zone_rescue_max_c if rescue else points.root_zone_max_c
        if ceiling.value > soil.value and root_c >= high_c:
            does = "cools" if rescue else "banks"
            broken.append(f"P12: fan {name} {does} at {root_c:.2f} °C in the {where}")
        if ceiling.value < soil.value and root_c <= points.root_zone_min_c:
            broken.append(f"P12: fan {name} discharges at {root_c:.2f} °C in the {where}")

    def _check_wet_floats(self, tick: TickRecord, broken: list[str]) -> None:
        for change in tick.decision.changes:
            if change.reason.code in CUTS:
                self.wet_floats.cut(change.output.name)
        for name in self.wet_floats.wet(tick):
            motor = self.motors.motors.get((Kind.PUMP, name), SeenMotor())
            standing = Standing(motor.off_since_s, tuple(motor.starts_s), self.motors.last_start_s)
            broken += self.wet_floats.observe(tick, name, standing)
