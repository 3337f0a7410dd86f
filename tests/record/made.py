"""Ticks made by hand for the promise watch: any output may be on under anything that is seen."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from controller.decision.command import Command, Decision, OutputChange
from controller.decision.driven import Pins, Turn
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Demand, FireState
from controller.diagnosis.learn import Diagnosis
from controller.equipment import OutputId
from controller.faults import FaultCode
from controller.readings.reading import Good, Level, LevelReading, Missing, Reading, Why
from controller.readings.snapshot import LoopReadings
from controller.record.promises import PromiseWatch
from controller.record.tally import DayTally
from controller.record.tick import TickRecord
from tests.decision.world import HOUSE, World, settings_with

if TYPE_CHECKING:
    from controller.settings.schema import Settings

NORTH, MIDDLE = OutputId.fan("north"), OutputId.fan("middle")
MAIN = OutputId.pump("main")
FANS, PUMP = HOUSE.fans, HOUSE.pump
WORDS = Reason(ReasonCode.BANK, {"ceiling_c": 27.0})
OVER = Reason(ReasonCode.NOTHING_WANTED, {"ceiling_c": 15.0})
LONGEST = Reason(ReasonCode.PUMP_LONGEST_RUN, {"run_s": 1800.0})
DUTY_DONE = Reason(ReasonCode.PUMP_DUTY_DONE, {"run_s": 60.0})
TEMPLATE = World(settle=False)
SOUND = Diagnosis(TEMPLATE.evidence, (), ())
# A motor that may start again sooner than after a longest run, so that the two rests can be told apart.
QUICK = settings_with(pump={"minimum_rest_s": 30.0})


@dataclass
class Made:
    """Ticks made by hand: what is seen, what is commanded, and what the watch says."""

    settings: Settings = field(default_factory=lambda: HOUSE)
    level: Level | Why = Level.DRY
    ceiling: float | Why = 27.0
    bench: float | Why = 22.0
    soil: float | Why = 14.0
    root: float | Why = 14.0
    outlet: float | Why = 15.0
    demand: Demand = Demand.BANK
    on: frozenset[OutputId] = frozenset()
    now_s: float = 10_000.0
    ceiling_age_s: float = 0.0
    soil_age_s: float = 0.0
    probe_c: dict[str, float | Why] = field(default_factory=dict)
    latched: str | None = None
    cleared: bool = False
    watch: PromiseWatch = field(default_factory=PromiseWatch)
    said: list[str] = field(default_factory=list)

    def _reading(self, value: float | Why, age_s: float = 0.0) -> Reading:
        if isinstance(value, Why):
            return Missing(value, self.now_s)
        return Good(value, self.now_s - age_s)

    def tick(
        self,
        *on: OutputId,
        after_s: float = 10.0,
        reason: Reason | None = None,
        told: bool = True,
        turned: tuple[tuple[OutputId, bool, float], ...] | None = None,
    ) -> list[str]:
        """Command exactly these outputs on; returns the names of the promises reported for this tick.

        Args:
            on: the outputs.
            after_s: time since the last tick.
            reason: of every change.
            told: whether changes are recorded.
            turned: outputs that turned, to what, and how long after this tick; None where nobody can see it.
        """
        self.now_s += after_s
        probes = LoopReadings(
            self._reading(self.soil, self.soil_age_s), self._reading(self.root), self._reading(self.outlet)
        )
        level: LevelReading = (
            Missing(self.level, self.now_s) if isinstance(self.level, Why) else Good(self.level, self.now_s)
        )
        snapshot = TEMPLATE.snapshot()._replace(
            ceiling=self._reading(self.ceiling, self.ceiling_age_s),
            bench=self._reading(self.bench),
            loops=dict.fromkeys(HOUSE.loops, probes),
            sumps={"main": level},
            probes={name: self._reading(value) for name, value in self.probe_c.items()},
            cleared=frozenset({FaultCode.FIRE}) if self.cleared else frozenset(),
        )
        wanted = frozenset(on)
        outputs = [*map(OutputId.fan, ("north", "middle", "south")), MAIN]
        changes = tuple(
            OutputChange(o, o in wanted, reason or (WORDS if o in wanted else OVER))
            for o in outputs
            if (o in wanted) != (o in self.on)
        )
        self.on = wanted
        commands = {output: Command(output in wanted, WORDS) for output in outputs}
        decision = Decision(commands, changes if told else ())
        fans = {
            name: fan._replace(demand=self.demand if OutputId.fan(name) in wanted else None)
            for name, fan in TEMPLATE.state.fans.items()
        }
        state = TEMPLATE.state._replace(fans=fans, fire=FireState(self.latched, self.now_s))
        record = TickRecord(1, self.now_s, self.settings, snapshot, decision, state, SOUND, {}, DayTally())
        if turned is not None:
            turns = tuple(Turn(output, on, self.now_s + late_s) for output, on, late_s in turned)
            record = record._replace(pins=Pins({o: c.on for o, c in commands.items()}, turns))
        broken = self.watch.observe(record)
        self.said = [one.detail for one in broken]
        assert all(one.at_mono_s == self.now_s for one in broken)
        return sorted({one.promise for one in broken})

    def full_run(self) -> None:
        """One longest run that does not empty the sump."""
        self.tick(MAIN)
        self.tick(after_s=PUMP.longest_run_s, reason=LONGEST)
