"""From a tick to messages."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, timedelta, timezone

import pytest
from pydantic import ValidationError

from controller.decision.state import Lockout, Need
from controller.diagnosis.advice import Advice, AdviceCode
from controller.faults import FAULTS, FaultCode
from controller.readings.reading import Good, Missing, Why
from controller.record.tally import DayTally
from controller.telemetry import payloads
from controller.telemetry.build import (
    build_alarms,
    build_day,
    build_loop,
    build_status,
    build_sump,
    build_temperature,
    valid_for_s,
)
from tests.telemetry import ticks


def status(**changed):
    """The status of a changed tick."""
    return build_status(ticks.tick(**changed), ticks.PROGRAM, valid_s=30.0, promises_broken=0)


def test_status_says_when_it_is_true_and_for_how_long():
    """Time is whole seconds of UTC with Z; the tick number and the time of validity go with it."""
    told = status()
    assert (told.at, told.seq, told.valid_for_s) == ("2026-03-07T12:00:05Z", 7, 30.0)
    assert told.clock_set
    assert (told.uptime_s, told.at_mono_s, told.boot_id) == (900.0, 1000.0, "a-boot")


@pytest.mark.parametrize(
    ("wall_utc", "zone", "when"),
    [
        (ticks.NOON, UTC, "by 13:35"),
        (ticks.NOON, timezone(timedelta(hours=-5)), "by 08:35"),
        (None, UTC, "within 99 min"),
    ],
)
def test_advice_is_in_the_status_with_a_time_of_day_if_there_is_one(wall_utc, zone, when):
    """The time is that of the board's place, to the five minutes before; without advice there is null."""
    close = Advice(AdviceCode.CLOSE, 21.5, "bench", 10.0, 99 * 60.0, 3.0)
    seen = ticks.tick(
        snapshot=ticks.snapshot(1000.0, wall_utc=wall_utc),
        diagnosis=ticks.diagnosis()._replace(advice=close),
    )
    told = build_status(seen, replace(ticks.PROGRAM, zone=zone), valid_s=30.0)
    assert told.advice is not None
    assert told.advice.startswith(f"close doors and vents {when} to keep the warmth: ")
    assert status().advice is None


@pytest.mark.parametrize(("air_c", "risk"), [(31.0, None), (32.0, "high"), (40.0, "extreme")])
def test_heat_that_hurts_people_is_told_with_what_it_assumes(air_c, risk):
    """Long before the crop suffers a person must stay out; no probe measures the humidity, so it says so."""
    hot = ticks.snapshot(1000.0)._replace(bench=Good(air_c, 1000.0))
    words = status(snapshot=hot).house.people
    assert (words is None) is (risk is None)
    if risk is not None:
        assert words.startswith(f"Do not work in there now: {risk} risk of heat illness at {air_c:.1f} °C")
        assert "70 % humid" in words


def test_without_a_set_clock_there_is_no_time_at_all():
    """Until the clock is set every time of day is null, also within alarms; durations are still there."""
    fire = ticks.diagnosis(ticks.alarm(FaultCode.FIRE, detail="ridge 71 °C"))
    told = status(snapshot=ticks.snapshot(1000.0, wall_utc=None), diagnosis=fire)
    assert told.at is None
    assert not told.clock_set
    assert told.alarms[0].since is None
    assert told.alarms[0].since_s == 60.0


def test_running_loop_is_told_with_reason_heat_and_sums():
    """A running fan: what for, the sentence with numbers, proven heat, how long, what it cost and brought."""
    north = status().loops[0]
    assert north.fan_on
    assert north.demand == "bank"
    assert "31.2 °C" in north.reason
    assert "120 W" in north.reason
    assert (north.heat_w, north.heat_why, north.proof) == (2412.0, None, "proven")
    assert north.since_s == 720.0
    assert (north.starts_today, north.electricity_today_j, north.banked_today_j) == (4, 1_332_000, 29_200_000)


def test_sentences_follow_the_unit_of_the_site_and_numbers_do_not():
    """People of a Fahrenheit site read °F in sentences; every number for machines stays in °C."""
    told = status(settings=ticks.settings(show="°F"))
    assert "88.2 °F" in told.loops[0].reason
    assert told.house.ceiling.temperature_c == 31.2
    assert told.unit == "°F"


def test_locked_loop_names_every_lockout():
    """A fan that may not run says everything that forbids it, and that there is no heat because it is off."""
    south = status().loops[1]
    assert not south.fan_on
    assert south.lockouts == [Lockout.SOIL_UNKNOWN.value, Lockout.RESTING.value]
    assert (south.heat_w, south.heat_why) == (None, "fan is off")


def test_running_loop_with_unknown_heat_says_so():
    """A running fan whose heat cannot be worked out has null heat and a cause, not zero."""
    north = build_loop(ticks.tick(heat_w={"north": None, "south": None}), "north")
    assert north.heat_w is None
    assert "cannot be read" in north.heat_why


@pytest.mark.parametrize("why", Why)
def test_missing_reading_is_null_with_words_never_a_number(why):
    """Whatever is wrong with a probe: null, the cause in words, and since when."""
    seen = ticks.snapshot(1000.0)
    seen = seen._replace(probes=dict(seen.probes) | {"ridge": Missing(why, 910.0)})
    told = build_temperature(ticks.tick(snapshot=seen), "ridge")
    assert (told.temperature_c, told.why, told.age_s) == (None, why.value, 90.0)


def test_probe_that_was_never_read_is_missing():
    """A probe without any reading yet is shown as not read, not left out."""
    seen = ticks.snapshot(1000.0)._replace(probes={})
    told = build_temperature(ticks.tick(snapshot=seen), "north-soil")
    assert (told.temperature_c, told.why) == (None, Why.NEVER_READ.value)
    assert (told.place, told.loop) == ("soil", "north")


def test_not_a_number_can_never_be_published():
    """A NaN that got this far is refused instead of written as invalid JSON."""
    seen = ticks.snapshot(1000.0)._replace(bench=Good(float("nan"), 990.0))
    with pytest.raises(ValidationError):
        status(snapshot=seen)


def test_a_reading_has_either_a_value_or_a_cause():
    """Neither both nor none: the model itself refuses."""
    for temperature_c, why in ((None, None), (3.0, "is silent")):
        with pytest.raises(ValidationError, match="either"):
            payloads.Measured(temperature_c=temperature_c, why=why, age_s=0.0)


@pytest.mark.parametrize(
    ("wet", "water", "pump_on", "phase"), [(True, "wet", True, "emptying"), (False, "dry", False, "idle")]
)
def test_sump_tells_water_and_pump(wet, water, pump_on, phase):
    """Water level, pump and what it is doing, with today's starts."""
    told = build_sump(ticks.tick(wet=wet), "low-corner")
    assert (told.water, told.pump_on, told.phase, told.starts_today) == (water, pump_on, phase, 2)
    assert told.why is None


def test_unreadable_float_is_unknown_water_with_the_cause():
    """A float that cannot be read is neither wet nor dry."""
    seen = ticks.snapshot(1000.0)._replace(sumps={"low-corner": Missing(Why.UNREADABLE, 940.0)})
    told = build_sump(ticks.tick(snapshot=seen), "low-corner")
    assert (told.water, told.why, told.water_age_s) == ("unknown", "cannot be read", 60.0)


@pytest.mark.parametrize("code", FaultCode)
def test_every_fault_is_told_with_what_to_do(code):
    """Each row of the fault table reaches people whole: cause, consequence, action, urgency, since when."""
    row = FAULTS[code]
    told = status(diagnosis=ticks.diagnosis(ticks.alarm(code, "north", "3 of 4"))).alarms[0]
    assert (told.cause, told.consequence, told.action) == (row.cause, row.consequence, row.action)
    assert told.priority in ("act now", "today", "this week")
    assert (told.code, told.subject, told.detail) == (code.value, "north", "3 of 4")
    assert told.since == "2026-03-07T11:59:05Z"


def test_one_fault_with_several_subjects_is_one_message():
    """Two silent probes share one alarm topic: both are in its list."""
    told = build_alarms(
        ticks.tick(
            diagnosis=ticks.diagnosis(
                ticks.alarm(FaultCode.PROBE, "ridge", "is silent"),
                ticks.alarm(FaultCode.LINK, "", "no broker"),
                ticks.alarm(FaultCode.PROBE, "bench", "is stuck"),
            )
        )
    )
    assert set(told) == {FaultCode.PROBE, FaultCode.LINK}
    assert [s.subject for s in told[FaultCode.PROBE].subjects] == ["ridge", "bench"]
    assert told[FaultCode.PROBE].valid_for_s is None


def test_flood_of_alarms_stays_bounded_and_says_what_is_missing():
    """However many alarms and however long their words: a bounded status that counts what it left out."""
    many = [ticks.alarm(FaultCode.PROBE, "x" * 500, "y" * 5000) for _ in range(payloads.MOST_ALARMS + 9)]
    told = status(diagnosis=ticks.diagnosis(*many))
    assert len(told.alarms) == payloads.MOST_ALARMS
    assert told.alarms_left_out == 9
    assert len(told.alarms[0].detail) == payloads.LONGEST_WORDS
    assert told.alarms[0].detail.endswith("…")
    assert len(told.model_dump_json()) < 100_000


@pytest.mark.parametrize(
    ("coldest_c", "passed_k", "cold", "passed"),
    [(None, 0.0, True, False), (-3.04, 2.0, True, False), (14.96, 2.04, False, True)],
)
def test_what_has_been_learned_of_the_nights(coldest_c, passed_k, cold, passed):
    """The coldest air lately goes out to a tenth, with what it means; unknown nights count as cold."""
    state = ticks.state(280.0)._replace(need=Need(coldest_c, 1000.0, passed_k))
    learned = status(state=state).learned
    assert learned.coldest_lately_c == (None if coldest_c is None else round(coldest_c, 1))
    assert learned.nights_are_cold is cold
    assert (learned.nights_rising_k, learned.need_has_passed) == (round(passed_k, 1), passed)


def test_day_sums_add_up_over_loops_and_pumps():
    """The day's electricity is that of fans and pumps; heat is that of all loops."""
    told = build_day(ticks.tick(), ticks.TODAY)
    assert told.electricity_j == 1_332_000 + 32_000
    assert (told.banked_j, told.returned_j) == (29_200_000, 360_000)
    assert (told.date, told.air_min_c) == ("2026-03-07", 8.12)
    assert [loop.name for loop in told.loops] == ["north", "south"]
    assert told.text == (
        "Saturday 7 March 2026: 8.1 to 24.3 °C. The fans ran 3 h 05 min for 0.4 kWh, banked 8.1 kWh and "
        "returned 0.1 kWh. The pump ran twice, 80 s. Watched for 12 h 00 min only. Nothing is wrong."
    )


def test_empty_day_is_told_too():
    """A day on which nothing was known yet has null extremes and zero sums."""
    told = build_day(ticks.tick(), DayTally())
    assert (told.date, told.air_min_c, told.air_max_c, told.banked_j) == (None, None, None, 0)


def test_what_the_house_has_no_signal_for_is_named():
    """Missing probes and unwatched contactors are listed as not monitored, never passed over."""
    listed = " / ".join(status().not_monitored)
    assert "outdoor air" in listed
    assert "loop south, whether its fan moves heat or even turns: no outlet probe" in listed
    assert "loop south, its root zone: no root-zone probe" in listed
    assert "loop north, its root zone" not in listed
    assert "loop north, whether its fan turns: its outlet has not yet been seen" in listed
    assert "contactor" in listed


def test_message_is_believed_for_three_periods():
    """A reader may miss two messages in a row before the house counts as silent."""
    assert valid_for_s(ticks.tick(settings=ticks.settings({"publish_every": "2 min"}))) == 360.0
    assert valid_for_s(ticks.tick(settings=ticks.settings({"publish_every": "5 s"}))) == 30.0


def test_status_says_what_the_signals_show():
    """Each that is fitted, on or off and why; one that could not be decided on says so."""
    fitted = ticks.settings(signal={"pin": 25})
    tick = ticks.tick(settings=fitted, signals=ticks.signals(fitted, ticks.alarm(FaultCode.FROST)))
    (told,) = build_status(tick, ticks.PROGRAM, valid_s=30.0).signals
    assert (told.name, told.on) == ("all-well", False)
    assert told.reason == "calls a person; alarms to act on now: 1, the first: frost"
    (told,) = build_status(ticks.tick(settings=fitted), ticks.PROGRAM, valid_s=30.0).signals
    assert (told.on, told.reason) == (False, "it could not be decided on, so it is off")
    assert build_status(ticks.tick(), ticks.PROGRAM, valid_s=30.0).signals == []
