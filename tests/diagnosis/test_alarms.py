"""When an alarm is raised, what it says, what hides it, when it calls again and when it clears."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.diagnosis.alarms import OVER_AFTER_S, update_alarms
from controller.faults import FAULTS, FaultCode, Finding, Priority
from tests.decision.world import HOUR_S, MINUTE_S

if TYPE_CHECKING:
    from controller.diagnosis.alarms import Alarm

DAY_S = 24 * HOUR_S
A_MOMENT_S = 1.0
FROST = FAULTS[FaultCode.FROST]


class Board:
    """Alarms over time for findings that a test makes up."""

    def __init__(self) -> None:
        self.now_s = 100.0
        self.alarms = update_alarms({}, (), self.now_s)
        self.calls: list[tuple[str, bool]] = []

    def see(self, *findings: Finding | FaultCode, after_s: float = 0.0) -> list[str]:
        """Let time pass, take these findings as present now, and give the alarms that a person is shown."""
        self.now_s += after_s
        found = [Finding(one) if isinstance(one, FaultCode) else one for one in findings]
        self.alarms = update_alarms(self.alarms.states, found, self.now_s)
        self.calls += [(event.alarm.code.value, event.raised) for event in self.alarms.events]
        return [alarm.code.value for alarm in self.alarms.active]

    def frost(self, words: str, level: int = 0, after_s: float = 0.0) -> list[str]:
        """See frost, this bad, in these words."""
        return self.see(Finding(FaultCode.FROST, "", words, level), after_s=after_s)

    def alarm(self) -> Alarm:
        """The only alarm that is shown."""
        (alarm,) = self.alarms.active
        return alarm


def frosty(level: int = 0) -> Board:
    """A board on which frost has just been raised, after its delay."""
    board = Board()
    board.frost("air 1.0 °C", level)
    assert board.frost("air 0.9 °C", level, after_s=FROST.on_delay_s) == ["frost"]
    return board


@pytest.mark.parametrize("code", list(FaultCode))
def test_an_alarm_is_raised_and_cleared_at_the_end_of_its_delays(code: FaultCode) -> None:
    """Present for its on-delay it is raised, gone for its off-delay it clears; a moment sooner, neither."""
    board, name, row = Board(), code.value, FAULTS[code]
    shown = board.see(code)
    if row.on_delay_s:
        assert shown == board.see(code, after_s=row.on_delay_s - A_MOMENT_S) == []
        shown = board.see(code, after_s=A_MOMENT_S)
    assert shown == [name]
    shown = board.see(after_s=10.0)
    if row.off_delay_s:
        assert shown == board.see(after_s=row.off_delay_s - A_MOMENT_S) == [name]
        shown = board.see(after_s=A_MOMENT_S)
    assert shown == []
    assert board.calls == [(name, True), (name, False)]


@pytest.mark.parametrize(
    ("code", "present_s", "gone_s", "calls"),
    [
        (FaultCode.LINK, 9 * MINUTE_S, 2 * MINUTE_S, []),
        (FaultCode.STORAGE, 10 * MINUTE_S, 9 * MINUTE_S, [("storage", True)]),
    ],
    ids=["short faults", "short absences"],
)
def test_a_fault_that_flickers_calls_at_most_once(
    code: FaultCode, present_s: float, gone_s: float, calls: list[tuple[str, bool]]
) -> None:
    """A fault shorter than its delay never calls; once it has called, short absences change nothing."""
    board = Board()
    for _ in range(20):
        board.see(code, after_s=gone_s / 2.0)
        board.see(code, after_s=present_s)
        board.see(after_s=gone_s / 2.0)
    assert board.calls == calls


def at(subject: str, *codes: FaultCode) -> list[Finding]:
    """These faults of one probe or sump."""
    return [Finding(code, subject) for code in codes]


@pytest.mark.parametrize(
    ("findings", "shown"),
    [
        ([Finding(FaultCode.BUS), *at("bench", FaultCode.PROBE)], ["bus"]),
        (at("main", FaultCode.SUMP_NOT_EMPTYING, FaultCode.PUMP_CYCLING), ["sump-not-emptying"]),
        (at("low", FaultCode.FLOAT) + at("main", FaultCode.PUMP_CYCLING), ["float", "pump-cycling"]),
    ],
    ids=["bus and its probe", "one sump", "two sumps"],
)
def test_an_alarm_hides_what_it_explains(findings: list[Finding], shown: list[str]) -> None:
    """A dead bus explains every silent probe; a sump's alarm explains its own pump, not another sump's."""
    board = Board()
    board.see(*findings)
    assert sorted(board.see(*findings, after_s=HOUR_S)) == shown


def test_a_hidden_alarm_is_shown_when_what_explains_it_clears() -> None:
    """A probe that was silent first steps back behind its bus, and is shown again if it stays silent."""
    board, silent = Board(), Finding(FaultCode.PROBE, "bench")
    board.see(silent)
    assert board.see(silent, after_s=HOUR_S) == ["probe"]
    board.see(FaultCode.BUS, silent)
    assert board.see(FaultCode.BUS, silent, after_s=HOUR_S) == ["bus"]
    board.see(silent, after_s=MINUTE_S)
    assert board.see(silent, after_s=HOUR_S) == ["probe"]
    assert board.calls[0] == ("probe", True)
    assert sorted(board.calls[1:3]) == [("bus", True), ("probe", False)]
    assert sorted(board.calls[3:]) == [("bus", False), ("probe", True)]


def test_a_hidden_alarm_that_gets_worse_calls_nobody() -> None:
    """Frost in a flooded house has its own alarm; plain frost behind it may get worse without a call."""
    board = Board()
    assert FaultCode.FROST_IN_FLOOD in FROST.hidden_by
    for level, after_s in ((0, 0.0), (0, HOUR_S), (1, MINUTE_S), (2, MINUTE_S)):
        board.see(
            Finding(FaultCode.FROST_IN_FLOOD), Finding(FaultCode.FROST, "", "air", level), after_s=after_s
        )
    assert board.calls == [("frost-in-flood", True)]


def test_alarms_are_ordered_by_urgency_then_age() -> None:
    """What must be done first stands first, and of equals the older."""
    board, seen, shown = Board(), [], []
    for code in (FaultCode.PUMP_SLOW, FaultCode.RESTARTS, FaultCode.FIRE, FaultCode.SETTINGS_REJECTED):
        seen.append(code)
        shown = board.see(*seen, after_s=10.0)
    assert shown == ["fire", "restarts", "settings-rejected", "pump-slow"]


def test_a_board_without_findings_is_empty() -> None:
    """Nothing is remembered, shown or called while nothing is wrong."""
    board = Board()
    assert board.see(after_s=5.0) == []
    assert (board.calls, board.alarms.states) == ([], {})


def test_an_alarm_says_what_was_found_last_and_since_when_it_stands() -> None:
    """Its words follow the finding from the first look on; its time stays that of the call."""
    board = Board()
    board.see(Finding(FaultCode.FIRE, "", "bench reads 70.0 °C"))
    assert board.alarm().detail == "bench reads 70.0 °C"
    board = frosty()
    called_s = board.now_s
    for words in ("air 0.9 °C", "air 0.8 °C"):
        board.frost(words, after_s=MINUTE_S)
        assert (board.alarm().detail, board.alarm().since_mono_s) == (words, called_s)
        assert board.alarm().priority is FROST.priority
    assert board.calls == [("frost", True)]


def test_an_alarm_whose_fault_is_gone_says_so_and_is_no_longer_urgent() -> None:
    """After ten minutes without it the words are about the past; when it is back they are as before."""
    board = frosty()
    called_s = board.now_s
    for _ in range(2):
        board.see(after_s=A_MOMENT_S)
        assert (board.alarm().detail, board.alarm().over) == ("air 0.9 °C", False)
        board.see(after_s=OVER_AFTER_S)
        alarm = board.alarm()
        assert (alarm.detail, alarm.over) == ("gone for now; it was: air 0.9 °C", True)
        assert (alarm.priority, alarm.since_mono_s) == (Priority.TODAY, called_s)
        board.frost("air 0.9 °C", after_s=A_MOMENT_S)
        assert (board.alarm().detail, board.alarm().priority) == ("air 0.9 °C", Priority.ACT_NOW)
    assert board.calls == [("frost", True)]


def test_what_is_over_stands_in_its_own_words_and_calls_anew_when_it_is_back() -> None:
    """Last night's frost is a fact to act on by day, and the next frost is another call."""
    board = frosty()
    was = Finding(FaultCode.FROST, "", "frost last night: low 0.9 °C", over=True)
    for _ in range(3):
        assert board.see(was, after_s=4 * HOUR_S) == ["frost"]
        assert (board.alarm().detail, board.alarm().priority) == (was.detail, Priority.TODAY)
    board.frost("air 1.5 °C", after_s=HOUR_S)
    assert board.frost("air 1.5 °C", after_s=FROST.on_delay_s) == ["frost"]
    assert board.alarm().priority is Priority.ACT_NOW
    assert board.calls == [("frost", True), ("frost", False), ("frost", True)]
    board.see(after_s=FROST.off_delay_s)
    board.see(was, after_s=FROST.off_delay_s)
    assert board.see(after_s=A_MOMENT_S) == []


def test_a_past_fault_raises_nothing_by_itself() -> None:
    """What was never called, or has been forgotten at a restart, is not brought up afterwards."""
    board = Board()
    for _ in range(3):
        assert board.see(Finding(FaultCode.FROST, "", "last night", over=True), after_s=HOUR_S) == []
    assert board.calls == []


@pytest.mark.parametrize(
    ("levels", "calls"),
    [((0, 0), 1), ((2, 1, 2), 1), ((0, 1, 1), 2), ((0, 1, 2), 3), ((2, 3, 4, 4, 2), 3)],
)
def test_an_alarm_calls_again_when_it_gets_worse(levels: tuple[int, ...], calls: int) -> None:
    """Each higher level is a new call with its own time; the same or a lower level is no news."""
    board = frosty(levels[0])
    worst, called_s = levels[0], board.now_s
    for level in levels[1:]:
        board.frost("air", level, after_s=MINUTE_S)
        worst, called_s = (level, board.now_s) if level > worst else (worst, called_s)
        assert board.alarm().since_mono_s == called_s
    assert board.calls == [("frost", True)] * calls


FAULT_LISTS = st.lists(
    st.builds(Finding, st.sampled_from(list(FaultCode)), st.sampled_from(["", "main", "low"])),
    max_size=6,
    unique_by=lambda finding: (finding.code, finding.subject),
)


@given(st.lists(st.tuples(FAULT_LISTS, st.floats(0.05, 2 * DAY_S)), max_size=12))
def test_no_alarm_without_a_finding_and_events_alone_rebuild_what_is_shown(
    history: list[tuple[list[Finding], float]],
) -> None:
    """Whatever is found when: only what was found is shown, most urgent first, and no event is missing."""
    states = update_alarms({}, (), 0.0).states
    found: set[tuple[FaultCode, str]] = set()
    rebuilt: set[tuple[FaultCode, str]] = set()
    now_s = 0.0
    for findings, after_s in history:
        now_s += after_s
        found |= {(one.code, one.subject) for one in findings}
        alarms = update_alarms(states, findings, now_s)
        states = alarms.states
        for event in alarms.events:
            key = (event.alarm.code, event.alarm.subject)
            assert (key in rebuilt) is not event.raised
            rebuilt ^= {key}
        assert {(alarm.code, alarm.subject) for alarm in alarms.active} == rebuilt <= found
        assert [alarm.priority for alarm in alarms.active] == sorted(a.priority for a in alarms.active)
