"""What follows from the settings once: heat figures, outputs by name, probes that can be compared."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from controller.equipment import ALL_WELL, TODAY, OutputId
from controller.physics import moist_air, tube

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from controller.settings.schema.wiring import Loop, Probe, Signal

# Air properties change little over the range a house sees; heat figures are worked out at this temperature.
AIR_C = 15.0


@dataclass(frozen=True, slots=True)
class DerivedLoop:
    """What follows from a loop's settings.

    Attributes:
        name: the loop.
        fan: its output.
        sump: the sump it drains to.
        power_w: what the fan draws.
        air_w_per_k: heat carried by its air stream per kelvin of change.
        expected_w_per_k: dry heat it should move per kelvin between ceiling and soil; condensing moisture
            adds to that, so it errs on the low side.
    """

    name: str
    fan: OutputId
    sump: str
    power_w: float
    air_w_per_k: float
    expected_w_per_k: float


@dataclass(frozen=True, slots=True)
class ProbeGroups:
    """Names of the probes that can be compared with each other.

    Attributes:
        ceilings: under the roof.
        benches: among the crop.
        soils: at tube depth, one for each loop that has any.
        roots: in the root zone, one for each loop that has any.
        outlets: loop and probe.
    """

    ceilings: tuple[str, ...]
    benches: tuple[str, ...]
    soils: tuple[str, ...]
    roots: tuple[str, ...]
    outlets: tuple[tuple[str, str], ...]

    @property
    def air(self) -> tuple[str, ...]:
        """All in the air of the house."""
        return (*self.ceilings, *self.benches)

    @property
    def names(self) -> frozenset[str]:
        """Every probe of them."""
        return frozenset((*self.air, *self.soils, *self.roots, *(name for _, name in self.outlets)))


@dataclass(frozen=True, slots=True)
class Derived:
    """What follows from a whole settings file.

    Attributes:
        loops: every loop.
        pumps: the pump of every sump.
        fire_probes: every air probe, and whether its rate of rise counts (outlets jump at a start).
        groups: probes that can be compared with each other.
        signals: those that are fitted.
    """

    loops: tuple[DerivedLoop, ...]
    pumps: Mapping[str, OutputId]
    fire_probes: tuple[tuple[str, bool], ...]
    groups: ProbeGroups
    signals: tuple[OutputId, ...]


def derive(
    loops: Mapping[str, Loop],
    sumps: Iterable[str],
    probes: Mapping[str, Probe],
    altitude_m: float,
    signal: Signal | None = None,
) -> Derived:
    """Work out what follows from a settings file.

    Args:
        loops: by name.
        sumps: their names.
        probes: by name.
        altitude_m: of the site, for the density of its air.
        signal: the signals, None without any.
    """
    return Derived(
        tuple(_derived_loop(name, loop, altitude_m) for name, loop in loops.items()),
        {sump: OutputId.pump(sump) for sump in sumps},
        tuple(
            (name, probe.place != "outlet")
            for name, probe in probes.items()
            if probe.place in ("ceiling", "bench", "outlet")
        ),
        _probe_groups(loops, probes),
        _signals(signal),
    )


def _signals(signal: Signal | None) -> tuple[OutputId, ...]:
    if signal is None:
        return ()
    return (ALL_WELL,) if signal.today_pin is None else (ALL_WELL, TODAY)


def _derived_loop(name: str, loop: Loop, altitude_m: float) -> DerivedLoop:
    pressure_pa = moist_air.standard_pressure_pa(altitude_m)
    humidity = 0.0
    air_w_per_k = (
        loop.flow_m3_s
        * moist_air.density_kg_m3(AIR_C, humidity, pressure_pa)
        * moist_air.heat_capacity_j_kgk(humidity)
    )
    effectiveness = tube.loop_effectiveness(
        loop.flow_m3_s,
        loop.tubes,
        loop.tube_length_m,
        loop.tube_diameter_m,
        loop.tube_wall == "corrugated",
        AIR_C,
        pressure_pa,
    )
    return DerivedLoop(
        name, OutputId.fan(name), loop.sump, loop.power_w, air_w_per_k, effectiveness * air_w_per_k
    )


def _probe_groups(loops: Iterable[str], probes: Mapping[str, Probe]) -> ProbeGroups:
    def names(place: str, loop: str | None = None) -> list[str]:
        return [name for name, probe in probes.items() if probe.place == place and probe.loop == loop]

    def firsts(place: str) -> tuple[tuple[str, str], ...]:
        named = [(loop, names(place, loop)) for loop in loops]
        return tuple((loop, found[0]) for loop, found in named if found)

    return ProbeGroups(
        tuple(names("ceiling")),
        tuple(names("bench")),
        tuple(name for _, name in firsts("soil")),
        tuple(name for _, name in firsts("root-zone")),
        firsts("outlet"),
    )
