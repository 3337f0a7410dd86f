"""What the outlets tell about the fans: whether air moves, at the command of which fan, or without one.

An outlet whose fan runs gives off air close to the soil's temperature; with the fan at rest its air settles
somewhere between soil and house. Where the two would differ clearly, each look is a sign of one or the other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.outlet_signs import OutletSigns, OutletWatch
from controller.readings.reading import Good

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.command import OutputId
    from controller.decision.heat import LoopPlan, Plan
    from controller.decision.state import OutputState
    from controller.readings.reading import Reading
    from controller.readings.snapshot import LoopReadings, Snapshot

# Below this difference two probes of ±0.5 K (DS18B20 data sheet) cannot tell moving air from still air.
TESTABLE_DIFFERENCE_K = 5.0
# Moving and still air must be expected this far apart. Common practice, no source.
APART_K = 2.0
# A running loop falls short of what its settings promise, and still air lies halfway between soil and house,
# give or take. Common practice, no source; in rehearsed years no outlet came near the limits below.
REAL_SHARE = 0.9
STILL_SHARE = 0.5
LOOKS_STILL, LOOKS_MOVING = 0.3, 0.7
# How long an outlet takes to settle after a start and after a stop. Common practice, no source.
SETTLED_ON_S, SETTLED_OFF_S = 600.0, 1800.0
LOOK_EVERY_S = 300.0
# So much of either kind must have been seen before an outlet is taken to tell them apart.
TOLD_S = 1800.0
# Signs against the command must last this long. Common practice, no source.
WELDED_S, SWAPPED_S = 1800.0, 900.0


def air_moves(plan: LoopPlan, ceiling: Reading, bench: Reading, readings: LoopReadings) -> float | None:
    """How much the outlet looks like moving air: 0 still, 1 moving; None where the two would look alike.

    Args:
        plan: the loop's plan.
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
    apart_k = (1.0 - REAL_SHARE * plan.expected_w_per_k / plan.air_w_per_k) * difference_k - still_k
    if -APART_K < apart_k < APART_K:
        return None
    return (outlet.value - soil_c - still_k) / apart_k


def tells(signs: OutletSigns) -> bool:
    """Whether this outlet has shown that it looks different with its fan on and off."""
    return signs.moving_s >= TOLD_S and signs.still_s >= TOLD_S


def welded(signs: OutletSigns) -> bool:
    """Whether air has come out for long although the fan is off, where still air was seen before."""
    return signs.unasked_s >= WELDED_S and signs.still_s >= TOLD_S


def swapped(signs: OutletSigns) -> bool:
    """Whether another outlet answers in this one's place."""
    return signs.swapped_s >= SWAPPED_S


def watched_outlets(
    before: OutletWatch, plan: Plan, snapshot: Snapshot, outputs: Mapping[OutputId, OutputState], now_s: float
) -> OutletWatch:
    """Look at all outlets, every few minutes."""
    if now_s - before.looked_s < LOOK_EVERY_S:
        return before
    moving: dict[str, float] = {}
    for loop in plan.loops:
        seen = air_moves(loop, snapshot.ceiling, snapshot.bench, snapshot.loops[loop.name])
        if seen is not None:
            moving[loop.name] = seen
    if not moving:
        return before._replace(looked_s=now_s)
    passed_s = min(now_s - before.looked_s, 2.0 * LOOK_EVERY_S)
    on, off = _settled(plan, outputs, now_s)
    signs = dict(before.signs)
    answering = _answering(moving, on, off)
    for name, seen in moving.items():
        sign = signs[name]
        if name in on:
            alone = sign.answers in off
            signs[name] = _while_on(sign, seen, passed_s, answering if seen <= LOOKS_STILL else "", alone)
        elif name in off and not (answering == name and any(moving.get(n, 1.0) <= LOOKS_STILL for n in on)):
            signs[name] = _while_off(sign, seen, passed_s)
    return OutletWatch(now_s, signs, before.tells or any(tells(sign) for sign in signs.values()))


def _settled(
    plan: Plan, outputs: Mapping[OutputId, OutputState], now_s: float
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Loops whose fan has been on, and off, for long enough to be judged."""
    on, off = [], []
    for loop in plan.loops:
        output = outputs[loop.fan]
        for_s = now_s - output.since_mono_s
        if output.on and for_s >= SETTLED_ON_S:
            on.append(loop.name)
        elif not output.on and for_s >= SETTLED_OFF_S:
            off.append(loop.name)
    return tuple(on), tuple(off)


def _answering(moving: Mapping[str, float], on: tuple[str, ...], off: tuple[str, ...]) -> str:
    """The one outlet that moves although its fan is off, while another's does not although it is on."""
    if not any(moving.get(name, 1.0) <= LOOKS_STILL for name in on):
        return ""
    unasked = [name for name in off if moving.get(name, 0.0) >= LOOKS_MOVING]
    return unasked[0] if len(unasked) == 1 else ""


def _while_on(sign: OutletSigns, seen: float, passed_s: float, answering: str, alone: bool) -> OutletSigns:
    """One more look with the fan on; ``alone``: the fan suspected to move this air is off."""
    if seen >= LOOKS_MOVING:
        if sign.answers and alone:
            sign = sign._replace(swapped_s=0.0, answers="")
        if sign.moving_s >= TOLD_S:
            return sign
        return sign._replace(moving_s=min(sign.moving_s + passed_s, TOLD_S))
    if not answering:
        return sign
    so_far_s = sign.swapped_s if sign.answers == answering else 0.0
    return sign._replace(swapped_s=min(so_far_s + passed_s, SWAPPED_S), answers=answering)


def _while_off(sign: OutletSigns, seen: float, passed_s: float) -> OutletSigns:
    if seen <= LOOKS_STILL:
        if sign.still_s >= TOLD_S and not sign.unasked_s:
            return sign
        return sign._replace(still_s=min(sign.still_s + passed_s, TOLD_S), unasked_s=0.0)
    if seen >= LOOKS_MOVING:
        return sign._replace(unasked_s=min(sign.unasked_s + passed_s, WELDED_S))
    return sign
