"""Which messages are due after a tick."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from controller.decision.command import OutputChange
from controller.diagnosis.alarms import AlarmEvent
from controller.diagnosis.attendance import Note
from controller.faults import FaultCode, Priority
from controller.readings.said import Act
from controller.record.tally import MonthSummary
from controller.telemetry.publisher import Publisher
from tests.telemetry import ticks


class Bag:
    """A post that keeps what it gets."""

    def __init__(self):
        self.letters = []
        self.connected_times = 1

    def put(self, letter):
        """Keep it."""
        self.letters.append(letter)

    def connections(self):
        """As told."""
        return self.connected_times

    def empty(self):
        """The letters so far by topic below the site, forgotten afterwards."""
        letters, self.letters = self.letters, []
        return {letter.topic.removeprefix("hypocaust/fellside/"): letter for letter in letters}


@pytest.fixture
def bag():
    """A post that keeps what it gets."""
    return Bag()


@pytest.fixture
def publisher(bag):
    """A publisher that has already sent everything once, at 1000 s."""
    publisher = Publisher(bag, ticks.PROGRAM, lambda: 0)
    publisher.observe(ticks.tick())
    return publisher


@pytest.mark.usefixtures("publisher")
def test_first_tick_tells_everything(bag):
    """Status, outlook, every loop, sump and probe; every inactive alarm is deleted from the broker."""
    told = bag.empty()
    names = {"status", "tonight", "loop/north", "loop/south", "sump/low-corner"}
    names |= {f"temperature/{name}" for name, _, _ in ticks.PROBES}
    assert {name for name in told if not name.startswith("alarm/")} == names
    assert {name for name in told if name.startswith("alarm/")} == {
        f"alarm/{code.value}" for code in FaultCode
    }
    assert all(
        letter.payload == b"" and letter.retain for n, letter in told.items() if n.startswith("alarm/")
    )


@pytest.mark.usefixtures("publisher")
def test_quality_and_retention_follow_what_the_message_is_for(bag):
    """What must arrive is confirmed; what newcomers must see is retained; fast values are neither."""
    told = bag.empty()
    kinds = {name: (told[name].qos, told[name].retain) for name in ("status", "alarm/fire", "loop/north")}
    assert kinds == {"status": (1, True), "alarm/fire": (1, True), "loop/north": (0, False)}
    assert told["temperature/ridge"].qos == 0
    assert told["status"].expires_s == 180.0
    assert told["alarm/fire"].expires_s is None


def test_quiet_tick_tells_nothing(publisher, bag):
    """Between two periods nothing changes and nothing is sent."""
    bag.empty()
    publisher.observe(ticks.tick(8, 1010.0))
    assert bag.empty() == {}


@pytest.mark.parametrize("late_s", [-1.0, 0.0, 3.0])
def test_everything_is_repeated_each_period(publisher, bag, late_s):
    """After the period all values are reported again; a tick a moment early counts."""
    bag.empty()
    publisher.observe(ticks.tick(8, 1050.0))
    assert bag.empty() == {}
    publisher.observe(ticks.tick(9, 1060.0 + late_s))
    told = bag.empty()
    assert {"status", "loop/north", "sump/low-corner", "temperature/ridge"} <= told.keys()
    assert not any(name.startswith("alarm/") for name in told)


def test_turning_fan_is_told_at_once(publisher, bag):
    """A fan that turns: its loop and the status at once, nothing else."""
    bag.empty()
    change = OutputChange(ticks.NORTH, True, ticks.BANKING)
    publisher.observe(ticks.tick(8, 1010.0, decision=ticks.decision(changes=(change,))))
    assert set(bag.empty()) == {"status", "loop/north"}


def test_rising_water_is_told_at_once(publisher, bag):
    """A float that moves: its sump and the status at once, even before the pump starts."""
    bag.empty()
    publisher.observe(ticks.tick(8, 1000.4, snapshot=ticks.snapshot(1000.4, wet=True)))
    assert set(bag.empty()) == {"status", "sump/low-corner"}


def test_alarm_is_told_when_raised_and_deleted_when_cleared(publisher, bag):
    """Raised: a retained message with all subjects. Cleared: an empty retained message. Both in order."""
    bag.empty()
    frost = ticks.alarm(FaultCode.FROST, "", "bench 0.4 °C")
    raised = ticks.diagnosis(frost, events=(AlarmEvent(frost, raised=True),))
    publisher.observe(ticks.tick(8, 1010.0, diagnosis=raised))
    told = bag.empty()
    assert set(told) == {"status", "alarm/frost"}
    assert b"bench 0.4" in told["alarm/frost"].payload
    assert told["alarm/frost"].in_order
    publisher.observe(
        ticks.tick(9, 1020.0, diagnosis=ticks.diagnosis(events=(AlarmEvent(frost, raised=False),)))
    )
    told = bag.empty()
    assert (told["alarm/frost"].payload, told["alarm/frost"].retain) == (b"", True)


def test_an_alarm_that_is_over_is_told_at_once_and_new_words_with_the_period(publisher, bag):
    """A phone shows what the screen does: no longer urgent at once, other numbers within the period."""
    cold = ticks.alarm(FaultCode.FROST, detail="air 1.0 °C")
    colder = replace(cold, detail="air -1.0 °C")
    was = replace(cold, detail="frost last night", priority=Priority.TODAY, over=True)
    told = []
    for at_s, alarm in ((1010.0, cold), (1020.0, colder), (1070.0, colder), (1080.0, was), (1090.0, was)):
        bag.empty()
        publisher.observe(ticks.tick(8, at_s, diagnosis=ticks.diagnosis(alarm)))
        letters = bag.empty()
        told.append(
            [json.loads(letters["alarm/frost"].payload)["subjects"][0]["detail"], "status" in letters]
            if "alarm/frost" in letters
            else None
        )
    assert told == [None, None, ["air -1.0 °C", True], ["frost last night", True], None]


def test_clearing_one_of_two_subjects_keeps_the_alarm(publisher, bag):
    """Two probes silent, one comes back: the alarm stays with the other one in it."""
    bag.empty()
    ridge, bench = (ticks.alarm(FaultCode.PROBE, name, "is silent") for name in ("ridge", "bench"))
    publisher.observe(
        ticks.tick(8, 1010.0, diagnosis=ticks.diagnosis(bench, events=(AlarmEvent(ridge, raised=False),)))
    )
    payload = bag.empty()["alarm/probe"].payload
    assert b'"bench"' in payload
    assert b'"ridge"' not in payload


def test_new_connection_gets_everything_again(publisher, bag):
    """A broker that lost its memory gets all states, all active alarms and all deletions at the next tick."""
    bag.empty()
    bag.connected_times = 2
    frost = ticks.alarm(FaultCode.FROST, "", "bench 0.4 °C")
    publisher.observe(ticks.tick(8, 1010.0, diagnosis=ticks.diagnosis(frost)))
    letters = list(bag.letters)
    told = bag.empty()
    assert told["alarm/frost"].payload
    assert told["alarm/fire"].payload == b""
    assert "temperature/ridge" in told
    alarms = [letter for letter in letters if "/alarm/" in letter.topic]
    assert alarms[-1].topic.endswith("frost"), (
        "an outbox too small for all must drop deletions, not the alarm"
    )
    publisher.observe(ticks.tick(9, 1020.0))
    assert bag.empty() == {}


def test_alarms_that_never_were_wait_for_a_broker(bag):
    """Before the first connection there is nobody to delete old alarms for; real ones are kept."""
    bag.connected_times = 0
    frost = ticks.alarm(FaultCode.FROST, "", "bench 0.4 °C")
    raised = ticks.diagnosis(frost, events=(AlarmEvent(frost, raised=True),))
    Publisher(bag, ticks.PROGRAM).observe(ticks.tick(diagnosis=raised))
    assert [name for name in bag.empty() if name.startswith("alarm/")] == ["alarm/frost"]


def test_finished_day_is_told_once(publisher, bag):
    """The sums of a day go out with the tick that ended it."""
    bag.empty()
    publisher.observe(ticks.tick(8, 1010.0, finished_day=ticks.TODAY))
    assert set(bag.empty()) == {"day"}


def test_a_finished_month_is_kept_by_the_broker(bag):
    """Once it is known, and again for a broker that may have forgotten it; not with every tick."""
    months = [None]
    publisher = Publisher(bag, ticks.PROGRAM, month=lambda: months[0])
    publisher.observe(ticks.tick())
    assert "month" not in bag.empty()
    months[0] = MonthSummary(ticks.TODAY._replace(date="2026-02-01"), "February 2026: cold")
    publisher.observe(ticks.tick(2, 1003.0))
    told = json.loads(bag.letters[0].payload)
    assert (told["month"], told["text"], bag.letters[0].retain) == ("2026-02", "February 2026: cold", True)
    assert "month" in bag.empty()
    publisher.observe(ticks.tick(3, 1006.0))
    assert "month" not in bag.empty()
    bag.connected_times += 1
    publisher.observe(ticks.tick(4, 1009.0))
    assert "month" in bag.empty()


def test_without_a_broker_in_the_settings_nothing_is_told(bag):
    """No [mqtt] section, no messages."""
    bare = ticks.tick()._replace(settings=ticks.settings().model_copy(update={"mqtt": None}))
    Publisher(bag, ticks.PROGRAM).observe(bare)
    assert bag.letters == []


def test_an_empty_house_takes_the_crop_from_the_broker_and_a_planted_one_gives_it_back(bag):
    """Phones are called by an alarm's own topic, so a muted alarm has none; the status still shows it."""
    publisher = Publisher(bag, ticks.PROGRAM)
    frost, link = ticks.alarm(FaultCode.FROST), ticks.alarm(FaultCode.LINK)
    raised = tuple(AlarmEvent(alarm, True) for alarm in (frost, link))
    publisher.observe(ticks.tick(1, 1000.0, diagnosis=ticks.diagnosis(frost, link, events=raised)))
    assert bag.empty()["alarm/frost"].payload
    muted = ticks.alarm(FaultCode.FROST, muted=True)
    note = Note(Act.EMPTY, "empty")
    publisher.observe(ticks.tick(2, 1010.0, diagnosis=ticks.diagnosis(muted, link)._replace(notes=(note,))))
    letters = bag.empty()
    assert (letters["alarm/frost"].payload, letters["alarm/frost"].retain) == (b"", True)
    assert b'"muted":true' in letters["status"].payload
    assert "alarm/link" not in letters
    again = (AlarmEvent(frost, True),)
    publisher.observe(ticks.tick(3, 1020.0, diagnosis=ticks.diagnosis(frost, link, events=again)))
    assert bag.empty()["alarm/frost"].payload


def test_an_alarm_that_somebody_has_seen_calls_nobody_again(bag):
    """That it was seen is in the status at once; the alarm's own topic stays as it was."""
    publisher = Publisher(bag, ticks.PROGRAM)
    publisher.observe(ticks.tick(1, 1000.0))
    bag.empty()
    seen = ticks.alarm(FaultCode.FROST, seen=True, seen_utc_s=ticks.NOON.timestamp())
    note = Note(Act.SEEN, "frost: seen by somebody")
    publisher.observe(ticks.tick(2, 1001.0, diagnosis=ticks.diagnosis(seen)._replace(notes=(note,))))
    letters = bag.empty()
    assert list(letters) == ["status"]
    assert b'"seen_at":"2026-03-07T12:00:05Z"' in letters["status"].payload
