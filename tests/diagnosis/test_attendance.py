"""What people at the machine say of alarms: who is called then, when it ends, what can never be muted."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from controller.diagnosis.alarms import unanswered, update_alarms
from controller.diagnosis.attendance import EMPTY_FOR_S, NOTHING_SAID, Note, Now, attended
from controller.faults import ABOUT_THE_CROP, FAULTS, MAY_BE_SEEN, FaultCode, Finding, Priority
from controller.readings.said import Act, Said
from tests.decision.world import HOUR_S, MINUTE_S

EVENING = datetime(2026, 3, 7, 20, 0, tzinfo=UTC)
DAWN = EVENING + timedelta(hours=10)
SEEN = Said(Act.SEEN, "frost")
SEEN_UNTIL_DAWN = Said(Act.SEEN, "frost", DAWN)
EMPTY, PLANTED = Said(Act.EMPTY), Said(Act.PLANTED)
DAY_S = 24 * HOUR_S


class House:
    """Alarms and what people say of them, over time."""

    def __init__(self, *, clock_set: bool = True) -> None:
        self.now_s = 1000.0
        self.clock_set = clock_set
        self.states = update_alarms({}, (), self.now_s).states
        self.attendance = NOTHING_SAID
        self.calls: list[str] = []
        self.notes: tuple[Note, ...] = ()
        self.active = ()

    @property
    def wall(self) -> datetime | None:
        """The time of day, if it is known."""
        return EVENING + timedelta(seconds=self.now_s - 1000.0) if self.clock_set else None

    def tick(self, *found: Finding, said: tuple[Said, ...] = (), after_s: float = 0.0) -> None:
        """Let time pass, then one tick with these findings."""
        self.now_s += after_s
        alarms = update_alarms(self.states, found, self.now_s)
        told = attended(self.attendance, said, alarms, Now.of(self.now_s, self.wall))
        self.states, self.attendance, self.notes = told.alarms.states, told.attendance, told.notes
        self.active = told.alarms.active
        self.calls += [e.alarm.code.value for e in told.alarms.events if e.raised and not e.alarm.quiet]

    def frost(self, level: int = 0, said: tuple[Said, ...] = (), after_s: float = 0.0) -> None:
        """One tick with frost this bad."""
        self.tick(Finding(FaultCode.FROST, "", "air 1.0 °C", level), said=said, after_s=after_s)


@pytest.fixture
def frosty() -> House:
    """A house in which frost has just called."""
    house = House()
    house.frost()
    house.frost(after_s=FAULTS[FaultCode.FROST].on_delay_s)
    assert house.calls == ["frost"]
    assert [alarm.code for alarm in unanswered(house.active)] == [FaultCode.FROST]
    return house


def test_an_alarm_that_was_seen_is_shown_and_calls_nobody(frosty: House) -> None:
    """It stands with the time at which somebody saw it, and is no longer among those nobody has answered."""
    frosty.frost(said=(SEEN,), after_s=MINUTE_S)
    (note,) = frosty.notes
    assert (note.answers, note.words) == (SEEN, "frost: seen by somebody")
    (alarm,) = frosty.active
    assert (alarm.seen, alarm.quiet) == (True, True)
    assert alarm.seen_utc_s == frosty.wall.timestamp()
    assert unanswered(frosty.active) == ()
    frosty.frost(after_s=8 * HOUR_S)
    assert frosty.calls == ["frost"]


def test_a_worse_one_calls_again(frosty: House) -> None:
    """Three kelvin colder is more than was seen, whatever was said of the morning."""
    frosty.frost(said=(SEEN_UNTIL_DAWN,))
    frosty.frost(level=1, after_s=HOUR_S)
    assert frosty.calls == ["frost", "frost"]
    assert [note.words for note in frosty.notes] == ["frost: calls again, it has become worse"]
    assert len(unanswered(frosty.active)) == 1


def test_it_calls_again_at_dawn_once(frosty: House) -> None:
    """Somebody who slept on it is woken at the hour that was said, and not every tick from then on."""
    frosty.frost(said=(SEEN_UNTIL_DAWN,))
    assert frosty.notes[0].ends.utc_s == DAWN.timestamp()
    to_dawn_s = (DAWN - frosty.wall).total_seconds()
    frosty.frost(after_s=to_dawn_s - 1.0)
    assert frosty.calls == ["frost"]
    frosty.frost(after_s=1.0)
    frosty.frost(after_s=10.0)
    assert frosty.calls == ["frost", "frost"]


@pytest.mark.parametrize("jump", [timedelta(days=3), timedelta(days=-3)])
def test_a_jump_of_the_clock_never_makes_the_night_longer(frosty: House, jump: timedelta) -> None:
    """Forwards it ends at once, backwards after as many hours as were left."""
    frosty.frost(said=(SEEN_UNTIL_DAWN,))
    to_dawn_s = (DAWN - frosty.wall).total_seconds()
    alarms = update_alarms(frosty.states, (Finding(FaultCode.FROST),), frosty.now_s)
    jumped = Now.of(frosty.now_s, frosty.wall + jump)
    assert bool(attended(frosty.attendance, (), alarms, jumped).attendance.seen) is (jump < timedelta(0))
    later = Now.of(frosty.now_s + to_dawn_s, frosty.wall + jump)
    assert not attended(frosty.attendance, (), alarms, later).attendance.seen


def test_the_mark_ends_with_the_alarm(frosty: House) -> None:
    """Frost that is over and comes back another week is another frost; one that was to dawn is not."""
    frosty.frost(said=(SEEN,))
    frosty.tick(after_s=HOUR_S)
    frosty.tick(after_s=FAULTS[FaultCode.FROST].off_delay_s)
    assert (frosty.active, frosty.attendance) == ((), NOTHING_SAID)
    frosty.frost()
    frosty.frost(after_s=FAULTS[FaultCode.FROST].on_delay_s)
    assert frosty.calls == ["frost", "frost"]


def test_one_that_was_not_standing_when_it_was_said_calls() -> None:
    """Seen is what stands now: nothing stands, nothing is noted; another loop calls by itself."""
    house, loop = House(), Finding(FaultCode.FAN_NO_EFFECT, "north")
    house.tick(said=(Said(Act.SEEN, "fan-no-effect"),))
    assert (house.notes, house.attendance) == ((), NOTHING_SAID)
    house.tick(loop)
    house.tick(loop, said=(Said(Act.SEEN, "fan-no-effect"),))
    house.tick(loop, Finding(FaultCode.FAN_NO_EFFECT, "south"))
    assert house.calls == ["fan-no-effect", "fan-no-effect"]
    assert [(alarm.subject, alarm.seen) for alarm in house.active] == [("north", True), ("south", False)]


@pytest.mark.parametrize("code", list(FaultCode))
def test_no_danger_is_ever_muted(code: FaultCode) -> None:
    """Whatever is said of fire, water and motors, they call; a crop's alarms are quiet in an empty house."""
    house, row = House(), FAULTS[code]
    finding = Finding(code, "x", "words", level=0)
    house.tick(finding, said=(EMPTY,))
    house.tick(finding, after_s=row.on_delay_s)
    house.tick(finding, said=(Said(Act.SEEN, code.value),), after_s=1.0)
    (alarm,) = house.active
    assert alarm.seen is (code in MAY_BE_SEEN)
    assert alarm.muted is (code in ABOUT_THE_CROP)
    assert bool(house.calls) is (code not in ABOUT_THE_CROP)
    if row.priority is Priority.ACT_NOW:
        assert bool(unanswered(house.active)) is (code not in MAY_BE_SEEN)


def test_what_can_hurt_a_person_cannot_be_muted() -> None:
    """Fire, a sump that does not empty, an unread float, an output that does not obey, a broken promise."""
    hurts = {"fire", "sump-not-emptying", "float", "tubes-shut", "fan-unasked", "output", "promise"}
    assert not hurts & {code.value for code in MAY_BE_SEEN}
    assert ABOUT_THE_CROP < MAY_BE_SEEN


def test_an_empty_house_is_planted_again_by_itself() -> None:
    """After a fortnight, or when somebody says so, the crop's alarms that stand call again."""
    for said, after_s in (((), EMPTY_FOR_S), ((PLANTED,), HOUR_S)):
        house = House()
        house.tick(said=(EMPTY,))
        house.frost()
        house.frost(after_s=HOUR_S)
        assert (house.calls, house.active[0].muted) == ([], True)
        house.frost(said=said, after_s=after_s)
        assert (house.calls, house.active[0].muted) == (["frost"], False)
        assert [note.act for note in house.notes] == [Act.PLANTED]
        assert house.attendance == NOTHING_SAID


def test_without_a_time_of_day_what_needs_none_still_works() -> None:
    """The length of an empty house is counted; a check by hand needs its date and is not noted."""
    house = House(clock_set=False)
    house.tick(said=(EMPTY, Said(Act.DONE, "floats")))
    assert [note.act for note in house.notes] == [Act.EMPTY]
    assert house.notes[0].ends.utc_s is None
    house.tick(after_s=EMPTY_FOR_S - 1.0)
    assert house.attendance.empty_until is not None
    house.tick(after_s=1.0)
    assert house.attendance == NOTHING_SAID


def test_a_check_by_hand_keeps_its_day() -> None:
    """The newest day counts."""
    house = House()
    house.tick(said=(Said(Act.DONE, "floats"),))
    house.tick(said=(Said(Act.DONE, "floats"),), after_s=DAY_S)
    assert house.attendance.done == {"floats": house.wall.timestamp()}


def test_nothing_new_is_the_very_same(frosty: House) -> None:
    """A tick in which nothing was said or ended gives the same object, so that no card is worn for it."""
    frosty.frost(said=(SEEN,))
    before = frosty.attendance
    frosty.frost(after_s=10.0)
    assert frosty.attendance is before
