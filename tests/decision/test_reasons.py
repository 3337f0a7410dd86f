"""Reasons as a grower reads them, word by word."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.decision.reasons import Reason, ReasonCode
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
}

SENTENCES: dict[ReasonCode, tuple[Mapping[str, float | str], str]] = {
    ReasonCode.STARTED: (
        {"rest_s": 600.0},
        "the controller has just started and rests every motor for 10 min first",
    ),
    ReasonCode.BANK: (
        AIR | HEAT,
        "ceiling 27.3 °C, soil 14.0 °C, 13.3 K to bank; about 4.5 kW for 120 W",
    ),
    ReasonCode.COOL: (
        AIR | HEAT | {"setpoint_c": 26.0},
        "cooling from 26.0 °C: ceiling 27.3 °C, soil 14.0 °C takes the heat; about 4.5 kW for 120 W",
    ),
    ReasonCode.HEAT: (
        AIR | HEAT | {"setpoint_c": 4.5},
        "warming below 4.5 °C: air 1.5 °C, soil 14.0 °C gives warmth; about 4.5 kW for 120 W",
    ),
    ReasonCode.FROST: (
        AIR | HEAT,
        "air 1.5 °C is at the frost limit of 2.0 °C; soil 14.0 °C gives what it has, about 4.5 kW for 120 W",
    ),
    ReasonCode.DEMANDED: (AIR, "switched by the plain rule: ceiling 27.3 °C, soil 14.0 °C"),
    ReasonCode.NOTHING_WANTED: (AIR, "air 1.5 °C and ceiling 27.3 °C need nothing from soil at 14.0 °C"),
    ReasonCode.DIFFERENCE_SMALL: (
        AIR | {"needed_k": 20.0},
        "ceiling 27.3 °C and soil 14.0 °C differ by only 13.3 K; 20.0 K are worth a fan",
    ),
    ReasonCode.HEAT_TOO_DEAR: (HEAT, "about 4.5 kW for 120 W is too little heat for the electricity"),
    ReasonCode.STORE_NOT_WANTED: (
        AIR | {"coldest_c": 18.0},
        (
            "soil 14.0 °C is warm enough for nights that have not been colder than 18.0 °C lately, "
            "so no heat is banked"
        ),
    ),
    ReasonCode.NOTHING_TO_BANK: (AIR, "ceiling 27.3 °C is no warmer than soil 14.0 °C: nothing to bank"),
    ReasonCode.NOTHING_TO_RETURN: (
        AIR,
        "soil 14.0 °C is no warmer than the air at 1.5 °C: nothing to return",
    ),
    ReasonCode.LITTLE_TO_RETURN: (
        AIR | {"difference_k": 0.3, "needed_k": 0.5},
        "soil 14.0 °C is only 0.3 K warmer than the air at 1.5 °C; 0.5 K are worth a fan",
    ),
    ReasonCode.OTHERS_ENOUGH: (
        {"air_c": 4.3, "below_c": 4.0},
        "air 4.3 °C: other loops are enough down to 4.0 °C",
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
        {"root_zone_c": 26.1, "limit_c": 26.0},
        "root zone 26.1 °C has reached its upper limit of 26.0 °C",
    ),
    ReasonCode.ROOT_ZONE_COLD: (
        {"root_zone_c": 5.9, "limit_c": 6.0},
        "root zone 5.9 °C has reached its lower limit of 6.0 °C",
    ),
    ReasonCode.NO_HEAT_PROVEN: (
        {"outlet_c": 27.0, "heat_w": 90.0, "power_w": 120.0, "back_off_s": 1800.0},
        "outlet 27.0 °C shows only 90 W for 120 W; next try in 30 min",
    ),
    ReasonCode.AIR_NOT_PROVEN: (
        {"purge_s": 300.0},
        "the outlet did not prove within 5 min that air comes through while the float cannot be read",
    ),
    ReasonCode.BACK_OFF: ({"left_s": 600.0}, "the last run moved too little heat; next try in 10 min"),
    ReasonCode.RESTING: ({"left_s": 90.0}, "the motor rests for another 90 s"),
    ReasonCode.STARTS_SPENT: ({"starts": 2.0}, "starts in the last hour: 2, the most allowed"),
    ReasonCode.STAGGER: ({"left_s": 20.0}, "waits 20 s so that two motors never start together"),
    ReasonCode.FLOOD: (
        {"sump": "main", "for_s": 40.0},
        "water in sump main; no fan runs into wet tubes (float wet for 40 s)",
    ),
    ReasonCode.FLOAT_UNREADABLE: (
        {"sump": "main", "why": "does not answer", "for_s": 40.0},
        "the float of sump main does not answer; water could stand in the tubes (for 40 s)",
    ),
    ReasonCode.DRAIN_DOWN: (
        {"sump": "main", "left_s": 1200.0},
        "tubes drain for another 20 min after water in sump main",
    ),
    ReasonCode.JUST_STARTED: (
        {"sump": "main", "left_s": 1200.0},
        (
            "the controller has just started and cannot know whether the tubes of sump main are dry; "
            "they get another 20 min to drain"
        ),
    ),
    ReasonCode.FLOAT_BACK: (
        {"sump": "main", "left_s": 1200.0},
        (
            "the float of sump main could not be read until lately and the tubes may be wet; "
            "they get another 20 min to drain"
        ),
    ),
    ReasonCode.FIRE: (
        {"detail": "bench reads 70.0 °C", "for_s": 60.0},
        "bench reads 70.0 °C; fans stay off until a person clears it on the machine (for 60 s)",
    ),
    ReasonCode.CEILING_UNKNOWN: (
        {"why": "does not answer", "for_s": 60.0},
        "no ceiling probe can be believed: it does not answer (for 60 s)",
    ),
    ReasonCode.SOIL_UNKNOWN: (
        {"why": "does not answer", "for_s": 60.0},
        "the soil probe does not answer (for 60 s)",
    ),
    ReasonCode.PUMP_WET: (
        {"starts": 1.0, "most": 10.0},
        "water in the sump; start 1 of at most 10 this hour",
    ),
    ReasonCode.PUMP_EMPTIED: (
        {"run_s": 80.0, "run_on_s": 20.0},
        "sump dry; emptied in 80 s, run-on 20 s included",
    ),
    ReasonCode.PUMP_LONGEST_RUN: (
        {"run_s": 1800.0, "rest_s": 120.0},
        "float still wet after a run of 30 min; motor rests 2 min",
    ),
    ReasonCode.PUMP_DOUBTED: (
        {"run_s": 1800.0, "rest_s": 5400.0, "wet_for_s": 43200.0},
        (
            "float wet for more than 12 h 00 min, as a stuck float or a cut wire would be; "
            "ran 30 min, rests 90 min"
        ),
    ),
    ReasonCode.PUMP_DRY: ({"for_s": 600.0}, "sump dry; pump idle for 10 min"),
    ReasonCode.PUMP_RESTING: ({"left_s": 60.0}, "water in the sump; motor rests for another 60 s"),
    ReasonCode.PUMP_SPACED: (
        {"left_s": 60.0, "most": 10.0},
        "water in the sump; at most 10 starts an hour, the next in 60 s",
    ),
    ReasonCode.PUMP_DUTY: (
        {"run_s": 60.0, "every_s": 900.0},
        "the float cannot be read; runs 60 s every 15 min to be safe",
    ),
    ReasonCode.PUMP_DUTY_DONE: ({"run_s": 60.0, "every_s": 900.0}, "ran 60 s by the clock; next in 15 min"),
    ReasonCode.PUMP_EXERCISE: (
        {"for_s": 604800.0, "run_s": 5.0},
        "has not run for 7 d 0 h; runs 5 s so that it does not seize",
    ),
    ReasonCode.PUMP_EXERCISE_DONE: ({"run_s": 5.0}, "exercised for 5 s"),
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


def test_a_number_that_is_not_known_is_named_as_such() -> None:
    """A word in the place of a number is written as it is, and temperatures follow the reader's unit."""
    sentence = Reason(
        ReasonCode.NO_HEAT_PROVEN, HEAT | {"outlet_c": "unknown", "back_off_s": 1800.0}
    ).sentence(F)
    assert sentence == "outlet unknown shows only 4.5 kW for 120 W; next try in 30 min"
    sentence = Reason(ReasonCode.BANK, AIR | HEAT).sentence(F)
    assert sentence == "ceiling 81.1 °F, soil 57.2 °F, 23.9 °F to bank; about 4.5 kW for 120 W"
