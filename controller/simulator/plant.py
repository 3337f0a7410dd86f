"""The simulated house behind the ports: probes and floats to read, switches to set, time to pass."""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from controller.decision.command import Kind, OutputId
from controller.faults import DAY_S
from controller.simulator import indices as at
from controller.simulator.boundary import CEILING_SHARE
from controller.simulator.clock import MONOTONIC_START_S
from controller.simulator.faults import FaultBoard, FaultKind, ScriptedFault
from controller.simulator.model import Books, Model
from controller.simulator.probes import SimulatedProbes
from controller.simulator.wiring import SimulatedFloats, SimulatedSwitch

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from controller.outputs.ports import Switch
    from controller.sensors.ports import FloatSource, TemperatureSource
    from controller.settings.schema import Settings
    from controller.simulator.weather import Weather

WEAK_PUMP = 0.25  # of its flow is what a weak pump still moves
CLOUDBURST_M_S = 30e-3 / 3600.0  # water that a cloudburst sends through the ground at once: 30 mm/h


@dataclass(frozen=True, slots=True)
class Truth:
    """The house as it is, whatever the probes say. Energies are sums since the start.

    Attributes:
        air_c: mean of the air.
        bench_c: among the crop.
        ceiling_c: under the roof.
        outdoor_c: outside.
        air_rh: relative humidity among the crop, 0 to 1.
        soil_c: at tube depth between the tubes, by loop.
        outlet_c: at the floor outlet, by loop.
        heat_w: into the soil now, by loop.
        charged_j: heat the tubes gave the soil.
        discharged_j: heat they took from it.
        latent_j: condensation's part of what was charged.
        fan_energy_j: electricity of the fans.
        energy_closure: what the energy books miss, over the heat that went through the house.
        water_m3: in the pit and the tubes, by sump.
        float_wet: what a sound float would say, by sump.
        pumping: whether water is being moved, by sump.
        flooded: whether water stands in the tubes, by loop.
        fan_running: whether air is being moved, by loop.
        vents_open: how far the vents stand open, 0 to 1.
    """

    air_c: float
    bench_c: float
    ceiling_c: float
    outdoor_c: float
    air_rh: float
    soil_c: Mapping[str, float]
    outlet_c: Mapping[str, float]
    heat_w: Mapping[str, float]
    charged_j: float
    discharged_j: float
    latent_j: float
    fan_energy_j: float
    water_m3: Mapping[str, float]
    float_wet: Mapping[str, bool]
    pumping: Mapping[str, bool]
    flooded: Mapping[str, bool]
    fan_running: Mapping[str, bool]
    vents_open: float


class SimulatedPlant:
    """A house with its loops, sumps, probes and weather.

    Args:
        settings: which house.
        weather: a year of weather, repeated for as long as needed.
        start: date and time at the start; without a zone it is local standard time of the weather's place.
        seed: for probe offsets and noise.
        faults: what breaks when.
        monotonic_start_s: monotonic time at the start; give the clock the same.
        exact_probes: probes without offset, noise and lag.
        model: a model of the caller's making, for finer grids and steps.

    Attributes:
        building: what the settings say of the house.
        temperatures: the probes.
        floats: the floats.
        switches: fans and pumps.
        on_float_turn: called when a float turns while time passes (to wake a waiting loop), or None.
    """

    def __init__(
        self,
        settings: Settings,
        weather: Weather,
        start: datetime,
        seed: int = 0,
        faults: Sequence[ScriptedFault] = (),
        *,
        monotonic_start_s: float = MONOTONIC_START_S,
        exact_probes: bool = False,
        model: Model | None = None,
    ) -> None:
        self.building = settings.house
        self.model = model or Model(settings, weather, weather.seconds_into_year(start))
        self._start_s = monotonic_start_s
        self._passed_s = 0.0
        self._leap_days_s = leap_days_s(start, weather)
        self._slept_s = 0.0
        self._board = FaultBoard(faults)
        self._board.bring_up_to(0.0)
        self._outputs = [OutputId.fan(name) for name in settings.loops] + [
            OutputId.pump(name) for name in settings.sumps
        ]
        self._switches = [SimulatedSwitch(output, self._board, self._apply) for output in self._outputs]
        self.switches: dict[OutputId, Switch] = dict(zip(self._outputs, self._switches, strict=True))
        self._floats = SimulatedFloats(self.model, self._board, self._now)
        self.floats: FloatSource = self._floats
        self.temperatures: TemperatureSource = SimulatedProbes(
            settings, self.model, self._board, self._now, monotonic_start_s, seed, exact=exact_probes
        )
        self.on_float_turn: Callable[[], None] | None = None

    @property
    def now_s(self) -> float:
        """Monotonic time, as on the samples."""
        return self._start_s + self._passed_s

    def _now(self) -> float:
        return self._start_s + self._passed_s

    def _apply(self) -> None:
        """Carry what the outputs are driven to, and what is broken, to the motors."""
        find = self._board.find
        for index, (output, switch) in enumerate(zip(self._outputs, self._switches, strict=True)):
            runs = 1.0 if switch.is_on() else 0.0
            if self._board.any():
                if output.kind == Kind.FAN.value:
                    runs = 1.0 if find(FaultKind.FAN_WELDED, output.name) else runs
                    runs = 0.0 if find(FaultKind.FAN_DEAD, output.name) else runs
                else:
                    runs *= WEAK_PUMP if find(FaultKind.PUMP_WEAK, output.name) else 1.0
                    runs = 0.0 if find(FaultKind.PUMP_DEAD, output.name) else runs
            self.model.switches[index] = runs

    def advance(self, dt_s: float) -> None:
        """Let time pass."""
        left_s = dt_s
        while left_s > 0.0:
            left_s -= self.advance_to_edge(left_s)

    def advance_to_edge(self, dt_s: float) -> float:
        """Let time pass until a float turns, but no longer than ``dt_s``; return the seconds that passed."""
        asked_s = dt_s
        while dt_s > 0.0:
            if self._board.bring_up_to(self._passed_s):
                self._apply()
                self._floats.note_turns()
            part_s = min(dt_s, self._board.next_change_s - self._passed_s)
            done_s = self._step(part_s)
            dt_s -= done_s
            if done_s < part_s - 1e-5:  # a float turned
                self._floats.note_turns()
                if self.on_float_turn is not None:
                    self.on_float_turn()
                return asked_s - dt_s
            if dt_s < 1e-6:  # noqa: PLR2004 (rounding)
                break
        return asked_s

    def _step(self, part_s: float) -> float:
        """One call of the model; during a leap day the weather lives through the day before again."""
        if self._leap_days_s and self._passed_s >= self._leap_days_s[0]:
            self._leap_days_s.pop(0)
            self._slept_s += DAY_S
        for name in self.model.sump_names if self._board.any() else ():
            if self._board.find(FaultKind.CLOUDBURST, name):
                self.model.pour(name, CLOUDBURST_M_S * part_s)
        done_s = self.model.advance(self._passed_s - self._slept_s, part_s)
        self._passed_s += done_s
        return done_s

    def truth(self) -> Truth:
        """The house as it is now."""
        model = self.model
        state, loops, sums = model.house, model.loops, model.books_j
        share = CEILING_SHARE
        names, fans = model.loop_names, len(model.loop_names)
        return Truth(
            air_c=float((1.0 - share) * state[at.BENCH_C] + share * state[at.CEILING_C]),
            bench_c=float(state[at.BENCH_C]),
            ceiling_c=float(state[at.CEILING_C]),
            outdoor_c=float(state[at.OUT_C]),
            air_rh=model.bench_rh(),
            soil_c={name: model.soil_c(i, model.cuts[i].depth_m) for i, name in enumerate(names)},
            outlet_c={name: float(loops[i, at.F_OUTLET_C]) for i, name in enumerate(names)},
            heat_w={name: float(loops[i, at.F_HEAT_W]) for i, name in enumerate(names)},
            charged_j=float(sums[at.J_CHARGED]),
            discharged_j=float(sums[at.J_DISCHARGED]),
            latent_j=float(sums[at.J_LATENT_IN]),
            fan_energy_j=float(sums[at.J_FANS]),
            water_m3={n: float(model.sumps[i, at.B_VOLUME_M3]) for i, n in enumerate(model.sump_names)},
            float_wet={n: bool(model.sumps[i, at.B_FLOAT_WET] > 0.0) for i, n in enumerate(model.sump_names)},
            pumping={n: bool(model.switches[fans + i] > 0.0) for i, n in enumerate(model.sump_names)},
            flooded={n: bool(loops[i, at.F_FLOODED] > 0.0) for i, n in enumerate(names)},
            fan_running={n: bool(loops[i, at.F_FLOW_SHARE] > 0.0) for i, n in enumerate(names)},
            vents_open=float(state[at.VENT]),
        )

    def books(self) -> Books:
        """Energy and water sums since the start, and how well they close."""
        return self.model.books()


def leap_days_s(start: datetime, weather: Weather, years: int = 60) -> list[float]:
    """When, after the start, each 1 March of a leap year comes: from then on the weather is a day behind."""
    local = start.replace(tzinfo=weather.zone) if start.tzinfo is None else start.astimezone(weather.zone)
    firsts = [
        datetime(year, 2, 29, tzinfo=weather.zone)
        for year in range(local.year, local.year + years)
        if calendar.isleap(year)
    ]
    if (local.month, local.day) == (2, 29):
        firsts = firsts[1:]
    return [(first - local).total_seconds() for first in firsts if first - local > timedelta(0)]
