"""Bad input of every kind gets one clear error and an exit code, never a traceback."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.process.bench import ROOT

HOUSE = "config/house.toml"


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    """The program as a person starts it."""
    return subprocess.run(
        [sys.executable, "-m", "controller", *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


@pytest.fixture
def broken(tmp_path: Path) -> Path:
    """A settings file with two errors on known lines."""
    path = tmp_path / "broken.toml"
    text = (ROOT / "config" / "one-loop.toml").read_text(encoding="utf-8")
    path.write_text(
        text.replace('power = "60 W"', 'power = "60 K"').replace("pump_pin = 23", "pump_pin = 99")
    )
    return path


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["check", "nowhere.toml"], 2, "nowhere.toml"),
        (["check", "config"], 2, "config"),
        (["run", "nowhere.toml"], 2, "nowhere.toml"),
        (["run", HOUSE, "--simulated", "--weather", "atlantis"], 3, "atlantis"),
        (["run", HOUSE, "--simulated", "--speed", "-1"], 2, "not a positive number"),
        (["rehearse", "nowhere.toml"], 2, "nowhere.toml"),
        (["rehearse"], 2, "FILE is missing"),
        (["rehearse", HOUSE, "--start", "31.12."], 2, "is not a date"),
        (["rehearse", HOUSE, "--days", "nan"], 2, "not a positive number"),
        (["rehearse", HOUSE, "--strategy", "hope"], 2, "is not a strategy"),
        (["rehearse", HOUSE, "--weather", "atlantis", "--days", "1"], 2, "atlantis"),
        (["rehearse", HOUSE, "--faults", "nowhere.toml", "--days", "1"], 2, "nowhere.toml"),
        (["rehearse", HOUSE, "--out", "/proc/nowhere", "--days", "1"], 2, "/proc/nowhere"),
        (["probes", "--bus", "/nowhere"], 2, "/nowhere"),
        (["clear", "flood"], 2, "invalid choice"),
        (["clear", "fire", "nowhere.toml"], 2, "nowhere.toml"),
        (["safe", "nowhere.toml"], 1, "nowhere.toml"),
        (["status", "nowhere.toml"], 2, "nowhere.toml"),
        (["log", "nowhere.toml"], 2, "nowhere.toml"),
        (["log", "--history", "nowhere.sqlite3"], 2, "there is no history at nowhere.sqlite3"),
        (["log", "--json", "--csv"], 2, "not allowed with"),
        (["seen", "frost", "nowhere.toml"], 2, "nowhere.toml"),
        (["seen", "frost", "--until", "noon"], 2, "invalid choice"),
        (["house", "full"], 2, "invalid choice"),
        (["done", "dishes", HOUSE], 2, "There is no check"),
        (["test", "fan:north", "nowhere.toml"], 2, "nowhere.toml"),
        (["test", "fan:attic", HOUSE], 2, "expected fan:north, fan:middle, fan:south, pump:main"),
        (["test", "fan:north", HOUSE, "--for", "2 h"], 2, 'expected "1 s" to "60 s"'),
        (["dance"], 2, "invalid choice"),
        ([], 2, "COMMAND"),
    ],
)
def test_wrong_arguments_and_paths_are_told_in_one_message(
    arguments: list[str], code: int, words: str
) -> None:
    """Each wrong path, name or number is named, with the right exit code and without a traceback."""
    done = run(*arguments)
    told = done.stdout + done.stderr
    assert done.returncode == code, told
    assert words in told
    assert "Traceback" not in told


@pytest.mark.parametrize("command", [["check"], ["run"], ["rehearse"]])
def test_every_error_of_a_settings_file_is_named_with_its_line(command: list[str], broken: Path) -> None:
    """All errors come at once, each as file:line: key: what is wrong."""
    done = run(*command, str(broken))
    lines = [line for line in done.stderr.splitlines() if str(broken) in line]
    assert done.returncode == 2
    assert len(lines) == 2
    assert all(line.split(":")[1].isdigit() for line in lines)
    assert "Traceback" not in done.stderr


def test_a_machine_without_pins_is_told_so() -> None:
    """Without GPIO the daemon ends with 3 and says where to run it or how to try it dry."""
    if Path("/dev/gpiochip0").exists():
        pytest.fail("this test needs a machine without GPIO chips; run it on a desk machine")
    done = run("run", HOUSE)
    assert done.returncode == 3
    assert "no GPIO pins" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_weather_file_with_a_hole_is_refused_with_its_line(tmp_path: Path) -> None:
    """A TMY3 file cut off in the middle of a line is refused naming the file."""
    import pvlib  # noqa: PLC0415 - heavy

    shipped = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
    cut = tmp_path / "cut.csv"
    cut.write_text("\n".join(shipped.read_text().splitlines()[:4000]))
    done = run("rehearse", HOUSE, "--weather", str(cut), "--days", "1")
    assert done.returncode == 2
    assert "cut.csv" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_daemon_pulls_no_numerics() -> None:
    """Importing everything the daemon needs on the board leaves numpy, pvlib, numba and plotting out."""
    code = (
        "import sys, controller.cli.run, controller.outputs.board, controller.sensors.onewire;"
        "import controller.sensors.sampler, controller.sensors.float_switch;"
        "heavy = {'numpy', 'pandas', 'pvlib', 'numba', 'scipy', 'matplotlib'} & set(sys.modules);"
        "print(sorted(heavy)); sys.exit(bool(heavy))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
