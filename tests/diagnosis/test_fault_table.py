"""What the fault table promises a person: words, delays, urgency, and what hides what."""

from __future__ import annotations

import pytest

from controller.diagnosis.alarms import update_alarms
from controller.faults import FAULTS, NEAR_FROST, FaultCode, Finding, Priority
from tests.decision.world import HOUR_S

DAY_S = 24 * HOUR_S


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
    """At most six faults of the house call at once, besides a broken promise and optional inputs."""
    at_once = {code for code, row in FAULTS.items() if row.priority is Priority.ACT_NOW}
    optional = {FaultCode.HIGH_WATER, FaultCode.SUPPLY_GONE}
    assert len(at_once - {FaultCode.PROMISE} - optional) <= 6
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


def test_what_is_over_can_wait_a_day() -> None:
    """A frost that is gone leaves a day to look at the crop; the night itself left an hour."""
    row = FAULTS[FaultCode.FROST]
    assert (row.time_to_act_at_s(row.priority), row.time_to_act_at_s(Priority.TODAY)) == (HOUR_S, DAY_S)


@pytest.mark.parametrize("code", [code for code, row in FAULTS.items() if row.near_frost])
def test_what_a_frosty_house_needs_is_urgent_while_frost_is_near(code: FaultCode) -> None:
    """A fault that costs the crop its warmth is a matter of the day in summer and of the hour in frost."""
    row = FAULTS[code]
    assert [row.priority_at(level) for level in (0, NEAR_FROST)] == [Priority.TODAY, Priority.ACT_NOW]


DEADLY = ("light the", "step into", "burner", "stove", "by hand: fans", "reach into")


@pytest.mark.parametrize("code", list(FaultCode))
def test_no_word_sends_a_person_into_danger(code: FaultCode) -> None:
    """No open flame in a shut house, no hand or foot in water, and heat only in a way that cannot poison."""
    row = FAULTS[code]
    said = f"{row.cause} {row.consequence} {row.action}".lower()
    assert not [words for words in DEADLY if words in said]
    if "heater" in said:
        assert "electric" in said
        assert "flue" in said


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
