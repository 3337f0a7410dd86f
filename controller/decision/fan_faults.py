"""What is wrong with the fans, from their failed runs and from what the outlets have told."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.outlets import swapped, welded
from controller.faults import FaultCode, Finding

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.heat import Plan
    from controller.decision.outlet_signs import OutletWatch
    from controller.decision.state import FanState

FAILED_RUNS_TO_REPORT = 3


def fan_findings(plan: Plan, fans: Mapping[str, FanState], outlets: OutletWatch) -> list[Finding]:
    """Fans that move no heat, or another loop's air, or air without a command.

    Of a loop only the plainest is named. Where every loop of a sump fails at the same time the cause is
    sought in what they share: water in the tubes that the float does not show, or the fans' supply.
    """
    found: list[Finding] = []
    failing: list[str] = []
    answering = [sign.answers for sign in outlets.signs.values() if sign.answers and swapped(sign)]
    for name, sign in outlets.signs.items():
        if sign.answers and swapped(sign):
            if name not in answering or name < sign.answers:
                found.append(
                    Finding(FaultCode.FAN_SWAPPED, name, f"its fan moves the air of loop {sign.answers}")
                )
        elif name in answering:
            continue
        elif fans[name].failed_runs >= FAILED_RUNS_TO_REPORT:
            failing.append(name)
        elif outlets.tells and sign.unasked_s and welded(sign):
            found.append(Finding(FaultCode.FAN_UNASKED, name, "air comes out although its fan is off"))
    return found + _no_effect(plan, fans, failing) if failing else found


def _no_effect(plan: Plan, fans: Mapping[str, FanState], failing: list[str]) -> list[Finding]:
    """One finding for a sump whose loops all fail, otherwise one for each loop that does."""
    found: list[Finding] = []
    shut = set()
    for sump in plan.pumps:
        loops = [loop.name for loop in plan.loops if loop.sump == sump]
        if len(loops) > 1 and all(fans[loop].failed_runs for loop in loops) and set(loops) & set(failing):
            shut.add(sump)
            found.append(Finding(FaultCode.TUBES_SHUT, sump, f"none of {', '.join(loops)} moves heat"))
    found += [
        Finding(FaultCode.FAN_NO_EFFECT, loop.name, f"{fans[loop.name].failed_runs} runs moved no heat")
        for loop in plan.loops
        if loop.name in failing and loop.sump not in shut
    ]
    return found
