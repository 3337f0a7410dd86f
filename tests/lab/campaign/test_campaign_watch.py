"""The watch that outlives restarts: what it still holds against a controller that cannot know."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import pytest

from controller.equipment import Kind, OutputId
from controller.record.motor_watch import SeenMotor
from controller.record.water_watch import SeenSump
from controller.settings.load import load
from tests.lab.campaign.houses import CONFIG
from tests.lab.campaign.watch import LastingWatch, TrueWater

if TYPE_CHECKING:
    from controller.outputs.ports import Switch
    from controller.record.tick import TickRecord


def test_a_restart_owes_the_rest_of_a_full_run_it_can_read_of() -> None:
    """The rest after a longest run counts on over a boot, unless nothing of the run could be kept."""
    for known_until_s, ended_s in ((300.0, -700.0), (299.0, None)):
        lasting = LastingWatch()
        lasting.watch.motors.motors[Kind.PUMP, "main"] = SeenMotor(off_since_s=300.0)
        water = lasting.watch.water.sumps["main"] = SeenSump(last_full_run_end_s=300.0)
        lasting.history_unknown(known_until_s)
        lasting.booted(-1000.0)
        assert water.last_full_run_end_s == ended_s


@pytest.mark.parametrize(
    ("deaf", "commanded", "broken"),
    [(False, False, True), (False, True, True), (True, False, False), (True, True, True)],
)
def test_a_fan_over_water_is_seen_whatever_is_commanded(deaf: bool, commanded: bool, broken: bool) -> None:
    """Running a second after the float rose breaks P2; of what cannot be driven the command counts."""
    fan = OutputId.fan("bed")
    running = cast("Switch", SimpleNamespace(is_on=lambda: True))
    water = TrueWater(load(CONFIG / "one-loop.toml"), {fan: running}, lambda _output: deaf)
    commands = {fan: SimpleNamespace(on=commanded)}
    decided = SimpleNamespace(decision=SimpleNamespace(commands=commands), snapshot=SimpleNamespace(sumps={}))
    tick = cast("TickRecord", decided)
    assert water.observe(tick, {"pit": True}, 100.0) is None
    assert water.observe(tick, {"pit": True}, 101.0) is None
    assert (water.observe(tick, {"pit": True}, 101.1) is not None) is broken
    assert water.observe(tick, {"pit": False}, 102.0) is None
    assert water.observe(tick, {"pit": True}, 103.0) is None
