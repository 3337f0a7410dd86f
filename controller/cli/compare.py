"""``hypocaust rehearse`` with several files, weathers, strategies or seeds: rehearsals side by side."""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING

from controller.cli import INTERRUPTED
from controller.cli.progress import Bar, say
from controller.cli.rehearse import (
    GOOD,
    PROMISE_BROKEN,
    UNUSABLE,
    Request,
    Unusable,
    not_writable,
    plan_of,
    prepare,
)
from controller.clock import SystemClock
from controller.letters import visible_json
from controller.settings.load import SettingsError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.rehearsal.run import Rehearsal
    from controller.rehearsal.summary import Summary

DEFECT = 3
MOST_REHEARSALS = 24  # more are neither read nor waited for


def every(
    request: Request,
    files: Sequence[Path],
    weathers: Sequence[str],
    strategies: Sequence[str],
    seeds: Sequence[int],
) -> list[Request]:
    """Every combination of these, in their order; the rest as in ``request``."""
    return [
        replace(request, file=file, weather=weather, strategy=strategy, seed=seed)
        for file, weather, strategy, seed in product(files, weathers, strategies, seeds)
    ]


def compare(requests: Sequence[Request]) -> int:
    """Rehearse them all, as many at once as there are cores, and print them side by side.

    Args:
        requests: at least two, alike but for file, weather, strategy and seed.

    Returns:
        0 if all went well, 1 if a safety promise was broken, 2 if something given cannot be used, 3 if a
        rehearsal broke off, 130 after the interrupt key.
    """
    clock = SystemClock()
    began_s = clock.monotonic_s()
    try:
        names = names_of(requests)
        plans = _plans(requests)
        summaries = _rehearse(plans, names, requests[0].out)
        if isinstance(summaries, int):
            return summaries
        _show(summaries, requests[0], plans[0], clock.monotonic_s() - began_s)
    except (SettingsError, Unusable) as trouble:
        print(trouble, file=sys.stderr)
        return UNUSABLE
    return PROMISE_BROKEN if any(summary.promises.broken for summary in summaries) else GOOD


def names_of(requests: Sequence[Request]) -> list[str]:
    """What distinguishes the requests from each other.

    Raises:
        Unusable: two are the same, or there are too many.
    """
    if len(requests) > MOST_REHEARSALS:
        raise Unusable(f"these are {len(requests)} rehearsals; expected at most {MOST_REHEARSALS} at once")
    words = [
        _shortest([str(request.file) for request in requests]),
        _shortest([request.weather for request in requests]),
        [request.strategy for request in requests],
        [f"seed {request.seed}" for request in requests],
    ]
    differing = [column for column in words if len(set(column)) > 1]
    names = [", ".join(parts) for parts in zip(*differing, strict=True)] or [""] * len(requests)
    twice = [name for name, count in Counter(names).items() if count > 1]
    if twice:
        raise Unusable(f"the same rehearsal is asked for twice: {twice[0] or requests[0].file}")
    return names


def _shortest(paths: Sequence[str]) -> list[str]:
    """File names without their directories and suffixes, if the files still differ by them."""
    stems = [Path(path).stem if Path(path).suffix in SUFFIXES else path for path in paths]
    return stems if len(set(stems)) == len(set(paths)) else list(paths)


SUFFIXES = frozenset((".toml", ".epw", ".csv", ".CSV", ".tm2"))


def _plans(requests: Sequence[Request]) -> list[Rehearsal]:
    """What to rehearse; everything that is wrong with any of them is reported at once."""
    plans, troubles = [], []
    for request in requests:
        try:
            plans.append(plan_of(request))
        except (SettingsError, Unusable) as trouble:
            troubles.append(str(trouble))
    if troubles:
        raise Unusable("\n".join(dict.fromkeys(troubles)))
    return plans


def _rehearse(plans: Sequence[Rehearsal], names: Sequence[str], out: Path | None) -> list[Summary] | int:
    """The summaries with their names, or an exit code if they broke off."""
    from controller.rehearsal.report.compared_files import directory_name  # noqa: PLC0415 - pulls the numerics
    from controller.rehearsal.several import RehearsalFailed, Several, cores  # noqa: PLC0415
    from controller.rehearsal.worker import Task  # noqa: PLC0415

    tasks = []
    for number, (plan, name) in enumerate(zip(plans, names, strict=True), start=1):
        directory = None if out is None else out / directory_name(number, name)
        if directory is not None:
            prepare(directory)
        tasks.append(Task(plan, directory, reports=True))
    several = Several(tasks, min(len(tasks), cores()))
    bar = Bar(sum(plan.days for plan in plans), f"{len(plans)} rehearsals")
    try:
        summaries = several.run(bar.show)
    except RehearsalFailed as broke_off:
        bar.close()
        say("")
        name, failed = names[broke_off.index], broke_off.failed
        if not failed.defect:
            raise Unusable(f"{name}: {failed.words}") from None
        print(
            f"rehearse: {name} broke off: {failed.words}\nThis is a defect in the program; "
            "that rehearsal alone shows more.",
            file=sys.stderr,
        )
        return DEFECT
    except KeyboardInterrupt:
        bar.close()
        say("")
        done = len(several.summaries)
        print(f"rehearse: stopped after {done} of {len(tasks)} rehearsals", file=sys.stderr)
        return INTERRUPTED
    finally:
        bar.close()
        say("")
    return [summary.model_copy(update={"name": name}) for summary, name in zip(summaries, names, strict=True)]


def _show(summaries: list[Summary], request: Request, first: Rehearsal, wall_s: float) -> None:
    """Print the comparison and write its files."""
    from controller.rehearsal.report.compared_files import Summaries, write_comparison  # noqa: PLC0415
    from controller.rehearsal.report.compared_text import comparison  # noqa: PLC0415

    unit = first.settings.site.show
    if request.as_json:
        print(visible_json(Summaries(summaries).model_dump_json(indent=2)))
    else:
        print("\n".join(comparison(summaries, unit, wall_s)))
    if request.out is None:
        return
    say("Drawing ...")
    try:
        written = write_comparison(request.out, summaries, unit)
    except OSError as problem:
        raise Unusable(not_writable(request.out, problem)) from problem
    finally:
        say("")
    where = sys.stderr if request.as_json else sys.stdout
    print(f"Written to {request.out}: {', '.join(written)}, and a directory for each rehearsal", file=where)
