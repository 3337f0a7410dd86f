"""All runs of the scoreboard, on all cores."""

from __future__ import annotations

import multiprocessing
import os
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from tqdm import tqdm

from controller.rehearsal.run import Rehearsal, rehearse
from controller.simulator.weather.load import load_weather
from tests.lab.scoreboard.cases import DAYS, FIRST_DAY
from tests.lab.scoreboard.foresight import STILL, Bound, Reached, find_bound, season
from tests.lab.workers import die_with_parent

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from controller.settings.schema import Settings
    from controller.simulator.plant.faults import ScriptedFault
    from tests.lab.scoreboard.cases import Case

Result = TypeVar("Result")
Job = TypeVar("Job", bound=tuple[Any, ...])
STRATEGIES = ("hypocaust", "simple-difference", "plain-thermostat", "fans-always")
PACE_S = 300.0
PACE = f"The controller ticked every {PACE_S / 60.0:.0f} min, and when a float turned or a timer ran out."
ROWS = ("bound", *STRATEGIES, "still")  # the slowest pieces first, so that no core waits at the end


@dataclass(frozen=True, slots=True)
class Score:
    """A season of the real controller.

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
    """What is known of one case once all its runs are done."""

    case: Case
    still: Reached | None = None
    bound: Bound | None = None
    scores: dict[str, Score] | None = None

    def benefit(self, reached: Reached) -> float | None:
        """Share of the best reduction of degree-hours below 4 °C that was found; None if undefined."""
        if self.still is None or self.bound is None:
            return None
        possible = self.still.cold_kh - self.best_kh()
        return (self.still.cold_kh - reached.cold_kh) / possible if possible > LEAST_KH else None

    def best_kh(self) -> float:
        """The fewest degree-hours anything reached: a bound that was beaten is no bound."""
        found = [score.reached.cold_kh for score in (self.scores or {}).values()]
        return min([*found, self.bound.reached.cold_kh] if self.bound is not None else found)


LEAST_KH = 20.0  # with less frost than this to prevent, a share of it means nothing


def rehearsed(
    case: Case, strategy: str, settings: Settings | None = None, faults: tuple[ScriptedFault, ...] = ()
) -> Score:
    """The real controller through a season."""
    house = settings or case.settings()
    plan = Rehearsal(house, case.weather, FIRST_DAY, DAYS, case.seed, faults, strategy, pace_s=PACE_S)
    summary = rehearse(plan).summary
    heat_kwh = summary.ground.charged_kwh + summary.ground.discharged_kwh
    return Score(
        Reached(
            summary.house.degree_hours_below_4c,
            summary.house.degree_hours_above_32c,
            summary.fans.energy_kwh,
            heat_kwh,
        ),
        summary.fans.starts / len(house.loops),
        len(summary.promises.broken),
        sum(alarm.raised for alarm in summary.alarms.values()),
    )


def _still(case: Case) -> Reached:
    return season(case.settings(), load_weather(case.weather, case.seed), STILL)


def _job(case: Case, what: str) -> Score | Bound | Reached:
    if what == "bound":
        return find_bound(case)
    return _still(case) if what == "still" else rehearsed(case, what)


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


def play(boards: Sequence[Board], processes: int | None = None, rows: Sequence[str] = ROWS) -> None:
    """Run these rows of every case and put them on its board."""
    of = {board.case: board for board in boards}
    jobs = [(board.case, what) for what in rows for board in boards]
    with workers(processes) as pool:
        waiting = {pool.submit(_job, *job): job for job in jobs}
        for done in tqdm(as_completed(waiting), total=len(jobs), unit="run"):
            case, what = waiting[done]
            _put(of[case], what, done.result())


def _put(board: Board, what: str, result: Score | Bound | Reached) -> None:
    if isinstance(result, Bound):
        board.bound = result
    elif isinstance(result, Reached):
        board.still = result
    elif board.scores is not None:
        board.scores[what] = result
