"""The watch that outlives restarts: what it still holds against a controller that cannot know."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

from controller.decision.command import PUMP
from controller.decision.promises import _Motor, _Water
from tests.campaign.watch import LastingWatch

if TYPE_CHECKING:
    import pytest

    from controller.decision.tick import TickRecord


def test_a_restart_owes_the_rests_of_the_full_runs_it_can_read_of(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of three full runs the card has one: that one still counts, also after the boot, and no other."""
    lasting = LastingWatch()
    monkeypatch.setattr(lasting.watch, "observe", lambda _tick: [])
    lasting.watch._motors[PUMP, "main"] = _Motor()
    water = lasting.watch._water["main"] = _Water()
    for at_s in (100.0, 200.0, 300.0):  # the pump has started once more when the power fails
        water.full_runs += 1
        lasting.observe(cast("TickRecord", SimpleNamespace(now_mono_s=at_s)))
    lasting.history_unknown(150.0)
    assert water.full_runs == 1
    lasting.booted(-1000.0)
    lasting.history_unknown(-900.0)
    assert water.full_runs == 1
    lasting.history_unknown(-900.5)
    assert water.full_runs == 0
