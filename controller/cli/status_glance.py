"""The status at a glance: all that matters on one screen of 80 columns, alarms first. Pure.

Each loop, each sump and everything else has one line. The alarms share what is left: as many as possible in
full, the most urgent first, the others shorter. What still does not fit is counted and left to ``--all``.
"""

from __future__ import annotations

import textwrap
from itertools import chain
from typing import TYPE_CHECKING, TypeGuard

from controller.cli.status_lines import (
    WIDTH,
    Line,
    Weight,
    alarm_title,
    fitted,
    head,
    house_empty,
    is_due,
    last_done,
    runs,
    signals,
    temperature,
    today,
    wrapped,
)
from controller.cli.status_page import alarm_in_full
from controller.decision.state import Demand
from controller.forecast.store import Lasts
from controller.units import TemperatureUnit, duration_text, power_text, temperature_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import datetime

    from controller.telemetry.payloads import (
        HandCheckParts,
        LoopParts,
        Measured,
        Status,
        StatusAlarm,
        SumpParts,
        TonightParts,
    )

    Form = Callable[[StatusAlarm, datetime | None], list[Line]]

DOING = {
    Demand.FROST.value: "against frost",
    Demand.HEAT.value: "warming",
    Demand.COOL.value: "cooling",
    Demand.BANK.value: "banking",
    Demand.NIGHT_PURGE.value: "cooling soil",
    Demand.TRIAL.value: "weekly test",
}
# By how many of these hold: nights are cold; they are no warmer than the season's coldest.
BANKS = ("warm soil gets no more heat", "bank only cheap heat", "bank all heat")
MOST_CHECKS = 3
MOST_DETAIL = 44  # of the 78 letters of a line that has to hold the cause as well
RUNS_AS_EXPECTED = (0.9, 1.1)  # a share of heat within these needs no words


def glance(status: Status, age_s: float | None, now_utc: datetime | None, height: int) -> list[Line]:
    """At most ``height`` lines.

    Args:
        status: what the controller wrote.
        age_s: how long ago that was; None if the board has started since.
        now_utc: now, for dates that can be left out; None if the time of day is not known.
        height: how many lines fit.
    """
    unit = TemperatureUnit(status.unit)
    top = list(head(status, age_s, now_utc))
    rest = [*house_empty(status, now_utc), *signals(status), Line(fitted(_air(status, unit)))]
    rest += [Line(fitted(status.house.people), Weight.WARNING)] if status.house.people else []
    rest += [Line(fitted(f"Do: {status.advice}"))] if status.advice else []
    rest += [Line(fitted(_tonight(status.tonight, unit)))] if _is_foreseen(status.tonight) else []
    rest += [Line(fitted(_loop(loop, unit))) for loop in status.loops]
    rest += [Line(fitted(_sump(sump))) for sump in status.sumps]
    rest += [Line(fitted(_learned(status, unit))), Line(fitted(" · ".join(today(status, unit))))]
    rest += _due(status, now_utc)
    lines = [*top, *_alarms(status, now_utc, height - len(top) - len(rest)), *rest]
    return cut(lines, height, "--all")


def cut(lines: list[Line], height: int, where: str) -> list[Line]:
    """The lines that fit; the last one says how many are missing, and where they are shown."""
    if len(lines) <= height:
        return lines
    kept = lines[: max(height - 1, 0)]
    return [*kept, Line(fitted(f"... and {len(lines) - len(kept)} more lines: {where}"), Weight.WARNING)]


def _alarms(status: Status, now_utc: datetime | None, room: int) -> list[Line]:
    """The alarms, each in the longest form for which there is room."""
    alarms = sorted(status.alarms, key=_is_quiet)
    blocks = [_full(alarm, now_utc) for alarm in alarms]
    left_out = status.alarms_left_out
    if not left_out and sum(map(len, blocks)) <= room:
        return list(chain(*blocks))
    more = f"{left_out} more alarms, and causes" if left_out else "Causes"
    tail = Line(f"{more} and what to do in full: hypocaust status --all")
    blocks = [_shortest(alarm, now_utc) for alarm in alarms]
    for form in (_short, _to_do, _with_action, _full):
        for number, alarm in enumerate(alarms):
            longer = form(alarm, now_utc)
            if sum(map(len, blocks)) - len(blocks[number]) + len(longer) < room:
                blocks[number] = longer
    return [*chain(*blocks), tail]


def _is_quiet(alarm: StatusAlarm) -> bool:
    """Whether somebody knows of it already."""
    return alarm.seen or alarm.muted


def _shortest(alarm: StatusAlarm, now_utc: datetime | None) -> list[Line]:
    return [Line(fitted(alarm_title(alarm, now_utc)), Weight.WARNING)]


def _short(alarm: StatusAlarm, now_utc: datetime | None) -> list[Line]:
    detail = textwrap.shorten(alarm.detail, MOST_DETAIL, placeholder="…")
    what = f"{detail}. Cause: {alarm.cause}" if detail else alarm.cause
    return [*_shortest(alarm, now_utc), Line(fitted(f"- {what}").replace("- ", "  ", 1))]


def _to_do(alarm: StatusAlarm, now_utc: datetime | None) -> list[Line]:
    return [*_short(alarm, now_utc), *wrapped(f"Do: {alarm.action}", "  ")]


def _with_action(alarm: StatusAlarm, now_utc: datetime | None) -> list[Line]:
    title = wrapped(alarm_title(alarm, now_utc), "", Weight.WARNING)
    what = f"{alarm.detail}. Cause: {alarm.cause}" if alarm.detail else alarm.cause
    return [*title, *wrapped(what, "  "), *wrapped(f"Do: {alarm.action}", "  ")]


def _full(alarm: StatusAlarm, now_utc: datetime | None) -> list[Line]:
    return list(alarm_in_full(alarm, now_utc))


def _air(status: Status, unit: TemperatureUnit) -> str:
    house = status.house
    places = (("ceiling", house.ceiling), ("bench", house.bench), ("outdoors", house.outdoor))
    return "Air: " + " · ".join(f"{place} {_brief(measured, unit)}" for place, measured in places)


def _is_foreseen(night: TonightParts | None) -> TypeGuard[TonightParts]:
    return night is not None and night.low_c is not None


def _tonight(night: TonightParts, unit: TemperatureUnit) -> str:
    """The night in one line: the coldest, without the store, and the heater."""
    low_c, from_c, to_c = night.low_c or 0.0, night.low_from_c, night.low_to_c
    pieces = [f"Tonight: {temperature_text(low_c, unit)}"]
    if from_c is not None and to_c is not None:
        low, high = (temperature_text(one, unit).removesuffix(f" {unit.value}") for one in (from_c, to_c))
        pieces[0] += f" ({low} to {high})"
    if night.without_store_c is not None and night.store != Lasts.NOT_NEEDED.value:
        pieces.append(f"without the store {temperature_text(night.without_store_c, unit)}")
    if night.heater is not None:
        pieces.append(f"heater: {night.heater}")
    return " · ".join(pieces)


def _loop(loop: LoopParts, unit: TemperatureUnit) -> str:
    since, soil = duration_text(loop.since_s), f"soil {_brief(loop.soil, unit)}"
    if not loop.fan_on:
        why = f"locked: {', '.join(loop.lockouts)}" if loop.lockouts else loop.reason
        return f"{loop.name}: off {since} · {soil} · {why}"
    pieces = [f"{loop.name}: on {since}, {DOING.get(loop.demand or '', 'running')}"]
    if loop.heat_w is None:
        pieces.append(f"heat unknown · {soil}")
    else:
        pieces.append(f"{power_text(abs(loop.heat_w))} {'into' if loop.heat_w >= 0.0 else 'out of'} {soil}")
    return " · ".join([*pieces, f"outlet {_brief(loop.outlet, unit)}"])


def _brief(measured: Measured, unit: TemperatureUnit) -> str:
    shown = temperature(measured, unit)
    return "unknown" if shown.startswith("unknown") else shown


def _sump(sump: SumpParts) -> str:
    water = f"float {sump.why}" if sump.why else sump.water
    pump = f"pump {'on' if sump.pump_on else 'off'} {duration_text(sump.since_s)}"
    pieces = [f"{sump.name}: {water}, {pump}", f"today {runs(sump.run_today_s, sump.starts_today)}"]
    if sump.usual_empty_s is not None:
        pieces.append(f"usually empties in {duration_text(sump.usual_empty_s)}")
    if sump.lockouts:
        pieces.append(f"locked: {', '.join(sump.lockouts)}")
    return " · ".join(pieces)


def _learned(status: Status, unit: TemperatureUnit) -> str:
    coldest_c = status.learned.coldest_lately_c
    if coldest_c is None:
        pieces = ["Learned: nothing yet, so heat is banked"]
    else:
        wanted = (status.learned.nights_are_cold, not status.learned.need_has_passed)
        doing = BANKS[sum(wanted)]
        pieces = [f"Learned: coldest lately {temperature_text(coldest_c, unit)}, so {doing}"]
    low, high = RUNS_AS_EXPECTED
    for loop in status.loops:
        if loop.response is not None and not low <= loop.response <= high:
            pieces.append(f"{loop.name} moves {100.0 * loop.response:.0f} % of its heat")
    return " · ".join(pieces)


def _due(status: Status, now_utc: datetime | None) -> Iterator[Line]:
    """The checks by hand that are due, in one line."""
    due = [check for check in status.by_hand if is_due(check, now_utc)]
    if not due:
        return
    for count in range(min(len(due), MOST_CHECKS), 0, -1):
        named = ", ".join(f"{check.name} ({_last(check, now_utc)})" for check in due[:count])
        more = f" and {len(due) - count} more" if len(due) > count else ""
        text = f"Due by hand: {named}{more}: --all"
        if len(text) <= WIDTH or count == 1:
            yield Line(fitted(text))
            return


def _last(check: HandCheckParts, now_utc: datetime | None) -> str:
    return "never" if check.last_done is None else f"last {last_done(check, now_utc)}"
