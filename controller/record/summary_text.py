"""A day or a month in one paragraph, for a person who wants to know how it went."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from controller.faults import DAY_S, HOUR_S
from controller.record.tally import JOULES_PER_KWH
from controller.units import duration_text, temperature_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from controller.diagnosis.alarms import Alarm
    from controller.record.tally import DayTally, LoopTally, PumpTally
    from controller.units import TemperatureUnit

# A day that was watched for less than this is not told as a whole one. [practice]
WHOLE_DAY_S = 23.0 * HOUR_S
MOST_NAMED = 3
TEN = 10.0


def day_text(day: DayTally, unit: TemperatureUnit, wrong: Sequence[str]) -> str:
    """A finished day in words.

    Args:
        day: its sums.
        unit: what people read temperatures in.
        wrong: what alarms stand at its end, most urgent first.
    """
    name = "A day without a date" if day.date is None else _day_name(date.fromisoformat(day.date))
    part = "" if day.covered_s >= WHOLE_DAY_S else f" Watched for {duration_text(day.covered_s)} only."
    return f"{name}: {_sums(day, unit)}{part} {_wrong(wrong)}"


def month_text(month: DayTally, unit: TemperatureUnit, raised: int, urgent: int) -> str:
    """A finished month in words.

    Args:
        month: its sums; the date is any of its days.
        unit: what people read temperatures in.
        raised: how many alarms were raised in it.
        urgent: how many of them were to act on at once.
    """
    name = "A month" if month.date is None else f"{date.fromisoformat(month.date):%B %Y}"
    days = month.covered_s / DAY_S
    if raised == 0:
        alarms = "No alarm was raised."
    else:
        alarms = f"Alarms raised: {raised}, to act on at once: {urgent}."
    return f"{name}: {_sums(month, unit)} Watched for {days:.1f} days. {alarms}"


def named(alarm: Alarm) -> str:
    """An alarm as a summary names it: ``probe: bench``."""
    return f"{alarm.code.value}: {alarm.subject}" if alarm.subject else alarm.code.value


def _day_name(day: date) -> str:
    return f"{day:%A} {day.day} {day:%B %Y}"


def _sums(sums: DayTally, unit: TemperatureUnit) -> str:
    return f"{_air(sums, unit)} {_fans(sums.loops.values())} {_pumps(sums.pumps.values())}"


def _air(sums: DayTally, unit: TemperatureUnit) -> str:
    if sums.air_min_c is None or sums.air_max_c is None:
        return "no air probe could be read."
    low = temperature_text(sums.air_min_c, unit).removesuffix(f" {unit.value}")
    return f"{low} to {temperature_text(sums.air_max_c, unit)}."


def _fans(loops: Iterable[LoopTally]) -> str:
    loops = tuple(loops)
    run_s = sum(loop.run_s for loop in loops)
    if run_s == 0.0:
        return "No fan ran."
    used, banked, returned = (
        _kwh(sum(joules))
        for joules in zip(
            *((loop.electricity_j, loop.banked_j, loop.returned_j) for loop in loops), strict=True
        )
    )
    return f"The fans ran {duration_text(run_s)} for {used}, banked {banked} and returned {returned}."


def _pumps(pumps: Iterable[PumpTally]) -> str:
    pumps = tuple(pumps)
    starts, run_s = sum(pump.starts for pump in pumps), sum(pump.run_s for pump in pumps)
    if run_s == 0.0 and starts == 0:
        return "No pump ran."
    times = {1: "once", 2: "twice"}.get(starts, f"{starts} times")
    return f"The pump ran {times}, {duration_text(run_s)}."


def _kwh(joules: float) -> str:
    kwh = joules / JOULES_PER_KWH
    return f"{kwh:.0f} kWh" if kwh >= TEN else f"{kwh:.1f} kWh"


def _wrong(wrong: Sequence[str]) -> str:
    if not wrong:
        return "Nothing is wrong."
    more = f" and {len(wrong) - MOST_NAMED} more" if len(wrong) > MOST_NAMED else ""
    return f"Alarms that stand: {', '.join(wrong[:MOST_NAMED])}{more}."
