"""One tick: read, decide, drive, record. Keeps the monotonic pace and renews the outputs' lease.

Reading floats and probes, deciding and driving are control: if one of them fails, every output goes off and
the program ends. Everything else only remembers, counts, publishes, records or brings requests. It goes
through one door, ``_aside``: a failure there becomes an alarm that names what failed, and neither stops the
tick nor alters an output (P15).
"""

from __future__ import annotations

import math
import threading
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol, TypeVar, TypeVarTuple

import structlog

from controller.decision.decide import decide, initial_state
from controller.decision.demand import heat_rule
from controller.decision.driven import after_loss, as_driven
from controller.decision.hints import NO_HINTS
from controller.diagnosis.evidence import no_evidence
from controller.diagnosis.hints import hints
from controller.diagnosis.learn import Diagnosis, Taken, learn, nothing_learned
from controller.diagnosis.signals import NO_SIGNALS, Known, decided_signals
from controller.errors import HypocaustError
from controller.faults import HOUR_S, FaultCode, Finding
from controller.readings.snapshot import NO_CONTACTS
from controller.record.accounting import add_tick, day_of, heat_now_w, hour_of
from controller.record.memory import to_memory, worth_saving, worth_the_card
from controller.record.promises import PromiseWatch
from controller.record.restoring import restored, restored_evidence
from controller.record.tally import DayTally
from controller.record.tick import TickRecord

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from datetime import datetime

    from controller.clock import Clock
    from controller.decision.command import Decision, OutputChange
    from controller.decision.driven import Lost, Pins
    from controller.decision.hints import LoopHint
    from controller.decision.state import ControllerState
    from controller.decision.wish import DemandRule
    from controller.diagnosis.alarms import Alarm
    from controller.equipment import OutputId
    from controller.readings.contacts import ContactWatch
    from controller.readings.gather import Gatherer
    from controller.readings.said import Said
    from controller.readings.snapshot import Snapshot
    from controller.record.promises import Broken
    from controller.sensors.ports import FloatSource, TemperatureSource
    from controller.settings.schema import Settings

# Two ticks are never closer than this, however fast a float chatters. [practice]
SHORTEST_PACE_S = 0.05
Args = TypeVarTuple("Args")
T = TypeVar("T")
# Slow things (need, back-off) are remembered this often without a switching. [practice]
REMEMBER_EVERY_S = 60.0


class Watcher(Protocol):
    """Receives every finished tick and can never hold it up."""

    def observe(self, tick: TickRecord) -> None:
        """Take note of a finished tick; must return at once."""


class Drive(Protocol):
    """The outputs as the loop sees them; driving renews their lease."""

    def lost(self) -> Lost | None:
        """What went off without a decision since this was last asked; never raises."""

    def drive(self, commands: Mapping[OutputId, bool], now_mono_s: float) -> Pins:
        """Put every output as commanded; returns what the outputs did since the last time; never raises."""

    def all_off(self) -> None:
        """Everything off, now."""


class Memory(Protocol):
    """Where timers and latches outlive a restart."""

    def save(self, data: dict[str, Any], *, urgent: bool) -> None:
        """Keep this, on the card at once if it is urgent; never raises."""


class PutAsideError(HypocaustError):
    """A part of the memory was refused and is not kept; the rest is."""


def _nothing_cleared() -> frozenset[FaultCode]:
    return frozenset()


def _nothing_said() -> tuple[Said, ...]:
    return ()


@dataclass(slots=True)
class Parts:
    """Everything the loop works with, wired by ``startup`` or by the rehearsal.

    Attributes:
        clock: time.
        settings: gives the settings in force.
        gatherer: turns raw samples into a snapshot.
        temperatures: raw probe samples.
        floats: raw float levels.
        outputs: fans, pumps and signals.
        watchers: receive every finished tick.
        findings: each gives what is wrong in its own part of the machine.
        cleared: latched faults a person has cleared since the last tick.
        said: what else a person has said on the machine since then.
        memory: keeps timers and latches over a restart, None to keep nothing.
        rule: what the house wants of a loop.
        date_of: the day a moment belongs to.
        hour_of: the hour of that day at the place of the house.
        tick_s: pace, None to follow the settings.
        contacts: what the optional contacts say, None where none is fitted.
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
    said: Callable[[], tuple[Said, ...]] = _nothing_said
    memory: Memory | None = None
    rule: DemandRule = heat_rule
    date_of: Callable[[datetime | None], str | None] = day_of
    hour_of: Callable[[datetime | None], float | None] = hour_of
    tick_s: float | None = None
    contacts: ContactWatch | None = None
    wake: threading.Event = field(default_factory=threading.Event)


class ControlLoop:
    """Makes ticks; the daemon and the rehearsal run the same loop."""

    def __init__(self, parts: Parts, remembered: tuple[dict[str, Any], bool] | None = None) -> None:
        """Begin with what was remembered, if anything.

        Args:
            parts: everything the loop works with.
            remembered: data saved before a restart, and whether this is still the same boot.
        """
        self._parts = parts
        self._promises = PromiseWatch()
        self._log = structlog.get_logger("loop")
        self._failed: dict[str, str] = {}
        self._logged_s: dict[str, float] = {}
        now_s = parts.clock.monotonic_s()
        self._settings = parts.settings()
        fresh = initial_state(self._settings, now_s)
        self._state: ControllerState = fresh
        self._evidence = nothing = no_evidence(self._settings.loops, now_s)
        if remembered is not None:
            self._state = self._aside("memory", fresh, restored, fresh, *remembered, now_s)
            self._evidence = self._aside("memory", nothing, restored_evidence, nothing, *remembered, now_s)
            if self._state is fresh:
                self._failed["memory"] = "what was kept before the start is not valid and is not used"
        self._decision: Decision | None = None
        self._signals = NO_SIGNALS
        self._alarms: Sequence[Alarm] | None = None
        self._today = DayTally()
        self._last_tick_s: float | None = None
        self._last_saved_s = now_s
        self._saved_attendance = self._evidence.attendance
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
        settings = self._settings = self._aside("settings", self._settings, parts.settings)
        levels = parts.floats.look()
        raw = parts.temperatures.latest()
        now_s = parts.clock.monotonic_s()
        wall_utc = self._aside("time of day", None, parts.clock.wall_utc)
        snapshot = parts.gatherer.gather(
            raw,
            levels,
            now_s,
            settings.judging,
            findings=self._findings(),
            cleared=self._aside("requests", _nothing_cleared(), parts.cleared),
            wall_utc=wall_utc,
            said=self._aside("what people say", (), parts.said),
        )
        snapshot = snapshot._replace(hour=self._aside("time of day", None, parts.hour_of, wall_utc))
        if parts.contacts is not None:
            contacts = self._aside("contacts", NO_CONTACTS, parts.contacts.read, now_s)
            snapshot = snapshot._replace(contacts=contacts)
        before = self._state
        cut: tuple[OutputChange, ...] = ()
        lost = parts.outputs.lost()
        if lost is not None:
            before, cut = after_loss(before, lost, settings, now_s)
            self._aside("sums of the day", None, self._settle_accounts, lost, snapshot, now_s)
        known = self._aside("diagnosis", NO_HINTS, hints, self._evidence, snapshot, before, settings, now_s)
        decision, state = decide(snapshot, before, settings, now_s, parts.rule, known)
        if cut:
            decision = decision._replace(changes=(*cut, *decision.changes))
        self._aside("memory", None, self._remember, state, now_s)
        seen = Known(self._alarms, snapshot, lost, now_s)
        fitted = settings.derived.signals
        signals = self._aside("signals", NO_SIGNALS, decided_signals, self._signals, fitted, seen)
        commands = {**decision.commands, **signals.commands}
        pins = parts.outputs.drive({output: c.on for output, c in commands.items()}, now_s)
        state = as_driven(state, pins)
        taken = Taken(before, decision, state)
        diagnosis = self._diagnosed(known, snapshot, taken, now_s)
        record = self._finished(snapshot, taken, diagnosis, pins, now_s)._replace(signals=signals)
        self._signals, self._alarms = signals, diagnosis.alarms if diagnosis.whole else None
        self._state, self._evidence, self._decision = state, diagnosis.evidence, decision
        self._last_tick_s = now_s
        self._show_watchers(record)
        return record

    def _diagnosed(
        self, known: Mapping[str, LoopHint], snapshot: Snapshot, taken: Taken, now_s: float
    ) -> Diagnosis:
        """What the tick teaches; if learning fails, the alarms from the findings of others remain."""
        evidence = self._evidence
        learned = self._aside(
            "diagnosis", None, learn, evidence, known, snapshot, taken, self._settings, now_s
        )
        if learned is not None:
            return learned
        silent = Diagnosis(evidence, (), (), whole=False)
        return self._aside("alarms", silent, nothing_learned, evidence, snapshot, taken.after, now_s)

    def _aside(self, what: str, otherwise: T, work: Callable[[*Args], T], *args: *Args) -> T:
        """Do what is not control; if it fails, raise an alarm and go on with ``otherwise``."""
        try:
            done = work(*args)
        except Exception as problem:  # noqa: BLE001 - whatever it is, control goes on
            detail = str(problem) if isinstance(problem, PutAsideError) else type(problem).__name__
            self._failed[what] = detail
            now_s = self._parts.clock.monotonic_s()
            if now_s - self._logged_s.get(what, -math.inf) >= HOUR_S:
                self._logged_s[what] = now_s
                with suppress(Exception):  # the log is no part of control either
                    self._log.exception("part_failed", part=what)
            return otherwise
        if self._failed:
            self._failed.pop(what, None)
        return done

    def _findings(self) -> tuple[Finding, ...]:
        found: list[Finding] = []
        for source in self._parts.findings:
            found += self._aside(_name_of(source), (), _asked, source)
        found += [Finding(FaultCode.PROMISE, name, b.detail) for name, b in self._broken.items()]
        found += [Finding(FaultCode.PART_FAILED, what, detail) for what, detail in self._failed.items()]
        return tuple(found)

    def _remember(self, state: ControllerState, now_s: float) -> None:
        """Write down motors, water and latches before they take effect, on the card if power may fail."""
        memory = self._parts.memory
        if memory is None:
            return
        attendance = self._evidence.attendance
        urgent = worth_the_card(self._state, state) or attendance is not self._saved_attendance
        if urgent or worth_saving(self._state, state) or now_s - self._last_saved_s >= REMEMBER_EVERY_S:
            self._last_saved_s, self._saved_attendance = now_s, attendance
            kept = to_memory(state, self._evidence, now_s)
            memory.save(kept.data, urgent=urgent)
            if kept.refused:
                raise PutAsideError(f"not kept: {', '.join(kept.refused)}")

    def _settle_accounts(self, lost: Lost, snapshot: Snapshot, now_s: float) -> None:
        """Count what went off as running no longer than it did; time without decisions is not covered."""
        before, last_s = self._decision, self._last_tick_s
        if before is None or last_s is None:
            return
        if lost.at_mono_s is not None:
            ran_s = min(max(lost.at_mono_s - last_s, 0.0), now_s - last_s)
            quiet = before._replace(changes=())
            self._today = add_tick(self._today, before, quiet, snapshot, self._settings, {}, ran_s)
            self._last_tick_s = now_s
        off = {
            output: command._replace(on=False)
            for output, command in before.commands.items()
            if lost.lease_s is not None or output in lost.cut
        }
        self._decision = before._replace(commands={**before.commands, **off})

    def _finished(
        self, snapshot: Snapshot, taken: Taken, diagnosis: Diagnosis, pins: Pins, now_s: float
    ) -> TickRecord:
        settings, decision = self._settings, taken.decision
        unknown: dict[str, float | None] = dict.fromkeys(settings.loops)
        heat_w = self._aside("heat", unknown, heat_now_w, self._decision, snapshot, settings)
        finished_day = self._aside(
            "sums of the day", None, self._count, settings, snapshot, decision, heat_w, now_s
        )
        self._seq += 1
        return TickRecord(
            self._seq,
            now_s,
            settings,
            snapshot,
            decision,
            taken.after,
            diagnosis,
            heat_w,
            self._today,
            finished_day,
            pins,
        )

    def _count(
        self,
        settings: Settings,
        snapshot: Snapshot,
        decision: Decision,
        heat_w: Mapping[str, float | None],
        now_s: float,
    ) -> DayTally | None:
        """Add the tick to the day's sums; returns those of a day that has ended with it."""
        dt_s = now_s - self._last_tick_s if self._last_tick_s is not None else 0.0
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
        return finished_day

    def _show_watchers(self, record: TickRecord) -> None:
        self._aside("promise watch", None, self._check, record)
        for watcher in self._parts.watchers:
            self._aside(type(watcher).__name__, None, watcher.observe, record)

    def _check(self, record: TickRecord) -> None:
        for broken in self._promises.observe(record):
            if broken.promise not in self._broken:
                self._broken[broken.promise] = broken
                self._log.error("promise_broken", promise=broken.promise, detail=broken.detail)


def _asked(source: Callable[[], Iterable[Finding]]) -> tuple[Finding, ...]:
    return tuple(source())


def _name_of(source: Callable[..., object]) -> str:
    """What to call a source of findings, as a contributor finds it in the code."""
    return getattr(source, "__qualname__", type(source).__name__)
