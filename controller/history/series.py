"""The history on a regular grid of time, for accounts and reports."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from controller.equipment import Kind, OutputId
from controller.evidence.series import STEP_S, Series

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from datetime import datetime

    from controller.history.queries import History, RecordedChange
    from controller.settings.schema import Settings

__all__ = ["Series", "read_series"]

# No motor runs longer in one piece without a change of its reason or a restart being written down. [practice]
LONGEST_RUN = timedelta(days=3)
HOUR_S = 3600


def read_series(
    history: History, settings: Settings, from_utc: datetime, to_utc: datetime, step_s: int = STEP_S
) -> Series:
    """Read a range of the history.

    Args:
        history: open for reading.
        settings: which probes, loops and sumps there are; others are left out.
        from_utc: first moment; the grid begins at the step that holds it.
        to_utc: first moment after.
        step_s: length of a step; it divides an hour.

    Raises:
        StorageError: the file cannot be read.
    """
    from_s = from_utc.timestamp() // step_s * step_s
    steps = max(0, int(-((from_s - to_utc.timestamp()) // step_s)))
    grid = Grid(from_s, step_s, steps)
    probes, seen_s = _Probes(grid, tuple(settings.probes)), dict[int, float]()
    for sample in history.samples(from_utc, to_utc):
        at_s = sample.when.at_utc.timestamp()
        seen_s[sample.when.run_id] = at_s
        probes.add(at_s, sample.span_s, sample.values)
    changes = history.changes(from_utc - LONGEST_RUN, to_utc)
    shares = running_shares(changes, settings, grid, seen_s, runs_on_s=step_s)
    return Series(
        from_s,
        step_s,
        probes.means(),
        {output.name: share for output, share in shares.items() if output.kind is Kind.FAN},
        {output.name: share for output, share in shares.items() if output.kind is Kind.PUMP},
        probes.hourly(),
    )


def running_shares(
    changes: Iterable[RecordedChange],
    settings: Settings,
    grid: Grid,
    seen_s: Mapping[int, float],
    *,
    runs_on_s: float,
) -> dict[OutputId, list[float]]:
    """For each fan and pump the share of every step for which it was on.

    Args:
        changes: oldest first, from ``LONGEST_RUN`` before the grid on.
        settings: which fans and pumps there are.
        grid: the steps.
        seen_s: by run of the program, when it was last heard of within the grid.
        runs_on_s: for how long what runs when the newest of them was last heard of is taken to run on.
    """
    outputs = [OutputId.fan(name) for name in settings.loops] + [OutputId.pump(n) for n in settings.sumps]
    shares = {output: [0.0] * grid.steps for output in outputs}
    for output, began_s, ended_s in _runs(changes, seen_s, runs_on_s):
        if output in shares:
            grid.mark(shares[output], began_s, ended_s)
    return shares


class Grid:
    """Steps of time."""

    def __init__(self, from_s: float, step_s: float, steps: int) -> None:
        self.from_s, self.step_s, self.steps = from_s, step_s, steps

    def step_of(self, moment_s: float) -> int:
        """The step in which a moment lies, the first or last one for a moment at their edge."""
        return min(max(int((moment_s - self.from_s) // self.step_s), 0), self.steps - 1)

    def mark(self, shares: list[float], began_s: float, ended_s: float) -> None:
        """Add the time from one moment to another to the shares of the steps it touches."""
        began, ended = ((moment_s - self.from_s) / self.step_s for moment_s in (began_s, ended_s))
        began, ended = max(began, 0.0), min(ended, float(self.steps))
        for step in range(int(began), min(int(ended) + 1, self.steps)):
            shares[step] += max(0.0, min(ended, step + 1.0) - max(began, float(step)))


class _Probes:
    """Gathers samples; one that was taken finely counts before an hourly mean."""

    def __init__(self, grid: Grid, names: tuple[str, ...]) -> None:
        self._grid = grid
        self._sums = {name: [0.0] * grid.steps for name in names}
        self._counts = {name: [0] * grid.steps for name in names}
        self._hours: list[tuple[int, Mapping[str, object]]] = []
        self._fine = [False] * grid.steps

    def add(self, at_s: float, span_s: int, values: Mapping[str, object]) -> None:
        """One sample."""
        if span_s:
            first = int((at_s // span_s * span_s - self._grid.from_s) // self._grid.step_s)
            for step in range(max(first, 0), min(first + int(span_s // self._grid.step_s), self._grid.steps)):
                self._hours.append((step, values))
            return
        step = self._grid.step_of(at_s)
        self._fine[step] = True
        for name, value in values.items():
            if isinstance(value, float) and name in self._sums:
                self._sums[name][step] += value
                self._counts[name][step] += 1

    def hourly(self) -> list[bool]:
        """Whether a step has nothing but an hourly mean."""
        coarse = [False] * self._grid.steps
        for step, _ in self._hours:
            coarse[step] = not self._fine[step]
        return coarse

    def means(self) -> dict[str, list[float | None]]:
        """The mean of each probe and step."""
        found: dict[str, list[float | None]] = {
            name: [
                total / count if count else None
                for total, count in zip(sums, self._counts[name], strict=True)
            ]
            for name, sums in self._sums.items()
        }
        for step, values in self._hours:
            if not self._fine[step]:
                for name, value in values.items():
                    if isinstance(value, float) and name in found:
                        found[name][step] = value
        return found


def _runs(
    changes: Iterable[RecordedChange], seen_s: Mapping[int, float], runs_on_s: float
) -> Iterator[tuple[OutputId, float, float]]:
    """Output, begin and end of each run of a motor.

    Everything is off between two runs of the program; one that broke off ended with its last reading.
    """
    running: dict[OutputId, tuple[int, float]] = {}
    for change in changes:
        at_s, run_id = change.when.at_utc.timestamp(), change.when.run_id
        for output, (run, began_s) in list(running.items()):
            if run != run_id:
                yield output, began_s, min(max(seen_s.get(run, began_s), began_s), at_s)
                del running[output]
        if change.on:
            running.setdefault(change.output, (run_id, at_s))
        elif change.output in running:
            yield change.output, running.pop(change.output)[1], at_s
    newest_s = max(seen_s.values(), default=0.0)
    for output, (run, began_s) in running.items():
        last_s = seen_s.get(run, began_s)
        # What runs at the end of the range runs on; what a broken run left running does not.
        yield output, began_s, max(began_s, last_s + runs_on_s if last_s == newest_s else last_s)
