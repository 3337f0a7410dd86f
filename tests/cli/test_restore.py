"""``hypocaust restore``: a backup takes the place of the history."""

from __future__ import annotations

import io
import os
import sqlite3
from contextlib import closing
from datetime import date

import pytest

from controller.cli.restore import restore_history
from controller.history import backups, database
from controller.service.running import marked
from controller.settings import ownership
from tests.process.bench import ROOT

SETTINGS = ROOT / "config" / "one-loop.toml"


@pytest.fixture
def backup(tmp_path, monkeypatch):
    """The backup of a history with one event, which has lost it since."""
    runtime = tmp_path / "run"
    runtime.mkdir()
    monkeypatch.setenv("STATE_DIRECTORY", str(tmp_path))
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(runtime))
    path = tmp_path / "history.sqlite3"
    with closing(database.open_for_writing(path)) as connection:
        connection.execute("INSERT INTO runs (boot_id, started_mono_ms) VALUES ('boot-a', 1)")
        made = backups.make(path, tmp_path / "backup", date(2026, 3, 7))
        connection.execute("DELETE FROM runs")
    return made


def runs(path):
    """How many runs a history knows."""
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute("SELECT count(*) FROM runs").fetchone()[0]


def restored(backup):
    """The exit code and what was printed."""
    out = io.StringIO()
    return restore_history(backup, SETTINGS, out), out.getvalue()


def test_the_backup_is_in_place_and_the_old_file_is_named(backup, tmp_path):
    """It says what it did, and what lies where."""
    code, said = restored(backup)
    assert code == 0
    assert runs(tmp_path / "history.sqlite3") == 1
    assert said.splitlines() == [
        f"{tmp_path}/history.sqlite3 is now a copy of {backup}.",
        f"What was there before is kept as {tmp_path}/history.sqlite3.replaced-1.",
    ]


def test_nothing_is_done_while_a_controller_runs(backup, tmp_path, capsys):
    """It says how to stop it."""
    with marked(tmp_path / "run"):
        assert restored(backup) == (3, "")
    assert "systemctl stop hypocaust" in capsys.readouterr().err
    assert runs(tmp_path / "history.sqlite3") == 0


def test_without_a_runtime_directory_no_controller_runs(backup, tmp_path):
    """As after a reboot with the service disabled."""
    for file in (tmp_path / "run").iterdir():
        file.unlink()
    (tmp_path / "run").rmdir()
    assert restored(backup)[0] == 0


def test_root_does_not_leave_files_that_the_service_cannot_open(backup, tmp_path, monkeypatch, capsys):
    """It says as whom to do it."""
    if os.geteuid() != 0:
        pytest.skip("only root can make this mistake")
    monkeypatch.setattr("controller.cli.restore.ROOT", ownership.ROOT)
    os.chown(tmp_path, 65534, 65534)
    assert restored(backup)[0] == 2
    said = " ".join(capsys.readouterr().err.split())
    assert "sudo -u nobody hypocaust restore" in said
    assert runs(tmp_path / "history.sqlite3") == 0


def test_a_file_that_is_no_backup_and_bad_settings_are_refused(backup, tmp_path, capsys):
    """Each with what is wrong; the history stays."""
    other = tmp_path / "notes.txt"
    other.write_text("soon")
    assert restored(other)[0] == 2
    assert "cannot be copied" in " ".join(capsys.readouterr().err.split())
    other.write_text("[site]\n")
    assert restore_history(backup, other, io.StringIO()) == 2
    assert "notes.txt:1" in capsys.readouterr().err
    assert runs(tmp_path / "history.sqlite3") == 0
