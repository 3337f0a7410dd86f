"""``hypocaust replay``: recorded days once more, with these settings and with others, and the difference."""

from __future__ import annotations

import json
import sys
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TextIO

from controller.cli.from_history import NoHistoryError, opened, range_of
from controller.cli.local_time import NotATimeError
from controller.cli.progress import say
from controller.cli.replay_schema import SCHEMA
from controller.clock import SystemClock
from controller.history.database import StorageError
from controller.letters import visible_json
from controller.record.tally import JOULES_PER_KWH, DayTally
from controller.replay.run import OtherHouseError, Played, midnight_before, replay, same_wiring
from controller.settings.load import load
from controller.settings.problems import SettingsError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime
    from pathlib import Path

    from controller.clock import Clock
    from controller.replay.run import Happened
    from controller.settings.schema import Settings
    from controller.units import TemperatureUnit

SHOWN, UNUSABLE = 0, 2
WIDTH = 80
HOUR_S = 3600.0
# Two switchings of one output this close together are the same one: readings are kept every five minutes.
SAME_WITHIN_S = 300.0
NO_ANSWER = (
    "The temperatures are those of the record. The house does not answer to what is switched here, so nobody "
    "can say how much warmer or colder a night would have been; heat that is banked here does not come back."
)
BETWEEN = (
    "Between two readings a probe goes in a straight line; where a fan was switched, roof, air and soil are "
    "what its reason says."
)
WATER = (
    "Floats are not kept as such. A sump counts as wet from the start of its pump for water until the pump "
    "has emptied it, or since it locked out a fan, and as unreadable while its pump ran by the clock."
)
OUTLETS = (
    "Where a fan runs here that stood in the record, its outlet is taken to show the heat that the settings "
    "promise, times the share that its loop has shown."
)
ASSUMED = (NO_ANSWER, BETWEEN, WATER, OUTLETS, "Restarts of the program are not replayed.")
# Columns of the table: what it holds, its width before and after, decimals, and its heading.
COLUMNS = (
    ("fan_hours", 6, 6, 1, "fan hours"),
    ("fan_kwh", 6, 5, 1, "kWh"),
    ("starts", 6, 4, 0, "starts"),
    ("banked_kwh", 6, 5, 1, "kWh banked"),
    ("returned_kwh", 6, 5, 1, "returned"),
)


@dataclass(frozen=True, slots=True)
class Request:
    """What was asked for on the command line.

    Attributes:
        file: the settings file that was in force.
        history: the history file itself (a copy, a backup), None to follow the settings.
        since: first day, as a person writes it, None for all there is.
        until: up to the midnight before this, None for all there is.
        other: the settings to try, None to compare with the record only.
        changes: whether switchings are listed.
        form: "text" or "json".
    """

    file: Path
    history: str | None
    since: str | None
    until: str | None
    other: Path | None
    changes: bool
    form: str


@dataclass(frozen=True, slots=True)
class Result:
    """Both replays, and what they were asked for."""

    from_utc: datetime
    to_utc: datetime
    unit: TemperatureUnit
    here: Played
    other: Played | None


def replay_days(request: Request, out: TextIO, clock: Clock | None = None) -> int:
    """Replay and print.

    Returns:
        0 if it was shown, 2 if something given or the history cannot be used.
    """
    try:
        settings = load(request.file)
        other = None if request.other is None else load(request.other)
        result = _played(request, settings, other, clock or SystemClock())
    except SettingsError as trouble:
        print(trouble, file=sys.stderr)
        return UNUSABLE
    except NoHistoryError as refused:
        return _refused(str(refused))
    except (NotATimeError, StorageError, OtherHouseError) as trouble:
        return _refused(f"{trouble}.")
    if request.form == "json":
        shown = json.dumps(_as_json(result, request.changes), indent=2, ensure_ascii=False)
        out.write(f"{visible_json(shown)}\n")
    else:
        out.writelines(f"{line}\n" for line in _as_text(result, request))
    return SHOWN


def _played(request: Request, settings: Settings, other: Settings | None, clock: Clock) -> Result:
    if other is not None:
        same_wiring(settings, other)
    with opened(str(request.file), request.history) as history:
        from_utc, until_utc = range_of(history, request.since, request.until, clock)
        newest = history.newest_utc() or from_utc
        from_utc = midnight_before(from_utc)
        to_utc = newest if until_utc is None else min(midnight_before(until_utc), newest)
        if from_utc >= to_utc:
            raise NoHistoryError("There is nothing recorded in that range. Days begin and end at midnight.")
        say("Replaying; a recorded week takes some seconds ...")
        here = replay(history, settings, None, from_utc, to_utc)
        tried = None if other is None else replay(history, settings, other, from_utc, to_utc)
        say("")
        if history.damaged_rows:
            print(f"{history.damaged_rows} damaged rows of the history are left out.", file=sys.stderr)
    return Result(from_utc, to_utc, settings.site.show, here, tried)


def _as_text(result: Result, request: Request) -> Iterator[str]:
    here, other, agreement = result.here, result.other, result.here.agreement
    yield f"Recorded days from {_local(result.from_utc)} up to {_local(result.to_utc)}, replayed."
    yield from _wrapped(
        f"With {request.file.name} the fans do the same as in the record for {agreement.same:.1%} of the "
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
    if other is not None and request.other is not None:
        yield from _wrapped(f"Now is {request.file.name}, then is {request.other.name}.")
    if request.changes:
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
        "banked_kwh": sum(loop.banked_j for loop in loops) / JOULES_PER_KWH,
        "returned_kwh": sum(loop.returned_j for loop in loops) / JOULES_PER_KWH,
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
    for which, happened in _differing(result):
        change = happened.change
        words = f"{change.output} {'on' if change.on else 'off'}: {change.reason.sentence(result.unit)}"
        mark = "" if result.other is None else f"{which:5}"
        lead = f"{_local(happened.at_utc)}  {mark}"
        yield from textwrap.wrap(
            f"{lead}{words}", WIDTH, subsequent_indent=" " * len(lead), break_on_hyphens=False
        )
    yield ""


def _differing(result: Result) -> list[tuple[str, Happened]]:
    if result.other is None:
        return [("here", happened) for happened in result.here.changes]
    left = [("now", one) for one in _without(result.here.changes, result.other.changes)]
    right = [("then", one) for one in _without(result.other.changes, result.here.changes)]
    return sorted([*left, *right], key=lambda pair: (pair[1].at_utc, pair[0]))


def _without(changes: list[Happened], others: list[Happened]) -> Iterator[Happened]:
    """Those that have no like among the others at about that time."""
    times: dict[tuple[object, bool], list[float]] = {}
    for one in others:
        times.setdefault((one.change.output, one.change.on), []).append(one.at_utc.timestamp())
    for one in changes:
        alike = times.get((one.change.output, one.change.on), [])
        if not any(abs(at_s - one.at_utc.timestamp()) <= SAME_WITHIN_S for at_s in alike):
            yield one


def _as_json(result: Result, changes: bool) -> dict[str, Any]:
    here, other = result.here, result.other
    others = {} if other is None else {str(day.date): day for day in other.days}
    days = [
        {
            "date": str(day.date),
            "recorded": {
                "loops": [
                    {
                        "name": loop,
                        "run_s": round(here.ran_s.get((str(day.date), loop), 0.0), 1),
                        "starts": here.started.get((str(day.date), loop), 0),
                    }
                    for loop in day.loops
                ]
            },
            "now": _day_json(day),
            "then": _day_json(others[str(day.date)]) if str(day.date) in others else None,
        }
        for day in here.days
    ]
    listed = [
        {
            "at": happened.at_utc.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "settings": which,
            "output": str(happened.change.output),
            "on": happened.change.on,
            "reason": happened.change.reason.code.value,
            "sentence": happened.change.reason.sentence(result.unit),
        }
        for which, happened in (_differing(result) if changes else [])
    ]
    agreement = here.agreement
    return {
        "from": result.from_utc.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "to": result.to_utc.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "agreement": {"same_state": round(agreement.same, 5), "of_running": round(agreement.of_running, 5)},
        "days": days,
        "changes": listed if changes else None,
        "assumed": list(ASSUMED),
    }


def _day_json(day: DayTally) -> dict[str, Any]:
    def rounded(sums: dict[str, Any]) -> dict[str, Any]:
        return {
            key: value if isinstance(value, str | int) else round(value, 1) for key, value in sums.items()
        }

    return {
        "loops": [rounded({"name": name, **loop._asdict()}) for name, loop in day.loops.items()],
        "pumps": [rounded({"name": name, **pump._asdict()}) for name, pump in day.pumps.items()],
    }


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, break_on_hyphens=False)


def _local(moment_utc: datetime) -> str:
    return f"{moment_utc.astimezone():%Y-%m-%d %H:%M}"


def _refused(text: str) -> int:
    print(textwrap.fill(text, WIDTH, break_long_words=False, break_on_hyphens=False), file=sys.stderr)
    return UNUSABLE


def print_schema() -> int:
    """Print the JSON Schema of what ``replay --json`` prints."""
    print(json.dumps(SCHEMA, indent=2, ensure_ascii=False))
    return SHOWN
