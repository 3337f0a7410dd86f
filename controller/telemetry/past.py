"""The messages that look back: two days as curves, a year in months. Rules as in ``payloads``."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from controller.telemetry.payloads import Count, Duration, Joules, Label, Message, Part

MOST_STEPS = 192


class MeanTemperatures(Part):
    """One temperature over the last two days."""

    what: Literal["ceiling", "bench", "outdoor", "soil"]
    loop: Label | None = Field(description="The loop of a soil temperature, null for the air.")
    mean_c: list[float | None] = Field(
        max_length=MOST_STEPS,
        description="Mean of each step in °C, oldest first; null where nothing could be believed.",
    )


class RunningShares(Part):
    """One motor over the last two days."""

    what: Literal["fan", "pump"]
    name: Label
    on_percent: list[Annotated[int, Field(ge=0, le=100)] | None] = Field(
        max_length=MOST_STEPS,
        description="Share of each step for which it was on, oldest first; null while nobody controlled.",
    )


class Curves(Message):
    """The last two days. All lists are equally long and end with the same step."""

    step_s: Annotated[float, Field(gt=0.0)] = Field(description="Length of a step.")
    since_last_step_s: Duration = Field(description="How long before `at` the last step ended.")
    temperatures: list[MeanTemperatures]
    motors: list[RunningShares]


class MonthSums(Part):
    """One month of the year's heat."""

    month: Annotated[str, StringConstraints(pattern=r"^\d{4}-\d\d$")]
    days: Count = Field(description="Days of it with records.")
    air_min_c: float | None
    air_max_c: float | None
    electricity_j: Joules = Field(description="Of fans and pumps.")
    banked_j: Joules = Field(description="Heat put into the soil.")
    returned_j: Joules = Field(description="Heat taken out of the soil.")


class Year(Message):
    """The heat of the last twelve months and of this one, as far as the history has them."""

    months: list[MonthSums] = Field(max_length=13, description="Oldest first; up to yesterday.")
