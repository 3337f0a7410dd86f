"""One tick: read, decide, drive, record. Keeps the monotonic pace and renews the outputs' lease."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol

import structlog

from controller.decision.accounting import add_tick, day_of, heat_now_w
from controller.decision.decide import decide, initial_state
from controller.decision.demand import DemandRule, heat_rule
from controller.decision.memory import restored, to_memory, worth_saving, worth_the_card
from controller.decision.promises import PromiseWatch
from controller.decision.tally import DayTally
from controller.decision.tick import TickRecord
from controller.faults import FaultCode, Finding

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from datetime import datetime

    from controller.clock import Clock
    from controller.decision.command import Decision, OutputId
    from controller.decision.promises import Broken
    from controller.decision.state import ControllerState
    from controller.readings.gather import Gatherer
    from controller.readings.snapshot import Snapshot
    from controller.sensors.ports import FloatSource, TemperatureSource
    from controller.settings.schema import Settings

# Two ticks are never closer than this, however fast a float chatters. Common practice, no source.
SHORTEST_PACE_S = 0.05
# Slow things (need, back-off) are remembered this often without a switching. Common practice, no source.
REMEMBER_EVERY_S = 60.0


class Watcher(Protocol):
    """Somebody who is told of every finished tick and can never hold it up."""

    def observe(self, tick: TickRecord) -> None:
        """Take note of a finished tick; must return at once."""


class Drive(Protocol):
    """The outputs as the loop sees them; driving renews their lease."""

    def drive(self, commands: Mapping[OutputId, bool], now_mono_s: float) -> None:
        """Put every output as commanded; never raises."""

    def all_off(self) -> None:
        """Everything off, now."""


class Memory(Protocol):
    """Where timers and latches outlive a restart."""

    def save(self, data: dict[str, Any], *, urgent: bool) -> None:
        """Keep this, on the card at once if it is urgent; never raises."""


def _nothing_cleared() -> frozenset[FaultCode]:
    return frozenset()


@dataclass(slots=True)
class Parts:
    """Everything the loop works with, wired by ``startup`` or by the rehearsal.

    Attributes:
        clock: time.
        settings: gives the settings in force.
        gatherer: turns raw samples into a snapshot.
        temperatures: raw probe samples.
        floats: raw float levels.
        outputs: fans and pumps.
        watchers: told of every finished tick.
        findings: each gives what is wrong in its own part of the machine.
        cleared: latched faults a person has cleared since the last tick.
        memory: keeps timers and latches over a restart, None to keep nothing.
        rule: what the house wants of a loop.
        date_of: the day a moment belongs to.
        tick_s: pace, None to follow the settings.
    """

    clock: Clock
    settings: Callable[[], Settings]
    gatherer: Gatherer
    temperatures: TemperatureSource
    floats: FloatSource
    outputs: Drive
    watchers: Sequence[Watcher] = ()
    findings: Sequence[Callable[[], Iterable[Finding]]] = ()
    cleared: Callable[[], frozenset[FaultCode]] = _nothing_cleared
    memory: Memory | None = None
    rule: DemandRule = heat_rule
    date_of: Callable[[datetime | None], str | None] = day_of
    tick_s: float | None = None
    wake: threading.Event = field(default_factory=threading.Event)


class ControlLoop:
    """The controller's heart; the daemon and the rehearsal run the same one."""

    def __init__(self, parts: Parts, remembered: tuple[dict[str, Any], bool] | None = None) -> None:
        """Begin with what was remembered, if anything.

        Args:
            parts: everything the loop works with.
            remembered: data saved before a restart, and whether this is still the same boot.
        """
        self._parts = parts
        self._promises = PromiseWatch()
        self._log = structlog.get_logger("loop")
        now_s = parts.clock.monotonic_s()
        self._state: ControllerState = initial_state(parts.settings(), now_s)
        if remembered is not None:
            data, same_boot = remembered
            self._state = restored(self._state, data, same_boot, now_s)
        self._decision: Decision | None = None
        self._today = DayTally()
        self._last_tick_s: float | None = None
        self._last_saved_s = now_s
        self._seq = 0
        self._broken: dict[str, Broken] = {}
        self._look_again_s: float | None = None

    @property
    def wake(self) -> threading.Event:
        """Set by a float edge: the next tick is due now."""
        return self._parts.wake

    @property
    def checked_ticks(self) -> int:
        """How many ticks the promises were checked in."""
        return self._promises.checked_ticks

    @property
    def broken(self) -> tuple[Broken, ...]:
        """The first break of each promise, normally none."""
        return tuple(self._broken.values())

    def tick(self) -> TickRecord:
        """Read, decide, drive and record once.

        Raises:
            Exception: whatever the pure code or a port let through; the outputs are off by then.
        """
        try:
            return self._tick()
        except BaseException:
            self._parts.outputs.all_off()
            raise

    def run(self, stop: threading.Event) -> None:
        """Tick at the settings' pace, at once after a float edge, until ``stop`` is set."""
        clock, wake = self._parts.clock, self._parts.wake
        while not stop.is_set():
            record = self.tick()
            clock.wait(wake, self.pause_s(record))
            if wake.is_set():
                wake.clear()
                if not stop.is_set():
                    early_s = record.now_mono_s + SHORTEST_PACE_S - clock.monotonic_s()
                    if early_s > 0.0:
                        clock.wait(stop, early_s)

    def pause_s(self, record: TickRecord) -> float:
        """Seconds until the next tick is due if nothing happens before."""
        parts = self._parts
        pace_s = parts.tick_s if parts.tick_s is not None else record.settings.service.tick_s
        due_s = record.now_mono_s + pace_s
        if record.decision.look_again_s is not None:
            due_s = min(due_s, record.now_mono_s + max(record.decision.look_again_s, SHORTEST_PACE_S))
        settles_s = parts.gatherer.settles_at_mono_s
        if settles_s is not None:
            due_s = min(due_s, max(settles_s, record.now_mono_s + SHORTEST_PACE_S))
        return max(due_s - parts.clock.monotonic_s(), 0.0)

    def _tick(self) -> TickRecord:
        parts = self._parts
        settings = parts.settings()
        levels = parts.floats.look()
        raw = parts.temperatures.latest()
        now_s = parts.clock.monotonic_s()
        snapshot = parts.gatherer.gather(
            raw,
            levels,
            now_s,
            settings.judging,
            findings=self._findings(),
            cleared=parts.cleared(),
            wall_utc=parts.clock.wall_utc(),
        )
        decision, state = decide(snapshot, self._state, settings, now_s, parts.rule)
        self._remember(state, now_s)
        parts.outputs.drive({output: c.on for output, c in decision.commands.items()}, now_s)
        record = self._finished(settings, snapshot, decision, state, now_s)
        self._state, self._decision, self._last_tick_s = state, decision, now_s
        self._tell(record)
        return record

    def _findings(self) -> tuple[Finding, ...]:
        found = [finding for source in self._parts.findings for finding in source()]
        found += [Finding(FaultCode.PROMISE, name, b.detail) for name, b in self._broken.items()]
        return tuple(found)

    def _remember(self, state: ControllerState, now_s: float) -> None:
        """Write down motors, water and latches before they take effect, on the card if power may fail."""
        memory = self._parts.memory
        if memory is None:
            return
        urgent = worth_the_card(self._state, state)
        if urgent or worth_saving(self._state, state) or now_s - self._last_saved_s >= REMEMBER_EVERY_S:
            self._last_saved_s = now_s
            memory.save(to_memory(state, now_s), urgent=urgent)

    def _finished(
        self,
        settings: Settings,
        snapshot: Snapshot,
        decision: Decision,
        state: ControllerState,
        now_s: float,
    ) -> TickRecord:
        dt_s = now_s - self._last_tick_s if self._last_tick_s is not None else 0.0
        heat_w = heat_now_w(self._decision, snapshot, settings)
        date = self._parts.date_of(snapshot.wall_utc)
        finished_day: DayTally | None = None
        today = self._today
        if today.date is None:
            today = DayTally(
                date, today.covered_s, today.air_min_c, today.air_max_c, today.loops, today.pumps
            )
        elif date is not None and date != today.date:
            finished_day, today = today, DayTally(date)
        self._today = add_tick(today, self._decision, decision, snapshot, settings, heat_w, dt_s)
        self._seq += 1
        return TickRecord(
            self._seq, now_s, settings, snapshot, decision, state, heat_w, self._today, finished_day
        )

    def _tell(self, record: TickRecord) -> None:
        for broken in self._promises.observe(record):
            if broken.promise not in self._broken:
                self._log.error("promise_broken", promise=broken.promise, detail=broken.detail)
                self._broken[broken.promise] = broken
        for watcher in self._parts.watchers:
            try:
                watcher.observe(record)
            except Exception:  # noqa: BLE001 - whoever only watches must never stop control
                self._log.exception("watcher_failed", watcher=type(watcher).__name__)
