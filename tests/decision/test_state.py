"""What is remembered: the words others read of it, and what it is before anything is known."""

from __future__ import annotations

import re

from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import (
    Demand,
    Doubt,
    FanState,
    Lockout,
    OutputState,
    Proof,
    PumpPhase,
    SumpState,
    state_of_unknown_history,
)
from controller.equipment import Kind, OutputId

NOW_S = 1000.0
WHY = Reason(ReasonCode.STARTED, {"rest_s": 600.0})


def test_what_fans_and_pumps_do_has_fixed_words() -> None:
    """Messages, records and their readers rely on these words; the demands stand by urgency."""
    words = ["frost", "heat", "cool", "bank", "night-purge", "plain", "trial"]
    assert [demand.value for demand in Demand] == words
    assert [proof.value for proof in Proof] == ["idle", "purging", "proven", "weak", "not testable"]
    phases = ["idle", "emptying", "run-on", "resting", "fault duty", "exercise"]
    assert [phase.value for phase in PumpPhase] == phases
    assert [kind.value for kind in Kind] == ["fan", "pump", "signal"]


def test_a_lockout_is_named_in_plain_words() -> None:
    """A person reads them after "locked:", so no two are alike and none is a name out of the program."""
    words = [lockout.value for lockout in Lockout]
    assert len({*words}) == len(words)
    assert all(re.fullmatch(r"[a-z][a-z ,]+", one) and " " in one for one in words)


def test_outputs_are_named_by_their_kind_and_place() -> None:
    """A fan by its loop, a pump by its sump."""
    fan, pump = OutputId.fan("north"), OutputId.pump("main")
    assert (fan, pump) == (("fan", "north"), ("pump", "main"))
    assert (str(fan), str(pump)) == ("fan:north", "pump:main")


def test_of_unknown_history_all_is_off_since_now_and_all_may_be_wet() -> None:
    """Every rest and every drain-down counts from the start; no fire, no demand, no failures."""
    fan, pump = OutputId.fan("north"), OutputId.pump("main")
    state = state_of_unknown_history(WHY, {"north": fan}, {"main": pump}, NOW_S)
    assert state.outputs == dict.fromkeys((fan, pump), OutputState(on=False, since_mono_s=NOW_S))
    assert state.fans == {"north": FanState(None, WHY)}
    sump = SumpState(PumpPhase.IDLE, WHY, NOW_S, unreadable_since_s=NOW_S, doubt=Doubt.STARTED)
    assert state.sumps == {"main": sump}
    assert (state.fire.latched_detail, state.last_start_s) == (None, NOW_S)
