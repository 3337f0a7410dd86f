"""A small world around ``decide``: set what is seen, let time pass, look at what is commanded.

Every tick is checked by the promise watch, so each test here also tests the promises.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from controller.decision.command import Command, Decision, OutputChange
from controller.decision.decide import decide, initial_state
from controller.decision.demand import heat_rule
from controller.decision.driven import Lost, Pins, Turn, after_loss, as_driven
from controller.decision.reasons import Reason, ReasonCode
from controller.diagnosis.evidence import Evidence, no_evidence
from controller.diagnosis.hints import hints
from controller.diagnosis.learn import Taken, learn
from controller.equipment import OutputId
from controller.readings.reading import Good, Level, LevelReading, Missing, Reading, Why
from controller.readings.snapshot import LoopReadings, Snapshot
from controller.record.memory import to_memory, worth_saving
from controller.record.promises import Broken, PromiseWatch
from controller.record.restoring import restored, restored_evidence
from controller.record.tally import DayTally
from controller.record.tick import TickRecord
from controller.record.wet_spells import WetFloats
from controller.settings.load import load, parse
from controller.units import TemperatureUnit

if TYPE_CHECKING:
    from controller.decision.hints import LoopHint
    from controller.decision.state import ControllerState
    from controller.decision.wish import DemandRule
    from controller.diagnosis.alarms import Alarm
    from controller.faults import FaultCode, Finding
    from controller.readings.said import Said
    from controller.settings.schema import Settings

FILE = Path(__file__).parents[2] / "config" / "house.toml"
HOUSE = load(FILE)
REMEMBER_EVERY_S = 60.0  # as often as the loop writes its memory when nothing switches
MINUTE_S = 60.0
HOUR_S = 3600.0


def settings_with(base: Settings = HOUSE, **sections: dict[str, Any]) -> Settings:
    """Settings with some SI values replaced: ``settings_with(fans={"stagger_s": 5.0})``."""
    changed = {name: getattr(base, name).model_copy(update=values) for name, values in sections.items()}
    return base.model_copy(update=changed)


def two_sumps() -> Settings:
    """The house with a second sump, ``low``, to which only the south loop drains."""
    text = FILE.read_text(encoding="utf-8")
    head, south = text.split("[loops.south]", 1)
    south = south.replace('sump = "main"', 'sump = "low"', 1)
    more = "[sumps.low]\nfloat_pin = 5\npump_pin = 6\n\n[probes.ceiling-west]"
    return parse(head + "[loops.south]" + south.replace("[probes.ceiling-west]", more, 1))


class World:
    """A house in which a test is the weather."""

    def __init__(self, settings: Settings = HOUSE, rule: DemandRule = heat_rule, settle: bool = True) -> None:
        self.settings = settings
        self.rule = rule
        self.now_s = 1000.0
        self.state: ControllerState = initial_state(settings, self.now_s)
        self.evidence: Evidence = no_evidence(settings.loops, self.now_s)
        self.alarms_now: tuple[Alarm, ...] = ()
        self.known: dict[str, LoopHint] = {}
        self.watch = PromiseWatch()
        self.broken: list[Broken] = []
        self.changes: list[OutputChange] = []
        self.events: list[tuple[str, str, bool]] = []
        self.decision: Decision | None = None
        self.cleared: frozenset[FaultCode] = frozenset()
        self.findings: tuple[Finding, ...] = ()
        self.said: tuple[Said, ...] = ()
        self.switched: list[tuple[float, OutputId, bool]] = []
        self.saved: dict[str, Any] | None = None
        self.saved_at_s = self.now_s
        self.record: TickRecord | None = None
        self.lost: Lost | None = None
        self.turns: list[Turn] = []
        self.late_s = 0.0
        self.seq = 0
        self.ceiling_c: float | Why = 15.0
        self.bench_c: float | Why = 14.0
        self.outdoor_c: float | Why = 8.0
        self.soil_c: dict[str, float | Why] = dict.fromkeys(settings.loops, 14.0)
        self.root_c: dict[str, float | Why] = dict.fromkeys(settings.loops, 14.0)
        self.outlet_c: dict[str, float | Why] = {}
        self.probe_c: dict[str, float | Why] = {}
        self.hour: float | None = None
        self.level: dict[str, Level | Why] = dict.fromkeys(settings.sumps, Level.DRY)
        if settle:  # unknown history: tubes may be wet, motors rest
            self.run(self.settings.pump.drain_down_s + HOUR_S, MINUTE_S)
            self.changes.clear()
            self.switched.clear()

    def outlet(self, loop: str) -> float | Why:
        """The outlet reads near the soil while the fan runs unless a test says otherwise."""
        if loop in self.outlet_c:
            return self.outlet_c[loop]
        soil = self.soil_c[loop]
        if isinstance(soil, Why) or isinstance(self.ceiling_c, Why):
            return soil
        return soil + 0.1 * (self.ceiling_c - soil)

    def _reading(self, value: float | Why) -> Reading:
        if isinstance(value, Why):
            return Missing(value, self.now_s)
        return Good(value, self.now_s)

    def snapshot(self) -> Snapshot:
        """What the controller sees now."""
        loops = {
            name: LoopReadings(
                self._reading(self.soil_c[name]),
                self._reading(self.root_c[name]),
                self._reading(self.outlet(name)),
            )
            for name in self.settings.loops
        }
        sumps: dict[str, LevelReading] = {
            name: Missing(level, self.now_s) if isinstance(level, Why) else Good(level, self.now_s)
            for name, level in self.level.items()
        }
        probes: dict[str, Reading] = {}
        for name, probe in self.settings.probes.items():
            match probe.place:
                case "ceiling":
                    probes[name] = self._reading(self.ceiling_c)
                case "bench":
                    probes[name] = self._reading(self.bench_c)
                case "outdoor":
                    probes[name] = self._reading(self.outdoor_c)
                case "outlet":
                    probes[name] = loops[str(probe.loop)].outlet
                case "soil":
                    probes[name] = loops[str(probe.loop)].soil
                case _:
                    probes[name] = loops[str(probe.loop)].root_zone
        probes |= {name: self._reading(value) for name, value in self.probe_c.items()}
        return Snapshot(
            self._reading(self.ceiling_c),
            self._reading(self.bench_c),
            self._reading(self.outdoor_c),
            loops,
            sumps,
            probes,
            self.findings,
            self.cleared,
            said=self.said,
            hour=self.hour,
        )

    def tick(self, after_s: float = 10.0) -> Decision:
        """Let time pass and decide once; every promise is checked."""
        self.now_s += after_s
        snapshot = self.snapshot()
        self.cleared = frozenset()
        before, cut = self.state, ()
        if self.lost is not None:
            before, cut = after_loss(before, self.lost, self.settings, self.now_s)
            self.lost = None
        known = self.known = hints(self.evidence, snapshot, before, self.settings, self.now_s)
        decided, self.state = decide(snapshot, before, self.settings, self.now_s, self.rule, known)
        decision = self.decision = decided._replace(changes=(*cut, *decided.changes))
        self._remember(before)
        pins = self._driven(decided)
        self.state = as_driven(self.state, pins)
        taken = Taken(before, decision, self.state)
        diagnosis = learn(self.evidence, known, snapshot, taken, self.settings, self.now_s)
        self.evidence, self.alarms_now = diagnosis.evidence, diagnosis.alarms
        self.seq += 1
        self.record = TickRecord(
            self.seq,
            self.now_s,
            self.settings,
            snapshot,
            decision,
            self.state,
            diagnosis,
            {},
            DayTally(),
            None,
            pins,
        )
        self.broken += self.watch.observe(self.record)
        self.changes += self.decision.changes
        self.switched += [(self.now_s, change.output, change.on) for change in self.decision.changes]
        self.events += [(e.alarm.code.value, e.alarm.subject, e.raised) for e in diagnosis.events]
        return self.decision

    def _driven(self, decision: Decision) -> Pins:
        """Outputs that follow their commands, perhaps a little late, and what they did before this tick."""
        at_s = self.now_s + self.late_s
        turns = (*self.turns, *(Turn(change.output, change.on, at_s) for change in decision.changes))
        self.turns.clear()
        return Pins({output: command.on for output, command in decision.commands.items()}, turns)

    def lease_runs_out(self, silent_s: float = 60.0) -> Decision:
        """No tick comes for longer than the lease: everything goes off at its end; then ticks are back."""
        lease_s = self.settings.service.lease_s
        self._all_off_at(self.now_s + lease_s)
        self.lost = Lost(frozenset(), lease_s, self.now_s + lease_s)
        return self.tick(silent_s)

    def output_fails(self, output: OutputId) -> Decision:
        """A running output goes off by itself before the next tick."""
        assert self.decision is not None
        if self.decision.commands[output].on:
            self.turns.append(Turn(output, False, self.now_s + 1.0))
            self.lost = Lost(frozenset({output}))
        return self.tick()

    def _all_off_at(self, at_s: float) -> None:
        on = [] if self.decision is None else [o for o, c in self.decision.commands.items() if c.on]
        self.turns += [Turn(output, False, at_s) for output in on]

    def run(self, for_s: float, tick_s: float = 10.0) -> Decision:
        """Tick for a while, looking again early where the decision asks for it."""
        end_s = self.now_s + for_s
        decision = self.tick(self._pause_s(min(tick_s, for_s)))
        while self.now_s < end_s - 1e-6:
            decision = self.tick(self._pause_s(min(tick_s, end_s - self.now_s)))
        return decision

    def _pause_s(self, at_most_s: float) -> float:
        """The time until the next tick, as the loop would choose it."""
        if self.decision is None or self.decision.look_again_s is None:
            return at_most_s
        return min(at_most_s, max(self.decision.look_again_s, 0.05))

    def fan(self, loop: str = "north") -> bool:
        """Whether a fan is commanded on."""
        assert self.decision is not None
        return self.decision.commands[OutputId.fan(loop)].on

    def fans_on(self) -> int:
        """How many fans are commanded on."""
        return sum(self.fan(loop) for loop in self.settings.loops)

    def pump(self, sump: str = "main") -> bool:
        """Whether a pump is commanded on."""
        assert self.decision is not None
        return self.decision.commands[OutputId.pump(sump)].on

    def why(self, loop: str = "north") -> str:
        """The present reason of a fan, as a person reads it."""
        return self.state.fans[loop].reason.sentence(TemperatureUnit.CELSIUS)

    def why_pump(self, sump: str = "main") -> str:
        """The present reason of a pump."""
        return self.state.sumps[sump].reason.sentence(TemperatureUnit.CELSIUS)

    def alarms(self) -> set[str]:
        """Codes of the active alarms."""
        return {alarm.code.value for alarm in self.alarms_now}

    def sunny(self) -> None:
        """A bright winter noon: heat under the roof, cool soil."""
        self.ceiling_c, self.bench_c = 27.0, 22.0

    def frosty(self) -> None:
        """A clear night with warm soil."""
        self.ceiling_c, self.bench_c = 1.5, 1.0

    def forget(self) -> None:
        """Restart with unknown history, as after the loss of the card."""
        self.saved, self.saved_at_s = None, self.now_s
        self.state = initial_state(self.settings, self.now_s)
        self.evidence = no_evidence(self.settings.loops, self.now_s)
        self.watch = PromiseWatch()

    def _remember(self, before: ControllerState) -> None:
        """Write the memory when the loop would, by way of JSON as the loop does."""
        if worth_saving(before, self.state) or self.now_s - self.saved_at_s >= REMEMBER_EVERY_S:
            self.saved_at_s = self.now_s
            kept = to_memory(self.state, self.evidence, self.now_s)
            self.saved = json.loads(json.dumps(kept.data))

    def restart(self, down_s: float = 1.0, *, same_boot: bool = True) -> None:
        """Stop at once, stay down for a while and start with what was last written down.

        The promise watch goes on across the restart: it has seen every motor go off at the stop.
        """
        self._watch_all_off(same_boot)
        self.watch.wet_floats = WetFloats()  # a spell that nobody looked at is no spell without a break
        self.now_s += down_s
        self.saved_at_s = self.now_s
        self.state = initial_state(self.settings, self.now_s)
        self.evidence = no_evidence(self.settings.loops, self.now_s)
        if self.saved is not None:
            self.state = restored(self.state, self.saved, same_boot, self.now_s)
            self.evidence = restored_evidence(self.evidence, self.saved, same_boot, self.now_s)

    def _watch_all_off(self, same_boot: bool) -> None:
        """Tell the watch that the stop of the program has put everything off; a stop may cut any run.

        From then on nobody looks at the floats; after a reboot not even the watch knows for how long.
        """
        if self.record is None:
            return
        for name, water in self.watch.water.sumps.items():
            pumped = self.record.decision.commands[OutputId.pump(name)].on
            water.unread(pumped or not same_boot, self.record.now_mono_s)
        off = Reason(ReasonCode.STARTED, {"rest_s": 0.0})
        commands = self.record.decision.commands
        decision = Decision(
            {output: Command(on=False, reason=off) for output in commands},
            tuple(OutputChange(output, on=False, reason=off) for output, c in commands.items() if c.on),
        )
        turns = tuple(Turn(change.output, False, self.now_s) for change in decision.changes)
        pins = Pins(dict.fromkeys(commands, False), turns)
        silences = {name: water.silence for name, water in self.watch.water.sumps.items()}
        self.record = self.record._replace(decision=decision, pins=pins)
        self.watch.observe(self.record)
        for name, silence in silences.items():
            self.watch.water.sumps[name].silence = silence

    def remember_need(self, coldest_c: float) -> None:
        """Set how cold the house has lately been."""
        self.state = self.state._replace(need=self.state.need._replace(coldest_c=coldest_c))

    def demand(self, loop: str = "north") -> str | None:
        """What a loop's fan runs for, in one word, None while it is off."""
        demand = self.state.fans[loop].demand
        return None if demand is None else demand.value

    def times(self, output: OutputId, *, on: bool) -> list[float]:
        """When an output was switched on (or off)."""
        return [at_s for at_s, which, was_on in self.switched if which == output and was_on is on]

    def starts(self, loop: str = "north") -> list[float]:
        """When a fan was started."""
        return self.times(OutputId.fan(loop), on=True)

    def stops(self, loop: str = "north") -> list[float]:
        """When a fan was stopped."""
        return self.times(OutputId.fan(loop), on=False)

    def pump_starts(self, sump: str = "main") -> list[float]:
        """When a pump was started."""
        return self.times(OutputId.pump(sump), on=True)

    def pump_stops(self, sump: str = "main") -> list[float]:
        """When a pump was stopped."""
        return self.times(OutputId.pump(sump), on=False)
