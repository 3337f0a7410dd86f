"""The safety promises, checked on every finished tick by code that shares nothing with the rules it checks.

The same watch runs in every rehearsal, in the property tests and in the daemon. P2, P7, P8, P9, P14 and P15
are about processes, files, sockets and failures; they are proven by tests of the running program instead. P16
is judged in ``wet_spells``, and what the outputs themselves did in ``pin_watch``.

P1 in full: no fan is on while the float of its sump is wet or cannot be read, nor within drain-down after.
A silence between two dry readings asks for no drain-down if it was short and the pump at rest all the while.
A stop of the program is such a silence, too; a watch that begins with the program sees only what comes after.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from controller.decision.driven import LATE_S
from controller.decision.reasons import ReasonCode
from controller.equipment import Kind
from controller.faults import HOUR_S, FaultCode
from controller.readings.reading import Good, Level, Why
from controller.record.pin_watch import PinWatch
from controller.record.wet_spells import Standing, WetFloats

if TYPE_CHECKING:
    from controller.decision.command import OutputChange
    from controller.equipment import OutputId
    from controller.record.tick import TickRecord
    from controller.settings.schema import Pump, Settings

SAFETY_TRIPS = frozenset(
    {
        ReasonCode.FIRE,
        ReasonCode.FLOOD,
        ReasonCode.FLOAT_UNREADABLE,
        ReasonCode.DRAIN_DOWN,
        ReasonCode.FLOAT_BACK,
        ReasonCode.JUST_STARTED,
        ReasonCode.AIR_NOT_PROVEN,
        ReasonCode.CEILING_UNKNOWN,
        ReasonCode.SOIL_UNKNOWN,
        ReasonCode.ROOT_ZONE_WARM,
        ReasonCode.ROOT_ZONE_COLD,
        ReasonCode.PUMP_EXERCISE_DONE,
        ReasonCode.PUMP_DUTY_DONE,
        ReasonCode.NO_DECISION,
        ReasonCode.OUTPUT_FAILED,
    }
)
# Ends of runs that nobody decided; like a restart they count as no failed try of a pump.
CUTS = frozenset({ReasonCode.NO_DECISION, ReasonCode.OUTPUT_FAILED})


# A float that reads dry, is silent for no longer than this and reads dry again has missed no water, as long
# as its pump never ran meanwhile; P1 asks for no drain-down then. Common practice, no source.
EXCUSED_SILENCE_S: float = 120.0


@dataclass(frozen=True, slots=True)
class Broken:
    """A promise that did not hold in a tick."""

    promise: str
    at_mono_s: float
    detail: str


@dataclass(slots=True)
class _Motor:
    """What the watch has itself seen of one motor."""

    on_since_s: float | None = None
    off_since_s: float | None = None
    starts_s: list[float] = field(default_factory=list)
    run_taken_over: bool = False  # nobody saw this run begin


class _BlindSpan(NamedTuple):
    """A stretch that a pump ran on a float that could not be read, and the pump's settings then."""

    end_s: float
    length_s: float
    pump: Pump


class _Silence(NamedTuple):
    """A spell in which a float gave no reading: its first and last tick, and whether it may be excused."""

    since_s: float
    until_s: float
    excusable: bool


@dataclass(slots=True)
class _Water:
    """What the watch has itself seen of one sump and its pump."""

    last_water_s: float | None = None
    dry: bool | None = None
    silence: _Silence | None = None
    dry_while_on_s: float | None = None
    blind_since_s: float | None = None
    blind_spans: list[_BlindSpan] = field(default_factory=list)
    last_full_run_end_s: float | None = None


class PromiseWatch:
    """Follows every tick and reports each promise that does not hold."""

    def __init__(self) -> None:
        self.checked_ticks = 0
        self._pins = PinWatch(SAFETY_TRIPS)
        self._motors: dict[tuple[Kind, str], _Motor] = {}
        self._water: dict[str, _Water] = {}
        self._last_now_s: float | None = None
        self._last_start_s: float | None = None
        self._fire = False
        self._wet_floats = WetFloats()
        self._whole = True

    def observe(self, tick: TickRecord) -> list[Broken]:
        """Check one finished tick; returns what is broken, normally nothing.

        After a tick that could not be checked to its end the watch takes the motors as it finds them.
        """
        whole, self._whole = self._whole, False
        self.checked_ticks += 1
        broken: list[str] = []
        if not whole:
            self._take_over(tick)
        self._follow_water(tick)
        self._check_time(tick, broken)
        self._check_fire(tick, broken)
        for change in tick.decision.changes:
            self._check_change(tick, change, broken)
        if tick.pins.on:
            self._count_from_pins(tick)
            broken += self._pins.observe(tick)
        for output, command in tick.decision.commands.items():
            if command.on != (self._on_since_s(output.kind, output.name) is not None):
                broken.append(f"P13: {output} changed without a recorded reason")
            if not command.on:
                continue
            if output.kind is Kind.FAN:
                self._check_running_fan(tick, output.name, broken)
            else:
                self._check_running_pump(tick, output.name, broken)
        self._check_wet_floats(tick, broken)
        self._whole = True
        now_s = tick.now_mono_s
        return [Broken(words[: words.index(":")], now_s, words) for words in broken]

    def _take_over(self, tick: TickRecord) -> None:
        """Motors as they were before this tick, whose changes are checked as always."""
        turned = {change.output for change in tick.decision.changes}
        for output, command in tick.decision.commands.items():
            motor = self._motors.setdefault((output.kind, output.name), _Motor())
            was_on = command.on != (output in turned)
            if was_on != (motor.on_since_s is not None):
                motor.on_since_s = tick.now_mono_s if was_on else None
                motor.off_since_s = None if was_on else tick.now_mono_s
                motor.run_taken_over = was_on

    def _on_since_s(self, kind: Kind, name: str) -> float | None:
        """When a motor's present run began, None if it is off or nobody told of its start."""
        motor = self._motors.get((kind, name))
        return None if motor is None else motor.on_since_s

    def _follow_water(self, tick: TickRecord) -> None:
        for name, level in tick.snapshot.sumps.items():
            water = self._water.get(name)
            if water is None:
                water = self._water[name] = _Water()
            self._follow_blind(water, tick)
            self._follow_rest(water, tick)
            pump_on = self._on_since_s(Kind.PUMP, name) is not None
            if isinstance(level, Good):
                self._follow_silence_end(water, pump_on, tick.now_mono_s)
                water.dry = level.value is Level.DRY
                if not water.dry:
                    water.last_water_s = tick.now_mono_s
            elif level.why is not Why.NEVER_READ or water.dry is not None:
                self._follow_silence(water, pump_on, tick.now_mono_s)

    @staticmethod
    def _follow_silence(water: _Water, pump_on: bool, now_s: float) -> None:
        """No reading; before its own first reading the watch cannot know what a restart remembers."""
        before = water.silence
        if before is None:
            water.silence = _Silence(now_s, now_s, water.dry is True and not pump_on)
        else:
            water.silence = _Silence(before.since_s, now_s, before.excusable and not pump_on)

    @staticmethod
    def _follow_silence_end(water: _Water, pump_on: bool, now_s: float) -> None:
        """A reading again: water can only be ruled out between two dry ones, close together, the pump off."""
        silence, water.silence = water.silence, None
        if silence is None:
            return
        if not silence.excusable or pump_on or now_s - silence.since_s > EXCUSED_SILENCE_S:
            water.last_water_s = silence.until_s

    def _follow_blind(self, water: _Water, tick: TickRecord) -> None:
        """Count the time since the last tick if the pump ran blind; what a late tick adds is the lease's."""
        if water.blind_since_s is None:
            return
        now_s, pump = tick.now_mono_s, tick.settings.pump
        span_s = min(now_s - water.blind_since_s, pump.duty_run_s)
        recent = [span for span in water.blind_spans if now_s - span.end_s < HOUR_S]
        water.blind_spans = [*recent, _BlindSpan(now_s, span_s, pump)]
        water.blind_since_s = None

    def _follow_rest(self, water: _Water, tick: TickRecord) -> None:
        """A rest once served stays served, even if later settings ask for longer ones."""
        ended_s = water.last_full_run_end_s
        if ended_s is not None and tick.now_mono_s - ended_s >= tick.settings.pump.rest_s:
            water.last_full_run_end_s = None

    def _check_time(self, tick: TickRecord, broken: list[str]) -> None:
        if self._last_now_s is not None and tick.now_mono_s < self._last_now_s:
            broken.append("P10: the clock behind all durations went backwards")
        self._last_now_s = tick.now_mono_s

    def _check_fire(self, tick: TickRecord, broken: list[str]) -> None:
        if tick.snapshot.cleared and FaultCode.FIRE in tick.snapshot.cleared:
            self._fire = False
        level_c, probes = tick.settings.fire.level_c, tick.settings.probes
        for name, reading in tick.snapshot.probes.items():
            if isinstance(reading, Good) and reading.value >= level_c:
                probe = probes.get(name)
                if probe is not None and probe.place in ("ceiling", "bench", "outlet"):
                    self._fire = True
        if self._fire and tick.state.fire.latched_detail is None:
            broken.append("P5: a fire signature did not latch")

    def _check_change(self, tick: TickRecord, change: OutputChange, broken: list[str]) -> None:
        output, now_s = change.output, tick.now_mono_s
        motor = self._motors.setdefault((output.kind, output.name), _Motor())
        if not change.reason.numbers:
            broken.append(f"P13: {output} changed for a reason without numbers")
        if change.on:
            self._check_start(tick, change, motor, broken)
            motor.starts_s = [at for at in motor.starts_s if now_s - at < HOUR_S] + [now_s]
            motor.on_since_s, motor.off_since_s = now_s, None
            self._last_start_s = now_s
            return
        since_s = None if motor.run_taken_over else motor.on_since_s
        ran_s = HOUR_S if since_s is None else now_s - since_s
        motor.run_taken_over = False
        fan = output.kind is Kind.FAN
        least_s = tick.settings.fans.minimum_run_s if fan else tick.settings.pump.run_on_s
        if ran_s < least_s and change.reason.code not in SAFETY_TRIPS:
            broken.append(f"P4: {output} ran {ran_s:.1f} s, at least {least_s:.1f} s are promised")
        if change.reason.code in CUTS:
            self._cut_run(tick, output, ran_s)
        elif not fan:
            self._end_of_pump_run(tick, output.name, ran_s)
        motor.on_since_s, motor.off_since_s = None, now_s

    def _check_start(self, tick: TickRecord, change: OutputChange, motor: _Motor, broken: list[str]) -> None:
        output, now_s, settings = change.output, tick.now_mono_s, tick.settings
        fan = output.kind is Kind.FAN
        rest_s = settings.fans.minimum_rest_s if fan else settings.pump.minimum_rest_s
        most = settings.fans.starts_per_hour if fan else settings.pump.starts_per_hour
        if motor.off_since_s is not None and now_s - motor.off_since_s < rest_s:
            broken.append(f"P4: {output} rested {now_s - motor.off_since_s:.1f} s of {rest_s:.1f} s")
        if sum(now_s - at < HOUR_S for at in motor.starts_s) >= most:
            broken.append(f"P4: {output} started more than {most} times in an hour")
        if self._last_start_s is not None and now_s - self._last_start_s < settings.fans.stagger_s:
            broken.append(f"P11: {output} started {now_s - self._last_start_s:.1f} s after another motor")
        if not fan:
            self._check_pump_rest(output.name, now_s, settings, broken)

    def _check_pump_rest(self, name: str, now_s: float, settings: Settings, broken: list[str]) -> None:
        water = self._water[name]
        if water.last_full_run_end_s is None:
            return
        rest_s = settings.pump.rest_s
        rested_s = now_s - water.last_full_run_end_s
        if rested_s < rest_s:
            broken.append(f"P3: pump {name} rested {rested_s:.1f} s of {rest_s:.1f} s after a full run")

    def _end_of_pump_run(self, tick: TickRecord, name: str, ran_s: float) -> None:
        water = self._water[name]
        water.dry_while_on_s = None
        if ran_s >= tick.settings.pump.longest_run_s:
            water.last_full_run_end_s = tick.now_mono_s

    def _cut_run(self, tick: TickRecord, output: OutputId, ran_s: float) -> None:
        """A run that nobody decided to end; at the longest it is owed the rest of a full one."""
        water = self._water.get(output.name)
        if output.kind is Kind.FAN or water is None:
            return
        water.dry_while_on_s = None
        if ran_s >= tick.settings.pump.longest_run_s:
            water.last_full_run_end_s = tick.now_mono_s

    def _count_from_pins(self, tick: TickRecord) -> None:
        """Count runs and rests from when a motor turned, where that was notably later than commanded."""
        for (kind, name), on, at_s in tick.pins.turns:
            motor = self._motors.get((kind, name))
            since_s = None if motor is None else (motor.on_since_s if on else motor.off_since_s)
            if motor is None or since_s is None or at_s - since_s <= LATE_S:
                continue
            if not on:
                motor.off_since_s = at_s
                continue
            motor.on_since_s = self._last_start_s = at_s
            motor.starts_s[-1] = at_s
            if kind is Kind.PUMP and self._water[name].dry_while_on_s is not None:
                self._water[name].dry_while_on_s = at_s

    def _check_running_fan(self, tick: TickRecord, name: str, broken: list[str]) -> None:
        settings, snapshot, now_s = tick.settings, tick.snapshot, tick.now_mono_s
        if self._fire:
            broken.append(f"P5: fan {name} on after a fire signature")
        self._check_dry_tubes(tick, name, broken)
        readings = snapshot.loops[name]
        ceiling, soil, root_zone = snapshot.ceiling, readings.soil, readings.root_zone
        if not (isinstance(ceiling, Good) and isinstance(soil, Good)):
            broken.append(f"P6: fan {name} on without a ceiling or soil reading that can be believed")
            return
        judging = settings.judging
        if now_s - ceiling.at_mono_s > judging.air_hold_s or now_s - soil.at_mono_s > judging.soil_hold_s:
            broken.append(f"P6: fan {name} on with a reading older than its hold time")
        if not isinstance(root_zone, Good):
            return
        points = settings.setpoints
        if ceiling.value > soil.value and root_zone.value >= points.root_zone_max_c:
            broken.append(f"P12: fan {name} charges at root zone {root_zone.value:.2f} °C")
        if ceiling.value < soil.value and root_zone.value <= points.root_zone_min_c:
            broken.append(f"P12: fan {name} discharges at root zone {root_zone.value:.2f} °C")

    def _check_dry_tubes(self, tick: TickRecord, name: str, broken: list[str]) -> None:
        settings, now_s = tick.settings, tick.now_mono_s
        sump = settings.loops[name].sump
        level = tick.snapshot.sumps[sump]
        if not isinstance(level, Good):
            if not self._air_proven(tick, name):
                broken.append(f"P1: fan {name} on while the float of {sump} cannot be read")
            return
        if level.value is Level.WET:
            broken.append(f"P1: fan {name} on while {sump} is wet")
        last_s = self._water[sump].last_water_s
        if last_s is not None and now_s - last_s < settings.pump.drain_down_s:
            broken.append(f"P1: fan {name} on {now_s - last_s:.1f} s after water in {sump}")

    def _air_proven(self, tick: TickRecord, name: str) -> bool:
        """The one exception: frost, allowed by setting, and air proven within the purge time."""
        settings, snapshot = tick.settings, tick.snapshot
        if not settings.fans.run_in_frost_with_float_unreadable:
            return False
        air = snapshot.bench if isinstance(snapshot.bench, Good) else snapshot.ceiling
        points = settings.setpoints
        if not isinstance(air, Good) or air.value > points.frost_limit_c + points.air_deadband_k:
            return False
        since_s = self._on_since_s(Kind.FAN, name)
        if since_s is None or tick.now_mono_s - since_s < settings.fans.purge_s:
            return True
        ceiling, outlet = snapshot.ceiling, snapshot.loops[name].outlet
        return isinstance(ceiling, Good) and isinstance(outlet, Good) and outlet.value > ceiling.value

    def _check_running_pump(self, tick: TickRecord, name: str, broken: list[str]) -> None:
        pump, now_s = tick.settings.pump, tick.now_mono_s
        water = self._water[name]
        since_s = self._on_since_s(Kind.PUMP, name)
        ran_s = now_s - since_s if since_s is not None else 0.0
        if ran_s >= pump.longest_run_s:
            broken.append(f"P3: pump {name} on for {ran_s:.1f} s, longest run is {pump.longest_run_s:.1f} s")
        level = tick.snapshot.sumps[name]
        if isinstance(level, Good) and level.value is Level.DRY:
            if water.dry_while_on_s is None:
                water.dry_while_on_s = now_s
            if now_s - water.dry_while_on_s >= pump.run_on_s:
                broken.append(f"P3: pump {name} on for {now_s - water.dry_while_on_s:.1f} s on a dry float")
        else:
            water.dry_while_on_s = None
        if not isinstance(level, Good):
            water.blind_since_s = now_s
            self._check_blind_minutes(tick, name, broken)

    def _check_wet_floats(self, tick: TickRecord, broken: list[str]) -> None:
        for change in tick.decision.changes:
            if change.reason.code in CUTS:
                self._wet_floats.cut(change.output.name)
        for name in self._wet_floats.wet(tick):
            motor = self._motors.get((Kind.PUMP, name), _Motor())
            standing = Standing(motor.off_since_s, tuple(motor.starts_s), self._last_start_s)
            broken += self._wet_floats.observe(tick, name, standing)

    def _check_blind_minutes(self, tick: TickRecord, name: str, broken: list[str]) -> None:
        """Running on a float that cannot be read stays bounded in any hour, however often it fails."""
        spans = [span for span in self._water[name].blind_spans if tick.now_mono_s - span.end_s < HOUR_S]
        in_force = [tick.settings.pump, *(span.pump for span in spans)]  # within the hour they may change
        starts = max(pump.starts_per_hour for pump in in_force)
        longest_s = max(pump.duty_run_s for pump in in_force)
        total_s = sum(span.length_s for span in spans)
        if total_s > (starts + 1) * longest_s:
            broken.append(f"P3: pump {name} ran {total_s:.0f} s of an hour on an unreadable float")
