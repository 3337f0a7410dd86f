"""All runs of the scoreboard, on all cores."""

from __future__ import annotations

import multiprocessing
import os
import resource
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, TypeVar

from tqdm import tqdm

from controller.rehearsal.run import Rehearsal, rehearse
from tests.lab.scoreboard.bound import LEAST_KH, Hindsight, find_bounds
from tests.lab.scoreboard.cases import DAYS, FIRST_DAY
from tests.lab.scoreboard.reached import Half, Reached, reached
from tests.lab.workers import die_with_parent

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from controller.settings.schema import Settings
    from controller.simulator.plant.faults import ScriptedFault
    from tests.lab.scoreboard.cases import Case

Result = TypeVar("Result")
Job = TypeVar("Job", bound=tuple[Any, ...])
STRATEGIES = ("hypocaust", "simple-difference", "plain-thermostat")
PACE_S = 300.0
PACE = f"The controller ticked every {PACE_S / 60.0:.0f} min, and when a float turned or a timer ran out."
ROWS = ("hindsight", *STRATEGIES)  # the slowest pieces first, so that no core waits at the end


@dataclass(frozen=True, slots=True)
class Score:
    """A year of the real controller.

    Attributes:
        reached: cold, heat and electricity.
        starts: starts a fan.
        broken: promises that did not hold.
        alarms: alarms raised.
    """

    reached: Reached
    starts: float
    broken: int
    alarms: int


@dataclass(slots=True)
class Board:
    """What is known of one case."""

    case: Case
    hindsight: Hindsight | None = None
    scores: dict[str, Score] = field(default_factory=dict)

    def has(self, half: Half) -> bool:
        """Whether there is enough frost, or heat, to judge by."""
        return self.hindsight is not None and half in self.hindsight.bounds

    def best_kh(self, half: Half) -> float:
        """The fewest degree-hours anything reached: a bound that was beaten is no bound."""
        found = [score.reached.kh(half) for score in self.scores.values()]
        return min([*found, self._of(half).bounds[half].best.kh(half)])

    def avoided_kh(self, half: Half, year: Reached) -> float:
        """Degree-hours that fans that stand would have left."""
        return self._of(half).still.kh(half) - year.kh(half)

    def frost_benefit(self, year: Reached) -> float | None:
        """Share of the best reduction of degree-hours below 4 °C that was found; None if that is little."""
        possible = self._of(Half.WINTER).still.cold_kh - self.best_kh(Half.WINTER)
        return self.avoided_kh(Half.WINTER, year) / possible if possible > LEAST_KH else None

    def relief(self, year: Reached) -> float:
        """Share of the degree-hours above 32 °C that fans that stand would have left."""
        return self.avoided_kh(Half.SUMMER, year) / self._of(Half.SUMMER).still.hot_kh

    def over_hindsight(self, half: Half, year: Reached) -> float | None:
        """Electricity over the least that was found to reach as much; None if nothing was reached."""
        least_kwh = self._of(half).bounds[half].kwh_for(year.kh(half))
        return year.kwh(half) / least_kwh if least_kwh else None

    def _of(self, half: Half) -> Hindsight:
        if self.hindsight is None or half not in self.hindsight.bounds:
            raise ValueError(f"{self.case.name}: no bound for the {half}")
        return self.hindsight


def rehearsed(
    case: Case, strategy: str, settings: Settings | None = None, faults: tuple[ScriptedFault, ...] = ()
) -> Score:
    """The real controller through a year."""
    house = settings or case.settings()
    plan = Rehearsal(
        house, case.weather, FIRST_DAY, DAYS, case.seed, faults, strategy, hourly=True, pace_s=PACE_S
    )
    outcome = rehearse(plan)
    summary = outcome.summary
    return Score(
        reached(
            house,
            summary.house.degree_hours_below_4c,
            summary.house.degree_hours_above_32c,
            [row.truth.bench_c for row in outcome.rows],
            [row.electricity_kwh for row in outcome.rows],
        ),
        summary.fans.starts / len(house.loops),
        len(summary.promises.broken),
        sum(alarm.raised for alarm in summary.alarms.values()),
    )


def _job(case: Case, what: str) -> Score | Hindsight:
    return find_bounds(case) if what == "hindsight" else rehearsed(case, what)


def workers(processes: int | None = None) -> ProcessPoolExecutor:
    """Processes that end with this one, as many as there are cores if not said."""
    return ProcessPoolExecutor(
        processes,
        mp_context=multiprocessing.get_context("spawn"),
        initializer=die_with_parent,
        initargs=(os.getpid(),),
    )


def results_of(job: Callable[..., Result], jobs: Sequence[Job]) -> dict[Job, Result]:
    """Do a job for each tuple of arguments, on all cores and with a progress bar."""
    with workers() as pool:
        done = pool.map(job, *zip(*jobs, strict=True))
        return dict(zip(jobs, tqdm(done, total=len(jobs), unit="run"), strict=True))


def play(boards: Sequence[Board], processes: int | None = None, rows: Sequence[str] = ROWS) -> float:
    """Run these rows of every case and put them on its board; return the CPU seconds that all took."""
    of = {board.case: board for board in boards}
    jobs = [(board.case, what) for what in rows for board in boards]
    before_s = _cpu_of_children_s()
    with workers(processes) as pool:
        waiting = {pool.submit(_job, *job): job for job in jobs}
        for done in tqdm(as_completed(waiting), total=len(jobs), unit="run"):
            case, what = waiting[done]
            result = done.result()
            if isinstance(result, Hindsight):
                of[case].hindsight = result
            else:
                of[case].scores[what] = result
    return _cpu_of_children_s() - before_s


def _cpu_of_children_s() -> float:
    """CPU time of all processes that were started from here and have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
