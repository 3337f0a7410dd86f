"""The promises about water and pumps (P1, P3), judged on what has itself been seen of every sump.

P1 in full: no fan is on while the float of its sump is wet or cannot be read, nor within drain-down after.
A silence between two dry readings asks for no drain-down if it was short and the pump at rest all the while.
A stop of the program is such a silence, too; a watch that begins with the program sees only what comes after.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from controller.faults import HOUR_S
from controller.readings.reading import Good, Level, Why

if TYPE_CHECKING:
    from collections.abc import Callable

    from controller.record.tick import TickRecord
    from controller.settings.schema import Pump

# A float that reads dry, is silent for no longer than this and reads dry again has missed no water, as long
# as its pump never ran meanwhile; P1 asks for no drain-down then. [practice]
EXCUSED_SILENCE_S: float = 120.0


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
class SeenSump:
    """What the watch has itself seen of one sump and its pump."""

    last_water_s: float | None = None
    dry: bool | None = None
    silence: _Silence | None = None
    dry_while_on_s: float | None = None
    blind_since_s: float | None = None
    blind_spans: list[_BlindSpan] = field(default_factory=list)
    last_full_run_end_s: float | None = None

    def unread(self, pump_on: bool, now_s: float) -> None:
        """No reading; before its own first reading the watch cannot know what a restart remembers."""
        before = self.silence
        if before is None:
            self.silence = _Silence(now_s, now_s, self.dry is True and not pump_on)
        else:
            self.silence = _Silence(before.since_s, now_s, before.excusable and not pump_on)

    def read(self, dry: bool, pump_on: bool, now_s: float) -> None:
        """A reading: water can only be ruled out between two dry ones, close together, the pump off."""
        silence, self.silence = self.silence, None
        if silence is not None and (
            not silence.excusable or pump_on or now_s - silence.since_s > EXCUSED_SILENCE_S
        ):
            self.last_water_s = silence.until_s
        self.dry = dry
        if not dry:
            self.last_water_s = now_s


class WaterWatch:
    """Follows every sump.

    Attributes:
        sumps: what has been seen of each, by name.
    """

    def __init__(self) -> None:
        self.sumps: dict[str, SeenSump] = {}

    def follow(self, tick: TickRecord, pumping: Callable[[str], bool]) -> None:
        """Bring every sump up to date; ``pumping`` says whether its pump was on until now."""
        for name, level in tick.snapshot.sumps.items():
            water = self.sumps.get(name)
            if water is None:
                water = self.sumps[name] = SeenSump()
            _follow_blind(water, tick)
            _follow_rest(water, tick)
            if isinstance(level, Good):
                water.read(level.value is Level.DRY, pumping(name), tick.now_mono_s)
            elif level.why is not Why.NEVER_READ or water.dry is not None:
                water.unread(pumping(name), tick.now_mono_s)

    def pump_started(self, tick: TickRecord, name: str, broken: list[str]) -> None:
        """Check a start against the rest that the last full run is owed."""
        ended_s = self.sumps[name].last_full_run_end_s
        if ended_s is None:
            return
        rest_s = tick.settings.pump.rest_s
        rested_s = tick.now_mono_s - ended_s
        if rested_s < rest_s:
            broken.append(f"P3: pump {name} rested {rested_s:.1f} s of {rest_s:.1f} s after a full run")

    def pump_stopped(self, tick: TickRecord, name: str, ran_s: float) -> None:
        """A run is over, whoever ended it; at the longest it is owed the rest of a full one."""
        water = self.sumps.get(name)
        if water is None:
            return
        water.dry_while_on_s = None
        if ran_s >= tick.settings.pump.longest_run_s:
            water.last_full_run_end_s = tick.now_mono_s

    def pump_turned_late(self, name: str, at_s: float) -> None:
        """A pump went on notably later than commanded: it has run dry from then on at most."""
        water = self.sumps[name]
        if water.dry_while_on_s is not None:
            water.dry_while_on_s = at_s

    def check_fan(self, tick: TickRecord, name: str, since_s: float | None, broken: list[str]) -> None:
        """P1 for a fan that is on since then."""
        settings, now_s = tick.settings, tick.now_mono_s
        sump = settings.loops[name].sump
        level = tick.snapshot.sumps[sump]
        if not isinstance(level, Good):
            if not _air_proven(tick, name, since_s):
                broken.append(f"P1: fan {name} on while the float of {sump} cannot be read")
            return
        if level.value is Level.WET:
            broken.append(f"P1: fan {name} on while {sump} is wet")
        last_s = self.sumps[sump].last_water_s
        if last_s is not None and now_s - last_s < settings.pump.drain_down_s:
            broken.append(f"P1: fan {name} on {now_s - last_s:.1f} s after water in {sump}")

    def check_pump(self, tick: TickRecord, name: str, since_s: float | None, broken: list[str]) -> None:
        """P3 for a pump that is on since then."""
        pump, now_s = tick.settings.pump, tick.now_mono_s
        water = self.sumps[name]
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
            _check_blind_minutes(tick, name, water, broken)


def _follow_blind(water: SeenSump, tick: TickRecord) -> None:
    """Count the time since the last tick if the pump ran blind; what a late tick adds is the lease's."""
    if water.blind_since_s is None:
        return
    now_s, pump = tick.now_mono_s, tick.settings.pump
    span_s = min(now_s - water.blind_since_s, pump.duty_run_s)
    recent = [span for span in water.blind_spans if now_s - span.end_s < HOUR_S]
    water.blind_spans = [*recent, _BlindSpan(now_s, span_s, pump)]
    water.blind_since_s = None


def _follow_rest(water: SeenSump, tick: TickRecord) -> None:
    """A rest once served stays served, even if later settings ask for longer ones."""
    ended_s = water.last_full_run_end_s
    if ended_s is not None and tick.now_mono_s - ended_s >= tick.settings.pump.rest_s:
        water.last_full_run_end_s = None


def _air_proven(tick: TickRecord, name: str, since_s: float | None) -> bool:
    """The one exception: frost, allowed by setting, and air proven within the purge time."""
    settings, snapshot = tick.settings, tick.snapshot
    if not settings.fans.run_in_frost_with_float_unreadable:
        return False
    air = snapshot.bench if isinstance(snapshot.bench, Good) else snapshot.ceiling
    points = settings.setpoints
    if not isinstance(air, Good) or air.value > points.frost_limit_c + points.air_deadband_k:
        return False
    if since_s is None or tick.now_mono_s - since_s < settings.fans.purge_s:
        return True
    ceiling, outlet = snapshot.ceiling, snapshot.loops[name].outlet
    return isinstance(ceiling, Good) and isinstance(outlet, Good) and outlet.value > ceiling.value


def _check_blind_minutes(tick: TickRecord, name: str, water: SeenSump, broken: list[str]) -> None:
    """Running on a float that cannot be read stays bounded in any hour, however often it fails."""
    spans = [span for span in water.blind_spans if tick.now_mono_s - span.end_s < HOUR_S]
    in_force = [tick.settings.pump, *(span.pump for span in spans)]  # within the hour they may change
    starts = max(pump.starts_per_hour for pump in in_force)
    longest_s = max(pump.duty_run_s for pump in in_force)
    total_s = sum(span.length_s for span in spans)
    if total_s > (starts + 1) * longest_s:
        broken.append(f"P3: pump {name} ran {total_s:.0f} s of an hour on an unreadable float")
