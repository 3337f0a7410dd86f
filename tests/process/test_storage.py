"""A card that is full, or that fails, under the running program (P14)."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from tests.process.bench import ROOT, Bench, bench_in
from tests.process.card import Card

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

pytestmark = pytest.mark.process
SPEED, TICK = 180.0, "3 s"  # a storage alarm waits for five minutes
OFTEN = '\n[history]\nevery = "1 min"\nwrite_every = "5 s"\n'


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """A bench whose history is written often."""
    yield from bench_in(tmp_path, OFTEN, SPEED, TICK)


@pytest.fixture
def card(bench: Bench) -> Iterator[Card]:
    """A small card for everything that must outlive a boot."""
    card = Card(bench.state_directory)
    yield card
    bench.close()
    card.remove()


def fan_runs(bench: Bench) -> None:
    """A hot noon: wait until the fan cools."""
    bench.temperatures(roof=35.0, soil=14.0)
    bench.until(lambda: bench.is_on(bench.fan_pin) is True, "fan on")


def water_is_answered(bench: Bench) -> None:
    """The float stops the fan within a real second, starts the pump, and falls again."""
    bench.wet()
    assert bench.until(lambda: bench.is_on(bench.fan_pin) is False, "fan off", patience_s=5.0) < 1.0
    bench.until(lambda: bench.is_on(bench.pump_pin) is True, "pump on")
    bench.dry()


def count(bench: Bench, table: str) -> int:
    """Rows of one table in the history."""
    with closing(sqlite3.connect(bench.state_directory / "history.sqlite3")) as connection:
        (rows,) = connection.execute(f"SELECT count(*) FROM {table}").fetchone()  # noqa: S608 - our own names
        return int(rows)


def test_a_full_card_is_told_and_made_good_and_control_goes_on(bench: Bench, card: Card) -> None:
    """With no byte free fan, float and pump work, the alarm names the card; with room again rows arrive."""
    bench.start()
    fan_runs(bench)
    bench.until(lambda: count(bench, "changes") > 0, "the first change in the history")
    before = count(bench, "changes")  # now, since not even a reader may open it on a full card
    card.fill()
    bench.until(lambda: "no room left" in bench.status(), "storage alarm")
    water_is_answered(bench)
    fan_runs(bench)
    card.empty()
    bench.until(lambda: count(bench, "changes") >= before + 3, "what happened meanwhile in the history")


def test_a_card_that_fails_is_told_and_control_goes_on_even_over_a_restart(bench: Bench, card: Card) -> None:
    """Control works on a card that has become unwritable, also after a restart, and a person is told."""
    bench.start()
    fan_runs(bench)
    card.fail()
    bench.until(lambda: '"storage"' in bench.status(), "storage alarm")
    water_is_answered(bench)
    bench.kill()
    card.protect()
    bench.start()
    fan_runs(bench)
    bench.until(lambda: '"storage"' in bench.status(), "storage alarm after the restart")
    assert "Traceback" not in bench.log.read_text(encoding="utf-8")


WRITES_ON = """
import sys
from pathlib import Path
sys.path.insert(0, "tests/history")
from conftest import HandClock, fan_change, make_tick
from controller.history.writer import HistoryWriter
clock = HandClock()
writer = HistoryWriter(Path(sys.argv[1]), clock, "boot-a")
for line in sys.stdin:
    writer.observe(make_tick(clock, {"p": 20.0}, changes=[fan_change()]))
    print(writer.write_now(), writer.findings(), flush=True)
"""


def test_a_full_card_with_small_blocks_is_an_error_and_not_the_end(tmp_path: Path) -> None:
    """Where a mapped index would end the program with SIGBUS, it is said each time that there is no room."""
    card = Card(tmp_path / "card", block_bytes=1024)
    command = [sys.executable, "-c", WRITES_ON, str(card.at / "history.sqlite3")]
    try:
        with subprocess.Popen(
            command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1
        ) as writer:
            assert writer.stdin is not None
            assert writer.stdout is not None
            writer.stdin.write("\n")
            assert writer.stdout.readline().startswith("True")
            card.fill()
            for _ in range(5):
                writer.stdin.write("\n")
                assert "no room left" in writer.stdout.readline()
            writer.stdin.close()
        assert writer.returncode == 0
    finally:
        card.remove()
