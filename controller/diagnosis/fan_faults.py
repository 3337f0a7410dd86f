"""What is wrong with the fans, from their failed runs and from what the outlets have shown."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.diagnosis.outlets import swapped, welded
from controller.faults import FaultCode, Finding

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.state import FanState
    from controller.diagnosis.outlet_records import OutletWatch
    from controller.settings.schema.derived import Derived

FAILED_RUNS_TO_REPORT = 3


def fan_findings(derived: Derived, fans: Mapping[str, FanState], outlets: OutletWatch) -> list[Finding]:
    """Fans that move no heat, or another loop's air, or air without a command.

    Of a loop only the plainest is named. Where every loop of a sump fails at the same time the cause is
    sought in what they share: water in the tubes that the float does not show, or the fans' supply.
    """
    found: list[Finding] = []
    failing: list[str] = []
    others = [
        record.other_loop for record in outlets.records.values() if record.other_loop and swapped(record)
    ]
    for name, record in outlets.records.items():
        if record.other_loop and swapped(record):
            if name not in others or name < record.other_loop:
                found.append(
                    Finding(FaultCode.FAN_SWAPPED, name, f"its fan moves the air of loop {record.other_loop}")
                )
        elif name in others:
            continue
        elif fans[name].failed_runs >= FAILED_RUNS_TO_REPORT:
            failing.append(name)
        elif outlets.known and record.moving_while_off_s and welded(record):
            found.append(Finding(FaultCode.FAN_UNASKED, name, "air comes out although its fan is off"))
    return found + _no_effect(derived, fans, failing) if failing else found


def _no_effect(derived: Derived, fans: Mapping[str, FanState], failing: list[str]) -> list[Finding]:
    """One finding for a sump whose loops all fail, otherwise one for each loop that does."""
    found: list[Finding] = []
    shut = set()
    for sump in derived.pumps:
        loops = [loop.name for loop in derived.loops if loop.sump == sump]
        if len(loops) > 1 and all(fans[loop].failed_runs for loop in loops) and set(loops) & set(failing):
            shut.add(sump)
            found.append(Finding(FaultCode.TUBES_SHUT, sump, f"none of {', '.join(loops)} moves heat"))
    found += [
        Finding(FaultCode.FAN_NO_EFFECT, loop.name, f"{fans[loop.name].failed_runs} runs moved no heat")
        for loop in derived.loops
        if loop.name in failing and loop.sump not in shut
    ]
    return found
