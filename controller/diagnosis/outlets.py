"""What the outlets show of the fans: whether air moves, at the command of which fan, or without one.

An outlet whose fan runs gives off air close to the soil's temperature; with the fan at rest its air settles
somewhere between soil and house. Where the two would differ clearly, each look is a sign of one or the other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.diagnosis.outlet_records import OutletRecord, OutletWatch
from controller.readings.reading import Good

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.state import OutputState
    from controller.equipment import OutputId
    from controller.readings.reading import Reading
    from controller.readings.snapshot import LoopReadings, Snapshot
    from controller.settings.schema.derived import Derived, DerivedLoop

# Below this difference two probes of ±0.5 K (DS18B20 data sheet) cannot distinguish moving from still air.
TESTABLE_DIFFERENCE_K = 5.0
# Moving and still air must be expected this far apart. [practice]
APART_K = 2.0
# A running loop falls short of what its settings promise, and still air lies halfway between soil and house,
# give or take. [practice] In rehearsed years no outlet came near the limits below.
REAL_SHARE = 0.9
STILL_SHARE = 0.5
LOOKS_STILL, LOOKS_MOVING = 0.3, 0.7
# How long an outlet takes to settle after a start and after a stop. [practice]
SETTLED_ON_S, SETTLED_OFF_S = 600.0, 1800.0
LOOK_EVERY_S = 300.0
# An outlet counts as able to show the difference once it has been seen this long in either state.
SEEN_ENOUGH_S = 1800.0
# What speaks against the command must last this long. [practice]
WELDED_S, SWAPPED_S = 1800.0, 900.0


def air_moves(loop: DerivedLoop, ceiling: Reading, bench: Reading, readings: LoopReadings) -> float | None:
    """How much the outlet looks like moving air: 0 still, 1 moving; None where the two would look alike.

    Args:
        loop: what follows from the loop's settings.
        ceiling: air at the riser intake.
        bench: air the outlet opens to; the ceiling stands in for it.
        readings: the loop's own probes.
    """
    soil, outlet = readings.soil, readings.outlet
    if not (isinstance(ceiling, Good) and isinstance(soil, Good) and isinstance(outlet, Good)):
        return None
    soil_c = soil.value
    difference_k = ceiling.value - soil_c
    if -TESTABLE_DIFFERENCE_K < difference_k < TESTABLE_DIFFERENCE_K:
        return None
    air_c = bench.value if isinstance(bench, Good) else ceiling.value
    still_k = STILL_SHARE * (air_c - soil_c)
    apart_k = (1.0 - REAL_SHARE * loop.expected_w_per_k / loop.air_w_per_k) * difference_k - still_k
    if -APART_K < apart_k < APART_K:
        return None
    return (outlet.value - soil_c - still_k) / apart_k


def is_known(record: OutletRecord) -> bool:
    """Whether this outlet has shown that it looks different with its fan on and off."""
    return record.moving_while_on_s >= SEEN_ENOUGH_S and record.still_while_off_s >= SEEN_ENOUGH_S


def welded(record: OutletRecord) -> bool:
    """Whether air has come out for long although the fan is off, where still air was seen before."""
    return record.moving_while_off_s >= WELDED_S and record.still_while_off_s >= SEEN_ENOUGH_S


def swapped(record: OutletRecord) -> bool:
    """Whether another outlet moves instead of this one."""
    return record.other_moved_s >= SWAPPED_S


def watched_outlets(
    before: OutletWatch,
    derived: Derived,
    snapshot: Snapshot,
    outputs: Mapping[OutputId, OutputState],
    now_s: float,
) -> OutletWatch:
    """Look at all outlets, every few minutes."""
    if now_s - before.looked_s < LOOK_EVERY_S:
        return before
    moving: dict[str, float] = {}
    for loop in derived.loops:
        seen = air_moves(loop, snapshot.ceiling, snapshot.bench, snapshot.loops[loop.name])
        if seen is not None:
            moving[loop.name] = seen
    if not moving:
        return before._replace(looked_s=now_s)
    passed_s = min(now_s - before.looked_s, 2.0 * LOOK_EVERY_S)
    on, off = _settled(derived, outputs, now_s)
    records = dict(before.records)
    other = _other_moving(moving, on, off)
    for name, seen in moving.items():
        record = records[name]
        if name in on:
            alone = record.other_loop in off
            records[name] = _while_on(record, seen, passed_s, other if seen <= LOOKS_STILL else "", alone)
        elif name in off and not (other == name and any(moving.get(n, 1.0) <= LOOKS_STILL for n in on)):
            records[name] = _while_off(record, seen, passed_s)
    return OutletWatch(now_s, records, before.known or any(is_known(record) for record in records.values()))


def _settled(
    derived: Derived, outputs: Mapping[OutputId, OutputState], now_s: float
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Loops whose fan has been on, and off, for long enough to be judged."""
    on, off = [], []
    for loop in derived.loops:
        output = outputs[loop.fan]
        for_s = now_s - output.since_mono_s
        if output.on and for_s >= SETTLED_ON_S:
            on.append(loop.name)
        elif not output.on and for_s >= SETTLED_OFF_S:
            off.append(loop.name)
    return tuple(on), tuple(off)


def _other_moving(moving: Mapping[str, float], on: tuple[str, ...], off: tuple[str, ...]) -> str:
    """The one outlet that moves although its fan is off, while another's does not although it is on."""
    if not any(moving.get(name, 1.0) <= LOOKS_STILL for name in on):
        return ""
    unasked = [name for name in off if moving.get(name, 0.0) >= LOOKS_MOVING]
    return unasked[0] if len(unasked) == 1 else ""


def _while_on(record: OutletRecord, seen: float, passed_s: float, other: str, alone: bool) -> OutletRecord:
    """One more look with the fan on; ``alone``: the fan suspected to move this air is off."""
    if seen >= LOOKS_MOVING:
        if record.other_loop and alone:
            record = record._replace(other_moved_s=0.0, other_loop="")
        if record.moving_while_on_s >= SEEN_ENOUGH_S:
            return record
        return record._replace(moving_while_on_s=min(record.moving_while_on_s + passed_s, SEEN_ENOUGH_S))
    if not other:
        return record
    so_far_s = record.other_moved_s if record.other_loop == other else 0.0
    return record._replace(other_moved_s=min(so_far_s + passed_s, SWAPPED_S), other_loop=other)


def _while_off(record: OutletRecord, seen: float, passed_s: float) -> OutletRecord:
    if seen <= LOOKS_STILL:
        if record.still_while_off_s >= SEEN_ENOUGH_S and not record.moving_while_off_s:
            return record
        return record._replace(
            still_while_off_s=min(record.still_while_off_s + passed_s, SEEN_ENOUGH_S), moving_while_off_s=0.0
        )
    if seen >= LOOKS_MOVING:
        return record._replace(moving_while_off_s=min(record.moving_while_off_s + passed_s, WELDED_S))
    return record
