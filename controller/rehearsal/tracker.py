"""Follows a rehearsal from tick to tick and sums it up from the true state of the simulated house."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from controller.decision.state import Lockout
from controller.equipment import Kind
from controller.faults import HOUR_S
from controller.readings.reading import Good, Level
from controller.record.tally import JOULES_PER_KWH
from controller.rehearsal.summary import (
    DemandSums,
    FanSums,
    FittingSums,
    GroundSums,
    HouseSums,
    LoopSums,
    PumpSums,
    SumpSums,
)
from controller.simulator.house.state import window

if TYPE_CHECKING:
    from controller.decision.reasons import ReasonCode
    from controller.record.tick import TickRecord
    from controller.simulator.house.books import Books
    from controller.simulator.house.state import Floats
    from controller.simulator.plant.plant import SimulatedPlant

COLD_C, HOT_C = 4.0, 32.0
WATER = frozenset(
    (
        Lockout.FLOOD,
        Lockout.DRAIN_DOWN,
        Lockout.FLOAT_UNREADABLE,
        Lockout.JUST_STARTED,
        Lockout.FLOAT_BACK,
    )
)


@dataclass(slots=True)
class _Run:
    """Sums of a fan's runs."""

    run_s: float = 0.0
    starts: int = 0
    electricity_j: float = 0.0
    charged_j: float = 0.0
    discharged_j: float = 0.0

    def add(self, dt_s: float, power_w: float, heat_w: float) -> None:
        """Another ``dt_s`` of it."""
        self.run_s += dt_s
        self.electricity_j += power_w * dt_s
        if heat_w > 0.0:
            self.charged_j += heat_w * dt_s
        else:
            self.discharged_j -= heat_w * dt_s


@dataclass(slots=True)
class _Sump:
    """Sums of a sump and its pump."""

    run_s: float = 0.0
    starts: int = 0
    wet_s: float = 0.0


@dataclass(slots=True)
class _Air:
    """Air at one place."""

    low_c: float = 1e9
    high_c: float = -1e9
    frost_s: float = 0.0
    cold_k_s: float = 0.0
    hot_s: float = 0.0
    hot_k_s: float = 0.0

    def add(self, air_c: float, dt_s: float) -> None:
        """Another ``dt_s`` at this temperature."""
        self.low_c = min(self.low_c, air_c)
        self.high_c = max(self.high_c, air_c)
        if air_c < COLD_C:
            self.cold_k_s += (COLD_C - air_c) * dt_s
        if air_c < 0.0:
            self.frost_s += dt_s
        if air_c > HOT_C:
            self.hot_k_s += (air_c - HOT_C) * dt_s
            self.hot_s += dt_s


@dataclass(slots=True)
class _Idle:
    """How long a loop has been idle for one kind of reason."""

    code: ReasonCode
    idle_s: float = 0.0


@dataclass(slots=True)
class Tracker:
    """Sums as they grow.

    Attributes:
        plant: the simulated house.
    """

    plant: SimulatedPlant
    _bench: _Air = field(default_factory=_Air)
    _outdoors: _Air = field(default_factory=_Air)
    _locked_s: float = 0.0
    _loops: defaultdict[str, _Run] = field(default_factory=lambda: defaultdict(_Run))
    _demands: defaultdict[str, _Run] = field(default_factory=lambda: defaultdict(_Run))
    _idle: dict[str, _Idle] = field(default_factory=dict)
    _now_idle: dict[str, _Idle] = field(default_factory=dict)
    _sumps: defaultdict[str, _Sump] = field(default_factory=lambda: defaultdict(_Sump))
    _soil_start_c: dict[str, float] = field(init=False)
    _books_at_start: Books = field(init=False)
    _bench_c: Floats = field(init=False)  # windows on the model
    _out_c: Floats = field(init=False)
    _power_w: Floats = field(init=False)  # by loop
    _heat_w: Floats = field(init=False)

    def __post_init__(self) -> None:
        self._soil_start_c = dict(self.plant.truth().soil_c)
        self._books_at_start = self.plant.books()
        house = self.plant.model.house
        self._bench_c, self._out_c = window(house, "bench_c"), window(house, "out_c")
        self._power_w, self._heat_w = self.plant.model.loops["power_w"], self.plant.model.loops["heat_w"]

    def passed(self, tick: TickRecord, dt_s: float) -> None:
        """Account for the ``dt_s`` that passed after a tick, with the outputs as that tick commanded them."""
        self._bench.add(float(self._bench_c[0]), dt_s)
        self._outdoors.add(float(self._out_c[0]), dt_s)
        self._fans(tick, dt_s)
        for output, command in tick.decision.commands.items():
            if command.on and output.kind is Kind.PUMP:
                self._sumps[output.name].run_s += dt_s
        for name, level in tick.snapshot.sumps.items():
            if isinstance(level, Good) and level.value is Level.WET:
                self._sumps[name].wet_s += dt_s
        for change in tick.decision.changes:
            if change.on:
                sums = self._loops if change.output.kind is Kind.FAN else self._sumps
                sums[change.output.name].starts += 1

    def _fans(self, tick: TickRecord, dt_s: float) -> None:
        powers_w, heats_w = self._power_w.tolist(), self._heat_w.tolist()
        for index, name in enumerate(self.plant.model.loop_names):
            fan = tick.state.fans[name]
            if fan.lockouts and not WATER.isdisjoint(fan.lockouts):
                self._locked_s += dt_s
            if fan.demand is None:
                self._idle_for(name, fan.reason.code).idle_s += dt_s
            else:
                self._loops[name].add(dt_s, powers_w[index], heats_w[index])
                self._demands[fan.demand.value].add(dt_s, powers_w[index], heats_w[index])

    def _idle_for(self, loop: str, code: ReasonCode) -> _Idle:
        """The sum for this reason; looked up only when the loop's reason has changed."""
        now = self._now_idle.get(loop)
        if now is None or now.code is not code:
            now = self._now_idle[loop] = self._idle.setdefault(code.value, _Idle(code))
        return now

    def house_sums(self) -> HouseSums:
        """The air among the crop."""
        return HouseSums(
            air_min_c=self._bench.low_c,
            air_max_c=self._bench.high_c,
            hours_below_0c=self._bench.frost_s / HOUR_S,
            degree_hours_below_4c=self._bench.cold_k_s / HOUR_S,
            hours_above_32c=self._bench.hot_s / HOUR_S,
            degree_hours_above_32c=self._bench.hot_k_s / HOUR_S,
            outdoor_min_c=self._outdoors.low_c,
            outdoor_max_c=self._outdoors.high_c,
            outdoor_hours_below_0c=self._outdoors.frost_s / HOUR_S,
            fittings=self._fittings(),
        )

    def _fittings(self) -> dict[str, FittingSums]:
        """Heater, screen and shade cloth, those that are fitted."""
        building, books, before = self.plant.building, self.plant.books(), self._books_at_start
        spent = {
            "shade": (building.shade_share, books.shade_s - before.shade_s, 0.0),
            "screen": (building.screen_saving, books.screen_s - before.screen_s, 0.0),
            "heater": (
                building.heater_power_w, books.heater_s - before.heater_s, books.heater_j - before.heater_j
            ),
        }  # fmt: skip
        return {
            name: FittingSums(run_hours=run_s / HOUR_S, heat_kwh=heat_j / JOULES_PER_KWH)
            for name, (size, run_s, heat_j) in spent.items()
            if size > 0.0
        }

    def fan_sums(self) -> FanSums:
        """The fans."""
        soil_c = self.plant.truth().soil_c
        by_loop = {
            name: LoopSums(
                run_hours=self._loops[name].run_s / HOUR_S,
                energy_kwh=self._loops[name].electricity_j / JOULES_PER_KWH,
                starts=self._loops[name].starts,
                charged_kwh=self._loops[name].charged_j / JOULES_PER_KWH,
                discharged_kwh=self._loops[name].discharged_j / JOULES_PER_KWH,
                soil_start_c=self._soil_start_c[name],
                soil_end_c=soil_c[name],
            )
            for name in self.plant.model.loop_names
        }
        return FanSums(
            run_hours=sum(loop.run_hours for loop in by_loop.values()),
            energy_kwh=sum(loop.energy_kwh for loop in by_loop.values()),
            starts=sum(loop.starts for loop in by_loop.values()),
            idle_hours={code: self._idle[code].idle_s / HOUR_S for code in sorted(self._idle)},
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
                    heat_kwh=(sums.charged_j - sums.discharged_j) / JOULES_PER_KWH,
                )
                for name, sums in sorted(self._demands.items())
            },
        )

    def pump_sums(self) -> PumpSums:
        """The pumps."""
        by_sump = {
            name: SumpSums(
                run_hours=self._sumps[name].run_s / HOUR_S,
                starts=self._sumps[name].starts,
                wet_hours=self._sumps[name].wet_s / HOUR_S,
            )
            for name in self.plant.model.sump_names
        }
        return PumpSums(
            run_hours=sum(sump.run_hours for sump in by_sump.values()),
            starts=sum(sump.starts for sump in by_sump.values()),
            wet_hours=sum(sump.wet_hours for sump in by_sump.values()),
            locked_hours=self._locked_s / HOUR_S,
            by_sump=by_sump,
        )
