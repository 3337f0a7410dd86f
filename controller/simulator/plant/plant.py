"""The simulated house behind the ports: probes and floats to read, switches to set, time to pass."""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from controller.equipment import OutputId
from controller.faults import DAY_S
from controller.readings.contacts import Contact, ContactKind
from controller.simulator.house.boundary import CEILING_SHARE
from controller.simulator.house.model import Books, Model
from controller.simulator.plant.clock import MONOTONIC_START_S
from controller.simulator.plant.fault_kinds import FaultKind
from controller.simulator.plant.faults import FaultBoard, ScriptedFault
from controller.simulator.plant.probes import SimulatedProbes
from controller.simulator.plant.wiring import SimulatedContacts, SimulatedFloats, SimulatedSwitch

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from controller.outputs.ports import Switch
    from controller.sensors.ports import ContactSource, FloatSource, TemperatureSource
    from controller.settings.schema import Settings
    from controller.simulator.weather.year import Weather

FROST_HOURS = 12  # of frost in the mean freeze the discharge [practice]
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
        latent_j: condensation's part of what was charged, less what dried off the walls meanwhile.
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
        contacts: the optional contacts, None where none is fitted.
        switches: fans, pumps and signals.
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
        self.model = model or Model(
            settings,
            weather,
            weather.seconds_into_year(start),
            may_silt=sorted({fault.subject for fault in faults if fault.kind is FaultKind.TUBES_SILTED}),
            spare_door=any(fault.kind is FaultKind.DOOR_LEFT_OPEN for fault in faults),
        )
        self._start_s = monotonic_start_s
        self._passed_s = 0.0
        self._leap_days_s = leap_days_s(start, weather)
        self._slept_s = 0.0
        self._board = FaultBoard(faults)
        outputs = [OutputId.fan(name) for name in settings.loops] + [
            OutputId.pump(name) for name in settings.sumps
        ]
        self._by_output = [(output, SimulatedSwitch(output, self._board, self._apply)) for output in outputs]
        self.switches: dict[OutputId, Switch] = dict(self._by_output)
        for output in settings.derived.signals:  # they move nothing in the house
            self.switches[output] = SimulatedSwitch(output, self._board, lambda: None)
        self._floats = SimulatedFloats(settings, self.model, self._board, self._now)
        self.floats: FloatSource = self._floats
        contacts = SimulatedContacts(settings, self.model, self._board, self._turns)
        self.contacts: ContactSource | None = contacts if settings.has_contacts else None
        self._probes = SimulatedProbes(
            settings, self.model, self._board, self._now, monotonic_start_s, seed, exact=exact_probes
        )
        self.temperatures: TemperatureSource = self._probes
        self.on_float_turn: Callable[[], None] | None = None
        if self._board.bring_up_to(0.0):
            self._alter()
            self._apply()

    @property
    def now_s(self) -> float:
        """Monotonic time, as on the samples."""
        return self._start_s + self._passed_s

    def _now(self) -> float:
        return self._start_s + self._passed_s

    def restart(self, monotonic_s: float) -> None:
        """Reading of probes and floats begins anew: nothing has been read yet.

        Args:
            monotonic_s: monotonic time from now on; another than before if the board has booted.
        """
        by_s = monotonic_s - self.now_s
        self._start_s += by_s
        self._probes.restart(by_s)
        self._floats.restart()

    def _apply(self) -> None:
        """Carry what the outputs are driven to, and what is broken, to the motors."""
        driven = {output: 1.0 if switch.is_on() else 0.0 for output, switch in self._by_output}
        if self._board.any():
            self._break_fans(driven)
            self._break_pumps(driven)
            if self._board.find(FaultKind.SUPPLY_GONE):
                driven = dict.fromkeys(driven, 0.0)
        self.model.switches[:] = list(driven.values())

    def _break_fans(self, driven: dict[OutputId, float]) -> None:
        """What broken fans make of their commands: 1 runs, 0 stands."""
        find = self._board.find
        for one, swap in self._board.all_of(FaultKind.FAN_SWAPPED):
            here, there = OutputId.fan(one), OutputId.fan(swap.other)
            driven[here], driven[there] = driven[there], driven[here]
        for name in self.model.loop_names:
            if find(FaultKind.FAN_WELDED, name):
                driven[OutputId.fan(name)] = 1.0
            if find(FaultKind.FAN_DEAD, name):
                driven[OutputId.fan(name)] = 0.0

    def _break_pumps(self, driven: dict[OutputId, float]) -> None:
        """What broken pumps make of their commands, as a share of their flow."""
        find = self._board.find
        for name in self.model.sump_names:
            pump = OutputId.pump(name)
            if find(FaultKind.PUMP_WELDED, name):
                driven[pump] = 1.0
            if clogged := find(FaultKind.PUMP_CLOGGED, name):
                driven[pump] *= 1.0 - clogged.by
            if find(FaultKind.PUMP_DEAD, name) or (find(FaultKind.DISCHARGE_FROZEN, name) and self._frozen()):
                driven[pump] = 0.0

    def _turns(self, contact: Contact) -> bool:
        """Whether the motor of a contact turns, whatever it moves."""
        fan = contact.kind is ContactKind.FAN_RUNS
        find, name = self._board.find, contact.name
        if find(FaultKind.SUPPLY_GONE):
            return False
        driven = {output: switch.is_on() for output, switch in self._by_output}
        if fan:
            for one, swap in self._board.all_of(FaultKind.FAN_SWAPPED):
                here, there = OutputId.fan(one), OutputId.fan(swap.other)
                driven[here], driven[there] = driven[there], driven[here]
        if find(FaultKind.FAN_DEAD if fan else FaultKind.PUMP_DEAD, name):
            return False
        if find(FaultKind.FAN_WELDED if fan else FaultKind.PUMP_WELDED, name):
            return True
        return driven[OutputId.fan(name) if fan else OutputId.pump(name)]

    def _frozen(self) -> bool:
        """Whether the water in a pipe outdoors has turned to ice."""
        return self.model.outdoor_mean_c(self._passed_s - self._slept_s, FROST_HOURS) < 0.0

    def _alter(self) -> None:
        """Carry to the model what is blocked, silted, leaking or left open."""
        find, model = self._board.find, self.model
        if model.has_spare_door:
            door = find(FaultKind.DOOR_LEFT_OPEN)
            model.leave_open(door.by if door else 0.0)
        for index, name in enumerate(model.loop_names):
            silted, blocked = find(FaultKind.TUBES_SILTED, name), find(FaultKind.FAN_BLOCKED, name)
            if silted or model.loops[index].silted > 0.0:
                self._probes.stand_in(index, model.silt(index, silted.by if silted else 0.0))
            model.loops[index].intake_share = 1.0 - blocked.by if blocked else 1.0
        for index, name in enumerate(model.sump_names):
            leaks = find(FaultKind.CHECK_VALVE_LEAKS, name)
            model.sumps[index].back_m3 = leaks.by if leaks else 0.0

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
                self._alter()
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
        if self._board.any():
            for name, _ in self._board.all_of(FaultKind.CLOUDBURST):
                self.model.pour(name, CLOUDBURST_M_S * part_s)
            if self._board.all_of(FaultKind.DISCHARGE_FROZEN):
                self._apply()  # ice comes and goes with the weather
        done_s = self.model.advance(self._passed_s - self._slept_s, part_s)
        self._passed_s += done_s
        return done_s

    def truth(self) -> Truth:
        """The house as it is now."""
        model = self.model
        state, loops, sums = model.house, model.loops, model.sums
        share = CEILING_SHARE
        names, fans = model.loop_names, len(model.loop_names)
        return Truth(
            air_c=float((1.0 - share) * state.bench_c + share * state.ceiling_c),
            bench_c=float(state.bench_c),
            ceiling_c=float(state.ceiling_c),
            outdoor_c=float(state.out_c),
            air_rh=model.bench_rh(),
            soil_c={name: model.soil_c(i, model.cuts[i].depth_m) for i, name in enumerate(names)},
            outlet_c={name: float(loops[i].outlet_c) for i, name in enumerate(names)},
            heat_w={name: float(loops[i].heat_w) for i, name in enumerate(names)},
            charged_j=float(sums.charged_j),
            discharged_j=float(sums.discharged_j),
            latent_j=float(sums.latent_in_j),
            fan_energy_j=float(sums.fans_j),
            water_m3={n: float(model.sumps[i].volume_m3) for i, n in enumerate(model.sump_names)},
            float_wet={n: bool(model.sumps[i].float_wet > 0.0) for i, n in enumerate(model.sump_names)},
            pumping={n: bool(model.switches[fans + i] > 0.0) for i, n in enumerate(model.sump_names)},
            flooded={n: bool(loops[i].flooded > 0.0) for i, n in enumerate(names)},
            fan_running={n: bool(loops[i].flow_share > 0.0) for i, n in enumerate(names)},
            vents_open=float(state.vent),
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
