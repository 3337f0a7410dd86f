"""What is wrong with the fans, from their failed runs and from what the outlets have shown."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.diagnosis.loop_days import gives_moving_air
from controller.diagnosis.outlets import swapped, welded
from controller.diagnosis.soil_warmth import NO_SOILS
from controller.diagnosis.starts import STARTS_TO_REPORT, moves_nothing, moves_other, seems_stuck
from controller.faults import FaultCode, Finding

if TYPE_CHECKING:
    from collections.abc import Mapping
    from collections.abc import Set as AbstractSet

    from controller.decision.state import FanState
    from controller.diagnosis.outlet_records import OutletRecord, OutletWatch
    from controller.diagnosis.probe_records import Record
    from controller.diagnosis.soil_warmth import Soils
    from controller.diagnosis.start_records import StartRecord
    from controller.settings.schema.derived import Derived

FAILED_RUNS_TO_REPORT = 3


def fan_findings(
    derived: Derived,
    fans: Mapping[str, FanState],
    outlets: OutletWatch,
    starts: Mapping[str, StartRecord],
    rests: Mapping[str, Record],
    now_s: float,
    soils: Soils = NO_SOILS,
) -> list[Finding]:
    """Fans that move no heat, or another loop's air, or air without a command.

    What is judged by a soil that does not warm while air moves is left to ``soil_findings``.

    Of a loop only the plainest is named. Where every loop of a sump fails at the same time the cause is
    sought in what they share: water in the tubes that the float does not show, or the fans' supply.
    """
    found: list[Finding] = []
    failing: list[str] = []
    unasked = {
        name
        for name, rest in rests.items()
        if not soils.aired and gives_moving_air(rest) and seems_stuck(starts[name], rest.off_days, now_s)
    }
    swaps = {name: other for name in fans if (other := _other(outlets.records[name], starts[name]))}
    for name, record in outlets.records.items():
        if name in swaps:
            other = swaps[name]
            if swaps.get(other) != name or name < other:
                words = f"its fan moves the air of loop {max(name, other)}"
                found.append(Finding(FaultCode.FAN_SWAPPED, min(name, other), words))
        elif name in swaps.values() or name in soils.aired:
            continue
        elif _fails(fans[name], starts[name]):
            failing.append(name)
        elif name in soils.idle:  # its outlet cannot be judged by this soil
            continue
        elif name in unasked or (outlets.known and record.moving_while_off_s and welded(record)):
            found.append(Finding(FaultCode.FAN_UNASKED, name, "air comes out although its fan is off"))
    if failing or soils.still or any(one.still for one in starts.values()):
        found += _no_effect(derived, fans, starts, failing, soils.still, outlets.known)
    return found


def _other(outlet: OutletRecord, starts: StartRecord) -> str:
    """The loop whose air the fan moves instead, empty if none."""
    if outlet.other_loop and swapped(outlet):
        return outlet.other_loop
    return starts.other_loop if moves_other(starts) else ""


def _fails(fan: FanState, starts: StartRecord) -> bool:
    """Whether run after run moved no heat, or start after start no air."""
    return fan.failed_runs >= FAILED_RUNS_TO_REPORT or moves_nothing(starts)


def _no_effect(
    derived: Derived,
    fans: Mapping[str, FanState],
    starts: Mapping[str, StartRecord],
    failing: list[str],
    idle: AbstractSet[str],
    known: bool,
) -> list[Finding]:
    """One finding for a sump whose loops all fail, otherwise one for each loop that does."""
    found: list[Finding] = []
    shut = set()
    for sump in derived.pumps:
        loops = [loop.name for loop in derived.loops if loop.sump == sump]
        if len(loops) > 1 and (words := _why_shut(loops, fans, starts, failing, idle, known)):
            shut.add(sump)
            found.append(Finding(FaultCode.TUBES_SHUT, sump, words))
    found += [
        Finding(
            FaultCode.FAN_NO_EFFECT,
            loop.name,
            f"{_failed(fans[loop.name], starts[loop.name])} runs moved no heat",
        )
        for loop in derived.loops
        if loop.name in failing and loop.sump not in shut
    ]
    return found


def _why_shut(
    loops: list[str],
    fans: Mapping[str, FanState],
    starts: Mapping[str, StartRecord],
    failing: list[str],
    idle: AbstractSet[str],
    known: bool,
) -> str:
    """What shows that all loops of a sump are shut, empty if nothing does.

    One loop that fails often enough and the others at least once, or starts enough of all of them together,
    where outlets are ``known`` to show it: fans do not die on the same day.
    """
    names = ", ".join(loops)
    still = [starts[loop].still for loop in loops]
    if all(_failed(fans[loop], starts[loop]) for loop in loops) and not set(loops).isdisjoint(failing):
        return f"none of {names} moves heat"
    if known and all(still) and sum(still) >= STARTS_TO_REPORT:
        return f"none of {names} moves heat"
    if all(loop in idle for loop in loops):
        return f"the soil of none of {names} has warmed, although their fans have banked for hours"
    return ""


def _failed(fan: FanState, starts: StartRecord) -> int:
    """Runs in a row that moved nothing."""
    return max(fan.failed_runs, starts.still)
