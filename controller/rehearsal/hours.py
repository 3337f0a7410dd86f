"""The rehearsal hour by hour, for tables and plots."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from operator import itemgetter
from typing import TYPE_CHECKING

from controller.equipment import Kind
from controller.faults import HOUR_S
from controller.readings.reading import Good, Level
from controller.record.tally import JOULES_PER_KWH

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.reasons import ReasonCode
    from controller.record.tick import TickRecord
    from controller.simulator.plant.plant import SimulatedPlant, Truth


@dataclass(frozen=True, slots=True)
class HourRow:
    """One hour: the true state at its end, and what went on in it.

    Attributes:
        ended: local standard time.
        truth: the house at its end.
        bench_min_c: coldest bench air in it.
        outdoor_min_c: coldest outdoor air in it.
        fan_s: seconds each fan ran, by loop.
        pump_s: seconds each pump ran, by sump.
        wet_s: seconds each float read wet, by sump.
        charged_kwh: heat into the soil.
        discharged_kwh: heat out of the soil.
        electricity_kwh: used by the fans.
        idle: why a fan stood, by loop: the cause that held longest; loops whose fan ran throughout are left
            out.
    """

    ended: datetime
    truth: Truth
    bench_min_c: float
    outdoor_min_c: float
    fan_s: Mapping[str, float]
    pump_s: Mapping[str, float]
    wet_s: Mapping[str, float]
    charged_kwh: float
    discharged_kwh: float
    electricity_kwh: float
    idle: Mapping[str, ReasonCode] = field(default_factory=dict)


@dataclass(slots=True)
class HourBook:
    """Gathers the rows.

    Attributes:
        plant: the simulated house.
        start: local time of the start.
        rows: the finished hours.
    """

    plant: SimulatedPlant
    start: datetime
    rows: list[HourRow] = field(default_factory=list)
    _began_s: float = 0.0
    _low_c: float = 1e9
    _outdoor_low_c: float = 1e9
    _fan_s: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    _pump_s: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    _wet_s: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    _idle_s: defaultdict[tuple[str, ReasonCode], float] = field(default_factory=lambda: defaultdict(float))
    _before_j: tuple[float, float, float] = (0.0, 0.0, 0.0)

    def passed(self, tick: TickRecord, dt_s: float, passed_s: float) -> None:
        """Account for the ``dt_s`` after a tick, which end ``passed_s`` after the start."""
        house = self.plant.model.house
        self._low_c = min(self._low_c, float(house.bench_c))
        self._outdoor_low_c = min(self._outdoor_low_c, float(house.out_c))
        for output, command in tick.decision.commands.items():
            if command.on:
                (self._fan_s if output.kind is Kind.FAN else self._pump_s)[output.name] += dt_s
        for name, fan in tick.state.fans.items():
            if fan.demand is None:
                self._idle_s[name, fan.reason.code] += dt_s
        for name, level in tick.snapshot.sumps.items():
            if isinstance(level, Good) and level.value is Level.WET:
                self._wet_s[name] += dt_s
        if passed_s - self._began_s >= HOUR_S - 1e-3:
            self.close(passed_s)

    def close(self, passed_s: float) -> None:
        """End the hour, even if it is not full, unless nothing of it has passed."""
        if passed_s <= self._began_s:
            return
        truth = self.plant.truth()
        now_j = (truth.charged_j, truth.discharged_j, truth.fan_energy_j)
        charged, discharged, electricity = (
            (now - before) / JOULES_PER_KWH for now, before in zip(now_j, self._before_j, strict=True)
        )
        model = self.plant.model
        self.rows.append(
            HourRow(
                self.start + timedelta(seconds=passed_s),
                truth,
                self._low_c,
                self._outdoor_low_c,
                {name: self._fan_s[name] for name in model.loop_names},
                {name: self._pump_s[name] for name in model.sump_names},
                {name: self._wet_s[name] for name in model.sump_names},
                charged,
                discharged,
                electricity,
                # By time, so that of two causes the longer one comes last and stays.
                {name: code for (name, code), _ in sorted(self._idle_s.items(), key=itemgetter(1))},
            )
        )
        self._before_j = now_j
        self._low_c = self._outdoor_low_c = 1e9
        for sums in (self._fan_s, self._pump_s, self._wet_s):
            sums.clear()
        self._idle_s.clear()
        self._began_s = passed_s
