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
    NIGHT_PURGE = "night-purge"
    HEAT = "heat"
    FROST = "frost"
    DEMANDED = "demanded"
    TRIAL = "trial"
    TRIAL_OVER = "trial-over"
    NOTHING_WANTED = "nothing-wanted"
    DIFFERENCE_SMALL = "difference-small"
    HEAT_TOO_DEAR = "heat-too-dear"
    HEAT_TOO_LATE = "heat-too-late"
    STORE_NOT_WANTED = "store-not-wanted"
    COOLING_OFF = "cooling-off"
    NOT_HOT_YET = "not-hot-yet"
    SOIL_TOO_WARM = "soil-too-warm"
    NOTHING_TO_BANK = "nothing-to-bank"
    NOTHING_TO_RETURN = "nothing-to-return"
    LITTLE_TO_RETURN = "little-to-return"
    OTHERS_ENOUGH = "others-enough"
    ROOT_ZONE_WARM = "root-zone-warm"
    ROOT_ZONE_HOT = "root-zone-hot"
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
    FIRE_ONE_PROBE = "fire-one-probe"
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
    SIGNAL_WELL = "signal-well"
    SIGNAL_CALLS = "signal-calls"
    SIGNAL_BLIND = "signal-blind"
    SIGNAL_TODAY = "signal-today"
    SIGNAL_NOTHING_DUE = "signal-nothing-due"


# Reasons of a fan that stands because of water. Under a hot roof they have two numbers more: what the soil
# could take meanwhile, and what the fan draws for it.
WATER = frozenset(
    (
        ReasonCode.FLOOD,
        ReasonCode.FLOAT_UNREADABLE,
        ReasonCode.DRAIN_DOWN,
        ReasonCode.JUST_STARTED,
        ReasonCode.FLOAT_BACK,
    )
)
_MISSED = "; meanwhile about {heat_w} could go into the soil, for {power_w}"

# Placeholders are the names of the numbers; their unit suffix decides how they are written.
_SENTENCES: Mapping[ReasonCode, str] = {
    ReasonCode.STARTED: "the controller has just started, so every motor rests for {rest_s} first",
    ReasonCode.BANK: "banking heat while the ceiling is at least {until_k} warmer than the soil (now "
    "{difference_k}: {ceiling_c} over {soil_c}); about {heat_w} for {power_w}",
    ReasonCode.COOL: "cooling since the {probe} reached {setpoint_c}, until it falls below {until_c} (now "
    "{air_c}; ceiling {ceiling_c}); the soil at {soil_c} takes about {heat_w} for {power_w}",
    ReasonCode.NIGHT_PURGE: "cooling the soil by night, from {soil_c} to {until_c}, so that it can take heat "
    "by day; the ceiling at {ceiling_c} takes about {heat_w} for {power_w}",
    ReasonCode.HEAT: "warming since the air fell below {setpoint_c}, until it passes {until_c} (now "
    "{air_c}); the soil at {soil_c} gives about {heat_w} for {power_w}",
    ReasonCode.FROST: "warming with every loop since the air fell to the frost limit of {setpoint_c}, "
    "until it passes {until_c} (now {air_c}); the soil at {soil_c} gives about {heat_w} for {power_w}",
    ReasonCode.DEMANDED: "switched on by a plain rule, for comparison: ceiling {ceiling_c}, soil {soil_c}",
    ReasonCode.TRIAL: "weekly test of the fan, for {run_s}: with the ceiling at {ceiling_c} and the soil at "
    "{soil_c} its outlet must show moving air",
    ReasonCode.TRIAL_OVER: "the weekly test of the fan is over after {run_s}",
    ReasonCode.NOTHING_WANTED: "the house needs neither warmth nor cooling: air {air_c}, ceiling "
    "{ceiling_c}, soil {soil_c}",
    ReasonCode.DIFFERENCE_SMALL: "the ceiling is only {difference_k} warmer than the soil ({ceiling_c} "
    "over {soil_c}); a fan is worth its electricity from {needed_k} on",
    ReasonCode.HEAT_TOO_DEAR: "a run would move about {heat_w} for {power_w}; a fan is worth its "
    "electricity from {least_w} on",
    ReasonCode.HEAT_TOO_LATE: "a run would move about {heat_w} for {power_w}; now that nights have risen "
    "{passed_k} above the coldest of the season, a fan is worth its electricity from {least_w} on",
    ReasonCode.STORE_NOT_WANTED: "the soil at {soil_c} is warm enough: {full_c} will do while nights stay "
    "above {cold_c} (coldest lately {coldest_c})",
    ReasonCode.COOLING_OFF: "cooling is switched off in the settings, at {ceiling_c} under the roof; the "
    "soil at {soil_c} could take about {heat_w} for {power_w}",
    ReasonCode.NOT_HOT_YET: "cooling begins at {setpoint_c} at the {probe} (now {air_c}; ceiling "
    "{ceiling_c}), and the soil at {soil_c} needs no more heat for the nights",
    ReasonCode.SOIL_TOO_WARM: "the soil at {soil_c} is {lacking_k} too warm to cool the house: the ceiling "
    "at {ceiling_c} must be {needed_k} warmer; a run would move about {heat_w} for {power_w}",
    ReasonCode.NOTHING_TO_BANK: "nothing to bank: the ceiling at {ceiling_c} is no warmer than the soil at "
    "{soil_c}",
    ReasonCode.NOTHING_TO_RETURN: "nothing to return: the soil at {soil_c} is no warmer than the air at "
    "{air_c}",
    ReasonCode.LITTLE_TO_RETURN: "the soil at {soil_c} is only {difference_k} warmer than the air at "
    "{air_c}; a fan is worth its electricity from {needed_k} on",
    ReasonCode.OTHERS_ENOUGH: "other loops warm the house; this one helps once the air falls below "
    "{below_c} (now {air_c})",
    ReasonCode.ROOT_ZONE_WARM: "for the sake of the roots no heat is banked while {place} is at or above "
    "{limit_c} (now {now_c}); about {heat_w} could be, for {power_w}",
    ReasonCode.ROOT_ZONE_HOT: "for the sake of the roots the fans do not even cool while {place} is at or "
    "above {limit_c} (now {now_c}); about {heat_w} could go, for {power_w}",
    ReasonCode.ROOT_ZONE_COLD: "for the sake of the roots no heat is taken from the soil while {place} is at "
    "or below {limit_c} (now {now_c})",
    ReasonCode.NO_HEAT_PROVEN: "outlet {outlet_c} proves only {heat_w} for {power_w}; next try in "
    "{back_off_s}",
    ReasonCode.AIR_NOT_PROVEN: "the float cannot be read, and the outlet did not show moving air within "
    "{purge_s}: water may stand in the tubes",
    ReasonCode.BACK_OFF: "the last run moved too little heat; next try in {left_s}",
    ReasonCode.RESTING: "the motor rests for another {left_s}",
    ReasonCode.STARTS_SPENT: "the motor may not start again yet; starts in the last hour: {starts}, the "
    "most allowed",
    ReasonCode.STAGGER: "waits {left_s} so that two motors never start together",
    ReasonCode.FLOOD: "water in sump {sump} for {for_s}; no fan blows into wet tubes",
    ReasonCode.FLOAT_UNREADABLE: "the float of sump {sump} {why} (for {for_s}); water may stand in the tubes",
    ReasonCode.DRAIN_DOWN: "the tubes drain for another {left_s} after water in sump {sump}",
    ReasonCode.JUST_STARTED: "the controller has just started, and water may have come to sump {sump} "
    "unseen before; the tubes get another {left_s} to drain",
    ReasonCode.FLOAT_BACK: "the float of sump {sump} could not be read until lately, and water may have "
    "come unseen; the tubes get another {left_s} to drain",
    ReasonCode.FIRE: "fire signature {for_s} ago: {detail}; fans stay off until a person enters on the "
    "machine: hypocaust clear fire",
    ReasonCode.FIRE_ONE_PROBE: "{detail}, {for_s} ago, and no other air probe agrees; fans stay off until "
    "the others have disagreed for an hour",
    ReasonCode.NO_DECISION: "switched off because no decision came for {for_s}; rests {rest_s}, as after a "
    "restart",
    ReasonCode.OUTPUT_FAILED: "did not stay on as commanded, so it was switched off; next try in {rest_s} "
    "at the earliest",
    ReasonCode.CEILING_UNKNOWN: "no fan runs without a ceiling temperature; the ceiling probe {why} (for "
    "{for_s})",
    ReasonCode.SOIL_UNKNOWN: "the fan does not run without a soil temperature; the soil probe {why} (for "
    "{for_s})",
    ReasonCode.PUMP_WET: "water in the sump; start {starts} of at most {most} this hour",
    ReasonCode.PUMP_EMPTIED: "sump dry after a run of {run_s}, the run-on of {run_on_s} included",
    ReasonCode.PUMP_LONGEST_RUN: "float still wet after a run of {run_s}; the motor rests for {rest_s}",
    ReasonCode.PUMP_DOUBTED: "the float has read wet for more than {wet_for_s}, as a stuck float or a cut "
    "wire would; ran {run_s}, rests {rest_s}",
    ReasonCode.PUMP_DRY: "sump dry; pump idle for {for_s}",
    ReasonCode.PUMP_RESTING: "water in the sump; the motor rests for another {left_s}",
    ReasonCode.PUMP_SPACED: "water in the sump; at most {most} starts an hour, the next in {left_s}",
    ReasonCode.PUMP_DUTY: "the float cannot be read, so the pump runs {run_s} every {every_s}",
    ReasonCode.PUMP_DUTY_DONE: "ran {run_s} by the clock, as every {every_s} while the float cannot be read",
    ReasonCode.PUMP_EXERCISE: "has not run for {for_s}; runs {run_s} so that it does not seize",
    ReasonCode.PUMP_EXERCISE_DONE: "ran {run_s} so that it does not seize",
    ReasonCode.SIGNAL_WELL: "for {hold_s} nothing has needed a person at once; other alarms: {alarms}",
    ReasonCode.SIGNAL_CALLS: "calls a person; alarms to act on now: {alarms}, the first: {first}",
    ReasonCode.SIGNAL_BLIND: "calls a person, because roof and floats have not all been read since the "
    "start, or the alarms could not be worked out; comes on {hold_s} after both are there",
    ReasonCode.SIGNAL_TODAY: "something is to be done today; alarms: {alarms}, the first: {first}",
    ReasonCode.SIGNAL_NOTHING_DUE: "alarms to act on today: {alarms}",
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
        missed = _MISSED if self.code in WATER and "heat_w" in self.numbers else ""
        return (_SENTENCES[self.code] + missed).format_map(written)
