"""The signals that need no network: what they show, when they turn, and that they never flicker."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.decision.driven import Lost
from controller.decision.reasons import ReasonCode
from controller.diagnosis.alarms import Alarm
from controller.diagnosis.signals import HOLD_S, NO_SIGNALS, Known, decided_signals
from controller.equipment import ALL_WELL, TODAY, OutputId
from controller.faults import FaultCode, Priority
from controller.readings.reading import Good, Level, Missing, Why
from controller.units import TemperatureUnit
from tests.decision.world import World

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.decision.command import OutputChange

BOTH = (ALL_WELL, TODAY)
TICK_S = 10.0
NOW, DUE, LATER = (Alarm(FaultCode.FROST, "", "", priority, 0.0) for priority in Priority)
SEEN = World().snapshot()
READ = SEEN._replace(ceiling=Good(20.0, 0.0), sumps={"main": Good(Level.DRY, 0.0)})
UNREAD = READ._replace(sumps={"main": Missing(Why.NEVER_READ, 0.0)})


class Shown:
    """Signals followed from tick to tick."""

    def __init__(self) -> None:
        self.signals, self.now_s = NO_SIGNALS, 1000.0
        self.changes: list[tuple[float, OutputChange]] = []

    def tick(
        self, alarms: Sequence[Alarm] | None = (), lost: Lost | None = None, snapshot: object = READ
    ) -> tuple[bool, bool]:
        """One tick; returns whether all is said to be well, and whether the lamp is on."""
        self.now_s += TICK_S
        known = Known(alarms, snapshot, lost, self.now_s)  # type: ignore[arg-type]
        self.signals = decided_signals(self.signals, BOTH, known)
        self.changes += [(self.now_s, change) for change in self.signals.changes]
        return self.signals.commands[ALL_WELL].on, self.signals.commands[TODAY].on

    def well(self) -> Shown:
        """Ticks without an alarm until all is said to be well."""
        assert any(self.tick()[0] for _ in range(2 * int(HOLD_S / TICK_S)))
        return self


def test_it_is_off_at_the_start_and_comes_on_after_good_ticks_only() -> None:
    """Neither before the hold is over nor before roof and floats have been read."""
    shown = Shown()
    assert [shown.tick()[0] for _ in range(int(HOLD_S / TICK_S))] == [False] * int(HOLD_S / TICK_S)
    assert shown.tick()[0]
    shown = Shown()
    assert not any(shown.tick(snapshot=UNREAD)[0] for _ in range(100))
    assert shown.well().tick(snapshot=UNREAD)[0]  # once seen, a silent float is for the alarms to judge


@pytest.mark.parametrize(
    ("alarms", "well", "lamp"),
    [
        ((), True, False),
        ((LATER,), True, False),
        ((DUE,), True, True),
        ((NOW,), False, True),
        ((NOW, DUE, LATER), False, True),
        (None, False, False),
    ],
)
def test_priority_decides(alarms: Sequence[Alarm] | None, well: bool, lamp: bool) -> None:
    """An alarm to act on now drops the signal in the same tick; one of today lights the lamp."""
    assert Shown().well().tick(alarms) == (well, lamp)


def test_a_call_lasts_for_the_hold_however_short_its_cause() -> None:
    """An alarm of one tick calls for a minute, and the lamp burns as long."""
    shown = Shown().well()
    shown.tick([NOW])
    ticks = [shown.tick() for _ in range(int(HOLD_S / TICK_S) + 1)]
    assert ticks[:-2] == [(False, True)] * (len(ticks) - 2)
    assert ticks[-1] == (True, False)


def test_the_reason_is_the_present_one_and_only_turns_are_recorded() -> None:
    """A signal that stays says why it is so now: from the start on, and when the first alarm changes."""
    shown = Shown()
    shown.tick(snapshot=UNREAD)
    assert shown.signals.commands[ALL_WELL].reason.code is ReasonCode.SIGNAL_BLIND
    shown.well().tick([NOW, DUE])
    turns = len(shown.changes)
    shown.tick([replace(NOW, code=FaultCode.FIRE), NOW])
    reason = shown.signals.commands[ALL_WELL].reason
    assert reason.sentence(TemperatureUnit.CELSIUS).endswith("to act on now: 2, the first: fire")
    assert len(shown.changes) == turns


@pytest.mark.parametrize("lost", [Lost(frozenset(), 35.0, 0.0), Lost(frozenset(BOTH))])
def test_after_a_loss_it_stays_off_for_the_hold_and_says_why(lost: Lost) -> None:
    """A lease that ran out, or a pin that went off, is recorded; the signal comes back after the hold."""
    shown = Shown().well()
    shown.tick([DUE])
    assert shown.tick([DUE], lost) == (False, False)
    assert {change.output for _, change in shown.changes[-2:]} == set(BOTH)
    assert not any(any(shown.tick([DUE])) for _ in range(int(HOLD_S / TICK_S) - 1))
    assert shown.tick([DUE]) == (True, True)


def test_another_output_that_fails_leaves_it_alone() -> None:
    """A fan that went off is for its own alarm."""
    assert Shown().well().tick(lost=Lost(frozenset({OutputId.fan("north")})))[0]


def test_without_a_signal_nothing_is_decided() -> None:
    """A house without [signal] commands none."""
    assert decided_signals(NO_SIGNALS, (), Known((), READ, None, 0.0)) is NO_SIGNALS


causes = st.sampled_from([(), (DUE,), (NOW,), (NOW, DUE), None, "lease"])


@given(st.lists(causes, max_size=60))
def test_it_never_says_well_while_a_person_must_act_and_never_flickers(happens: list[object]) -> None:
    """Whatever comes when: off with every call, off for a minute at least, and each change has its reason."""
    shown = Shown()
    for what in happens:
        lost = Lost(frozenset(), 35.0, 0.0) if what == "lease" else None
        alarms = None if what is None else () if what == "lease" else what
        well, lamp = shown.tick(alarms, lost)  # type: ignore[arg-type]
        assert not (well and (alarms is None or NOW in alarms or lost))  # type: ignore[operator]
        assert not (lamp and lost)
    for output in BOTH:
        own = [(at_s, change) for at_s, change in shown.changes if change.output == output]
        assert [change.on for _, change in own] == [bool((i + 1) % 2) for i in range(len(own))]
        for (before_s, before), (at_s, change) in pairwise(own):
            assert change.on is False or at_s - before_s >= HOLD_S, before
    assert all(c.reason.numbers and c.reason.sentence(TemperatureUnit.CELSIUS) for _, c in shown.changes)
