"""The messages a phone or a program may rely on. Every number is SI with its unit in its name.

A temperature that cannot be believed is null with words in ``why``, never a number. Numbers are in °C;
sentences are written in the unit the people of the site chose. No object has keys besides those below.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints, model_validator

LONGEST_WORDS = 400
LONGEST_NAME = 64
MOST_ALARMS = 40
MOST_BLIND_SPOTS = 40


def shortened(limit: int) -> BeforeValidator:
    """Cut a text at ``limit`` characters, with an ellipsis where something is missing.

    Halves of characters, as names of files may hold them, become question marks: no message can carry them.
    """

    def cut(value: object) -> object:
        if not isinstance(value, str):
            return value
        whole = value.encode("utf-8", "replace").decode("utf-8")
        return whole if len(whole) <= limit else whole[: limit - 1] + "…"

    return BeforeValidator(cut)


Words = Annotated[str, StringConstraints(max_length=LONGEST_WORDS), shortened(LONGEST_WORDS)]
Label = Annotated[str, StringConstraints(max_length=LONGEST_NAME), shortened(LONGEST_NAME)]
Moment = Annotated[
    str,
    StringConstraints(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$"),
    Field(json_schema_extra={"format": "date-time"}),
]
Joules = Annotated[int, Field(ge=0)]
Duration = Annotated[float, Field(ge=0.0)]
Count = Annotated[int, Field(ge=0)]
Urgency = Literal["act now", "today", "this week"]


class Part(BaseModel):
    """A piece of a message."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


class Message(Part):
    """What every message carries."""

    at: Moment | None = Field(description="When it was true, UTC; null until the clock of the board is set.")
    seq: Count = Field(description="Number of the control tick behind it; starts again with the program.")
    valid_for_s: Annotated[float, Field(gt=0.0)] | None = Field(
        description="An older message must not be taken for the present; null: it holds until it is replaced."
    )


class Measured(Part):
    """One temperature, or why it is missing."""

    temperature_c: float | None = Field(description="Temperature in °C, null where it cannot be believed.")
    why: Words | None = Field(description="Why the temperature is missing; null if it is known.")
    age_s: Duration = Field(description="Seconds since it was measured, or since it has been missing.")

    @model_validator(mode="after")
    def _either_value_or_cause(self) -> Self:
        if (self.temperature_c is None) == (self.why is None):
            raise ValueError("a reading has either a temperature or the cause why it is missing")
        return self


class Learned(Part):
    """What the controller has learned about the season."""

    coldest_lately_c: float | None = Field(
        description="Coldest air among the crop, forgotten by half a kelvin a day; null until known."
    )
    nights_are_cold: bool = Field(
        description="Whether nights are so cold that even warm soil gets more heat."
    )
    nights_rising_k: float = Field(
        ge=0.0,
        description="How far the coldest air of late lies above the coldest of the season (forgotten by a "
        "twentieth of a kelvin a day) in K; at most 6.",
    )
    need_has_passed: bool = Field(
        description="Whether nights have risen so far that heat for the soil must come at a better price."
    )


class House(Part):
    """The air of the house and outside."""

    ceiling: Measured
    bench: Measured
    outdoor: Measured
    people: Words | None = Field(
        description="Why nobody should work in there now, by the heat; null while it is no high risk."
    )


class LoopParts(Part):
    """One loop: its fan, its probes and what they bring."""

    name: Label
    fan_on: bool
    reason: Words = Field(description="Why the fan is on or off, as a sentence with the numbers behind it.")
    since_s: Duration = Field(description="Seconds since the fan last went on or off.")
    demand: Label | None = Field(
        description="What the fan runs for: frost, heat, cool, bank or night-purge; null while off."
    )
    soil: Measured
    root_zone: Measured
    outlet: Measured
    heat_w: float | None = Field(description="Heat proven to move now, positive into the soil.")
    heat_why: Words | None = Field(description="Why there is no heat figure.")
    proof: Label = Field(description="How far this run has shown at the outlet that heat really moves.")
    lockouts: list[Words] = Field(max_length=16, description="What forbids the fan to run now.")
    starts_today: Count
    run_today_s: Duration
    electricity_today_j: Joules
    banked_today_j: Joules = Field(description="Heat put into the soil today.")
    returned_today_j: Joules = Field(description="Heat taken out of the soil today.")
    response: Annotated[float, Field(ge=0.0)] | None = Field(
        description="Learned: heat moved, as a share of what the settings promise; null until it is known."
    )


class SumpParts(Part):
    """One sump: its float and its pump."""

    name: Label
    water: Literal["wet", "dry", "unknown"]
    why: Words | None = Field(description="Why the water level is unknown; null where it is known.")
    water_age_s: Duration = Field(description="Seconds since the float was read, or since it could not be.")
    pump_on: bool
    phase: Label = Field(description="What the pump is doing.")
    reason: Words = Field(description="Why the pump is on or off, as a sentence with the numbers behind it.")
    since_s: Duration = Field(description="Seconds since the pump last went on or off.")
    usual_empty_s: Duration | None = Field(
        description="How long the pump alone takes for the pit; null until known."
    )
    lockouts: list[Words] = Field(max_length=16, description="What forbids the pump to start now.")
    starts_today: Count
    run_today_s: Duration
    electricity_today_j: Joules


class SignalParts(Part):
    """A signal that needs no network."""

    name: Label = Field(description="all-well: on while nothing calls; today: on while something is due.")
    on: bool
    reason: Words = Field(description="Why it is on or off, as a sentence with the numbers behind it.")


class AlarmSubject(Part):
    """One thing an alarm is about."""

    subject: Label = Field(description="Which probe, loop, sump or file; empty where there is only one.")
    detail: Words = Field(description="The numbers or words behind it.")
    since: Moment | None = Field(description="Since when, UTC; null until the clock is set.")
    since_s: Duration = Field(description="The same as seconds before this message.")
    seen: bool = Field(
        default=False,
        description="Whether somebody at the machine has said that they have seen it; it calls nobody then, "
        "until it ends, becomes worse or that time is over.",
    )
    seen_at: Moment | None = Field(
        default=None, description="When that was, UTC; null until the clock is set, and where nobody has."
    )
    muted: bool = Field(
        default=False,
        description="Whether it is about a crop, in a house that somebody says is empty; it calls nobody.",
    )


class AlarmParts(Part):
    """What an alarm is, what it leads to and what to do."""

    code: Label
    priority: Urgency
    cause: Words
    consequence: Words
    action: Words = Field(description="What to do.")
    time_to_act_s: Duration = Field(description="How long the house copes.")


class StatusAlarm(AlarmParts, AlarmSubject):
    """An alarm within the status."""


class LoopSums(Part):
    """One loop's day."""

    name: Label
    starts: Count
    run_s: Duration
    electricity_j: Joules
    banked_j: Joules
    returned_j: Joules


class PumpSums(Part):
    """One pump's day."""

    name: Label
    starts: Count
    run_s: Duration
    electricity_j: Joules


class Sums(Part):
    """Sums over some time."""

    covered_s: Duration = Field(description="Seconds of it that were controlled.")
    air_min_c: float | None
    air_max_c: float | None
    electricity_j: Joules
    banked_j: Joules
    returned_j: Joules
    loops: list[LoopSums]
    pumps: list[PumpSums]


class DaySums(Sums):
    """Sums over a day."""

    date: Annotated[str, StringConstraints(pattern=r"^\d{4}-\d\d-\d\d$")] | None = Field(
        description="The day, in the time zone of the board; null while the clock is not set."
    )


class HandCheckParts(Part):
    """Something no signal watches, to be looked at by hand."""

    name: Label = Field(description="What `hypocaust done` calls it.")
    what: Words = Field(description="What to do.")
    every_days: Count
    last_done: Moment | None = Field(description="When somebody last said so, UTC; null: never.")
    due: Moment | None = Field(description="When it is due, UTC; null: now, as it was never done.")


class TonightParts(Part):
    """What is expected of the night that comes or is in progress; learned from the house's own nights."""

    low_c: float | None = Field(default=None, description="Coldest air of the house, with the store.")
    low_from_c: float | None = Field(
        default=None, description="It may get so cold; null until 25 nights have been seen."
    )
    low_to_c: float | None = Field(default=None, description="Or only so cold.")
    without_store_c: float | None = Field(
        default=None,
        description="Coldest air with fans that stand, an estimate from the settings of the house.",
    )
    without_store_from_c: float | None = Field(default=None, description="It may then get so cold.")
    without_store_to_c: float | None = Field(default=None, description="Or only so cold.")
    store: Label | None = Field(
        default=None,
        description="How long the store lasts: not needed, lasts the night, lasts until (a time), has "
        "nothing to give, or not known yet; null without an outlook.",
    )
    store_lasts_until: Moment | None = Field(default=None, description="When it ends, UTC.")
    heater: Label | None = Field(
        default=None,
        description="Whether a heater is needed to stay above the crop's limit: not needed, keep it ready, "
        "needed, or not known yet; null without an outlook.",
    )
    heater_from: Moment | None = Field(default=None, description="From when it is needed, UTC.")
    forecast_low_c: float | None = Field(
        default=None, description="The forecast low outdoors that was given for this night; null without one."
    )
    nights_seen: Count = Field(description="Nights learned from; 10 make a value, 25 its bounds.")
    why: Words | None = Field(default=None, description="Why there is no outlook; null where there is one.")
    words: Words = Field(description="The same as a sentence, in the unit people of this site read.")


class Online(Message):
    """Whether the controller talks to the broker."""

    online: bool
    why: Literal["running", "stopped", "connection lost"]


class Status(Message):
    """Everything at a glance."""

    site: Label
    title: Words
    unit: Literal["°C", "°F"] = Field(
        description="Unit people of this site read; numbers here are °C all the same."
    )
    clock_set: bool
    house: House
    learned: Learned
    advice: Words | None = Field(
        description="What a person could do for the house now, such as opening it; null for nothing."
    )
    loops: list[LoopParts]
    sumps: list[SumpParts]
    signals: list[SignalParts] = Field(default=[], description="Those that are fitted.")
    alarms: list[StatusAlarm] = Field(max_length=MOST_ALARMS, description="Most urgent first.")
    alarms_left_out: Count = Field(description="Further alarms that did not fit in here.")
    today: DaySums
    not_monitored: list[Words] = Field(
        max_length=MOST_BLIND_SPOTS,
        description="What this house has no signal for: a fault there stays unseen.",
    )
    by_hand: list[HandCheckParts] = Field(
        default=[], description="What to look at by hand, the one that is due first in front."
    )
    tonight: TonightParts | None = Field(
        default=None, description="The outlook on the night; null from an earlier release."
    )
    house_empty: bool = Field(
        default=False,
        description="Whether somebody says that the house is empty; crop alarms are muted.",
    )
    house_empty_until: Moment | None = Field(
        default=None, description="Until when that holds, UTC; null until the clock is set."
    )
    stopped: bool = Field(
        default=False,
        description="Whether the controller has been stopped in order since: every output is off, and all "
        "else here is as it was before.",
    )
    stopped_at: Moment | None = Field(
        default=None, description="When it was stopped, UTC; null while it runs, or until the clock is set."
    )
    promises_broken: Count | None = Field(
        description="How often a safety rule was found broken since the start; must be 0."
    )
    settings: Words | None = Field(
        description="Which settings are in force: the file or its last good copy; null if unknown."
    )
    version: Label
    uptime_s: Duration = Field(description="Seconds since the program started.")
    at_mono_s: float = Field(description="Seconds on the board's own counter; means nothing outside boot_id.")
    boot_id: Label = Field(description="The kernel's name for this boot.")


class Temperature(Message, Measured):
    """One probe."""

    probe: Label
    place: Label
    loop: Label | None


class LoopReport(Message, LoopParts):
    """One loop."""


class SumpReport(Message, SumpParts):
    """One sump."""


class AlarmReport(Message, AlarmParts):
    """One active alarm with all it is about. An empty message means: not active."""

    subjects: Annotated[list[AlarmSubject], Field(min_length=1, max_length=MOST_ALARMS)]


class Day(Message, DaySums):
    """A finished day."""

    text: Words = Field(description="The day in one paragraph for people, in the unit they read.")


class Month(Message, Sums):
    """A finished month, of all runs of the program in it."""

    month: Annotated[str, StringConstraints(pattern=r"^\d{4}-\d\d$")] = Field(
        description="The month, in the time zone of the board."
    )
    text: Words = Field(description="The month in one paragraph for people, in the unit they read.")


class Tonight(Message, TonightParts):
    """The outlook on the night."""
