"""Heat a loop should move and heat its outlet proves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from controller.decision.command import OutputId
from controller.decision.probe_records import ProbeGroups, probe_groups
from controller.physics import moist_air, tube
from controller.readings.reading import Good

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.readings.reading import Reading
    from controller.settings.schema import Loop, Settings

# Air properties change little over the range a house sees; the plan is worked out once at this temperature.
PLAN_AIR_C = 15.0


@dataclass(frozen=True, slots=True)
class LoopPlan:
    """What follows from a loop's settings once and for all.

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
class Plan:
    """What follows from a whole settings file.

    Attributes:
        settings: that file.
        loops: every loop.
        pumps: the pump of every sump.
        fire_probes: every air probe, and whether its rate of rise counts (outlets jump at a start).
        groups: probes that can be compared with each other.
    """

    settings: Settings
    loops: tuple[LoopPlan, ...]
    pumps: Mapping[str, OutputId]
    fire_probes: tuple[tuple[str, bool], ...]
    groups: ProbeGroups


def _loop_plan(name: str, loop: Loop, altitude_m: float) -> LoopPlan:
    pressure_pa = moist_air.standard_pressure_pa(altitude_m)
    humidity = 0.0
    air_w_per_k = (
        loop.flow_m3_s
        * moist_air.density_kg_m3(PLAN_AIR_C, humidity, pressure_pa)
        * moist_air.heat_capacity_j_kgk(humidity)
    )
    effectiveness = tube.loop_effectiveness(
        loop.flow_m3_s,
        loop.tubes,
        loop.tube_length_m,
        loop.tube_diameter_m,
        loop.tube_wall == "corrugated",
        PLAN_AIR_C,
        pressure_pa,
    )
    return LoopPlan(
        name, OutputId.fan(name), loop.sump, loop.power_w, air_w_per_k, effectiveness * air_w_per_k
    )


def _make_plan(settings: Settings) -> Plan:
    loops = tuple(_loop_plan(n, loop, settings.site.altitude_m) for n, loop in settings.loops.items())
    pumps = {sump: OutputId.pump(sump) for sump in settings.sumps}
    fire_probes = tuple(
        (name, probe.place != "outlet")
        for name, probe in settings.probes.items()
        if probe.place in ("ceiling", "bench", "outlet")
    )
    return Plan(settings, loops, pumps, fire_probes, probe_groups(settings))


_latest: list[Plan] = []


def plan_for(settings: Settings) -> Plan:
    """The plan of these settings; worked out again only when another settings object comes."""
    if not _latest or _latest[0].settings is not settings:
        _latest[:] = [_make_plan(settings)]
    return _latest[0]


def proven_heat_w(plan: LoopPlan, ceiling: Reading, outlet: Reading) -> float | None:
    """Dry heat the running loop leaves in the soil in W (negative: takes out), None if unknown."""
    if isinstance(ceiling, Good) and isinstance(outlet, Good):
        return plan.air_w_per_k * (ceiling.value - outlet.value)
    return None
