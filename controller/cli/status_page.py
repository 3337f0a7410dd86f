"""Lays the status out as lines of text for a person at a terminal, 80 columns wide. Pure."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

from controller.decision.state import Demand, Proof
from controller.readings.reading import Why
from controller.record.tally import JOULES_PER_KWH
from controller.units import TemperatureUnit, difference_text, duration_text, power_text, temperature_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from controller.telemetry.payloads import Learned, LoopParts, Measured, Status, StatusAlarm, SumpParts

WIDTH = 80
INDENT = "    "
DOING = {
    Demand.FROST.value: "keeping frost off",
    Demand.HEAT.value: "warming the house",
    Demand.COOL.value: "cooling the house",
    Demand.BANK.value: "banking heat",
    Demand.NIGHT_PURGE.value: "cooling the soil by night",
}
PROVEN = {
    Proof.PURGING.value: "too early to prove",
    Proof.PROVEN.value: "proven at the outlet",
    Proof.WEAK.value: "too little at the outlet",
    Proof.NOT_TESTABLE.value: "the outlet cannot prove it now",
}


class Weight(Enum):
    """How much a line should stand out."""

    PLAIN = "plain"
    HEADING = "heading"
    WARNING = "warning"


@dataclass(frozen=True, slots=True)
class Line:
    """One line of at most `WIDTH` characters."""

    text: str
    weight: Weight = Weight.PLAIN


def page(status: Status, age_s: float | None) -> list[Line]:
    """The whole page.

    Args:
        status: what the controller wrote.
        age_s: how long ago that was; None if the board has started since.
    """
    unit = TemperatureUnit(status.unit)
    lines = [*_head(status, age_s), Line("")]
    for alarm in status.alarms:
        lines += [*_alarm(alarm), Line("")]
    if status.alarms_left_out:
        lines += [Line(f"! and {status.alarms_left_out} more alarms", Weight.WARNING), Line("")]
    lines += [*_air(status, unit), *_wrapped(f"Do: {status.advice}" if status.advice else "", "")]
    lines += [*_season(status, unit), Line("")]
    for loop in status.loops:
        lines += [*_loop(loop, unit), Line("")]
    for sump in status.sumps:
        lines += [*_sump(sump), Line("")]
    return [*lines, *_today(status, unit), *_about(status)]


def is_stale(status: Status, age_s: float | None) -> bool:
    """Whether the status is too old to be taken for the present."""
    return age_s is None or (status.valid_for_s is not None and age_s > status.valid_for_s)


def _head(status: Status, age_s: float | None) -> Iterator[Line]:
    name = textwrap.shorten(status.title or status.site, WIDTH // 2, placeholder="…")
    when = status.at.replace("T", " ").replace("Z", " UTC") if status.at else "clock not set"
    if not is_stale(status, age_s):
        age = "" if age_s is None else f"{duration_text(age_s)} ago"
        right = f"{age} · {when}"
        yield Line(f"{name}{right:>{WIDTH - len(name)}}", Weight.HEADING)
        return
    yield Line(name, Weight.HEADING)
    ago = "the board has started again since" if age_s is None else f"{duration_text(age_s)} ago"
    yield from _wrapped(f"NOT FRESH: written {when}, {ago}.", "", Weight.WARNING)
    yield from _wrapped(
        "Everything below is old; the controller may have stopped. "
        "Find out with: systemctl status hypocaust; journalctl -u hypocaust",
        "",
        Weight.WARNING,
    )


def _alarm(alarm: StatusAlarm) -> Iterator[Line]:
    about = f": {alarm.subject}" if alarm.subject else ""
    title = f"! {alarm.priority.upper()}: {alarm.code.replace('-', ' ')}{about}"
    yield from _wrapped(f"{title}, for {duration_text(alarm.since_s)}", "", Weight.WARNING)
    yield from _wrapped(alarm.detail or alarm.cause)
    yield from _wrapped(f"If nobody acts: {alarm.consequence}")
    yield from _wrapped(f"Do: {alarm.action}")


def _air(status: Status, unit: TemperatureUnit) -> Iterator[Line]:
    house = status.house
    yield from _pieces(
        [
            f"Air: ceiling {_temperature(house.ceiling, unit)}",
            f"bench {_temperature(house.bench, unit)}",
            f"outdoors {_temperature(house.outdoor, unit)}",
        ],
        "",
    )


def _season(status: Status, unit: TemperatureUnit) -> Iterator[Line]:
    coldest_c = status.learned.coldest_lately_c
    if coldest_c is None:
        yield from _pieces(["Season: nothing learned yet, so heat is banked"], "")
        return
    lately = f"Season: coldest lately {temperature_text(coldest_c, unit)} (slowly forgotten)"
    yield from _pieces([lately, _nights(status.learned, unit)], "")


def _nights(learned: Learned, unit: TemperatureUnit) -> str:
    """What the nights of late mean for the store."""
    cold = learned.nights_are_cold
    nights = "nights are cold" if cold else "nights are mild"
    if not learned.need_has_passed:
        return f"{nights}, so {'even warm soil gets heat' if cold else 'warm soil gets only cheap heat'}"
    rise = f"{difference_text(learned.nights_rising_k, unit)} above the season's coldest"
    return f"{nights} and {rise}, so {'only cheap heat is banked' if cold else 'warm soil gets no more heat'}"


def _loop(loop: LoopParts, unit: TemperatureUnit) -> Iterator[Line]:
    does = f"fan {'on' if loop.fan_on else 'off'} for {duration_text(loop.since_s)}"
    if loop.fan_on and loop.demand in DOING:
        does += f", {DOING[loop.demand]}"
    yield Line(f"{loop.name}: {does}"[:WIDTH], Weight.HEADING)
    yield from _wrapped(loop.reason)
    for lockout in loop.lockouts:
        yield from _wrapped(f"locked: {lockout}")
    yield from _pieces(
        [
            *_heat(loop),
            f"soil {_temperature(loop.soil, unit)}",
            f"root zone {_temperature(loop.root_zone, unit)}",
            f"outlet {_temperature(loop.outlet, unit)}",
        ]
    )
    yield from _pieces(
        [
            f"today {_runs(loop.run_today_s, loop.starts_today)}",
            *([f"banked {_energy(loop.banked_today_j)}"] if loop.banked_today_j else []),
            *([f"returned {_energy(loop.returned_today_j)}"] if loop.returned_today_j else []),
            *([f"used {_energy(loop.electricity_today_j)}"] if loop.electricity_today_j else []),
            *([f"moves {100.0 * loop.response:.0f} % of the expected heat"] if loop.response else []),
        ]
    )


def _heat(loop: LoopParts) -> list[str]:
    if not loop.fan_on:
        return []
    proof = PROVEN.get(loop.proof, loop.proof)
    if loop.heat_w is None:
        return [f"heat unknown ({proof})"]
    way = "into" if loop.heat_w >= 0.0 else "out of"
    return [f"{power_text(abs(loop.heat_w))} {way} the soil ({proof})"]


def _sump(sump: SumpParts) -> Iterator[Line]:
    water = f"float {sump.why}" if sump.why else sump.water
    pump = f"pump {'on' if sump.pump_on else 'off'} for {duration_text(sump.since_s)}"
    yield Line(f"{sump.name}: {water}, {pump} ({sump.phase})"[:WIDTH], Weight.HEADING)
    yield from _wrapped(sump.reason)
    for lockout in sump.lockouts:
        yield from _wrapped(f"locked: {lockout}")
    usual = [] if sump.usual_empty_s is None else [f"usually empties in {duration_text(sump.usual_empty_s)}"]
    yield from _pieces(
        [
            f"today {_runs(sump.run_today_s, sump.starts_today)}",
            *usual,
        ]
    )


def _today(status: Status, unit: TemperatureUnit) -> Iterator[Line]:
    today = status.today
    pieces = [
        f"Today: banked {_energy(today.banked_j)}",
        f"returned {_energy(today.returned_j)}",
        f"used {_energy(today.electricity_j)}",
    ]
    if today.air_min_c is not None and today.air_max_c is not None:
        low, high = temperature_text(today.air_min_c, unit), temperature_text(today.air_max_c, unit)
        pieces.append(f"air {low} to {high}")
    yield from _pieces(pieces, "")


def _about(status: Status) -> Iterator[Line]:
    if status.not_monitored:
        yield Line("Not monitored (a fault here stays unseen):")
        for what in status.not_monitored:
            yield from _wrapped(f"- {what}", "  ")
    if status.promises_broken:
        text = f"! Safety rules found broken since the start: {status.promises_broken}. Please report it."
        yield Line(text, Weight.WARNING)
    yield Line(f"hypocaust {status.version}, running for {duration_text(status.uptime_s)}"[:WIDTH])
    if status.settings is not None:
        yield from _wrapped(f"Settings: {status.settings}", "")


def _temperature(measured: Measured, unit: TemperatureUnit) -> str:
    if measured.temperature_c is not None:
        return temperature_text(measured.temperature_c, unit)
    return "not fitted" if measured.why == Why.NOT_FITTED.value else f"unknown ({measured.why})"


def _energy(value_j: float) -> str:
    return f"{value_j / JOULES_PER_KWH:.1f} kWh"


def _runs(run_s: float, starts: int) -> str:
    if starts == 0 and run_s == 0.0:
        return "no run"
    return f"{duration_text(run_s)} in {starts} run{'' if starts == 1 else 's'}"


def _wrapped(text: str, indent: str = INDENT, weight: Weight = Weight.PLAIN) -> Iterator[Line]:
    further = indent + ("  " if indent != INDENT else "")
    for line in textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=further):
        yield Line(line, weight)


def _pieces(pieces: list[str], indent: str = INDENT) -> Iterator[Line]:
    """Pieces side by side while they fit; a piece is broken only if it is wider than a line by itself."""
    row = ""
    for piece in pieces:
        if row and len(indent) + len(row) + 3 + len(piece) <= WIDTH:
            row += f" · {piece}"
            continue
        if row:
            yield from _wrapped(row, indent)
        row = piece
    yield from _wrapped(row, indent)
