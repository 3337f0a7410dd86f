"""Reasons as a grower reads them, word by word."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.decision.reasons import WATER, Reason, ReasonCode
from controller.units import TemperatureUnit

if TYPE_CHECKING:
    from collections.abc import Mapping

C, F = TemperatureUnit.CELSIUS, TemperatureUnit.FAHRENHEIT
HEAT: dict[str, float | str] = {"heat_w": 4500.0, "power_w": 120.0}
AIR: dict[str, float | str] = {
    "ceiling_c": 27.3,
    "soil_c": 14.0,
    "air_c": 1.5,
    "setpoint_c": 2.0,
    "difference_k": 13.3,
    "until_c": 3.0,
    "until_k": 1.0,
}

SENTENCES: dict[ReasonCode, tuple[Mapping[str, float | str], str]] = {
    ReasonCode.STARTED: (
        {"rest_s": 600.0},
        "the controller has just started, so every motor rests for 10 min first",
    ),
    ReasonCode.BANK: (
        AIR | HEAT,
        (
            "banking heat while the ceiling is at least 1.0 K warmer than the soil (now 13.3 K: 27.3 °C "
            "over 14.0 °C); about 4.5 kW for 120 W"
        ),
    ),
    ReasonCode.COOL: (
        AIR
        | HEAT
        | {"air_c": 27.0, "ceiling_c": 33.0, "setpoint_c": 26.0, "until_c": 25.0, "probe": "bench"},
        (
            "cooling since the bench reached 26.0 °C, until it falls below 25.0 °C (now 27.0 °C; ceiling "
            "33.0 °C); the soil at 14.0 °C takes about 4.5 kW for 120 W"
        ),
    ),
    ReasonCode.NIGHT_PURGE: (
        HEAT | {"soil_c": 26.5, "until_c": 24.0, "ceiling_c": 18.0},
        (
            "cooling the soil by night, from 26.5 °C to 24.0 °C, so that it can take heat by day; the "
            "ceiling at 18.0 °C takes about 4.5 kW for 120 W"
        ),
    ),
    ReasonCode.COOLING_OFF: (
        HEAT | {"ceiling_c": 45.0, "soil_c": 24.0},
        (
            "cooling is switched off in the settings, at 45.0 °C under the roof; the soil at 24.0 °C could "
            "take about 4.5 kW for 120 W"
        ),
    ),
    ReasonCode.NOT_HOT_YET: (
        {"setpoint_c": 32.0, "probe": "bench", "air_c": 30.5, "ceiling_c": 34.0, "soil_c": 22.0},
        (
            "cooling begins at 32.0 °C at the bench (now 30.5 °C; ceiling 34.0 °C), and the soil at 22.0 "
            "°C needs no more heat for the nights"
        ),
    ),
    ReasonCode.SOIL_TOO_WARM: (
        HEAT | {"soil_c": 29.0, "lacking_k": 1.5, "needed_k": 8.0, "ceiling_c": 35.5},
        (
            "the soil at 29.0 °C is 1.5 K too warm to cool the house: the ceiling at 35.5 °C must be 8.0 K "
            "warmer; a run would move about 4.5 kW for 120 W"
        ),
    ),
    ReasonCode.HEAT: (
        AIR | HEAT | {"setpoint_c": 4.5, "until_c": 5.5},
        (
            "warming since the air fell below 4.5 °C, until it passes 5.5 °C (now 1.5 °C); the soil at "
            "14.0 °C gives about 4.5 kW for 120 W"
        ),
    ),
    ReasonCode.FROST: (
        AIR | HEAT,
        (
            "warming with every loop since the air fell to the frost limit of 2.0 °C, until it passes 3.0 "
            "°C (now 1.5 °C); the soil at 14.0 °C gives about 4.5 kW for 120 W"
        ),
    ),
    ReasonCode.TRIAL: (
        {"run_s": 900.0, "ceiling_c": 27.3, "soil_c": 14.0},
        (
            "weekly test of the fan, for 15 min: with the ceiling at 27.3 °C and the soil at 14.0 °C its "
            "outlet must show moving air"
        ),
    ),
    ReasonCode.TRIAL_OVER: ({"run_s": 1200.0}, "the weekly test of the fan is over after 20 min"),
    ReasonCode.DEMANDED: (AIR, "switched on by a plain rule, for comparison: ceiling 27.3 °C, soil 14.0 °C"),
    ReasonCode.NOTHING_WANTED: (
        AIR,
        "the house needs neither warmth nor cooling: air 1.5 °C, ceiling 27.3 °C, soil 14.0 °C",
    ),
    ReasonCode.DIFFERENCE_SMALL: (
        AIR | {"needed_k": 20.0},
        (
            "the ceiling is only 13.3 K warmer than the soil (27.3 °C over 14.0 °C); a fan is worth its "
            "electricity from 20.0 K on"
        ),
    ),
    ReasonCode.HEAT_TOO_DEAR: (
        HEAT | {"least_w": 480.0},
        "a run would move about 4.5 kW for 120 W; a fan is worth its electricity from 480 W on",
    ),
    ReasonCode.HEAT_TOO_LATE: (
        HEAT | {"least_w": 4800.0, "passed_k": 4.5},
        (
            "a run would move about 4.5 kW for 120 W; now that nights have risen 4.5 K above the coldest of "
            "the season, a fan is worth its electricity from 4.8 kW on"
        ),
    ),
    ReasonCode.STORE_NOT_WANTED: (
        AIR | {"coldest_c": 7.0, "full_c": 16.5, "cold_c": 5.5},
        (
            "the soil at 14.0 °C is warm enough: 16.5 °C will do while nights stay above 5.5 °C (coldest "
            "lately 7.0 °C)"
        ),
    ),
    ReasonCode.NOTHING_TO_BANK: (
        AIR,
        "nothing to bank: the ceiling at 27.3 °C is no warmer than the soil at 14.0 °C",
    ),
    ReasonCode.NOTHING_TO_RETURN: (
        AIR,
        "nothing to return: the soil at 14.0 °C is no warmer than the air at 1.5 °C",
    ),
    ReasonCode.LITTLE_TO_RETURN: (
        AIR | {"difference_k": 0.3, "needed_k": 0.5},
        (
            "the soil at 14.0 °C is only 0.3 K warmer than the air at 1.5 °C; a fan is worth its "
            "electricity from 0.5 K on"
        ),
    ),
    ReasonCode.OTHERS_ENOUGH: (
        {"air_c": 4.3, "below_c": 4.0},
        "other loops warm the house; this one helps once the air falls below 4.0 °C (now 4.3 °C)",
    ),
    ReasonCode.NO_DECISION: (
        {"for_s": 35.0, "rest_s": 600.0},
        "switched off because no decision came for 35 s; rests 10 min, as after a restart",
    ),
    ReasonCode.OUTPUT_FAILED: (
        {"rest_s": 600.0},
        "did not stay on as commanded, so it was switched off; next try in 10 min at the earliest",
    ),
    ReasonCode.ROOT_ZONE_WARM: (
        HEAT | {"place": "the root zone", "now_c": 26.1, "limit_c": 26.0},
        (
            "for the sake of the roots no heat is banked while the root zone is at or above 26.0 °C (now "
            "26.1 °C); about 4.5 kW could be, for 120 W"
        ),
    ),
    ReasonCode.ROOT_ZONE_HOT: (
        HEAT | {"place": "the root zone", "now_c": 34.1, "limit_c": 34.0},
        (
            "for the sake of the roots the fans do not even cool while the root zone is at or above 34.0 "
            "°C (now 34.1 °C); about 4.5 kW could go, for 120 W"
        ),
    ),
    ReasonCode.ROOT_ZONE_COLD: (
        {"place": "the root zone", "now_c": 5.9, "limit_c": 6.0},
        (
            "for the sake of the roots no heat is taken from the soil while the root zone is at or below "
            "6.0 °C (now 5.9 °C)"
        ),
    ),
    ReasonCode.NO_HEAT_PROVEN: (
        {"outlet_c": 27.0, "heat_w": 90.0, "power_w": 120.0, "back_off_s": 1800.0},
        "outlet 27.0 °C proves only 90 W for 120 W; next try in 30 min",
    ),
    ReasonCode.AIR_NOT_PROVEN: (
        {"purge_s": 300.0},
        (
            "the float cannot be read, and the outlet did not show moving air within 5 min: water may "
            "stand in the tubes"
        ),
    ),
    ReasonCode.BACK_OFF: ({"left_s": 600.0}, "the last run moved too little heat; next try in 10 min"),
    ReasonCode.RESTING: ({"left_s": 90.0}, "the motor rests for another 90 s"),
    ReasonCode.STARTS_SPENT: (
        {"starts": 2.0},
        "the motor may not start again yet; starts in the last hour: 2, the most allowed",
    ),
    ReasonCode.STAGGER: ({"left_s": 20.0}, "waits 20 s so that two motors never start together"),
    ReasonCode.FLOOD: (
        {"sump": "main", "for_s": 40.0},
        "water in sump main for 40 s; no fan blows into wet tubes",
    ),
    ReasonCode.FLOAT_UNREADABLE: (
        {"sump": "main", "why": "does not answer", "for_s": 40.0},
        "the float of sump main does not answer (for 40 s); water may stand in the tubes",
    ),
    ReasonCode.DRAIN_DOWN: (
        {"sump": "main", "left_s": 1200.0},
        "the tubes drain for another 20 min after water in sump main",
    ),
    ReasonCode.JUST_STARTED: (
        {"sump": "main", "left_s": 1200.0},
        (
            "the controller has just started, and water may have come to sump main unseen before; the "
            "tubes get another 20 min to drain"
        ),
    ),
    ReasonCode.FLOAT_BACK: (
        {"sump": "main", "left_s": 1200.0},
        (
            "the float of sump main could not be read until lately, and water may have come unseen; the "
            "tubes get another 20 min to drain"
        ),
    ),
    ReasonCode.FIRE_ONE_PROBE: (
        {"detail": "bench reads 70.0 °C", "for_s": 60.0},
        (
            "bench reads 70.0 °C, 60 s ago, and no other air probe agrees; fans stay off until the others "
            "have disagreed for an hour"
        ),
    ),
    ReasonCode.FIRE: (
        {"detail": "bench reads 70.0 °C", "for_s": 60.0},
        (
            "fire signature 60 s ago: bench reads 70.0 °C; fans stay off until a person enters on the "
            "machine: hypocaust clear fire"
        ),
    ),
    ReasonCode.CEILING_UNKNOWN: (
        {"why": "does not answer", "for_s": 60.0},
        "no fan runs without a ceiling temperature; the ceiling probe does not answer (for 60 s)",
    ),
    ReasonCode.SOIL_UNKNOWN: (
        {"why": "does not answer", "for_s": 60.0},
        "the fan does not run without a soil temperature; the soil probe does not answer (for 60 s)",
    ),
    ReasonCode.PUMP_WET: (
        {"starts": 1.0, "most": 10.0},
        "water in the sump; start 1 of at most 10 this hour",
    ),
    ReasonCode.PUMP_EMPTIED: (
        {"run_s": 80.0, "run_on_s": 20.0},
        "sump dry after a run of 80 s, the run-on of 20 s included",
    ),
    ReasonCode.PUMP_LONGEST_RUN: (
        {"run_s": 1800.0, "rest_s": 120.0},
        "float still wet after a run of 30 min; the motor rests for 2 min",
    ),
    ReasonCode.PUMP_DOUBTED: (
        {"run_s": 1800.0, "rest_s": 5400.0, "wet_for_s": 43200.0},
        (
            "the float has read wet for more than 12 h 00 min, as a stuck float or a cut wire would; ran "
            "30 min, rests 90 min"
        ),
    ),
    ReasonCode.PUMP_DRY: ({"for_s": 600.0}, "sump dry; pump idle for 10 min"),
    ReasonCode.PUMP_RESTING: ({"left_s": 60.0}, "water in the sump; the motor rests for another 60 s"),
    ReasonCode.PUMP_SPACED: (
        {"left_s": 60.0, "most": 10.0},
        "water in the sump; at most 10 starts an hour, the next in 60 s",
    ),
    ReasonCode.PUMP_DUTY: (
        {"run_s": 60.0, "every_s": 900.0},
        "the float cannot be read, so the pump runs 60 s every 15 min",
    ),
    ReasonCode.PUMP_DUTY_DONE: (
        {"run_s": 60.0, "every_s": 900.0},
        "ran 60 s by the clock, as every 15 min while the float cannot be read",
    ),
    ReasonCode.PUMP_EXERCISE: (
        {"for_s": 604800.0, "run_s": 5.0},
        "has not run for 7 d 0 h; runs 5 s so that it does not seize",
    ),
    ReasonCode.PUMP_EXERCISE_DONE: ({"run_s": 5.0}, "ran 5 s so that it does not seize"),
    ReasonCode.SIGNAL_WELL: (
        {"hold_s": 60.0, "alarms": 2.0},
        "for 60 s nothing has needed a person at once; other alarms: 2",
    ),
    ReasonCode.SIGNAL_CALLS: (
        {"alarms": 1.0, "first": "fire"},
        "calls a person; alarms to act on now: 1, the first: fire",
    ),
    ReasonCode.SIGNAL_BLIND: (
        {"hold_s": 60.0},
        (
            "calls a person, because roof and floats have not all been read since the start, or the alarms "
            "could not be worked out; comes on 60 s after both are there"
        ),
    ),
    ReasonCode.SIGNAL_TODAY: (
        {"alarms": 2.0, "first": "bus"},
        "something is to be done today; alarms: 2, the first: bus",
    ),
    ReasonCode.SIGNAL_NOTHING_DUE: ({"alarms": 0.0}, "alarms to act on today: 0"),
}


@pytest.mark.parametrize("code", list(ReasonCode))
def test_every_reason_reads_as_one_sentence_with_its_numbers(code: ReasonCode) -> None:
    """Each number stands where it belongs, in the unit that a person reads."""
    numbers, sentence = SENTENCES[code]
    assert Reason(code, numbers).sentence(C) == sentence


def test_a_reason_keeps_the_name_by_which_history_and_messages_know_it() -> None:
    """It is the reason's own in small letters; only the start says what has started."""
    for code in ReasonCode:
        own = code.name.lower().replace("_", "-")
        assert code.value == ("controller-started" if code is ReasonCode.STARTED else own)


@pytest.mark.parametrize("code", list(WATER))
def test_a_fan_that_water_stops_under_a_hot_roof_says_what_the_soil_could_take(code: ReasonCode) -> None:
    """The sentence goes on with the heat and the electricity, where both are known."""
    numbers, sentence = SENTENCES[code]
    missed = f"{sentence}; meanwhile about 4.5 kW could go into the soil, for 120 W"
    assert Reason(code, dict(numbers) | HEAT).sentence(C) == missed


def test_a_number_that_is_not_known_is_named_as_such() -> None:
    """A word in the place of a number is written as it is, and temperatures follow the reader's unit."""
    sentence = Reason(
        ReasonCode.NO_HEAT_PROVEN, HEAT | {"outlet_c": "unknown", "back_off_s": 1800.0}
    ).sentence(F)
    assert sentence == "outlet unknown proves only 4.5 kW for 120 W; next try in 30 min"
    sentence = Reason(ReasonCode.BANK, AIR | HEAT).sentence(F)
    assert "at least 1.8 °F warmer than the soil (now 23.9 °F: 81.1 °F over 57.2 °F)" in sentence
