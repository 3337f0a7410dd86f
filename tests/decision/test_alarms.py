"""When an alarm is raised, hidden and cleared, and what the fault table promises a person."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.decision.alarms import update_alarms
from controller.faults import FAULTS, FaultCode, Finding, Priority
from controller.readings.reading import Level, Why
from tests.decision.world import HOUR_S, MINUTE_S, World, two_sumps

DAY_S = 24 * HOUR_S


class Board:
    """Alarms over time for findings that a test makes up."""

    def __init__(self) -> None:
        self.now_s = 0.0
        self.states = update_alarms({}, (), 0.0).states
        self.events: list[tuple[str, bool]] = []
        self.shown: list[str] = []

    def see(self, *findings: Finding | FaultCode, after_s: float = 0.0) -> list[str]:
        """Let time pass, take these findings as present now, and give the alarms that are shown."""
        self.now_s += after_s
        found = [Finding(one) if isinstance(one, FaultCode) else one for one in findings]
        alarms = update_alarms(self.states, found, self.now_s)
        self.states = alarms.states
        self.events += [(event.alarm.code.value, event.raised) for event in alarms.events]
        self.shown = [alarm.code.value for alarm in alarms.active]
        return self.shown


@pytest.mark.parametrize("code", list(FaultCode))
def test_every_fault_has_its_row_with_words_for_a_person(code: FaultCode) -> None:
    """Cause, consequence and action are sentences, delays are possible, and no fault hides itself."""
    row = FAULTS[code]
    for words in (row.cause, row.consequence, row.action):
        assert len(words) > 20
        assert words[0].isupper()
        assert words[-1] in ".`" or words.endswith("fire")
    assert row.time_to_act_s >= 0.0
    assert row.on_delay_s >= 0.0
    assert row.off_delay_s >= 0.0
    assert code not in row.hidden_by


def test_a_person_is_told_in_time_to_act() -> None:
    """No alarm is delayed for longer than half the time that is left to act on it."""
    late = [code for code, row in FAULTS.items() if row.on_delay_s > row.time_to_act_s / 2.0]
    assert late == []


def test_few_alarms_wake_a_person() -> None:
    """At most five faults of the house call at once, and a broken promise is the only other one."""
    at_once = {code for code, row in FAULTS.items() if row.priority is Priority.ACT_NOW}
    assert len(at_once - {FaultCode.PROMISE}) <= 5
    assert FaultCode.FIRE in at_once


def test_priority_and_time_to_act_agree() -> None:
    """What must be done now has hours, what must be done today a day, what can wait a week."""
    for row in FAULTS.values():
        longest_s = {Priority.ACT_NOW: 4 * HOUR_S, Priority.TODAY: DAY_S, Priority.THIS_WEEK: 7 * DAY_S}
        assert row.time_to_act_s <= longest_s[row.priority]


@pytest.mark.parametrize(("level", "priority"), [(0, Priority.TODAY), (1, Priority.ACT_NOW)])
def test_a_fault_can_be_urgent_from_a_level_on(level: int, priority: Priority) -> None:
    """Refused settings can wait until the evening, but not once a start has had to do with the kept copy."""
    finding = Finding(FaultCode.SETTINGS_REJECTED, "", "house.toml:7", level)
    (alarm,) = update_alarms({}, [finding], 0.0).active
    assert alarm.priority is priority
    row = FAULTS[FaultCode.SETTINGS_REJECTED]
    assert row.time_to_act_at_s(priority) == (HOUR_S if level else DAY_S)


def test_parents_are_never_less_urgent_than_what_they_hide() -> None:
    """Hiding a child must not hide how soon somebody has to act."""
    for row in FAULTS.values():
        assert all(FAULTS[parent].priority <= row.priority for parent in row.hidden_by)


def test_hiding_has_no_circle() -> None:
    """No two faults hide each other, directly or by way of others."""

    def above(code: FaultCode, seen: tuple[FaultCode, ...]) -> None:
        assert code not in seen
        for parent in FAULTS[code].hidden_by:
            above(parent, (*seen, code))

    for code in FAULTS:
        above(code, ())


@pytest.mark.parametrize("code", list(FaultCode))
def test_an_alarm_waits_for_its_on_delay(code: FaultCode) -> None:
    """It is raised when the fault has been present for the delay, and not a second before."""
    board = Board()
    delay_s = FAULTS[code].on_delay_s
    board.see(code)
    if delay_s > 0.0:
        assert board.see(code, after_s=delay_s - 1.0) == []
        board.see(code, after_s=1.0)
    assert board.shown == [code.value]
    assert board.events == [(code.value, True)]


@pytest.mark.parametrize("code", list(FaultCode))
def test_an_alarm_waits_for_its_off_delay(code: FaultCode) -> None:
    """It clears when the fault has been gone for the delay, and not a second before."""
    board = Board()
    board.see(code)
    board.see(code, after_s=FAULTS[code].on_delay_s)
    delay_s = FAULTS[code].off_delay_s
    board.see(after_s=10.0)
    if delay_s > 0.0:
        assert board.see(after_s=delay_s - 1.0) == [code.value]
        board.see(after_s=1.0)
    assert board.shown == []
    assert board.events == [(code.value, True), (code.value, False)]


def test_a_fault_that_comes_and_goes_within_its_delay_is_never_raised() -> None:
    """Nine minutes of a fault with a delay of ten are nobody's business, however often."""
    board = Board()
    for _ in range(20):
        board.see(FaultCode.LINK, after_s=MINUTE_S)
        board.see(FaultCode.LINK, after_s=9 * MINUTE_S)
        board.see(after_s=MINUTE_S)
    assert board.events == []


def test_a_fault_that_flickers_is_one_alarm() -> None:
    """Once raised, short absences neither clear it nor raise it again."""
    board = Board()
    board.see(FaultCode.STORAGE)
    board.see(FaultCode.STORAGE, after_s=10 * MINUTE_S)
    for _ in range(20):
        board.see(after_s=9 * MINUTE_S)
        board.see(FaultCode.STORAGE, after_s=MINUTE_S)
    assert board.events == [("storage", True)]


def test_a_parent_hides_its_children_and_they_appear_when_it_clears() -> None:
    """A dead bus explains its silent probes; a probe that stays silent is shown afterwards."""
    board = Board()
    board.see(FaultCode.BUS, Finding(FaultCode.PROBE, "bench"))
    assert board.see(FaultCode.BUS, Finding(FaultCode.PROBE, "bench"), after_s=HOUR_S) == ["bus"]
    board.see(Finding(FaultCode.PROBE, "bench"), after_s=MINUTE_S)
    assert board.see(Finding(FaultCode.PROBE, "bench"), after_s=10 * MINUTE_S) == ["probe"]
    assert board.events[0] == ("bus", True)
    assert sorted(board.events[1:]) == [("bus", False), ("probe", True)]


def test_a_child_that_was_there_first_goes_when_its_parent_comes() -> None:
    """The probe alarm is taken back when it turns out that the whole bus is gone."""
    board = Board()
    board.see(Finding(FaultCode.PROBE, "bench"))
    assert board.see(Finding(FaultCode.PROBE, "bench"), after_s=HOUR_S) == ["probe"]
    board.see(FaultCode.BUS, Finding(FaultCode.PROBE, "bench"))
    assert board.see(FaultCode.BUS, Finding(FaultCode.PROBE, "bench"), after_s=10 * MINUTE_S) == ["bus"]
    assert board.events[-2:] in ([("probe", False), ("bus", True)], [("bus", True), ("probe", False)])


def test_the_alarm_of_one_sump_does_not_hide_those_of_another() -> None:
    """A float that cannot be read explains its own pump, not the pump of the other sump."""
    board = Board()
    findings = (Finding(FaultCode.FLOAT, "low"), Finding(FaultCode.PUMP_CYCLING, "main"))
    board.see(*findings)
    assert sorted(board.see(*findings, after_s=HOUR_S)) == ["float", "pump-cycling"]


def test_the_alarm_of_one_sump_hides_its_own_children() -> None:
    """Of one sump only the cause is shown."""
    board = Board()
    findings = (Finding(FaultCode.SUMP_NOT_EMPTYING, "main"), Finding(FaultCode.PUMP_CYCLING, "main"))
    board.see(*findings)
    assert board.see(*findings, after_s=HOUR_S) == ["sump-not-emptying"]


def test_alarms_are_ordered_by_urgency_then_age() -> None:
    """What must be done first stands first, and of equals the older."""
    board = Board()
    board.see(FaultCode.PUMP_SLOW)
    board.see(FaultCode.PUMP_SLOW, FaultCode.RESTARTS, after_s=10.0)
    board.see(FaultCode.PUMP_SLOW, FaultCode.RESTARTS, FaultCode.FIRE, after_s=10.0)
    shown = board.see(
        FaultCode.PUMP_SLOW, FaultCode.RESTARTS, FaultCode.FIRE, FaultCode.SETTINGS_REJECTED, after_s=10.0
    )
    assert shown == ["fire", "restarts", "settings-rejected", "pump-slow"]


FAULT_LISTS = st.lists(
    st.builds(Finding, st.sampled_from(list(FaultCode)), st.sampled_from(["", "main", "low"])),
    max_size=6,
    unique_by=lambda finding: (finding.code, finding.subject),
)


@given(st.lists(st.tuples(FAULT_LISTS, st.floats(0.05, 2 * DAY_S)), max_size=12))
def test_no_alarm_without_a_finding_and_events_tell_the_whole_story(
    history: list[tuple[list[Finding], float]],
) -> None:
    """Every shown alarm was found within its off delay, and events alone rebuild what is shown."""
    board = Board()
    last_seen_s: dict[tuple[FaultCode, str], float] = {}
    rebuilt: set[tuple[FaultCode, str]] = set()
    states = board.states
    now_s = 0.0
    for findings, after_s in history:
        now_s += after_s
        last_seen_s |= {(one.code, one.subject): now_s for one in findings}
        alarms = update_alarms(states, findings, now_s)
        states = alarms.states
        for event in alarms.events:
            key = (event.alarm.code, event.alarm.subject)
            assert (key in rebuilt) is not event.raised
            rebuilt ^= {key}
        shown = {(alarm.code, alarm.subject) for alarm in alarms.active}
        assert shown == rebuilt
        assert shown <= set(last_seen_s)
        assert [alarm.priority for alarm in alarms.active] == sorted(a.priority for a in alarms.active)


def test_a_healthy_week_raises_nothing() -> None:
    """Sunny days, cold nights and a little rain bring no alarm in a week."""
    world = World()
    world.remember_need(4.0)
    for _ in range(7):
        world.sunny()
        world.run(6 * HOUR_S, 60.0)
        world.ceiling_c = world.bench_c = 15.0
        world.level["main"] = Level.WET
        world.run(30.0)
        world.level["main"] = Level.DRY
        world.run(6 * HOUR_S, 60.0)
        world.ceiling_c = world.bench_c = 4.0
        world.run(12 * HOUR_S, 60.0)
    assert world.events == []
    assert world.broken == []


def test_missing_temperatures_are_told_with_their_cause() -> None:
    """A lost ceiling and a lost soil each get an alarm that says what their probe does."""
    world = World()
    world.ceiling_c, world.soil_c["south"] = Why.OUTVOTED, Why.STUCK
    world.run(11 * MINUTE_S)
    assert world.decision is not None
    assert {(a.code.value, a.subject, a.detail) for a in world.decision.alarms} == {
        ("ceiling-unknown", "", "ceiling disagrees with the other probes of its place"),
        ("soil-unknown", "south", "soil probe has not moved while the others did"),
    }


def test_findings_of_others_become_alarms_too() -> None:
    """What storage, link and settings report reaches a person the same way."""
    world = World()
    world.findings = (Finding(FaultCode.STORAGE, "", "card is read-only"),)
    world.run(6 * MINUTE_S)
    assert world.decision is not None
    (alarm,) = world.decision.alarms
    assert (alarm.code, alarm.detail) == (FaultCode.STORAGE, "card is read-only")


def test_a_hot_bench_calls_for_vents_after_half_an_hour() -> None:
    """Heat that fans cannot take away is told, and hidden while a fire explains it."""
    world = World()
    for step in range(120):
        world.ceiling_c, world.bench_c = 15.0 + step / 4.0, 14.0 + step / 4.7
        world.tick(30.0)
    world.ceiling_c, world.bench_c = 45.0, 41.0
    world.run(29 * MINUTE_S)
    assert world.alarms() == set()
    world.run(2 * MINUTE_S)
    assert world.alarms() == {"too-hot"}
    world.probe_c["ceiling-west"] = 70.0
    world.tick()
    assert world.alarms() == {"fire"}


def night(world: World, coldest_c: float) -> None:
    """A night with an hour of this air before dawn, and a sunny day after it."""
    world.ceiling_c = world.bench_c = 6.0
    world.run(9 * HOUR_S, MINUTE_S)
    world.ceiling_c = world.bench_c = coldest_c
    world.run(HOUR_S, MINUTE_S)
    world.ceiling_c, world.bench_c = 22.0, 20.0
    world.run(14 * HOUR_S, MINUTE_S)


def frosts(world: World) -> list[bool]:
    """When frost was raised (true) and cleared (false)."""
    return [raised for code, _, raised in world.events if code == "frost"]


def test_a_cold_spell_is_one_alarm_until_a_night_is_left_out() -> None:
    """Frost night after night stands; after a night without it the alarm clears, and a new frost is new."""
    world = World()
    for _ in range(4):
        night(world, 1.0)
    assert frosts(world) == [True]
    assert world.decision is not None
    (alarm,) = world.decision.alarms
    assert alarm.detail == "air 1.0 °C; warmer now; stands until a night without frost"
    night(world, 3.5)
    night(world, 3.5)
    assert frosts(world) == [True, False]
    night(world, 1.0)
    assert frosts(world) == [True, False, True]


def test_a_standing_frost_alarm_calls_again_when_it_gets_markedly_colder() -> None:
    """At every three kelvin below the limit it is raised anew; a milder night of the spell is not news."""
    world = World()
    for coldest_c in (1.9, 1.0, -0.9, 1.0, -1.1, 1.5, -3.9, -4.5):
        night(world, coldest_c)
    assert frosts(world) == [True, True, True]
    assert world.decision is not None
    assert [alarm.code.value for alarm in world.decision.alarms] == ["frost"]


def test_frost_in_a_restarted_controller_is_told_again() -> None:
    """Alarms are not kept over a restart, so the next frosty night of the spell calls anew."""
    world = World()
    night(world, 1.0)
    world.restart()
    night(world, 1.0)
    assert frosts(world) == [True, True]


def test_two_sumps_raise_two_alarms() -> None:
    """The same fault at two sumps is two alarms, each with its sump."""
    world = World(two_sumps())
    world.level = {"main": Level.WET, "low": Level.WET}
    world.run(HOUR_S)
    assert world.decision is not None
    assert {(a.code.value, a.subject) for a in world.decision.alarms} == {
        ("sump-not-emptying", "main"),
        ("sump-not-emptying", "low"),
    }
