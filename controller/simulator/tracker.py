"""Follows a rehearsal from tick to tick and sums it up from the true state of the simulated house."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from controller.decision.state import Lockout
from controller.decision.tally import JOULES_PER_KWH
from controller.readings.reading import Good, Level
from controller.simulator import indices as at
from controller.simulator.summary import (
    AlarmSums,
    DemandSums,
    FanSums,
    GroundSums,
    HouseSums,
    LoopSums,
    PumpSums,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.tick import TickRecord
    from controller.simulator.plant import SimulatedPlant, Truth

HOUR_S = 3600.0
COLD_C, HOT_C = 4.0, 32.0
WATER = frozenset((Lockout.FLOOD, Lockout.DRAIN_DOWN, Lockout.FLOAT_UNREADABLE))


@dataclass(frozen=True, slots=True)
class HourRow:
    """One hour of a rehearsal: true temperatures at its end, and shares of the hour in which things ran."""

    at: datetime
    truth: Truth
    fan_share: Mapping[str, float]
    pump_share: Mapping[str, float]
    wet_share: Mapping[str, float]
    charged_kwh: float
    discharged_kwh: float


@dataclass(slots=True)
class _Demand:
    run_s: float = 0.0
    electricity_j: float = 0.0
    heat_j: float = 0.0


@dataclass(slots=True)
class Tracker:
    """Sums as they grow.

    Attributes:
        plant: the simulated house.
        start: date and time of the start.
        hourly: whether to keep a row for every hour.
    """

    plant: SimulatedPlant
    start: datetime
    hourly: bool
    rows: list[HourRow] = field(default_factory=list)
    _passed_s: float = 0.0
    _low_c: float = 1e9
    _high_c: float = -1e9
    _out_low_c: float = 1e9
    _out_high_c: float = -1e9
    _frost_s: float = 0.0
    _out_frost_s: float = 0.0
    _cold_k_s: float = 0.0
    _hot_k_s: float = 0.0
    _wet_s: float = 0.0
    _locked_s: float = 0.0
    _pump_s: float = 0.0
    _pump_starts: int = 0
    _run_s: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    _electricity_j: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    _starts: defaultdict[str, int] = field(default_factory=lambda: defaultdict(int))
    _demands: defaultdict[str, _Demand] = field(default_factory=lambda: defaultdict(_Demand))
    _alarms: dict[str, AlarmSums] = field(default_factory=dict)
    _hour_fan_s: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    _hour_pump_s: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    _hour_wet_s: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    _hour_began_s: float = 0.0
    _hour_charged_j: float = 0.0
    _hour_discharged_j: float = 0.0

    def passed(self, tick: TickRecord, dt_s: float) -> None:
        """Account for the ``dt_s`` that passed after a tick, with the outputs as that tick commanded them."""
        self._passed_s += dt_s
        self._house(dt_s)
        self._motors(tick, dt_s)
        for name, level in tick.snapshot.sumps.items():
            if isinstance(level, Good) and level.value is Level.WET:
                self._wet_s += dt_s
                self._hour_wet_s[name] += dt_s
        for fan in tick.state.fans.values():
            if fan.lockouts and not WATER.isdisjoint(fan.lockouts):
                self._locked_s += dt_s
        for event in tick.decision.alarm_events:
            if event.raised:
                self._raised(event.alarm.code.value, f"{event.alarm.subject} {event.alarm.detail}".strip())
        if self.hourly and self._passed_s - self._hour_began_s >= HOUR_S - 1e-6:
            self._close_hour()

    def _house(self, dt_s: float) -> None:
        house = self.plant.model.house
        air_c, out_c = float(house[at.BENCH_C]), float(house[at.OUT_C])
        self._low_c = min(self._low_c, air_c)
        self._high_c = max(self._high_c, air_c)
        self._out_low_c = min(self._out_low_c, out_c)
        self._out_high_c = max(self._out_high_c, out_c)
        if air_c < COLD_C:
            self._cold_k_s += (COLD_C - air_c) * dt_s
            if air_c < 0.0:
                self._frost_s += dt_s
        elif air_c > HOT_C:
            self._hot_k_s += (air_c - HOT_C) * dt_s
        if out_c < 0.0:
            self._out_frost_s += dt_s

    def _motors(self, tick: TickRecord, dt_s: float) -> None:
        loops = self.plant.model.loops
        for index, name in enumerate(self.plant.model.loop_names):
            fan = tick.state.fans[name]
            if fan.demand is None:
                continue
            power_w = float(loops[index, at.F_POWER_W])
            self._run_s[name] += dt_s
            self._hour_fan_s[name] += dt_s
            self._electricity_j[name] += power_w * dt_s
            demand = self._demands[fan.demand.value]
            demand.run_s += dt_s
            demand.electricity_j += power_w * dt_s
            demand.heat_j += float(loops[index, at.F_HEAT_W]) * dt_s
        for output, command in tick.decision.commands.items():
            if output.kind == "pump" and command.on:
                self._pump_s += dt_s
                self._hour_pump_s[output.name] += dt_s
        for change in tick.decision.changes:
            if change.on and change.output.kind == "fan":
                self._starts[change.output.name] += 1
            elif change.on:
                self._pump_starts += 1

    def _raised(self, code: str, words: str) -> None:
        known = self._alarms.get(code)
        if known is None:
            at_text = (self.start + timedelta(seconds=self._passed_s)).strftime("%d %b %H:%M")
            self._alarms[code] = AlarmSums(raised=1, first=f"{at_text}: {words}")
        else:
            self._alarms[code] = known.model_copy(update={"raised": known.raised + 1})

    def _close_hour(self) -> None:
        truth = self.plant.truth()
        span_s = self._passed_s - self._hour_began_s
        self.rows.append(
            HourRow(
                self.start + timedelta(seconds=self._passed_s),
                truth,
                {name: self._hour_fan_s[name] / span_s for name in self.plant.model.loop_names},
                {name: self._hour_pump_s[name] / span_s for name in self.plant.model.sump_names},
                {name: self._hour_wet_s[name] / span_s for name in self.plant.model.sump_names},
                (truth.charged_j - self._hour_charged_j) / JOULES_PER_KWH,
                (truth.discharged_j - self._hour_discharged_j) / JOULES_PER_KWH,
            )
        )
        self._hour_charged_j, self._hour_discharged_j = truth.charged_j, truth.discharged_j
        for sums in (self._hour_fan_s, self._hour_pump_s, self._hour_wet_s):
            sums.clear()
        self._hour_began_s = self._passed_s

    def house_sums(self) -> HouseSums:
        """The air among the crop."""
        return HouseSums(
            air_min_c=self._low_c,
            air_max_c=self._high_c,
            hours_below_0c=self._frost_s / HOUR_S,
            degree_hours_below_4c=self._cold_k_s / HOUR_S,
            degree_hours_above_32c=self._hot_k_s / HOUR_S,
            outdoor_min_c=self._out_low_c,
            outdoor_max_c=self._out_high_c,
            outdoor_hours_below_0c=self._out_frost_s / HOUR_S,
        )

    def fan_sums(self) -> FanSums:
        """The fans."""
        by_loop = {
            name: LoopSums(
                run_hours=self._run_s[name] / HOUR_S,
                energy_kwh=self._electricity_j[name] / JOULES_PER_KWH,
                starts=self._starts[name],
            )
            for name in self.plant.model.loop_names
        }
        return FanSums(
            run_hours=sum(loop.run_hours for loop in by_loop.values()),
            energy_kwh=sum(loop.energy_kwh for loop in by_loop.values()),
            starts=sum(loop.starts for loop in by_loop.values()),
            by_loop=by_loop,
        )

    def ground_sums(self) -> GroundSums:
        """The soil as a store."""
        truth, books = self.plant.truth(), self.plant.books()
        return GroundSums(
            charged_kwh=truth.charged_j / JOULES_PER_KWH,
            discharged_kwh=truth.discharged_j / JOULES_PER_KWH,
            latent_share=truth.latent_j / truth.charged_j if truth.charged_j > 0.0 else 0.0,
            energy_closure_error=books.energy_closure,
            by_demand={
                name: DemandSums(
                    run_hours=sums.run_s / HOUR_S,
                    energy_kwh=sums.electricity_j / JOULES_PER_KWH,
                    heat_kwh=sums.heat_j / JOULES_PER_KWH,
                )
                for name, sums in sorted(self._demands.items())
            },
        )

    def pump_sums(self) -> PumpSums:
        """The pumps."""
        return PumpSums(
            run_hours=self._pump_s / HOUR_S,
            starts=self._pump_starts,
            wet_hours=self._wet_s / HOUR_S,
            locked_hours=self._locked_s / HOUR_S,
        )

    def alarm_sums(self) -> dict[str, AlarmSums]:
        """Alarms by code."""
        return dict(self._alarms)
