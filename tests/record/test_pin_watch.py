"""What the watch over the outputs says of pins that do not do as decided, and of pins nobody decided on."""

from __future__ import annotations

import pytest

from controller.decision.command import OutputChange
from controller.decision.driven import Pins, Turn
from controller.decision.reasons import Reason, ReasonCode
from controller.equipment import OutputId
from controller.record.pin_watch import PinWatch
from controller.record.promises import SAFETY_TRIPS
from tests.decision.world import HOUR_S, World

NORTH = OutputId.fan("north")
WANTED = Reason(ReasonCode.DEMANDED, {"ceiling_c": 30.0, "soil_c": 12.0})
OVER = Reason(ReasonCode.NOTHING_WANTED, {"air_c": 20.0, "ceiling_c": 20.0, "soil_c": 12.0})


class Pin:
    """The north fan's pin, with what is recorded and what it does set by hand."""

    def __init__(self) -> None:
        world = World(settle=False)
        world.tick()
        assert world.record is not None
        self.record, self.watch, self.now_s = world.record, PinWatch(SAFETY_TRIPS), 10_000.0

    def tick(
        self, recorded: bool | None = None, does: bool | None = None, after_s: float = HOUR_S
    ) -> list[str]:
        """Let time pass; ``recorded``: a change of the command, ``does``: how the pin turns."""
        self.now_s += after_s
        changes = () if recorded is None else (OutputChange(NORTH, recorded, WANTED if recorded else OVER),)
        turns = () if does is None else (Turn(NORTH, does, self.now_s),)
        decision = self.record.decision._replace(changes=changes)
        pins = Pins({NORTH: None}, turns)
        return self.watch.observe(self.record._replace(now_mono_s=self.now_s, decision=decision, pins=pins))


def test_a_pin_that_does_as_recorded_breaks_nothing() -> None:
    """At once, or an hour late because its driver would not answer."""
    pin = Pin()
    assert pin.tick(recorded=True, does=True) == []
    assert pin.tick(recorded=False, does=False) == []
    assert pin.tick(recorded=True) == pin.tick(does=True) == []
    assert pin.tick(recorded=False) == pin.tick(does=False) == pin.tick() == []


@pytest.mark.parametrize("recorded", [None, False])
def test_a_start_that_nobody_recorded_is_reported(recorded: bool | None) -> None:
    """A record of the opposite is no record of it."""
    assert Pin().tick(recorded=recorded, does=True) == [
        "P13: fan:north went on although no start was recorded"
    ]


def test_a_stop_may_be_recorded_with_the_next_tick_and_no_later() -> None:
    """The tick that finds a motor off says why it is; one that says nothing is reported once."""
    for says in ([], ["P13: fan:north went off and no reason was recorded"]):
        pin = Pin()
        pin.tick(recorded=True, does=True)
        assert pin.tick(does=False) == []
        assert pin.tick(recorded=None if says else False) == says
        assert pin.tick() == []


def test_a_run_that_is_cut_is_short_however_late_the_pin_obeys() -> None:
    """The shortest run counts from turn to turn."""
    pin = Pin()
    pin.tick(recorded=True, does=True)
    (words,) = pin.tick(recorded=False, does=False, after_s=60.0)
    assert words.startswith("P4: fan:north was on for 60.0 s")
