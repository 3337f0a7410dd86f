"""``hypocaust test`` on the pins of a real process: one output for a while, and off however it ends."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from typing import TYPE_CHECKING

import pytest

from tests.process import journal
from tests.process.bench import PATIENCE_S, ROOT, SPEED, Bench, bench_in

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

pytestmark = pytest.mark.process
CONTACT = 5


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """A bench with one loop, whose fan has a contact, one sump and two probes."""
    for bench in bench_in(tmp_path):
        text = bench.text.replace("fan_pin =", f"feedback_pin = {CONTACT}\nfan_pin =", 1)
        bench.file.write_text(text, encoding="utf-8")
        bench.text = text
        yield bench


def begin(bench: Bench, output: str, for_s: str) -> subprocess.Popen[str]:
    """Start the command, in a group of its own as at a terminal."""
    command = bench.command("test", output, str(bench.file), "--for", for_s)
    return subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
    )


def ended(process: subprocess.Popen[str]) -> tuple[int, str]:
    """Wait for its end: exit code and everything it printed."""
    out, err = process.communicate(timeout=PATIENCE_S)
    return process.returncode, out + err


def test_a_fan_runs_for_the_time_asked_and_the_daemon_lets_it_rest(bench: Bench) -> None:
    """It waits for the float, says what it does, and what the contact saw; the run counts for the rest."""
    (bench.pins / f"{CONTACT}.in").write_text("0")
    code, said = ended(begin(bench, "fan:bed", "40 s"))
    assert code == 0, said
    assert "fan:bed on for 40 s: look and listen." in said
    assert "fan:bed off. Its contact said that it ran." in said
    ran_s = [
        level.at_s
        for level in journal.read(bench.pins / "journal")
        if level.pin == bench.fan_pin and level.on
    ]
    bench.temperatures(roof=35.0, soil=14.0)
    bench.start()
    bench.until(lambda: bench.is_on(bench.fan_pin) is True, "fan on")
    again_s, off_s = journal.starts(journal.read(bench.pins / "journal"))[bench.fan_pin][1]
    assert off_s is not None
    assert 38.0 <= (off_s - ran_s[0]) * SPEED < 80.0
    assert (again_s - off_s) * SPEED >= 60.0


def test_a_dry_pump_runs_for_its_exercise(bench: Bench) -> None:
    """As long as the controller would let it, too."""
    code, said = ended(begin(bench, "pump:pit", "5 s"))
    assert (code, "pump:pit off." in said) == (0, True), said
    assert bench.is_on(bench.pump_pin) is False


@pytest.mark.parametrize(
    ("output", "for_s", "seen", "code", "words"),
    [
        ("fan:bed", "5 s", "water", 1, "there is water in sump pit"),
        ("fan:bed", "5 s", "fire", 1, "fire signature: roof reads 70.0 °C"),
        ("fan:bed", "5 s", "no probes", 1, "float or air probes gave no reading"),
        ("pump:pit", "20 s", "", 1, "sump pit is not wet; without water the pump runs for 5 s at most"),
        ("fan:attic", "5 s", "", 2, "not an output of"),
        ("fan:bed", "2 min", "", 2, "out of range"),
    ],
)
def test_what_is_forbidden_is_refused_and_nothing_moves(
    bench: Bench, output: str, for_s: str, seen: str, code: int, words: str
) -> None:
    """Water, fire, air that nobody measures, a dry pump: each says why, and no output was ever on."""
    if seen == "water":
        bench.wet()
    elif seen == "fire":
        bench.temperatures(roof=70.0)
    elif seen == "no probes":
        for probe in bench.ids.values():
            (bench.w1 / probe / "w1_slave").unlink()
    found, said = ended(begin(bench, output, for_s))
    assert (found, words in said) == (code, True), said
    assert not any(level.on for level in journal.read(bench.pins / "journal")) if code == 1 else True


def test_it_does_not_run_beside_the_daemon(bench: Bench) -> None:
    """The daemon's mark is the one it takes."""
    bench.start()
    code, said = ended(begin(bench, "fan:bed", "5 s"))
    assert (code, "another controller runs already" in said) == (3, True), said


@pytest.mark.parametrize("how", ["water", "key", "hang", "child killed", "killed"])
def test_the_output_is_off_however_it_ends(bench: Bench, how: str) -> None:
    """Water, Ctrl-C, a hang for the lease, a kill of either process: the fan is off within seconds."""
    process = begin(bench, "fan:bed", "60 s")
    bench.until(lambda: bench.is_on(bench.fan_pin) is True, "fan on")
    if how == "water":
        bench.wet()
    elif how == "key":
        os.killpg(process.pid, signal.SIGINT)
    elif how == "hang":
        (bench.pins / "hang").touch()
    elif how == "killed":
        process.kill()
    else:
        found = subprocess.run(["pgrep", "-P", str(process.pid)], capture_output=True, text=True, check=True)
        os.kill(int(found.stdout), signal.SIGKILL)
    bench.until(lambda: bench.is_on(bench.fan_pin) is False, "fan off", patience_s=20.0)
    if how == "hang":
        (bench.pins / "hang").unlink()
    if how == "killed":
        process.communicate(timeout=PATIENCE_S)
    else:
        code, said = ended(process)
        words = {
            "water": "there is water",
            "key": "stopped after",
            "hang": "did not stay on",
            "child killed": "Off: fan:bed (GPIO",
        }
        assert (code, words[how] in said) == (1, True), said
    time.sleep(0.2)
    assert bench.is_on(bench.fan_pin) is False
