"""Lays a rehearsal out as text for a person at a terminal, 80 columns wide. Pure."""

from __future__ import annotations

import calendar
import textwrap
from collections import defaultdict
from datetime import date, datetime, timedelta
from operator import itemgetter
from typing import TYPE_CHECKING

from controller.decision.reasons import ReasonCode
from controller.decision.state import Demand
from controller.faults import FAULTS, HOUR_S, FaultCode
from controller.rehearsal.report.building_text import assumptions
from controller.rehearsal.run import LARGEST_CLOSURE_ERROR
from controller.rehearsal.tracker import COLD_C, HOT_C
from controller.units import (
    FAHRENHEIT_PER_KELVIN,
    TemperatureUnit,
    duration_text,
    fahrenheit_from_celsius,
    temperature_text,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from controller.rehearsal.journal import Happening
    from controller.rehearsal.summary import Summary

WIDTH = 80
LONGEST_NAME = 16
ALARMS_SHOWN = 6

PURPOSES = {
    Demand.FROST: "keeping frost off",
    Demand.HEAT: "warming the house",
    Demand.COOL: "cooling the house",
    Demand.BANK: "banking heat",
    Demand.NIGHT_PURGE: "cooling the soil by night",
    Demand.PLAIN: "the plain rule",
    Demand.TRIAL: "weekly tests of the fans",
}
# Why fans stand still, in words short enough for a list; reasons that mean the same to a reader go together.
IDLE_WORDS = {
    ReasonCode.NOTHING_WANTED: "neither warmth nor cooling was wanted",
    ReasonCode.TRIAL_OVER: "neither warmth nor cooling was wanted",
    ReasonCode.DIFFERENCE_SMALL: "roof and soil differed too little",
    ReasonCode.HEAT_TOO_DEAR: "there was too little heat for the electricity",
    ReasonCode.HEAT_TOO_LATE: "there was too little heat for it, so late in the winter",
    ReasonCode.STORE_NOT_WANTED: "the soil was warm enough for the nights",
    ReasonCode.COOLING_OFF: "cooling was switched off",
    ReasonCode.NOT_HOT_YET: "it was not hot enough to cool",
    ReasonCode.SOIL_TOO_WARM: "the soil was too warm to cool the house",
    ReasonCode.NOTHING_TO_BANK: "the roof was no warmer than the soil",
    ReasonCode.NOTHING_TO_RETURN: "the soil had no warmth left",
    ReasonCode.LITTLE_TO_RETURN: "the soil had little warmth left",
    ReasonCode.OTHERS_ENOUGH: "other loops were enough",
    ReasonCode.ROOT_ZONE_WARM: "it was too warm for the roots to bank",
    ReasonCode.ROOT_ZONE_HOT: "it was too warm for the roots to cool",
    ReasonCode.ROOT_ZONE_COLD: "it was too cold for the roots",
    ReasonCode.NO_HEAT_PROVEN: "the run before moved too little heat",
    ReasonCode.BACK_OFF: "the run before moved too little heat",
    ReasonCode.AIR_NOT_PROVEN: "no air came through the outlet",
    ReasonCode.RESTING: "motors had to rest",
    ReasonCode.STARTED: "motors had to rest",
    ReasonCode.STARTS_SPENT: "motors had to rest",
    ReasonCode.STAGGER: "motors had to rest",
    ReasonCode.FLOOD: "of water, or tubes still draining",
    ReasonCode.DRAIN_DOWN: "of water, or tubes still draining",
    ReasonCode.FLOAT_UNREADABLE: "the float could not be read",
    ReasonCode.FLOAT_BACK: "the float could not be read",
    ReasonCode.JUST_STARTED: "nobody knew after the start whether the tubes were dry",
    ReasonCode.CEILING_UNKNOWN: "a temperature was unknown",
    ReasonCode.SOIL_UNKNOWN: "a temperature was unknown",
    ReasonCode.FIRE: "of the fire signature",
    ReasonCode.FIRE_ONE_PROBE: "one probe showed a fire",
    ReasonCode.NO_DECISION: "no decision came",
    ReasonCode.OUTPUT_FAILED: "an output failed",
}
FITTINGS = {"shade": "shade cloth drawn", "screen": "thermal screen drawn", "heater": "backup heater on"}
IDLE_SHOWN, LEAST_SHARE = 4, 0.005
STRATEGIES = {
    "hypocaust": "",
    "fans-off": "The fans are held off; only the pumps work.",
    "fans-always": "The fans run whenever that is safe, wanted or not.",
    "plain-thermostat": "The fans follow a plain thermostat under the roof that does not look at the soil.",
    "simple-difference": "The fans run where soil and warm or cold air under the roof differ by 5 K.",
}


def report(
    summary: Summary, examples: Sequence[Happening], unit: TemperatureUnit, without_fans: Summary | None
) -> list[str]:
    """The whole report.

    Args:
        summary: the rehearsal in numbers.
        examples: output changes to show with their reasons.
        unit: of the temperatures people read.
        without_fans: the same days with the fans off, None to leave the comparison out.
    """
    parts = [
        _head(summary, unit),
        _house(summary, unit),
        _fans(summary),
        _loops(summary, unit),
        _water(summary),
        _alarms(summary),
        _thinking(examples, unit),
        () if without_fans is None or summary.fans.run_hours == 0.0 else _gain(summary, without_fans, unit),
        _trust(summary),
    ]
    return [line for part in parts for line in part][1:]  # every part begins with an empty line


def clock_text(moment: datetime) -> str:
    """A moment as people write it, without the year: ``5 Jan 23:42``."""
    return f"{moment.day} {moment:%b %H:%M}"


def count_text(value: float) -> str:
    """A whole number with its thousands apart: ``10 080``."""
    return f"{value:,.0f}".replace(",", " ")


def day_text(moment: datetime) -> str:
    """A day as people write it, without the year: ``5 January``."""
    return f"{moment.day} {moment:%B}"


def wrapped(text: str, indent: str = "") -> list[str]:
    """A text as lines of no more than the width, each further one two letters deeper."""
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=f"{indent}  ")


def pace_text(pace_s: float) -> str:
    """How often the controller ticked."""
    often = f"The controller ticked every {duration_text(pace_s)}"
    return f"{often}, and at once when a float turned or a timer ran out."


def _head(summary: Summary, unit: TemperatureUnit) -> Iterator[str]:
    start = datetime.fromisoformat(summary.start)
    last = start + timedelta(days=summary.days, seconds=-1)
    yield ""
    yield from wrapped(f"Rehearsal of {summary.site}")
    days = f"{summary.days:g} day{'' if summary.days == 1.0 else 's'}"
    yield from wrapped(f"{days}, {day_text(start)} to {day_text(last)}, in the weather of {summary.weather}")
    if words := STRATEGIES[summary.strategy]:
        yield from wrapped(words)
    yield from wrapped(pace_text(summary.pace_s))
    for note in (*summary.notes, *_calendar(start, last), *assumptions(summary.building, unit)):
        yield from wrapped(f"note: {note}", "  ")
    soils = [loop.soil_start_c for loop in summary.fans.by_loop.values()]
    soil = temperature_text(sum(soils) / len(soils), unit)
    yield from wrapped(
        f"note: the soil at the tubes starts at {soil}, as on that day under a house "
        "whose fans have never run; a store in its second year starts differently",
        "  ",
    )


def _calendar(start: datetime, last: datetime) -> Iterator[str]:
    """What a weather of one year of 365 days does to other lengths and years."""
    if last - start >= timedelta(days=365):
        yield "every year has the same weather"
    leap_years = [year for year in range(start.year, last.year + 1) if calendar.isleap(year)]
    if any(start.date() <= date(year, 2, 29) <= last.date() for year in leap_years):
        yield "29 February has the weather of the 28th"


def _house(summary: Summary, unit: TemperatureUnit) -> Iterator[str]:
    house = summary.house
    yield ""
    yield f"{'The house':<30}{'among the crop':>16}{'outdoors':>14}"
    for name, inside_c, outdoors_c in (
        ("coldest", house.air_min_c, house.outdoor_min_c),
        ("warmest", house.air_max_c, house.outdoor_max_c),
    ):
        yield f"  {name:<28}{temperature_text(inside_c, unit):>16}{temperature_text(outdoors_c, unit):>14}"
    yield (
        f"  {'time in frost':<28}{_hours(house.hours_below_0c):>16}{_hours(house.outdoor_hours_below_0c):>14}"
    )
    yield f"  {_below(unit):<28}{_degree_hours(house.degree_hours_below_4c, unit):>16}"
    yield f"  {f'time above {temperature_text(HOT_C, unit)}':<28}{_hours(house.hours_above_32c):>16}"
    yield f"  {_above(unit):<28}{_degree_hours(house.degree_hours_above_32c, unit):>16}"
    for name, sums in house.fittings.items():
        gave = f", {_energy(sums.heat_kwh)} of heat" if sums.heat_kwh > 0.0 else ""
        yield f"  {FITTINGS[name]:<28}{_hours(sums.run_hours):>16}{gave}"


def _fans(summary: Summary) -> Iterator[str]:
    fans, ground = summary.fans, summary.ground
    yield ""
    if not ground.by_demand:
        yield "The fans did not run."
        yield from _idle(fans.idle_hours)
        return
    yield f"{'What the fans ran for':<24}{'hours':>8}{'electricity':>14}{'heat moved':>24}{'per kWh':>10}"
    for demand in Demand:
        sums = ground.by_demand.get(demand.value)
        if sums is None:
            continue
        way = "into soil  " if sums.heat_kwh >= 0.0 else "out of soil"
        heat = f"{_energy(abs(sums.heat_kwh))} {way}"
        per_kwh = f"{abs(sums.heat_kwh) / sums.energy_kwh:.0f} kWh" if sums.energy_kwh > 0.0 else "-"
        name = PURPOSES[demand]
        yield f"  {name:<22}{sums.run_hours:>8.1f}{_energy(sums.energy_kwh):>14}{heat:>24}{per_kwh:>10}"
    yield f"  {'all together':<22}{fans.run_hours:>8.1f}{_energy(fans.energy_kwh):>14}"
    if ground.charged_kwh > 0.0:
        yield from wrapped(
            f"Of the heat stored, {max(100.0 * ground.latent_share, 0.0):.0f} % came from moisture that "
            "condensed in the tubes. A fuller crop brings more of it, open vents bring less."
        )
    yield from _idle(fans.idle_hours)


def _idle(hours: Mapping[str, float]) -> Iterator[str]:
    """Why the fans stood still, for the longest time first."""
    by_words: defaultdict[str, float] = defaultdict(float)
    for code, idle_h in hours.items():
        by_words[IDLE_WORDS.get(ReasonCode(code), code)] += idle_h
    total_h = sum(by_words.values())
    longest_first = sorted(by_words.items(), key=itemgetter(1), reverse=True)
    causes = [
        f"{100.0 * idle_h / total_h:.0f} % because {words}"
        for words, idle_h in longest_first[:IDLE_SHOWN]
        if idle_h > LEAST_SHARE * total_h
    ]
    if causes:
        yield from wrapped(f"Of the time they stood still, {', '.join(causes)}.")


def _loops(summary: Summary, unit: TemperatureUnit) -> Iterator[str]:
    yield ""
    moved = f"{'heat in':>12}{'heat out':>12}{'soil first':>12}{'last':>10}"
    yield f"{'Each loop':<20}{'hours':>8}{'runs':>6}{moved}"
    for name, loop in summary.fans.by_loop.items():
        start, end = temperature_text(loop.soil_start_c, unit), temperature_text(loop.soil_end_c, unit)
        yield (
            f"  {_short(name):<18}{loop.run_hours:>8.1f}{loop.starts:>6}{_energy(loop.charged_kwh):>12}"
            f"{_energy(loop.discharged_kwh):>12}{start:>12}{end:>10}"
        )


def _water(summary: Summary) -> Iterator[str]:
    yield ""
    yield f"{'Water':<20}{'pump ran':>12}{'runs':>6}{'float wet':>14}"
    for name, sump in summary.pump.by_sump.items():
        ran, wet = duration_text(sump.run_hours * HOUR_S), duration_text(sump.wet_hours * HOUR_S)
        yield f"  {_short(name):<18}{ran:>12}{sump.starts:>6}{wet:>14}"
    if summary.pump.locked_hours > 0.0:
        every = summary.days * 24.0 * len(summary.fans.by_loop)
        share = 100.0 * summary.pump.locked_hours / every
        yield from wrapped(
            f"Water, and tubes still draining, kept fans locked for {share:.0f} % of the time "
            f"({_hours(summary.pump.locked_hours)}, all fans added up)."
        )


def _alarms(summary: Summary) -> Iterator[str]:
    yield ""
    if not summary.alarms:
        yield "Alarms: none."
        return
    yield "Alarms"
    urgent_first = sorted(summary.alarms.items(), key=lambda item: FAULTS[FaultCode(item[0])].priority)
    for code, alarm in urgent_first[:ALARMS_SHOWN]:
        times = "once" if alarm.raised == 1 else f"{alarm.raised} times, first"
        when = clock_text(datetime.fromisoformat(alarm.first_at))
        said = f" ({alarm.first})" if alarm.first else ""
        yield from wrapped(f"{code.replace('-', ' ')}: {times} on {when}{said}", "  ")
        yield from wrapped(f"Do: {FAULTS[FaultCode(code)].action}", "      ")
    if len(urgent_first) > ALARMS_SHOWN:
        rest = ", ".join(code.replace("-", " ") for code, _ in urgent_first[ALARMS_SHOWN:])
        yield from wrapped(f"and less urgent: {rest}", "  ")


def _thinking(examples: Sequence[Happening], unit: TemperatureUnit) -> Iterator[str]:
    if not examples:
        return
    yield ""
    yield "How it decides: the first time for each kind of reason"
    for happening in examples:
        change = happening.change
        doing = f"{change.output.kind} {change.output.name} {'on' if change.on else 'off'}"
        yield from wrapped(f"{clock_text(happening.at)}  {doing}: {change.reason.sentence(unit)}", "  ")


def _gain(summary: Summary, without: Summary, unit: TemperatureUnit) -> Iterator[str]:
    """With and without; differences are taken of the rounded figures, so that a reader can check them."""
    ours, theirs = summary.house, without.house
    yield ""
    yield f"{'What the fans brought':<30}{'with':>14}{'without':>14}{'difference':>16}"
    degree, kelvins = unit.value, _degree_name(unit)
    to_read = fahrenheit_from_celsius if unit is TemperatureUnit.FAHRENHEIT else float
    for name, with_c, without_c in (
        ("coldest", ours.air_min_c, theirs.air_min_c),
        ("warmest", ours.air_max_c, theirs.air_max_c),
    ):
        yield _compared(name, round(to_read(with_c), 1), round(to_read(without_c), 1), 1, degree, kelvins)
    yield _compared("time in frost", round(ours.hours_below_0c), round(theirs.hours_below_0c), 0, "h", "h")
    for name, with_kh, without_kh in (
        (_below(unit), ours.degree_hours_below_4c, theirs.degree_hours_below_4c),
        (_above(unit), ours.degree_hours_above_32c, theirs.degree_hours_above_32c),
    ):
        sums = round(_degrees(with_kh, unit)), round(_degrees(without_kh, unit))
        yield _compared(name, *sums, 0, f"{kelvins} h", f"{kelvins} h")
    yield f"  for {_energy(summary.fans.energy_kwh)} of electricity"


def _compared(name: str, ours: float, theirs: float, places: int, unit: str, change_unit: str) -> str:
    change = f"{ours - theirs:+.{places}f} {change_unit}" if ours != theirs else "none"
    figures = f"{f'{ours:.{places}f} {unit}':>14}{f'{theirs:.{places}f} {unit}':>14}"
    return f"  {name:<28}{figures}{change:>16}"


def _trust(summary: Summary) -> Iterator[str]:
    promises, missed = summary.promises, summary.ground.energy_closure_error
    yield ""
    ticks = count_text(promises.checked_ticks)
    if promises.broken:
        yield from wrapped(f"SAFETY PROMISES BROKEN, a defect in the program ({ticks} ticks checked):")
        for broken in promises.broken:
            yield from wrapped(broken, "  ")
    else:
        yield f"Safety promises: {ticks} ticks checked, none broken."
    if not abs(missed) <= LARGEST_CLOSURE_ERROR:
        yield from wrapped(
            f"WARNING: the energy books of the simulated house miss {100.0 * missed:.2g} % of the heat that "
            "went through it; do not rely on the figures above."
        )
    yield f"The rehearsal took {duration_text(summary.wall_s)}."


def _short(name: str) -> str:
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 2]}.."


def _hours(hours: float) -> str:
    return f"{hours:.0f} h" if hours == 0.0 or hours >= 10.0 else f"{hours:.1f} h"  # noqa: PLR2004


def _energy(value_kwh: float) -> str:
    places = 0 if abs(value_kwh) >= 100.0 else 1  # noqa: PLR2004
    return f"{count_text(value_kwh) if places == 0 else f'{value_kwh:.1f}'} kWh"


def _degrees(difference_k: float, unit: TemperatureUnit) -> float:
    return difference_k * (FAHRENHEIT_PER_KELVIN if unit is TemperatureUnit.FAHRENHEIT else 1.0)


def _degree_name(unit: TemperatureUnit) -> str:
    return "°F" if unit is TemperatureUnit.FAHRENHEIT else "K"


def _degree_hours(value_kh: float, unit: TemperatureUnit) -> str:
    return f"{_degrees(value_kh, unit):.0f} {_degree_name(unit)} h"


def _below(unit: TemperatureUnit) -> str:
    return f"degree-hours below {temperature_text(COLD_C, unit)}"


def _above(unit: TemperatureUnit) -> str:
    return f"degree-hours above {temperature_text(HOT_C, unit)}"
