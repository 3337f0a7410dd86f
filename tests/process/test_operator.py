"""What a person says to the running daemon on the machine, and what it remembers of it."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import pytest

from controller.history.database import StorageError
from controller.history.queries import History
from tests.process.bench import ROOT, Bench, bench_in

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

pytestmark = pytest.mark.process


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """A bench with one loop, one sump and two probes."""
    yield from bench_in(tmp_path)


def typed(bench: Bench, *words: str) -> tuple[int, str]:
    """What a person types, in real time: exit code and everything printed, on one line."""
    places = {"RUNTIME_DIRECTORY": str(bench.run_directory), "STATE_DIRECTORY": str(bench.state_directory)}
    command = [sys.executable, "-m", "controller", *words]
    done = subprocess.run(
        command, cwd=ROOT, env=os.environ | places, capture_output=True, text=True, check=False
    )
    return done.returncode, " ".join((done.stdout + done.stderr).split())


def status(bench: Bench) -> dict[str, Any]:
    """What the status file says."""
    told: dict[str, Any] = json.loads(bench.status() or "{}")
    return told


def alarm(bench: Bench, code: str) -> dict[str, Any]:
    """An alarm in the status file, empty while there is none."""
    return next((one for one in status(bench).get("alarms", ()) if one["code"] == code), {})


def test_what_a_person_says_is_noted_shown_kept_and_written_down(bench: Bench) -> None:
    """Seen, house and done on a running daemon; a kill -9 forgets none, a worse alarm calls again."""
    file = str(bench.file)
    bench.start()
    bench.until((bench.state_directory / "last-good.toml").exists, "last good copy")
    assert typed(bench, "seen", "settings-rejected", file) == (
        1,
        "Not noted: there is no alarm settings-rejected now. See: hypocaust status",
    )
    bench.file.write_text(f"{bench.text}\nnonsense = [", encoding="utf-8")
    bench.until(lambda: bool(alarm(bench, "settings-rejected")), "alarm")
    code, said = typed(bench, "seen", "settings-rejected", file, "--until", "dawn")
    assert (code, "Noted: settings-rejected was seen." in said, "07:00" in said) == (0, True, True), said
    code, said = typed(bench, "house", "empty", file)
    assert (code, "call nobody for 14 days" in said) == (0, True), said
    code, said = typed(bench, "done", "floats", file)
    assert (code, said) == (0, "Noted: floats done. Due again in 30 days.")
    bench.until(lambda: status(bench)["by_hand"][-1]["name"] == "floats", "floats in the status file")
    bench.until(lambda: alarm(bench, "settings-rejected").get("seen") is True, "seen in the status file")
    bench.until(
        lambda: '"empty_until":{' in remembered(bench) and '"done":{"f' in remembered(bench), "memory"
    )
    bench.until(lambda: "done" in events(bench), "what was said in the history")
    bench.kill()
    assert typed(bench, "house", "planted", file)[0] == 3
    bench.start()
    on_copy = "a start on the copy is worse than what was seen"
    bench.until(lambda: alarm(bench, "settings-rejected").get("priority") == "act now", on_copy)
    again = status(bench)
    assert again["house_empty"] is True
    assert again["by_hand"][-1]["last_done"] is not None
    assert alarm(bench, "settings-rejected")["seen"] is False, on_copy
    assert typed(bench, "house", "planted", file)[0] == 0
    bench.until(lambda: status(bench)["house_empty"] is False, "planted")
    bench.signal(signal.SIGTERM)
    assert bench.wait() == 0
    assert status(bench)["stopped"] is True
    code, screen = typed(bench, "status", file)
    assert (code, "STOPPED: stopped at" in screen) == (3, True), screen
    code, told = typed(bench, "log", file, "--since", "yesterday")
    assert code == 0
    for words in (
        "ALARM, today: settings-rejected",
        "settings-rejected: seen by somebody",
        "somebody says that the house is empty",
        "floats: done by somebody",
        "calls again, it has become worse",
        "somebody says that the house is planted",
        "the controller stopped",
    ):
        assert words in told, told


def events(bench: Bench) -> list[str]:
    """Codes of the events that stand in the history by now."""
    with contextlib.suppress(StorageError), History(bench.state_directory / "history.sqlite3") as history:
        return [event.code for event in history.events(datetime(2026, 1, 1, tzinfo=UTC), None)]
    return []  # it begins a moment after the controller


def remembered(bench: Bench) -> str:
    """What the controller keeps over a restart."""
    path = bench.run_directory / "memory.json"
    return path.read_text(encoding="utf-8") if path.exists() else ""


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        (("seen", "fire"), "fire cannot be muted, because it can hurt people"),
        (("seen", "sump-not-emptying"), "sump-not-emptying cannot be muted"),
        (("seen", "frosst"), 'There is no alarm "frosst". These can be said to be seen: '),
        (("done", "nothing"), 'There is no check "nothing". These are to be done by hand: floats: lift'),
    ],
)
def test_what_cannot_be_said_is_refused_without_asking(
    bench: Bench, words: tuple[str, str], answer: str
) -> None:
    """A danger and a misspelt word: what is wrong and what there is, exit code 2."""
    code, said = typed(bench, *words, str(bench.file))
    assert code == 2
    assert answer in said
