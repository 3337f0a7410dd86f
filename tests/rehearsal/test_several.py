"""Several rehearsals at once."""

from __future__ import annotations

import multiprocessing
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

import pytest

from controller.rehearsal import several
from controller.rehearsal.run import Rehearsal, rehearse
from controller.rehearsal.several import RehearsalFailed, Several
from controller.rehearsal.summary import Summary
from controller.rehearsal.worker import Failed, Task, Worker
from tests.rehearsal.made_up import SUMMARY
from tests.simulator.garden import settings

if TYPE_CHECKING:
    from pathlib import Path

# Each process may have to compile the model first, on a machine that is busy with other tests.
pytestmark = [pytest.mark.rehearsal, pytest.mark.timeout(400)]


def plan(strategy: str = "hypocaust", weather: str = "carolina", days: float = 0.1) -> Rehearsal:
    """A short one whose seed matters: the rain is made up and the probes are noisy."""
    return Rehearsal(settings(), weather, None, days, seed=7, strategy=strategy)


def figures(summary: Summary) -> dict[str, object]:
    """Everything but how long it took."""
    return summary.model_dump(exclude={"wall_s"})


def run(plans: list[Rehearsal], processes: int) -> tuple[list[Summary], list[float]]:
    """Their summaries, and the shares that were told."""
    shares: list[float] = []
    return Several([Task(one, reports=True) for one in plans], processes).run(shares.append), shares


def test_the_same_seed_gives_the_same_numbers_in_any_number_of_processes() -> None:
    """One process, two, or none but this one: not a digit differs."""
    plans = [plan(weather="alaska-coast"), plan("plain-thermostat", "alaska-coast"), plan("fans-off")]
    alone, shares = run(plans, 1)
    beside, _ = run(plans, 2)
    here = [rehearse(one).summary for one in plans]
    assert [*map(figures, alone)] == [*map(figures, beside)] == [*map(figures, here)]
    assert figures(alone[0]) != figures(alone[1])
    assert shares == sorted(shares)
    assert shares[-1] == pytest.approx(1.0)


@pytest.mark.parametrize("processes", [1, 2])
def test_one_that_fails_is_named_and_ends_the_others(processes: int) -> None:
    """Bad input is no defect; the others do not run to their end."""
    rehearsals = Several(
        [Task(plan(days=4000.0), reports=True), Task(plan(weather="atlantis"), reports=True)][::-1], processes
    )
    with pytest.raises(RehearsalFailed) as failed:
        rehearsals.run(lambda _share: None)
    assert failed.value.index == 0
    assert not failed.value.failed.defect
    assert failed.value.failed.words.startswith("--weather: atlantis: no such file")
    assert rehearsals.summaries == {}


class FakeWorker:
    """A worker that at once says it is half done, then that it is done."""

    started: ClassVar[list[FakeWorker]] = []
    heard: ClassVar[list[tuple[int, object]]] = []

    def __init__(self) -> None:
        """Count it."""
        self.connection, self._theirs = multiprocessing.Pipe()
        FakeWorker.started.append(self)

    def give(self, _task: Task) -> None:
        """Say all there is to say."""
        self._theirs.send(0.5)
        self._theirs.send(SUMMARY)

    def receive(self) -> float | Summary:
        """Remember how many workers there were when this was said."""
        said: float | Summary = self.connection.recv()
        FakeWorker.heard.append((len(FakeWorker.started), said))
        return said

    def stop(self) -> None:
        """Close both ends."""
        self.connection.close()
        self._theirs.close()


def test_the_first_goes_ahead_until_its_code_is_compiled(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody else starts before it reported that it is under way; then there are as many as allowed."""
    monkeypatch.setattr(several, "Worker", FakeWorker)
    monkeypatch.setattr(FakeWorker, "started", [])
    monkeypatch.setattr(FakeWorker, "heard", [])
    summaries, _ = run([plan()] * 5, 3)
    assert len(summaries) == 5
    assert FakeWorker.heard[0] == (1, 0.5)
    assert FakeWorker.heard[1][0] == 3
    assert len(FakeWorker.started) == 3


def test_files_that_cannot_be_written_are_told_with_their_place(tmp_path: Path) -> None:
    """A directory that went away is not a defect of the program."""
    worker = Worker()
    try:
        worker.give(Task(replace(plan(days=0.01), hourly=True), tmp_path / "gone"))
        said = worker.receive()
    finally:
        worker.stop()
    assert said == Failed(
        f"--out: nothing can be written to {tmp_path / 'gone'} (No such file or directory)", defect=False
    )


def test_an_error_nobody_foresaw_is_told_as_a_defect() -> None:
    """The process lives on and says what it was."""
    worker = Worker()
    try:
        worker.give(Task(plan(strategy="no such rule")))
        assert worker.receive() == Failed("KeyError: 'no such rule'", defect=True)
        worker.give(Task(plan(days=0.01)))
        assert isinstance(worker.receive(), Summary)
    finally:
        worker.stop()


def test_a_process_that_was_killed_is_told_with_its_code() -> None:
    """As happens when memory runs out."""
    worker = Worker()
    try:
        worker._process.kill()
        worker._process.join()
        worker.give(Task(plan()))
        said = worker.receive()
        assert isinstance(said, Failed)
        assert said.defect
        assert "ended with code -9" in said.words
    finally:
        worker.stop()
