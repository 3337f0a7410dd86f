"""What no signal watches and a person must look at by hand, how often, and when that is due. Pure.

Intervals are from hardware-notes (floats and residual-current every month, melting ice once a year) and else
common practice. [practice]
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

MONTH_DAYS, SEASON_DAYS, YEAR_DAYS = 30, 90, 365


class HandCheck(NamedTuple):
    """One thing to do by hand.

    Attributes:
        what: what to do, in words for a grower.
        every_days: how often.
    """

    what: str
    every_days: int


HAND_CHECKS: Mapping[str, HandCheck] = {
    "floats": HandCheck(
        "lift every float with a dry stick, from above: its fans must stop, the pump must start", MONTH_DAYS
    ),
    "residual-current": HandCheck(
        "on a mild day press the test button of every residual-current device (RCD, GFCI): the supply must "
        "go; then switch it on again",
        MONTH_DAYS,
    ),
    "fire-alarm": HandCheck(
        "press the test button of the smoke or heat alarm, which works without this program", MONTH_DAYS
    ),
    "motors": HandCheck(
        "listen to every fan and pump, and feel at each outlet whether air comes", MONTH_DAYS
    ),
    "box": HandCheck(
        "look into the computer's low-voltage box (mains is an electrician's): no water, heat or loose plug",
        MONTH_DAYS,
    ),
    "pump": HandCheck(
        "watch the pump empty the pit: a strong jet, and no water that runs back after it", SEASON_DAYS
    ),
    "grilles": HandCheck("isolate and lock the fans, then clean grilles and blades", SEASON_DAYS),
    "air-probes": HandCheck("compare the air probes with a thermometer in the shade", SEASON_DAYS),
    "ice-point": HandCheck("check the soil and outlet probes in melting ice", YEAR_DAYS),
}
