"""What an alarm says, since when it stands, and when it calls anew."""

from __future__ import annotations

import pytest

from controller.diagnosis.alarms import Alarm, AlarmEvent, update_alarms
from controller.faults import FAULTS, FaultCode, Finding, Priority

ROW = FAULTS[FaultCode.FROST]
BEGUN_S = 100.0


class Frost:
    """The frost alarm by itself."""

    def __init__(self) -> None:
        self.now_s = BEGUN_S
        self.alarms = update_alarms({}, [], 0.0)

    def see(self, detail: str | None, level: int = 0, after_s: float = 0.0) -> tuple[Alarm, ...]:
        """Let time pass and look once; returns what a person is shown."""
        self.now_s += after_s
        found = [] if detail is None else [Finding(FaultCode.FROST, "", detail, level)]
        self.alarms = update_alarms(self.alarms.states, found, self.now_s)
        return self.alarms.active

    def events(self) -> tuple[AlarmEvent, ...]:
        """What has changed with the last look."""
        return self.alarms.events

    def alarm(self, detail: str, since_s: float) -> Alarm:
        """The alarm with these words, shown since then."""
        return Alarm(FaultCode.FROST, "", detail, Priority.ACT_NOW, since_s)


def raised() -> Frost:
    """Frost that has just been raised, after its delay."""
    frost = Frost()
    assert frost.see("air 1.0 °C") == ()
    assert frost.see("air 0.9 °C", after_s=ROW.on_delay_s) != ()
    return frost


def test_without_findings_and_alarms_there_is_nothing() -> None:
    """No states, nothing shown, no events."""
    nothing = update_alarms({}, [], 5.0)
    assert (nothing.states, nothing.active, nothing.events) == ({}, (), ())


def test_an_alarm_says_what_was_found_last_and_since_when_it_stands() -> None:
    """Its words follow the finding, its time is that of the call; the call is one event."""
    frost = raised()
    called_s = frost.now_s
    alarm = frost.alarm("air 0.9 °C", called_s)
    assert frost.alarms.active == (alarm,)
    assert frost.events() == (AlarmEvent(alarm, raised=True),)
    assert frost.see("air 0.8 °C", after_s=60.0) == (frost.alarm("air 0.8 °C", called_s),)
    assert frost.events() == ()


def test_a_fault_without_a_delay_is_told_in_the_words_it_was_found_in() -> None:
    """The very first finding is what a person reads."""
    alarms = update_alarms({}, [Finding(FaultCode.FIRE, "", "bench reads 70.0 °C")], 7.0)
    assert alarms.active == (Alarm(FaultCode.FIRE, "", "bench reads 70.0 °C", Priority.ACT_NOW, 7.0),)


def test_a_standing_alarm_says_that_its_cause_is_gone_for_now() -> None:
    """What comes to its words is said once, and taken back when the cause is there again."""
    frost = raised()
    called_s = frost.now_s
    assert ROW.meanwhile
    words = f"air 0.9 °C; {ROW.meanwhile}"
    for _ in range(2):
        assert frost.see(None, after_s=60.0) == (frost.alarm(words, called_s),)
    assert frost.see("air 0.9 °C", after_s=60.0) == (frost.alarm("air 0.9 °C", called_s),)
    assert frost.see(None, after_s=60.0) == (frost.alarm(words, called_s),)
    assert frost.see(None, after_s=ROW.off_delay_s - 1.0) == (frost.alarm(words, called_s),)
    assert frost.see(None, after_s=1.0) == ()
    assert frost.events() == (AlarmEvent(frost.alarm(words, called_s), raised=False),)


def test_a_fault_without_such_words_keeps_its_own() -> None:
    """Most alarms only wait for their off delay."""
    code = FaultCode.STORAGE
    assert not FAULTS[code].meanwhile
    states = update_alarms({}, [Finding(code, "", "card is read-only")], 0.0).states
    states = update_alarms(states, [Finding(code, "", "card is read-only")], FAULTS[code].on_delay_s).states
    (alarm,) = update_alarms(states, [], FAULTS[code].on_delay_s + 1.0).active
    assert alarm.detail == "card is read-only"


@pytest.mark.parametrize("level_at_first", [0, 2])
def test_an_alarm_that_has_become_worse_calls_again(level_at_first: int) -> None:
    """A higher level is a new call with a new time; the same or a lower one is not."""
    frost = Frost()
    frost.see("air", level_at_first)
    frost.see("air", level_at_first, after_s=ROW.on_delay_s)
    called_s = frost.now_s
    frost.see("air", level_at_first, after_s=60.0)
    frost.see("air", 0, after_s=60.0)
    assert frost.alarms.active == (frost.alarm("air", called_s),)
    assert frost.events() == ()
    for worse in (1, 2):
        frost.see("air", level_at_first + worse, after_s=60.0)
        again = frost.alarm("air", frost.now_s)
        assert frost.alarms.active == (again,)
        assert frost.events() == (AlarmEvent(again, raised=True),)
        frost.see("air", level_at_first + worse, after_s=60.0)
        assert frost.events() == ()


def test_an_alarm_that_becomes_worse_behind_its_parent_calls_nobody() -> None:
    """A person is told of the cause; what it hides is neither raised nor cleared while it stands."""
    parent = FaultCode.FROST_IN_FLOOD
    assert parent in ROW.hidden_by
    delay_s = max(FAULTS[parent].on_delay_s, ROW.on_delay_s)
    states = update_alarms({}, [], 0.0).states
    for level, now_s in ((0, 0.0), (0, delay_s), (1, delay_s + 60.0), (2, delay_s + 120.0)):
        findings = [Finding(parent, "", "air"), Finding(FaultCode.FROST, "", "air", level)]
        alarms = update_alarms(states, findings, now_s)
        states = alarms.states
        raised = [(event.alarm.code, event.raised) for event in alarms.events]
        assert raised == ([(parent, True)] if now_s == delay_s else [])
