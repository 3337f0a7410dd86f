"""What a person reads of a replay: one table, 80 columns wide."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from controller.faults import HOUR_S
from controller.record.tally import JOULES_PER_KWH, DayTally
from controller.replay.compare import ASSUMED, differing

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from controller.replay.compare import Result
    from controller.replay.run import Played

WIDTH = 80
# Columns of the table: what it holds, its width before and after, decimals, and its heading.
COLUMNS = (
    ("fan_hours", 6, 6, 1, "fan hours"),
    ("fan_kwh", 6, 5, 1, "kWh"),
    ("starts", 6, 4, 0, "starts"),
    ("banked_kwh", 6, 5, 1, "kWh banked"),
    ("returned_kwh", 6, 5, 1, "returned"),
)


def as_text(result: Result, *, changes: bool) -> Iterator[str]:
    """The page, line by line: agreement with the record, the table of days, switchings, assumptions."""
    here, other, agreement = result.here, result.other, result.here.agreement
    yield f"Recorded days from {_local(result.from_utc)} up to {_local(result.to_utc)}, replayed."
    yield from _wrapped(
        f"With {result.names[0]} the fans do the same as in the record for {agreement.same:.1%} of the "
        f"time; of the time in which a fan ran here or there, it ran in both for {agreement.of_running:.1%}."
    )
    yield ""
    first, second = ("record", "here") if other is None else ("now", "then")
    yield "  ".join(["day".ljust(10), *(heading.rjust(a + b + 1) for _, a, b, _, heading in COLUMNS)])
    yield "  ".join([" " * 10, *(f"{first:>{a}} {second:>{b}}" for _, a, b, *_ in COLUMNS)])
    rows = _rows(result)
    total = ("all", _total(one for _, one, _ in rows), _total(one for *_, one in rows))
    for name, before, after in [*rows, total]:
        cells = (
            f"{_cell(before[key], a, digits)} {_cell(after[key], b, digits)}"
            for key, a, b, digits, _ in COLUMNS
        )
        yield "  ".join([name.ljust(10), *cells])
    yield ""
    if other is not None:
        yield from _wrapped(f"Now is {result.names[0]}, then is {result.names[1]}.")
    if changes:
        yield from _switchings(result)
    yield "What this assumes:"
    for text in ASSUMED:
        yield from textwrap.wrap(
            text, WIDTH, initial_indent="- ", subsequent_indent="  ", break_on_hyphens=False
        )
    if here.stops > 1:
        yield from _wrapped(
            f"The program was started {here.stops} times in these days and the two weeks before."
        )


def _rows(result: Result) -> list[tuple[str, dict[str, float | None], dict[str, float | None]]]:
    """Each day's sums before and after: of the record and here, or of these settings and the others."""
    days = [str(day.date) for day in result.here.days]
    here = {str(day.date): _sums(day) for day in result.here.days}
    if result.other is None:
        return [(day, _of_record(result.here, day), here[day]) for day in days]
    other = {str(day.date): _sums(day) for day in result.other.days}
    return [(day, here[day], other.get(day, _sums(DayTally()))) for day in days]


def _sums(day: DayTally) -> dict[str, float | None]:
    loops = day.loops.values()
    return {
        "fan_hours": sum(loop.run_s for loop in loops) / HOUR_S,
        "fan_kwh": sum(loop.electricity_j for loop in loops) / JOULES_PER_KWH,
        "starts": float(sum(loop.starts for loop in loops)),
        "banked_kwh": day.banked_j / JOULES_PER_KWH,
        "returned_kwh": day.returned_j / JOULES_PER_KWH,
    }


def _of_record(played: Played, date: str) -> dict[str, float | None]:
    """What the record's switchings say; electricity and heat of it are in the days of the history."""
    ran = {loop: ran_s for (day, loop), ran_s in played.ran_s.items() if day == date}
    starts = sum(count for (day, _), count in played.started.items() if day == date)
    hours = sum(ran.values()) / HOUR_S
    return {"fan_hours": hours, "fan_kwh": None, "starts": starts, "banked_kwh": None, "returned_kwh": None}


def _total(rows: Iterator[dict[str, float | None]]) -> dict[str, float | None]:
    total: dict[str, float | None] = {}
    for row in rows:
        for key, value in row.items():
            before = total.get(key, 0.0)
            total[key] = None if value is None or before is None else before + value
    return total


def _cell(value: float | None, width: int, digits: int) -> str:
    if value is None:
        return "-".rjust(width)
    written = f"{value:.{digits}f}"
    return (written if len(written) <= width else f"{value:.0f}").rjust(width)


def _switchings(result: Result) -> Iterator[str]:
    """Switchings that the two replays do not share; of one replay alone all of its fans and pumps."""
    yield "Switchings:" if result.other is None else "Switchings that differ:"
    for which, happened in differing(result):
        change = happened.change
        words = f"{change.output} {'on' if change.on else 'off'}: {change.reason.sentence(result.unit)}"
        mark = "" if result.other is None else f"{which:5}"
        lead = f"{_local(happened.at_utc)}  {mark}"
        yield from textwrap.wrap(
            f"{lead}{words}", WIDTH, subsequent_indent=" " * len(lead), break_on_hyphens=False
        )
    yield ""


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, break_on_hyphens=False)


def _local(moment_utc: datetime) -> str:
    return f"{moment_utc.astimezone():%Y-%m-%d %H:%M}"
