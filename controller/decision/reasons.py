"""Reasons: the sentence with numbers that goes with every output change."""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING, NamedTuple

from controller.units import difference_text, duration_text, power_text, temperature_text

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.units import TemperatureUnit


class ReasonCode(Enum):
    """Stable names of reasons, for history and telemetry."""

    STARTED = "controller-started"
    BANK = "bank"
    COOL = "cool"
    HEAT = "heat"
    FROST = "frost"
    DEMANDED = "demanded"
    NOTHING_WANTED = "nothing-wanted"
    DIFFERENCE_SMALL = "difference-small"
    HEAT_TOO_DEAR = "heat-too-dear"
    STORE_NOT_WANTED = "store-not-wanted"
    NOTHING_TO_BANK = "nothing-to-bank"
    NOTHING_TO_RETURN = "nothing-to-return"
    LITTLE_TO_RETURN = "little-to-return"
    OTHERS_ENOUGH = "others-enough"
    ROOT_ZONE_WARM = "root-zone-warm"
    ROOT_ZONE_COLD = "root-zone-cold"
    NO_HEAT_PROVEN = "no-heat-proven"
    AIR_NOT_PROVEN = "air-not-proven"
    BACK_OFF = "back-off"
    RESTING = "resting"
    STARTS_SPENT = "starts-spent"
    STAGGER = "stagger"
    FLOOD = "flood"
    FLOAT_UNREADABLE = "float-unreadable"
    DRAIN_DOWN = "drain-down"
    JUST_STARTED = "just-started"
    FLOAT_BACK = "float-back"
    FIRE = "fire"
    NO_DECISION = "no-decision"
    OUTPUT_FAILED = "output-failed"
    CEILING_UNKNOWN = "ceiling-unknown"
    SOIL_UNKNOWN = "soil-unknown"
    PUMP_WET = "pump-wet"
    PUMP_EMPTIED = "pump-emptied"
    PUMP_LONGEST_RUN = "pump-longest-run"
    PUMP_DOUBTED = "pump-doubted"
    PUMP_DRY = "pump-dry"
    PUMP_RESTING = "pump-resting"
    PUMP_SPACED = "pump-spaced"
    PUMP_DUTY = "pump-duty"
    PUMP_DUTY_DONE = "pump-duty-done"
    PUMP_EXERCISE = "pump-exercise"
    PUMP_EXERCISE_DONE = "pump-exercise-done"


# Placeholders are the names of the numbers; their unit suffix decides how they are written.
_SENTENCES: Mapping[ReasonCode, str] = {
    ReasonCode.STARTED: "the controller has just started and rests every motor for {rest_s} first",
    ReasonCode.BANK: "ceiling {ceiling_c}, soil {soil_c}, {difference_k} to bank; "
    "about {heat_w} for {power_w}",
    ReasonCode.COOL: "cooling from {setpoint_c}: ceiling {ceiling_c}, soil {soil_c} takes the heat; "
    "about {heat_w} for {power_w}",
    ReasonCode.HEAT: "warming below {setpoint_c}: air {air_c}, soil {soil_c} gives warmth; "
    "about {heat_w} for {power_w}",
    ReasonCode.FROST: "air {air_c} is at the frost limit of {setpoint_c}; soil {soil_c} gives what it has, "
    "about {heat_w} for {power_w}",
    ReasonCode.DEMANDED: "switched by the plain rule: ceiling {ceiling_c}, soil {soil_c}",
    ReasonCode.NOTHING_WANTED: "air {air_c} and ceiling {ceiling_c} need nothing from soil at {soil_c}",
    ReasonCode.DIFFERENCE_SMALL: "ceiling {ceiling_c} and soil {soil_c} differ by only {difference_k}; "
    "{needed_k} are worth a fan",
    ReasonCode.HEAT_TOO_DEAR: "about {heat_w} for {power_w} is too little heat for the electricity",
    ReasonCode.STORE_NOT_WANTED: "soil {soil_c} is warm enough for nights that have not been colder than "
    "{coldest_c} lately, so no heat is banked",
    ReasonCode.NOTHING_TO_BANK: "ceiling {ceiling_c} is no warmer than soil {soil_c}: nothing to bank",
    ReasonCode.NOTHING_TO_RETURN: "soil {soil_c} is no warmer than the air at {air_c}: nothing to return",
    ReasonCode.LITTLE_TO_RETURN: "soil {soil_c} is only {difference_k} warmer than the air at {air_c}; "
    "{needed_k} are worth a fan",
    ReasonCode.OTHERS_ENOUGH: "air {air_c}: other loops are enough down to {below_c}",
    ReasonCode.ROOT_ZONE_WARM: "root zone {root_zone_c} has reached its upper limit of {limit_c}",
    ReasonCode.ROOT_ZONE_COLD: "root zone {root_zone_c} has reached its lower limit of {limit_c}",
    ReasonCode.NO_HEAT_PROVEN: "outlet {outlet_c} shows only {heat_w} for {power_w}; "
    "next try in {back_off_s}",
    ReasonCode.AIR_NOT_PROVEN: "the outlet did not prove within {purge_s} that air comes through "
    "while the float cannot be read",
    ReasonCode.BACK_OFF: "the last run moved too little heat; next try in {left_s}",
    ReasonCode.RESTING: "the motor rests for another {left_s}",
    ReasonCode.STARTS_SPENT: "starts in the last hour: {starts}, the most allowed",
    ReasonCode.STAGGER: "waits {left_s} so that two motors never start together",
    ReasonCode.FLOOD: "water in sump {sump}; no fan runs into wet tubes (float wet for {for_s})",
    ReasonCode.FLOAT_UNREADABLE: "the float of sump {sump} {why}; water could stand in the tubes "
    "(for {for_s})",
    ReasonCode.DRAIN_DOWN: "tubes drain for another {left_s} after water in sump {sump}",
    ReasonCode.JUST_STARTED: "the controller has just started and cannot know whether the tubes of sump "
    "{sump} are dry; they get another {left_s} to drain",
    ReasonCode.FLOAT_BACK: "the float of sump {sump} could not be read until lately and the tubes may be "
    "wet; they get another {left_s} to drain",
    ReasonCode.FIRE: "{detail}; fans stay off until a person clears it on the machine (for {for_s})",
    ReasonCode.NO_DECISION: "switched off because no decision came for {for_s}; "
    "rests {rest_s}, as after a restart",
    ReasonCode.OUTPUT_FAILED: "did not stay on as commanded, so it was switched off; "
    "next try in {rest_s} at the earliest",
    ReasonCode.CEILING_UNKNOWN: "no ceiling probe can be believed: it {why} (for {for_s})",
    ReasonCode.SOIL_UNKNOWN: "the soil probe {why} (for {for_s})",
    ReasonCode.PUMP_WET: "water in the sump; start {starts} of at most {most} this hour",
    ReasonCode.PUMP_EMPTIED: "sump dry; emptied in {run_s}, run-on {run_on_s} included",
    ReasonCode.PUMP_LONGEST_RUN: "float still wet after a run of {run_s}; motor rests {rest_s}",
    ReasonCode.PUMP_DOUBTED: "float wet for more than {wet_for_s}, as a stuck float or a cut wire would be; "
    "ran {run_s}, rests {rest_s}",
    ReasonCode.PUMP_DRY: "sump dry; pump idle for {for_s}",
    ReasonCode.PUMP_RESTING: "water in the sump; motor rests for another {left_s}",
    ReasonCode.PUMP_SPACED: "water in the sump; at most {most} starts an hour, the next in {left_s}",
    ReasonCode.PUMP_DUTY: "the float cannot be read; runs {run_s} every {every_s} to be safe",
    ReasonCode.PUMP_DUTY_DONE: "ran {run_s} by the clock; next in {every_s}",
    ReasonCode.PUMP_EXERCISE: "has not run for {for_s}; runs {run_s} so that it does not seize",
    ReasonCode.PUMP_EXERCISE_DONE: "exercised for {run_s}",
}


def _as_people_read(name: str, value: float | str, unit: TemperatureUnit) -> str:
    if isinstance(value, str):
        return value
    if name.endswith("_c"):
        return temperature_text(value, unit)
    if name.endswith("_k"):
        return difference_text(value, unit)
    if name.endswith("_w"):
        return power_text(value)
    if name.endswith("_s"):
        return duration_text(value)
    return f"{value:g}"


class Reason(NamedTuple):
    """A reason as data: a code and the numbers it was decided on (SI, by name with unit suffix)."""

    code: ReasonCode
    numbers: Mapping[str, float | str]

    def sentence(self, unit: TemperatureUnit) -> str:
        """The reason as a grower reads it, temperatures in ``unit``."""
        written = {name: _as_people_read(name, value, unit) for name, value in self.numbers.items()}
        return _SENTENCES[self.code].format_map(written)
