"""Adds finished ticks up into a day's sums."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.heat import proven_heat_w
from controller.equipment import Kind
from controller.readings.reading import Good
from controller.record.tally import DayTally, LoopTally, PumpTally

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from controller.decision.command import Decision
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Settings


def heat_now_w(
    decision_before: Decision | None, snapshot: Snapshot, settings: Settings
) -> dict[str, float | None]:
    """Heat each running loop is proven to move, in W, positive into the soil; None where off or unknown.

    Args:
        decision_before: the decision in force while this snapshot was measured.
        snapshot: this tick's readings.
        settings: the settings in force.
    """
    moved: dict[str, float | None] = {}
    for loop in settings.derived.loops:
        running = decision_before is not None and decision_before.commands[loop.fan].on
        outlet = snapshot.loops[loop.name].outlet
        moved[loop.name] = proven_heat_w(loop, snapshot.ceiling, outlet) if running else None
    return moved


def add_tick(
    day: DayTally,
    decision_before: Decision | None,
    decision: Decision,
    snapshot: Snapshot,
    settings: Settings,
    heat_w: Mapping[str, float | None],
    dt_s: float,
) -> DayTally:
    """The day's sums after one more tick.

    What ran during the ``dt_s`` before this tick is what the tick before had commanded; starts are what this
    tick commands.
    """
    low_c, high_c = _range_with(day, snapshot)
    commanded = {} if decision_before is None else decision_before.commands
    ran = [output for output, command in commanded.items() if command.on]
    if not ran and not decision.changes:
        return DayTally(day.date, day.covered_s + dt_s, low_c, high_c, day.loops, day.pumps)
    loops = dict(day.loops)
    pumps = dict(day.pumps)
    for output in ran:
        if output.kind is Kind.FAN:
            power_w = settings.loops[output.name].power_w
            tally = loops.get(output.name, LoopTally())
            loops[output.name] = _ran(tally, power_w, heat_w.get(output.name), dt_s)
        else:
            pump = pumps.get(output.name, PumpTally())
            used_j = settings.sumps[output.name].pump_power_w * dt_s
            pumps[output.name] = pump._replace(
                run_s=pump.run_s + dt_s, electricity_j=pump.electricity_j + used_j
            )
    for change in decision.changes:
        if change.on and change.output.kind is Kind.FAN:
            tally = loops.get(change.output.name, LoopTally())
            loops[change.output.name] = tally._replace(starts=tally.starts + 1)
        elif change.on:
            pump = pumps.get(change.output.name, PumpTally())
            pumps[change.output.name] = pump._replace(starts=pump.starts + 1)
    return DayTally(day.date, day.covered_s + dt_s, low_c, high_c, loops, pumps)


def _ran(tally: LoopTally, power_w: float, moved_w: float | None, dt_s: float) -> LoopTally:
    moved_j = 0.0 if moved_w is None else moved_w * dt_s
    return LoopTally(
        run_s=tally.run_s + dt_s,
        starts=tally.starts,
        electricity_j=tally.electricity_j + power_w * dt_s,
        banked_j=tally.banked_j + max(moved_j, 0.0),
        returned_j=tally.returned_j + max(-moved_j, 0.0),
    )


def _range_with(day: DayTally, snapshot: Snapshot) -> tuple[float | None, float | None]:
    air = snapshot.bench if isinstance(snapshot.bench, Good) else snapshot.ceiling
    if not isinstance(air, Good):
        return day.air_min_c, day.air_max_c
    low_c = air.value if day.air_min_c is None else min(day.air_min_c, air.value)
    high_c = air.value if day.air_max_c is None else max(day.air_max_c, air.value)
    return low_c, high_c


def day_of(wall_utc: datetime | None) -> str | None:
    """The ISO date a tick belongs to, None until the clock is set."""
    return None if wall_utc is None else wall_utc.date().isoformat()


def hour_of(wall_utc: datetime | None) -> float | None:
    """The hour of a tick's day, 0 to 24, None until the clock is set."""
    return None if wall_utc is None else wall_utc.hour + wall_utc.minute / 60.0 + wall_utc.second / 3600.0
