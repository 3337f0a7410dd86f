"""The promise about signals: each turn is decided, recorded and has its numbers (P13)."""

from __future__ import annotations

import pytest

from controller.decision.command import Command, OutputChange
from controller.decision.driven import Pins, Turn
from controller.decision.reasons import Reason, ReasonCode
from controller.diagnosis.signals import NO_SIGNALS, Signals
from controller.equipment import ALL_WELL
from controller.record.signal_watch import SignalWatch
from tests.decision.world import World

WELL = Reason(ReasonCode.SIGNAL_WELL, {"hold_s": 60.0, "alarms": 0.0})
EMPTY = Reason(ReasonCode.SIGNAL_WELL, {})
WORLD = World()
WORLD.tick()
TICK = WORLD.record


def said(on: bool, told: bool, turned: bool | None, reason: Reason = WELL) -> list[str]:
    """What is said of one tick in which the signal is commanded, recorded and driven like this."""
    changes = (OutputChange(ALL_WELL, on, reason),) if told else ()
    turns = () if turned is None else (Turn(ALL_WELL, turned, 1.0),)
    signals = Signals({ALL_WELL: Command(on, reason)}, changes, {})
    return SignalWatch().observe(TICK._replace(signals=signals, pins=Pins({ALL_WELL: on}, turns)))


@pytest.mark.parametrize(
    ("on", "told", "turned", "broken"),
    [
        (True, True, True, []),
        (True, True, None, []),
        (False, False, None, []),
        (False, False, False, []),
        (True, False, None, ["P13: signal:all-well changed without a recorded reason"]),
        (False, False, True, ["P13: signal:all-well went on although no change was recorded"]),
    ],
)
def test_p13_a_signal_turns_as_recorded(on: bool, told: bool, turned: bool | None, broken: list[str]) -> None:
    """Going off by itself is no break: it calls, and the next tick records it."""
    assert said(on, told, turned) == broken


def test_p13_a_reason_has_numbers() -> None:
    """A sentence alone does not show what was decided on."""
    assert said(True, True, True, EMPTY) == ["P13: signal:all-well changed for a reason without numbers"]


def test_a_house_without_signals_is_silent() -> None:
    """Nothing to follow."""
    assert SignalWatch().observe(TICK._replace(signals=NO_SIGNALS)) == []
