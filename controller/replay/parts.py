"""What the loop works with in a replay: a clock that jumps, recorded probes and floats, no outputs."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from controller.decision.driven import NO_PINS
from controller.readings.reading import Level, RawFailure, RawLevel, RawTemperature
from controller.replay.record import between

if TYPE_CHECKING:
    import threading
    from collections.abc import Iterator, Mapping

    from controller.decision.driven import Lost, Pins
    from controller.equipment import OutputId
    from controller.history.queries import Sample
    from controller.readings.reading import RawSample, Why
    from controller.replay.record import Recorded
    from controller.settings.schema import Settings
    from controller.settings.schema.derived import DerivedLoop

# Readings further apart than this many of their usual distances have nothing between them that is known.
GAP = 3.0
HOURLY_S = 3600.0
# How long after a fan was switched its outlet is on its way to what moving (or still) air shows. [practice]
SETTLES_S = 300.0


class ReplayClock:
    """Recorded time: wall and monotonic time go on together, at once."""

    def __init__(self, at_utc: datetime) -> None:
        self._at_s = at_utc.timestamp()

    @property
    def at_s(self) -> float:
        """Seconds since 1970."""
        return self._at_s

    def monotonic_s(self) -> float:
        """The same; a replay is one boot."""
        return self._at_s

    def wall_utc(self) -> datetime:
        """Date and time."""
        return datetime.fromtimestamp(self._at_s, UTC)

    def wait(self, wake: threading.Event, timeout_s: float) -> bool:
        """Let the time pass at once."""
        self.advance(max(timeout_s, 0.0))
        return wake.is_set()

    def advance(self, seconds: float) -> None:
        """Let time pass."""
        self._at_s += seconds


class Unswitched:
    """The outputs of a replay: what is commanded, and since when."""

    def __init__(self) -> None:
        self.on: dict[OutputId, bool] = {}
        self.since_s: dict[OutputId, float] = {}

    def lost(self) -> Lost | None:
        """Nothing is ever lost."""
        return None

    def drive(self, commands: Mapping[OutputId, bool], now_mono_s: float) -> Pins:
        """Take note."""
        for output, on in commands.items():
            if self.on.get(output) is not on:
                self.on[output] = on
                self.since_s[output] = now_mono_s
        return NO_PINS

    def all_off(self) -> None:
        """Everything off."""
        self.on.clear()


class RecordedFloats:
    """The floats, as far as the record says."""

    def __init__(self, record: Recorded, sumps: Mapping[str, object], clock: ReplayClock) -> None:
        self._lines = {name: record.floats.get(name) for name in sumps}
        self._clock = clock

    def look(self) -> Mapping[str, list[RawLevel]]:
        """The level now."""
        now_s = self._clock.at_s
        found = {}
        for name, line in self._lines.items():
            level = Level.DRY if line is None else line.at(now_s, Level.DRY)
            found[name] = [RawLevel(level if isinstance(level, Level) else None, now_s)]
        return found

    def next_turn_s(self) -> float | None:
        """When a float turns next."""
        turns = [line.next_after(self._clock.at_s) for line in self._lines.values() if line is not None]
        return min((turn for turn in turns if turn is not None), default=None)

    def close(self) -> None:
        """Nothing to release."""


class RecordedProbes:
    """The probes: what they read, in a straight line from one reading to the next.

    An outlet shows what its own fan did in the record. Where the fan does otherwise here, its outlet shows
    what the settings promise for moving air, times the share the loop has shown, or the middle between roof
    and soil for still air.
    """

    def __init__(
        self,
        found: Iterator[Sample],
        record: Recorded,
        clock: ReplayClock,
        outputs: Unswitched,
        settings: Settings,
    ) -> None:
        # Judging adds the offsets of the settings it was made with, so that what was kept comes out again.
        self._offsets_k = {name: probe.offset_k for name, probe in settings.probes.items()}
        self._every_s = settings.history.every_s
        self._found = found
        self._record = record
        self._clock = clock
        self._outputs = outputs
        self._before = next(found, None)
        self._after = next(found, None)
        self._outlets: tuple[tuple[DerivedLoop, str, str, str], ...] = ()
        self.shares: dict[str, float] = {}
        self.use(settings)

    def use(self, settings: Settings) -> None:
        """Let outlets show from now on what the loops of these settings promise."""
        groups = settings.derived.groups
        if groups.ceilings:
            names = dict(groups.outlets)
            soils = {loop: settings.probe_names("soil", loop) for loop in settings.loops}
            self._outlets = tuple(
                (loop, names[loop.name], groups.ceilings[0], soils[loop.name][0])
                for loop in settings.derived.loops
                if loop.name in names and soils[loop.name]
            )

    def latest(self) -> Mapping[str, RawSample]:
        """What every probe reads now; nothing new while the record has a gap."""
        now_s = self._clock.at_s
        self._follow(now_s)
        if self._before is None:
            return {}
        lost = self.in_a_gap(now_s)
        if lost or self._after is None:
            values = dict(self._before.values)
        else:
            values = between(self._before, self._after, now_s)
        self._correct_outlets(values, now_s)
        raw: dict[str, RawSample] = {}
        at_s = self._before.when.at_utc.timestamp() if lost else now_s
        for name, offset_k in self._offsets_k.items():
            value = values.get(name)
            if isinstance(value, float):
                raw[name] = RawTemperature(value - offset_k, at_s)
            elif value is not None:
                raw[name] = RawFailure(value, at_s)
        return raw

    def in_a_gap(self, now_s: float) -> bool:
        """Whether nothing is known between the two readings around a moment."""
        before, after = self._before, self._after
        if before is None or after is None:
            return before is None or now_s > before.when.at_utc.timestamp()
        usual_s = max(self._every_s, float(before.span_s), float(after.span_s))
        return (after.when.at_utc - before.when.at_utc).total_seconds() > GAP * usual_s

    def next_reading_s(self) -> float | None:
        """When the next reading was taken, None behind the last."""
        return None if self._after is None else self._after.when.at_utc.timestamp()

    def alive(self) -> bool:
        """Always."""
        return True

    def close(self) -> None:
        """Nothing to release."""

    def _follow(self, now_s: float) -> None:
        while self._after is not None and self._after.when.at_utc.timestamp() <= now_s:
            self._before, self._after = self._after, next(self._found, None)

    def _correct_outlets(self, values: dict[str, float | Why], now_s: float) -> None:
        """Outlets of fans that do here what they did not do in the record, now or a few minutes ago."""
        for loop, outlet, ceiling, soil in self._outlets:
            roof_c, soil_c = values.get(ceiling), values.get(soil)
            if not (isinstance(roof_c, float) and isinstance(soil_c, float)):
                continue
            here = self._outputs.on.get(loop.fan, False)
            line = self._record.outputs.get(str(loop.fan))
            then = line is not None and line.at(now_s, otherwise=False) is True
            settled = line is not None and line.at(now_s - SETTLES_S, otherwise=False) is True
            if here and not (then and settled):
                share = self.shares.get(loop.name, 1.0) * loop.expected_w_per_k / loop.air_w_per_k
                values[outlet] = roof_c - share * (roof_c - soil_c)
            elif then and not here:
                values[outlet] = (roof_c + soil_c) / 2.0
