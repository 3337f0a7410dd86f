"""``hypocaust rehearse FILE``: let the controller work on simulated weather, and report the result."""

from __future__ import annotations

import importlib.util
import json
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING, TextIO

from controller.cli.progress import Bar, say, say_what_loads
from controller.errors import HypocaustError
from controller.letters import visible_json
from controller.settings.load import SettingsError, load

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from pydantic import BaseModel

    from controller.rehearsal.run import Outcome, Rehearsal
    from controller.rehearsal.summary import Summary
    from controller.settings.schema import Settings

GOOD, PROMISE_BROKEN, UNUSABLE = 0, 1, 2
SCHEMA_DIALECT = "https://json-schema.org/draft/2020-12/schema"
NUMERICS = ("numpy", "numba", "pvlib", "tqdm")
PICTURES = ("matplotlib",)
FIRST_YEAR, LAST_YEAR = 1900, 2199
MOST_DAYS = 36_600.0  # a century is more than anybody means


@dataclass(frozen=True, slots=True)
class Request:
    """What was asked for on the command line.

    Attributes:
        file: settings.
        weather: a shipped name or a file.
        first_day: first day, None for 1 January.
        days: how long.
        seed: for probe noise and made-up rain.
        faults: a script of what breaks when, or None.
        strategy: what decides when fans are wanted.
        as_json: whether to print the summary as JSON.
        out: where tables and plots go, or None.
        pace_s: longest time between two ticks, None for the usual one.
        history: a new file to write the rehearsal down in, or None.
    """

    file: Path
    weather: str
    first_day: datetime | None
    days: float
    seed: int
    faults: Path | None
    strategy: str
    as_json: bool
    out: Path | None
    pace_s: float | None = None
    history: Path | None = None


class Unusable(HypocaustError):  # noqa: N818 - it says what the input is
    """Something a person gave cannot be used; the text says what and what to do."""


def print_schema(model: type[BaseModel]) -> int:
    """Print the JSON Schema of what ``rehearse --json`` prints."""
    schema = {"$schema": SCHEMA_DIALECT, **model.model_json_schema(mode="serialization")}
    print(json.dumps(schema, indent=2, ensure_ascii=False))
    return GOOD


def rehearse(request: Request) -> int:
    """Rehearse and print the outcome.

    Returns:
        0 if all went well, 1 if a safety promise was broken, 2 if something given cannot be used.
    """
    try:
        plan = plan_of(request)
        outcome, without_fans = _run(plan, compare=not request.as_json and request.strategy != "fans-off")
        if request.as_json:
            print(visible_json(outcome.summary.model_dump_json(indent=2)))
        else:
            _print_report(outcome, plan.settings, without_fans)
        if request.history is not None:
            print(f"Written down in {request.history}", file=sys.stderr if request.as_json else sys.stdout)
        if request.out is not None:
            _write(request.out, outcome, plan.settings, sys.stderr if request.as_json else sys.stdout)
    except (SettingsError, Unusable) as trouble:
        print(trouble, file=sys.stderr)
        return UNUSABLE
    return PROMISE_BROKEN if outcome.summary.promises.broken else GOOD


def plan_of(request: Request) -> Rehearsal:
    """Everything that can be found wrong before the work begins.

    Raises:
        SettingsError: the settings or the fault script cannot be used.
        Unusable: anything else.
    """
    settings = load(request.file)
    if request.first_day is not None and not FIRST_YEAR <= request.first_day.year <= LAST_YEAR:
        raise Unusable(
            f"--start: the year {request.first_day.year} is out of range; "
            f"expected {FIRST_YEAR} to {LAST_YEAR}"
        )
    if request.days > MOST_DAYS:
        raise Unusable(f"--days: {request.days:g} days are too many; expected at most {MOST_DAYS:g}")
    if request.seed < 0:
        raise Unusable(f"--seed: {request.seed} is negative; expected 0, 1, 2 ...")
    _need(NUMERICS if request.out is None else (*NUMERICS, *PICTURES))
    if request.out is not None:
        prepare(request.out)
    if request.history is not None:
        _new_file(request.history)
    say("Loading the simulated house ...")
    try:
        from controller.rehearsal.run import Rehearsal  # noqa: PLC0415
        from controller.simulator.plant.faults import load_faults  # noqa: PLC0415 - pulls the numerics

        say_what_loads()
    except ImportError as broken:
        if (broken.name or "").startswith("controller"):
            raise
        raise Unusable(_how_to_install(f"cannot be used ({broken})")) from broken
    return Rehearsal(
        settings,
        request.weather,
        request.first_day,
        request.days,
        request.seed,
        () if request.faults is None else load_faults(request.faults, settings),
        request.strategy,
        hourly=request.out is not None,
        pace_s=request.pace_s,
        history=request.history,
    )


def _need(modules: tuple[str, ...]) -> None:
    missing = [name for name in modules if importlib.util.find_spec(name) is None]
    if missing:
        raise Unusable(_how_to_install(f"is not installed (missing: {', '.join(missing)})"))


def _how_to_install(what: str) -> str:
    return (
        f"rehearse: the simulated house needs the rehearsal extra, which {what}.\n"
        'Install it with: pip install "hypocaust[rehearsal]"'
    )


def prepare(directory: Path) -> None:
    """Make the directory, and make sure before the long work that a file can be written there."""
    probe = directory / ".hypocaust-can-write"
    try:
        directory.mkdir(parents=True, exist_ok=True)
        probe.touch()
        probe.unlink()
    except OSError as problem:
        raise Unusable(not_writable(directory, problem)) from problem


def _new_file(path: Path) -> None:
    """Make sure before the long work that a new file can be written there, and that none is added to."""
    if path.exists():
        raise Unusable(f"--history: {path} exists already; expected a new file; remove that one first")
    try:
        path.touch()
        path.unlink()
    except OSError as problem:
        raise Unusable(
            f"--history: {path} cannot be written ({problem.strerror}); expected one in a directory of yours"
        ) from problem


def not_writable(directory: Path, problem: OSError) -> str:
    """What to say about a directory that takes no files."""
    return f"--out: nothing can be written to {directory} ({problem.strerror}); expected a directory of yours"


def _run(plan: Rehearsal, *, compare: bool) -> tuple[Outcome, Summary | None]:
    """The rehearsal and, beside it, the same days without fans."""
    from controller.rehearsal.run import HistoryNotKept  # noqa: PLC0415
    from controller.rehearsal.run import rehearse as run  # noqa: PLC0415
    from controller.rehearsal.twin import Twin  # noqa: PLC0415
    from controller.simulator.house.model import ModelError  # noqa: PLC0415 - pulls the numerics
    from controller.simulator.weather.formats import WeatherError  # noqa: PLC0415

    twin = Twin(plan) if compare else None
    bar = Bar(plan.days)
    try:
        outcome = run(plan, bar.show)
        bar.close()
        if twin is not None:
            say("Waiting for the same days without fans ...")
        return outcome, None if twin is None else twin.summary()
    except WeatherError as problem:
        raise Unusable(f"--weather: {problem}") from problem
    except ModelError as problem:
        raise Unusable(str(problem)) from problem
    except HistoryNotKept as problem:
        raise Unusable(f"--history: {problem}") from problem
    finally:
        bar.close()
        say("")
        if twin is not None:
            twin.stop()


def _print_report(outcome: Outcome, settings: Settings, without_fans: Summary | None) -> None:
    from controller.rehearsal.report.text import report  # noqa: PLC0415 - pulls the numerics

    for line in report(outcome.summary, outcome.examples, settings.site.show, without_fans):
        print(line)


def _write(directory: Path, outcome: Outcome, settings: Settings, out: TextIO) -> None:
    from controller.rehearsal.report.files import write  # noqa: PLC0415 - pulls the numerics

    say("Drawing ...")
    try:
        names = write(directory, outcome, settings.site.show)
    except OSError as problem:
        raise Unusable(not_writable(directory, problem)) from problem
    finally:
        say("")
    print(f"Written to {directory}: {', '.join(names)}", file=out)
