"""The whole status as lines of text, for ``hypocaust status --all``. Pure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.cli.local_time import day_text, parsed_utc
from controller.cli.status_lines import (
    DOING,
    PROVEN,
    SIGNALS,
    WIDTH,
    Line,
    Weight,
    air,
    alarm_title,
    head,
    house_empty,
    is_due,
    last_done,
    pieces_of,
    runs,
    temperature,
    today,
    wrapped,
)
from controller.cli.status_lines import energy as energy_text
from controller.units import TemperatureUnit, difference_text, duration_text, power_text, temperature_text

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from controller.telemetry.payloads import (
        HandCheckParts,
        Learned,
        LoopParts,
        Status,
        StatusAlarm,
        SumpParts,
    )


def page(status: Status, age_s: float | None, now_utc: datetime | None = None) -> list[Line]:
    """The whole page.

    Args:
        status: what the controller wrote.
        age_s: how long ago that was; None if the board has started since.
        now_utc: now, for dates that can be left out; None if the time of day is not known.
    """
    unit = TemperatureUnit(status.unit)
    lines = [*head(status, age_s, now_utc), *house_empty(status, now_utc), Line("")]
    for alarm in status.alarms:
        lines += [*alarm_in_full(alarm, now_utc), Line("")]
    if status.alarms_left_out:
        lines += [Line(f"! and {status.alarms_left_out} more alarms", Weight.WARNING), Line("")]
    lines += pieces_of(air(status, unit), "")
    lines += wrapped(status.house.people or "", "", Weight.WARNING)
    lines += wrapped(f"Do: {status.advice}" if status.advice else "", "")
    lines += wrapped(status.tonight.words if status.tonight and status.tonight.low_c is not None else "", "")
    lines += [*_season(status, unit), Line("")]
    for loop in status.loops:
        lines += [*_loop(loop, unit), Line("")]
    for sump in status.sumps:
        lines += [*_sump(sump), Line("")]
    lines += [*_signals(status), *pieces_of(today(status, unit), "")]
    return [*lines, *_by_hand(status, now_utc), *_about(status)]


def alarm_in_full(alarm: StatusAlarm, now_utc: datetime | None) -> Iterator[Line]:
    """An alarm with everything a person needs."""
    yield from wrapped(alarm_title(alarm, now_utc), "", Weight.WARNING)
    if alarm.detail:
        yield from wrapped(alarm.detail, "  ")
    yield from wrapped(f"Cause: {alarm.cause}", "  ")
    yield from wrapped(f"If nobody acts: {alarm.consequence}", "  ")
    yield from wrapped(f"Do: {alarm.action}", "  ")


def _season(status: Status, unit: TemperatureUnit) -> Iterator[Line]:
    coldest_c = status.learned.coldest_lately_c
    if coldest_c is None:
        yield from pieces_of(["Season: nothing learned yet, so heat is banked"], "")
        return
    lately = f"Season: coldest lately {temperature_text(coldest_c, unit)} (slowly forgotten)"
    yield from pieces_of([lately, _nights(status.learned, unit)], "")


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
    yield from wrapped(loop.reason)
    for lockout in loop.lockouts:
        yield from wrapped(f"locked: {lockout}")
    yield from pieces_of(
        [
            *_heat(loop),
            f"soil {temperature(loop.soil, unit)}",
            f"root zone {temperature(loop.root_zone, unit)}",
            f"outlet {temperature(loop.outlet, unit)}",
        ]
    )
    yield from pieces_of(
        [
            f"today {runs(loop.run_today_s, loop.starts_today)}",
            *([f"banked {energy_text(loop.banked_today_j)}"] if loop.banked_today_j else []),
            *([f"returned {energy_text(loop.returned_today_j)}"] if loop.returned_today_j else []),
            *([f"used {energy_text(loop.electricity_today_j)}"] if loop.electricity_today_j else []),
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
    yield from wrapped(sump.reason)
    for lockout in sump.lockouts:
        yield from wrapped(f"locked: {lockout}")
    usual = [] if sump.usual_empty_s is None else [f"usually empties in {duration_text(sump.usual_empty_s)}"]
    yield from pieces_of(
        [
            f"today {runs(sump.run_today_s, sump.starts_today)}",
            *usual,
        ]
    )


def _signals(status: Status) -> Iterator[Line]:
    for one in [] if status.stopped else status.signals:
        name = SIGNALS.get(one.name, one.name)
        yield from wrapped(f"{name[:1].upper()}{name[1:]} {'on' if one.on else 'off'}: {one.reason}", "")


def _by_hand(status: Status, now_utc: datetime | None) -> Iterator[Line]:
    if not status.by_hand:
        return
    yield Line("To be done by hand, as nothing watches it (then say: hypocaust done NAME):")
    for check in status.by_hand:
        text = f"- {check.name}: {_due(check, now_utc)}; every {check.every_days} days: {check.what}"
        yield from wrapped(text, "  ")


def _due(check: HandCheckParts, now_utc: datetime | None) -> str:
    due = parsed_utc(check.due)
    if due is None:
        return "due now, never done yet"
    since = "since " if is_due(check, now_utc) else ""
    return f"due {since}{day_text(due, now_utc)}, last done {last_done(check, now_utc)}"


def _about(status: Status) -> Iterator[Line]:
    if status.not_monitored:
        yield Line("Not monitored (a fault here stays unseen):")
        for what in status.not_monitored:
            yield from wrapped(f"- {what}", "  ")
    if status.promises_broken:
        text = f"! Safety rules found broken since the start: {status.promises_broken}. Please report it."
        yield Line(text, Weight.WARNING)
    yield Line(f"hypocaust {status.version}, running for {duration_text(status.uptime_s)}"[:WIDTH])
    if status.settings is not None:
        yield from wrapped(f"Settings: {status.settings}", "")
