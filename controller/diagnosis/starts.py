"""What the start of a fan changes: air that begins to move takes its outlet nearer to the soil's temperature.

An outlet at rest settles between soil and house; one whose fan runs gives air that has left most of its
difference in the tubes. Both are measured by the same probes a quarter of an hour apart, so their offsets
(0.5 K each, DS18B20 data sheet) cancel, and so does most of what is particular to the place. So a start shows
at 3 K between ceiling and soil what a look at a running fan shows only at 7 K. A fan that is dead, and one
that has run all the time, change nothing; a fan with crossed wires changes another outlet.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.diagnosis.outlets import REAL_SHARE, STILL_SHARE
from controller.diagnosis.start_records import StartLook, StartRecord, StartWatch
from controller.faults import DAY_S, HOUR_S
from controller.readings.reading import Good

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.state import FanState, OutputState
    from controller.equipment import OutputId
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema.derived import Derived, DerivedLoop

# An outlet has settled after this long at rest, and shows a start after this long. [practice]
SETTLED_S, LOOK_AFTER_S, LOOK_UNTIL_S = 1800.0, 720.0, 1500.0
# Moving and still air must be expected this far apart: five times what probes in steps of 1/16 K and the
# weather of a quarter of an hour do to the change of an outlet. [practice]
APART_K = 0.8
# The share of the expected change from which air has moved, and up to which it has not. [practice]
MOVED, STILL = 0.35, 0.15
STARTS_TO_REPORT = 3
# A fan that has shown nothing for six days is tested where that is easy, after a week wherever it is
# possible. A test without air is repeated, but not at once; one that cannot be judged, next day. [practice]
EASY_FROM_S, DUE_FROM_S, AGAIN_AFTER_S = 6.0 * DAY_S, 7.0 * DAY_S, 4.0 * HOUR_S
EASY_K, LEAST_K = 6.0, 4.0


def trial_from_k(record: StartRecord, doubted: bool, now_s: float) -> float | None:
    """The least difference between ceiling and soil for a trial run of the fan, None if it needs none.

    Args:
        record: what its starts have shown.
        doubted: whether its outlet at rest has given moving air lately.
        now_s: now.
    """
    told = moves_nothing(record)
    if doubted and now_s - max(record.tried_s, record.moved_s) >= DAY_S:
        return LEAST_K
    if now_s - record.tried_s < (AGAIN_AFTER_S if record.still else DAY_S):
        return None
    for_s = now_s - (record.tried_s if told else record.shown_s)
    if for_s >= DUE_FROM_S:
        return LEAST_K
    return EASY_K if for_s >= EASY_FROM_S else None


def seems_stuck(record: StartRecord, days: int, now_s: float) -> bool:
    """Whether its fan has not been seen to start in the days in which its outlet at rest gave moving air.

    A probe that has gone astray looks like moving air as well, but its outlet still changes with each start.
    """
    for_s = now_s - record.moved_s
    return for_s >= DUE_FROM_S or (for_s >= days * DAY_S and record.tried_s > record.moved_s)


def forgiven(before: StartWatch, old: Mapping[str, FanState], new: Mapping[str, FanState]) -> StartWatch:
    """The record after a tick in which the decision may have seen a run that moves heat."""
    names = [name for name, fan in old.items() if fan.failed_runs and not new[name].failed_runs]
    if not names:
        return before
    sound = {name: before.records[name]._replace(still=0) for name in names}
    return before._replace(records={**before.records, **sound})


def moves_nothing(record: StartRecord) -> bool:
    """Whether start after start has moved nothing at its outlet."""
    return record.still >= STARTS_TO_REPORT


def moves_other(record: StartRecord) -> bool:
    """Whether its starts move another outlet instead."""
    return record.other >= STARTS_TO_REPORT - 1


def watched_starts(
    before: StartWatch,
    derived: Derived,
    snapshot: Snapshot,
    old: Mapping[OutputId, OutputState],
    new: Mapping[OutputId, OutputState],
    now_s: float,
) -> StartWatch:
    """Note the starts of this tick, and judge those of a quarter of an hour ago.

    Args:
        before: what is known.
        derived: what follows from the settings.
        snapshot: judged readings of this tick.
        old: outputs before the decision of this tick.
        new: outputs after it.
        now_s: monotonic time of this tick.
    """
    if not before.looks and old is new:
        return before
    looks, records = dict(before.looks), dict(before.records)
    for loop in derived.loops:
        look = looks.get(loop.name)
        if look is not None and not old[loop.fan].on:
            del looks[loop.name]
        elif look is not None and now_s - look.began_s >= LOOK_AFTER_S:
            del looks[loop.name]
            if now_s - look.began_s <= LOOK_UNTIL_S:
                others = _changes(look, loop.name, derived, snapshot, old)
                own = others.pop(loop.name, None)
                alone = _alone(look, loop.name, derived, old)
                records[loop.name] = _judged(records[loop.name], own, others, alone, now_s)
        elif new[loop.fan].on and not old[loop.fan].on:
            looks[loop.name] = StartLook(now_s, _rests_k(derived, snapshot, old, now_s))
    return StartWatch(records, looks)


def _rests_k(
    derived: Derived, snapshot: Snapshot, outputs: Mapping[OutputId, OutputState], now_s: float
) -> dict[str, float]:
    """How far each outlet at rest is from halfway between soil and house."""
    rests_k = {}
    for loop in derived.loops:
        output = outputs[loop.fan]
        seen = _seen(loop, snapshot)
        if seen is not None and not output.on and now_s - output.since_mono_s >= SETTLED_S:
            outlet_k, _, air_k = seen
            rests_k[loop.name] = outlet_k - STILL_SHARE * air_k
    return rests_k


def _seen(loop: DerivedLoop, snapshot: Snapshot) -> tuple[float, float, float] | None:
    """Outlet, ceiling and bench over the loop's soil, in K; the ceiling stands in for the bench."""
    readings, ceiling, bench = snapshot.loops[loop.name], snapshot.ceiling, snapshot.bench
    soil, outlet = readings.soil, readings.outlet
    if not (isinstance(ceiling, Good) and isinstance(soil, Good) and isinstance(outlet, Good)):
        return None
    air_c = bench.value if isinstance(bench, Good) else ceiling.value
    return outlet.value - soil.value, ceiling.value - soil.value, air_c - soil.value


def _changes(
    look: StartLook,
    started: str,
    derived: Derived,
    snapshot: Snapshot,
    outputs: Mapping[OutputId, OutputState],
) -> dict[str, float]:
    """How much of the change from still to moving air outlets have made.

    That of the started fan, and those whose fans were at rest then and have been since.
    """
    changes = {}
    for loop in derived.loops:
        rest_k, seen = look.rests_k.get(loop.name), _seen(loop, snapshot)
        output = outputs[loop.fan]
        rested = not output.on and output.since_mono_s <= look.began_s
        if rest_k is None or seen is None or not (rested or loop.name == started):
            continue
        outlet_k, difference_k, air_k = seen
        moving_share = 1.0 - REAL_SHARE * loop.expected_w_per_k / loop.air_w_per_k
        apart_k = STILL_SHARE * air_k - moving_share * difference_k
        if abs(apart_k) < APART_K or apart_k * air_k <= 0.0:
            continue
        change = (rest_k + STILL_SHARE * air_k - outlet_k) / apart_k
        # An outlet that gave moving air before the start, or one near the soil, could not show it.
        if change >= MOVED or rest_k / apart_k > -MOVED:
            changes[loop.name] = change
    return changes


def _alone(look: StartLook, started: str, derived: Derived, outputs: Mapping[OutputId, OutputState]) -> bool:
    """Whether all other fans have been at rest since before the start."""
    return all(
        loop.name == started
        or (
            (loop.name in look.rests_k and not outputs[loop.fan].on)
            and outputs[loop.fan].since_mono_s <= look.began_s
        )
        for loop in derived.loops
    )


def _judged(
    record: StartRecord, own: float | None, others: Mapping[str, float], alone: bool, now_s: float
) -> StartRecord:
    """The record of a loop with one more start.

    Args:
        record: of the starts before.
        own: how much of the change its outlet has made, None if that cannot be seen.
        others: the same of loops at rest.
        alone: whether all others were at rest. A fan that moves other air seems to move its own where the
            fan that really does starts with it, so only such a start clears it.
        now_s: now.
    """
    tried = record._replace(tried_s=now_s)
    if own is None or STILL < own < MOVED:
        return tried
    if own >= MOVED:
        if alone:
            return StartRecord(now_s, now_s, now_s)
        return tried if record.other_loop else tried._replace(moved_s=now_s, still=0)
    moved = [name for name, change in others.items() if change >= MOVED]
    still = tried._replace(still=record.still + 1)
    if len(moved) == 1:
        again = record.other + 1 if moved[0] == record.other_loop else 1
        return still._replace(other=again, other_loop=moved[0])
    return still._replace(other=0, other_loop="") if record.other_loop in others else still
