"""A day of all loops: where their outlets rest, and how much their soil warms for what they bank.

Each loop's figure is compared with the lowest of the others', so that only the last of all can be at fault.
Weather and season are the same for all of them and drop out; what is particular to a loop, or to its probes,
is learned as usual. Days in a row that are too far from it count.

*At rest* still air in an outlet settles somewhere between soil and house (half the way in the rehearsal), and
the air of a running fan comes out closer to the soil (0.1 to 0.3 of the way). An outlet that has moved that
far towards the soil while every fan is commanded off gives moving air. *Soil:* air leaves nearly all its heat
in the tubes at any flow, so that an outlet does not show a lack of it (0.04 K with 70 % of the intake shut).
The heat left in the soil goes with the flow, and so does the warming of the soil beside the tubes, by the K·h
between ceiling and soil while the fan ran.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.diagnosis.probe_records import NO_RECORD, with_day
from controller.faults import HOUR_S, FaultCode, Finding
from controller.readings.reading import Good

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.state import OutputState
    from controller.diagnosis.probe_records import Comparisons, LoopDay, Record
    from controller.equipment import OutputId
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema.derived import Derived

# All fans at rest for so long, house and soil so far apart, so many looks a day. [practice]
AT_REST_S, APART_K, LOOKS_AT_REST = 1800.0, 3.0, 2
# Sound outlets of rehearsed seasons stayed within 0.03 of what is usual from day to day, those of running
# fans came to 0.14 and more. [practice]
MOVING_SHARE = 0.1
DAYS_AT_REST = 2
# Less banking than this in a day warms the soil too little to compare in steps of 1/16 K. Sound loops stayed
# within 0.1 of each other, loops with 60 to 70 % shut came to 0.22 and more. [practice]
LEAST_DRIVE_KH = 10.0
WEAK_SWING, DAYS_OF_SWINGS = 0.11, 2
# Loops that banked for very different times cannot be compared, and one odd day must not set what is usual:
# where another loop had an odd day, this one seems to warm by half more. [practice]
EVEN_DRIVE, MOST_SWING = 1.25, 0.15


def day_looked(
    day: LoopDay,
    derived: Derived,
    snapshot: Snapshot,
    outputs: Mapping[OutputId, OutputState],
    passed_s: float,
    now_s: float,
) -> LoopDay:
    """The day with one more look in it.

    Args:
        day: so far.
        derived: what follows from the settings.
        snapshot: judged readings.
        outputs: since when each fan is on or off.
        passed_s: time since the look before.
        now_s: now.
    """
    ceiling, bench = snapshot.ceiling, snapshot.bench
    at_rest = isinstance(bench, Good) and all(
        not outputs[loop.fan].on and now_s - outputs[loop.fan].since_mono_s >= AT_REST_S
        for loop in derived.loops
    )
    rests, soils_c, drive_kh = dict(day.rests), dict(day.soils_c), dict(day.drive_kh)
    for loop in derived.loops:
        name, readings = loop.name, snapshot.loops[loop.name]
        soil, outlet = readings.soil, readings.outlet
        if not isinstance(soil, Good):
            continue
        low_c, rise_k = soils_c.get(name, (soil.value, 0.0))
        low_c = min(low_c, soil.value)
        soils_c[name] = low_c, max(rise_k, soil.value - low_c)
        if outputs[loop.fan].on and isinstance(ceiling, Good):
            driven_kh = max(ceiling.value - soil.value, 0.0) * passed_s / HOUR_S
            drive_kh[name] = drive_kh.get(name, 0.0) + driven_kh
        if at_rest and isinstance(bench, Good) and isinstance(outlet, Good):
            air_k = bench.value - soil.value
            if abs(air_k) >= APART_K:
                looks, total = rests.get(name, (0, 0.0))
                rests[name] = looks + 1, total + (outlet.value - soil.value) / air_k
    return day._replace(rests=rests, soils_c=soils_c, drive_kh=drive_kh)


def rests_after(day: LoopDay, before: Mapping[str, Record]) -> Mapping[str, Record]:
    """The records of resting outlets with one more day."""
    means = {name: total / looks for name, (looks, total) in day.rests.items() if looks >= LOOKS_AT_REST}
    if len(means) < 2:  # noqa: PLR2004 - nothing to compare with
        return before
    distances = {name: own - _others(means, name) for name, own in means.items()}
    return _with_distances(before, distances, MOVING_SHARE)


def swings_after(day: LoopDay, before: Mapping[str, Record]) -> Mapping[str, Record]:
    """The records of how much the soils warm with one more day."""
    swings = {
        name: day.soils_c[name][1] / driven_kh
        for name, driven_kh in day.drive_kh.items()
        if driven_kh >= LEAST_DRIVE_KH
    }
    if len(swings) <= 2 or min(swings.values()) <= 0.0:  # noqa: PLR2004 - with two, either may be wrong
        return before
    drives_kh = [day.drive_kh[name] for name in swings]
    if max(drives_kh) > EVEN_DRIVE * min(drives_kh):
        return before
    distances = {name: min(own / _others(swings, name) - 1.0, MOST_SWING) for name, own in swings.items()}
    return _with_distances(before, distances, WEAK_SWING)


def _others(figures: Mapping[str, float], name: str) -> float:
    return min(figure for one, figure in figures.items() if one != name)


def _with_distances(
    before: Mapping[str, Record], distances: Mapping[str, float], limit: float
) -> Mapping[str, Record]:
    return {
        **before,
        **{name: with_day(before.get(name, NO_RECORD), far, limit) for name, far in distances.items()},
    }


def gives_moving_air(record: Record) -> bool:
    """Whether an outlet at rest has been too near the soil for days; its starts must say the same."""
    return record.off_days >= DAYS_AT_REST and record.lately < record.usual


def warms_less(record: Record) -> bool:
    """Whether a soil has warmed too little for days."""
    return record.off_days >= DAYS_OF_SWINGS and record.lately < record.usual


def loop_day_findings(comparisons: Comparisons) -> list[Finding]:
    """Loops whose soil warms less than usual."""
    return [
        Finding(
            FaultCode.LOOP_WEAK,
            name,
            f"its soil warms {record.usual - record.lately:.0%} less than usual for what it banks",
        )
        for name, record in comparisons.swings.items()
        if warms_less(record)
    ]
