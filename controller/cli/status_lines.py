"""Lines of a page at a terminal, 80 columns wide, and the pieces both status pages are made of. Pure."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

from controller.cli.local_time import days_ago, moment_text, parsed_utc
from controller.decision.state import Demand, Proof
from controller.equipment import ALL_WELL, TODAY
from controller.faults import DAY_S, HOUR_S, MINUTE_S
from controller.readings.reading import Why
from controller.record.tally import JOULES_PER_KWH
from controller.units import TemperatureUnit, duration_text, temperature_text

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from controller.telemetry.payloads import HandCheckParts, Measured, Status, StatusAlarm

WIDTH = 80
INDENT = "    "
DOING = {
    Demand.FROST.value: "keeping frost off",
    Demand.HEAT.value: "warming the house",
    Demand.COOL.value: "cooling the house",
    Demand.BANK.value: "banking heat",
    Demand.NIGHT_PURGE.value: "cooling the soil by night",
    Demand.TRIAL.value: "weekly test of the fan",
}
SIGNALS = {ALL_WELL.name: "Signal", TODAY.name: "today's lamp"}
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


def is_stale(status: Status, age_s: float | None) -> bool:
    """Whether the status is too old, or too final, to be taken for the present."""
    too_old = age_s is None or (status.valid_for_s is not None and age_s > status.valid_for_s)
    return status.stopped or too_old


def head(status: Status, age_s: float | None, now_utc: datetime | None) -> Iterator[Line]:
    """Which house, when, and what to think of a status that is old.

    Args:
        status: what the controller wrote.
        age_s: how long ago that was; None if the board has started since.
        now_utc: now, None if the time of day is not known.
    """
    name = textwrap.shorten(status.title or status.site, WIDTH // 2, placeholder="…")
    at = parsed_utc(status.at)
    if not is_stale(status, age_s):
        age = "" if age_s is None else f"{duration_text(age_s)} ago · "
        right = f"{age}{'clock not set' if at is None else moment_text(at, None)}"
        yield Line(f"{name}{right:>{WIDTH - len(name)}}", Weight.HEADING)
        return
    yield Line(name, Weight.HEADING)
    now = now_utc if age_s is not None else None  # of another boot: the date is worth its place
    if status.stopped:
        stopped = parsed_utc(status.stopped_at)
        when = "" if stopped is None else f" at {moment_text(stopped, now)}"
        yield Line(f"STOPPED: stopped{when}, in order; every output is off.", Weight.WARNING)
        text = "All below is as it was before. Start it with: systemctl start hypocaust"
        yield Line(text, Weight.WARNING)
        return
    since = "" if at is None else f" since {moment_text(at, now)}"
    ago = "the board has started again" if age_s is None else f"{duration_text(age_s)} ago"
    text = f"NOT FRESH: silent{since} ({ago}). The controller may have crashed; everything below is old. "
    yield from wrapped(f"{text}Find out with: systemctl status hypocaust", "", Weight.WARNING)


def alarm_title(alarm: StatusAlarm, now_utc: datetime | None) -> str:
    """How urgent, which alarm, since when, how soon to act, and who knows of it."""
    about = f": {alarm.subject}" if alarm.subject else ""
    since = parsed_utc(alarm.since)
    when = f"for {duration_text(alarm.since_s)}" if since is None else f"since {moment_text(since, now_utc)}"
    return (
        f"! {alarm.priority.upper()}: {alarm.code}{about}, {when}, "
        f"act {_how_soon(alarm.time_to_act_s)}{_answered(alarm, now_utc)}"
    )


def _how_soon(within_s: float) -> str:
    """The time to act in one round number."""
    for unit_s, unit in ((DAY_S, "day"), (HOUR_S, "hour"), (MINUTE_S, "minute")):
        if within_s >= unit_s:
            count = round(within_s / unit_s)
            return f"within {count} {unit}{'' if count == 1 else 's'}"
    return "at once"


def _answered(alarm: StatusAlarm, now_utc: datetime | None) -> str:
    if alarm.muted:
        return " · muted, the house is empty"
    if not alarm.seen:
        return ""
    seen = parsed_utc(alarm.seen_at)
    return " · seen by somebody" + ("" if seen is None else f" at {moment_text(seen, now_utc)}")


def house_empty(status: Status, now_utc: datetime | None) -> Iterator[Line]:
    """That alarms of a crop call nobody, if that is so."""
    if status.house_empty:
        until = parsed_utc(status.house_empty_until)
        when = "" if until is None else f" until {moment_text(until, now_utc)}"
        yield Line(f"House empty: alarms of a crop call nobody{when}.")


def signals(status: Status) -> Iterator[Line]:
    """What the signals show, and why a person is called; nothing where none is fitted, or all is off."""
    if not status.signals or status.stopped:
        return
    pieces = [f"{SIGNALS.get(one.name, one.name)} {'on' if one.on else 'off'}" for one in status.signals]
    calling = [one.reason for one in status.signals if one.name == ALL_WELL.name and not one.on]
    yield Line(fitted(" · ".join([*pieces, *(calling or ["calls nobody"])])))


def last_done(check: HandCheckParts, now_utc: datetime | None) -> str:
    """When a check by hand was last done, in words."""
    done = parsed_utc(check.last_done)
    if done is None:
        return "never"
    return moment_text(done, None) if now_utc is None else days_ago(done, now_utc)


def is_due(check: HandCheckParts, now_utc: datetime | None) -> bool:
    """Whether a check by hand is due."""
    due = parsed_utc(check.due)
    return due is None or (now_utc is not None and due <= now_utc)


def temperature(measured: Measured, unit: TemperatureUnit) -> str:
    """A temperature, or why it is missing."""
    if measured.temperature_c is not None:
        return temperature_text(measured.temperature_c, unit)
    return "not fitted" if measured.why == Why.NOT_FITTED.value else f"unknown ({measured.why})"


def energy(value_j: float) -> str:
    """An energy in kWh."""
    return f"{value_j / JOULES_PER_KWH:.1f} kWh"


def runs(run_s: float, starts: int) -> str:
    """How long and how often a motor has run."""
    if starts == 0 and run_s == 0.0:
        return "no run"
    return f"{duration_text(run_s)} in {starts} run{'' if starts == 1 else 's'}"


def today(status: Status, unit: TemperatureUnit) -> list[str]:
    """The sums of the day."""
    sums = status.today
    pieces = [
        f"Today: banked {energy(sums.banked_j)}",
        f"returned {energy(sums.returned_j)}",
        f"used {energy(sums.electricity_j)}",
    ]
    if sums.air_min_c is not None and sums.air_max_c is not None:
        low, high = temperature_text(sums.air_min_c, unit), temperature_text(sums.air_max_c, unit)
        pieces.append(f"air {low} to {high}")
    return pieces


def air(status: Status, unit: TemperatureUnit) -> list[str]:
    """The air of the house and outside."""
    house = status.house
    return [
        f"Air: ceiling {temperature(house.ceiling, unit)}",
        f"bench {temperature(house.bench, unit)}",
        f"outdoors {temperature(house.outdoor, unit)}",
    ]


def fitted(text: str) -> str:
    """A text within one line; what does not fit gives way to an ellipsis."""
    flat = " ".join(text.split())
    return flat if len(flat) <= WIDTH else f"{flat[: WIDTH - 1].rstrip(' ,;·')}…"


def wrapped(text: str, indent: str = INDENT, weight: Weight = Weight.PLAIN) -> Iterator[Line]:
    """A text on as many lines as it needs."""
    further = indent + ("  " if indent != INDENT else "")
    for line in textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=further):
        yield Line(line, weight)


def pieces_of(pieces: list[str], indent: str = INDENT) -> Iterator[Line]:
    """Pieces side by side while they fit; a piece is broken only if it is wider than a line by itself."""
    row = ""
    for piece in pieces:
        if row and len(indent) + len(row) + 3 + len(piece) <= WIDTH:
            row += f" · {piece}"
            continue
        if row:
            yield from wrapped(row, indent)
        row = piece
    yield from wrapped(row, indent)
