"""The page on keeping the history: every command and statement in it works as it is printed."""

from __future__ import annotations

import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import pytest

from controller.cli import _parser
from controller.history import backups
from controller.history.rows import AlarmRow, At, ChangeRow, DayRow, ReadingRow
from controller.history.tables import TABLES
from controller.history.writer import HistoryWriter
from controller.record.tally import DayTally, LoopTally, PumpTally
from controller.settings.load import load
from tests.process.bench import ROOT

PAGE = ROOT / "config" / "evidence" / "keeping.md"
TEXT = PAGE.read_text(encoding="utf-8")
BLOCK = re.compile(r"<!-- (?P<mark>\w+) -->\n```(?P<language>\w+)\n(?P<text>.*?)\n```", re.DOTALL)
BEGIN = datetime(2026, 1, 9, tzinfo=UTC)
HOUSE = load(ROOT / "config" / "house.toml")


def blocks(mark: str) -> list[str]:
    """The blocks under a marker."""
    return [found["text"] for found in BLOCK.finditer(TEXT) if found["mark"] == mark]


def at(hours: float) -> At:
    """A moment so many hours after the beginning."""
    wall = BEGIN + timedelta(hours=hours)
    return At(round(hours * 3_600_000), round(wall.timestamp() * 1000))


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    """A directory with the settings and a history of four cold days, something in every table."""
    folder = tmp_path_factory.mktemp("desk")
    (folder / "config").mkdir()
    shutil.copy(ROOT / "config" / "house.toml", folder / "config")
    clock = SimpleNamespace(monotonic_s=lambda: 0.0, wall_utc=lambda: BEGIN)
    writer = HistoryWriter(folder / "demo.sqlite3", clock, "boot")
    for step in range(4 * 288):
        values = [2500 + 62 * (step % 9) if step % 50 else "SILENT" for _ in HOUSE.probes]
        writer._backlog.put([ReadingRow(at(step / 12), tuple(HOUSE.probes), json.dumps(values))])
        if step % 500 == 0:
            assert writer.write_now()
    loop, pump = LoopTally(3600.0, 2, 432_000.0, 7.2e6, 3.6e6), PumpTally(120.0, 1, 48_000.0)
    for day in range(4):
        date = (BEGIN + timedelta(days=day)).date().isoformat()
        tally = DayTally(date, 86_400.0, 2.5, 3.0, {"north": loop}, {"main": pump})
        writer._backlog.put([DayRow(at(24 * day + 23), tally, finished=True)])
    writer._backlog.put(
        [
            ChangeRow(at(30), "fan", "north", False, "nothing-wanted", "{}", "nothing is wanted"),
            AlarmRow(at(31), "frost", "", 1, True, "air 2.5 °C"),
        ]
    )
    assert writer.write_now()
    writer._close_connection()
    return folder


def test_every_block_is_marked():
    """No block escapes these tests."""
    assert TEXT.count("```") == 2 * len(BLOCK.findall(TEXT))


def test_the_commands_run_in_their_order(desk, tmp_path):
    """Each as it is printed, in a shell, beside a history of the name it uses."""
    command = tmp_path / "hypocaust"
    command.write_text(f'#!/bin/sh\nexec {sys.executable} -m controller "$@"\n', encoding="utf-8")
    command.chmod(0o755)
    environment = os.environ | {
        "PATH": f"{tmp_path}:{os.environ['PATH']}",
        "PYTHONPATH": str(ROOT),
        "TZ": "UTC",
    }
    if shutil.which("sqlite3") is None:
        pytest.skip("sqlite3 is not installed")
    for block in blocks("run"):
        done = subprocess.run(
            ["sh", "-e", "-c", block], cwd=desk, env=environment, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
        assert done.stdout
    assert (desk / "tables" / "temperatures.csv").stat().st_size > (
        desk / "some-days" / "temperatures.csv"
    ).stat().st_size


@pytest.mark.parametrize("mark", ["long", "board"])
def test_the_other_commands_are_understood(mark):
    """The command line accepts them."""
    for line in "\n".join(blocks(mark)).splitlines():
        if found := re.search(r"(?:^|bin/)hypocaust (.*)", line):
            _parser().parse_args(found[1].split())


@pytest.mark.parametrize(
    "statement", [one for block in blocks("sql") for one in block.split(";") if one.strip()]
)
def test_every_statement_gives_rows(desk, statement):
    """On a history with something in every table."""
    with closing(sqlite3.connect(f"file:{desk / 'demo.sqlite3'}?mode=ro", uri=True)) as connection:
        assert connection.execute(statement).fetchall()


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_every_column_is_explained(table):
    """The table of tables names each of them."""
    (row,) = re.findall(rf"^\| `{table.name}` \| .* \| (.*) \|$", TEXT, re.MULTILINE)
    assert re.findall(r"`(\w+)`", row) == list(table.columns)


def test_what_the_page_says_of_backups_is_so():
    """Their folder, their names, how many are kept."""
    assert f"`{backups.FOLDER}/`" in TEXT
    (name,) = set(re.findall(r"history-\d{4}-\d\d-\d\d\.sqlite3", TEXT))
    assert backups._NAME.fullmatch(name)
    assert "the two newest are kept" in TEXT
    assert backups.KEEP == 2
    assert f"larger than {backups.MONTHLY_BYTES / 1e6:.0f} MB" in TEXT
    assert f"After {HOUSE.history.keep_fine_days} days" in TEXT
