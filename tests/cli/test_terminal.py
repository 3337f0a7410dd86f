"""Whatever strings a command meets, none of them can steer the terminal it prints to."""

from __future__ import annotations

import argparse
import io
import json
import logging
import os
import pty
import signal
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import pytest
import structlog

from controller.cli import _parser
from controller.cli.status import status
from controller.clock import SystemClock
from controller.letters import visible, visible_json
from controller.service.logs import configure
from controller.telemetry.build import Program
from controller.telemetry.status_file import StatusFile
from tests.process.bench import ROOT
from tests.telemetry import ticks

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

# Escape, bell, C1's own escape, backspace, return, and marks that turn and hide letters.
NASTY = "a\x1b]0;owned\x07\x9b2J\x08\rb\u202ec\u2066d\u200fe\u2028f\u200bg\x7f"
IN_TOML = "".join(letter if letter.isprintable() else f"\\u{ord(letter):04x}" for letter in NASTY)
WAIT_S = 60.0


def bad_letters(text: str) -> set[str]:
    """Letters in what a command has printed that no terminal should get from it."""
    return {letter for letter in text if not letter.isprintable() and letter not in "\n\t"}


def run(*arguments: str, **environment: str) -> str:
    """Everything a command prints."""
    done = subprocess.run(
        [sys.executable, "-m", "controller", *arguments],
        cwd=ROOT,
        env=os.environ | {"PYTHONUTF8": "1"} | environment,
        capture_output=True,
        timeout=WAIT_S,
        check=False,
    )
    return (done.stdout + done.stderr).decode("utf-8", errors="surrogateescape")


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A directory with a nasty name that holds a settings file with nasty strings in it."""
    directory = tmp_path / NASTY
    directory.mkdir()
    good = (ROOT / "config" / "one-loop.toml").read_text(encoding="utf-8")
    nasty = good.replace(
        'name = "home"', f'name = "{IN_TOML}"\ntitle = "{IN_TOML}"\n"{IN_TOML}" = "{IN_TOML}"'
    )
    assert nasty != good
    (directory / "house.toml").write_text(f'{nasty}\n[loops."{IN_TOML}"]\nfan_pin = "{IN_TOML}"\n')
    (directory / "good.toml").write_text(good)
    (directory / "faults.toml").write_text(f'[["{IN_TOML}"]]\nkind = "{IN_TOML}"\nat = "{IN_TOML}"\n')
    return directory


def commands(place: Path) -> dict[str, list[list[str]]]:
    """For each command what makes it repeat strings that somebody else has chosen."""
    house, good = str(place / "house.toml"), str(place / "good.toml")
    return {
        "check": [[house], [str(place / "gone")], [NASTY, NASTY]],
        "run": [[house], [good, "--simulated", "--weather", NASTY], [good, "--start", NASTY]],
        "rehearse": [
            [house],
            [good, "--days", "1", "--faults", str(place / "faults.toml")],
            [good, "--days", "1", "--weather", NASTY],
            [good, "--days", "1", "--weather", f"{NASTY},{NASTY}x"],
            [good, "--days", "1", "--out", f"/proc/{NASTY}"],
        ],
        "status": [[house], [good], [str(place / "gone")]],
        "tonight": [[house], [good, "--low", NASTY], [str(place / "gone")], [house, "--low", "18F"]],
        "probes": [["--bus", str(place / "gone")], ["--bus", str(place)]],
        "clear": [["fire", house], ["fire", str(place / "gone")], [NASTY]],
        "log": [[house], ["--history", house], ["--since", NASTY], [str(place / "gone")]],
        "report": [[house], [good, "--history", house], [good, "--from", NASTY], [str(place / "gone")]],
        "export": [[house, "--out", NASTY], ["--history", house, "--out", NASTY], [house, "--from", NASTY]],
        "restore": [[NASTY, house], [NASTY, good], [house, good]],
        "replay": [[house], [good, "--history", house], [good, "--with", house], [good, "--from", NASTY]],
        "seen": [["frost", house], [NASTY, house], ["fire", str(place / "gone")]],
        "house": [["empty", house], [NASTY]],
        "done": [["floats", house], [NASTY, house]],
        "safe": [[house], [str(place / "gone")]],
        "test": [["fan:bed", house], [NASTY, good], ["fan:bed", good], ["fan:bed", good, "--for", NASTY]],
        "migrate": [[house], [good], [str(place / "gone")], [NASTY, "--write"]],
        "verify": [[house], [str(place / "gone")]],
    }


def test_no_command_lets_a_string_steer_the_terminal(place: Path) -> None:
    """Names of files and settings, values and arguments: printed by every command, and only as letters."""
    known = next(act for act in _parser()._actions if isinstance(act, argparse._SubParsersAction)).choices
    asked = commands(place)
    assert set(asked) == set(known)
    for command, cases in asked.items():
        for arguments in cases:
            told = {f"{kind}_DIRECTORY": str(place / kind) for kind in ("RUNTIME", "STATE")}
            said = run(command, *arguments, **told)
            assert said, (command, arguments)
            assert bad_letters(said) == set(), (command, arguments, said)
            assert "Traceback" not in said, said
    assert "owned" in run("check", str(place / "house.toml"))


class Terminal(io.StringIO):
    """Text that claims to be a terminal."""

    def isatty(self) -> bool:
        """It is."""
        return True


def test_a_status_full_of_control_letters_is_shown_as_letters(tmp_path, monkeypatch):
    """Every string of the status file replaced by a nasty one: only our own styles reach the terminal."""
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path))
    monkeypatch.delenv("NO_COLOR", raising=False)
    StatusFile(tmp_path, Program("0.1.0", "", 100.0)).observe(ticks.tick())
    file = tmp_path / "status.json"
    kept = ("unit", "water", "priority", "boot_id", "at", "date")

    def spoiled(value, key=""):
        if isinstance(value, dict):
            return {name: spoiled(each, name) for name, each in value.items()}
        if isinstance(value, list):
            return [spoiled(each) for each in value] or (
                [NASTY] if key in ("lockouts", "not_monitored") else []
            )
        return NASTY if isinstance(value, str) and key not in kept else value

    file.write_text(json.dumps(spoiled(json.loads(file.read_text(encoding="utf-8")))), encoding="utf-8")
    out = Terminal()
    assert status(None, out) in (0, 3), out.getvalue()
    said = out.getvalue()
    assert "owned" in said
    for own in ("\x1b[1m", "\x1b[31m", "\x1b[0m"):
        said = said.replace(own, "")
    assert bad_letters(said) == set()


@pytest.fixture
def _logging_as_before() -> Iterator[None]:
    """What a test does to the log ends with it."""
    root = logging.getLogger()
    handlers, level = root.handlers[:], root.level
    yield
    root.handlers[:] = handlers
    root.setLevel(level)
    structlog.reset_defaults()


@pytest.mark.usefixtures("_logging_as_before")
@pytest.mark.parametrize("stream", [Terminal, io.StringIO])
def test_the_log_writes_letters_only(stream):
    """For people and for machines: names, values, messages of libraries and the words of an exception."""
    out = stream()
    configure(SystemClock(), stream=out, environ={})
    structlog.get_logger("x").warning(NASTY, detail=NASTY, many=[NASTY], deep={NASTY: NASTY})
    logging.getLogger("paho").error("said %s", NASTY)
    try:
        {}[NASTY]
    except KeyError:
        structlog.get_logger("x").exception("failed")
    said = out.getvalue()
    assert said.count("owned") >= 6
    assert bad_letters(said) == set()
    assert said.count("\n") >= 3
    if stream is io.StringIO:
        assert json.loads(said.splitlines()[0])["detail"] == NASTY


def test_on_a_real_terminal_the_daemon_writes_letters_only(place: Path) -> None:
    """A simulated house started from a nasty path on a pseudo terminal: only our own control letters."""
    ours, theirs = pty.openpty()
    environment = os.environ | {"PYTHONUTF8": "1", "RUNTIME_DIRECTORY": str(place / "run")}
    process = subprocess.Popen(
        [sys.executable, "-m", "controller", "run", str(place / "good.toml"), "--simulated", "--speed", "50"],
        cwd=ROOT,
        env=environment | {"STATE_DIRECTORY": str(place / "state")},
        stdout=theirs,
        stderr=theirs,
    )
    os.close(theirs)
    said = ""
    try:
        while "controller_started" not in said:
            said += os.read(ours, 4096).decode("utf-8", errors="replace")
        (place / "good.toml").write_text(f'"{IN_TOML}" = "{IN_TOML}"\n')
        until_s = time.monotonic() + WAIT_S
        while "settings_rejected" not in said and time.monotonic() < until_s:
            said += os.read(ours, 4096).decode("utf-8", errors="replace")
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(WAIT_S)
        os.close(ours)
    assert "settings_rejected" in said
    own = said.replace("\r\x1b[K", "")  # takes a passing line of the program's own away
    assert bad_letters(own.replace("\r\n", "\n")) == set(), said


def test_letters_keep_their_places_and_json_its_meaning():
    """One stand-in for each letter that is not printable, a space for a space; JSON reads back as it was."""
    assert visible(NASTY).isprintable()
    assert len(visible(NASTY)) == len(NASTY)
    assert visible("5\u00a0°C, naïve – ✓") == "5 °C, naïve – ✓"
    assert json.loads(visible_json(json.dumps({NASTY: NASTY}, ensure_ascii=False))) == {NASTY: NASTY}
    assert visible_json(json.dumps({NASTY: NASTY}, ensure_ascii=False)).isprintable()
