"""``hypocaust rehearse``."""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from controller.cli import main, rehearse
from controller.equipment import Kind
from controller.history.queries import History
from controller.record.promises import Broken, PromiseWatch
from tests.cli.interrupt import heard_by_children, interrupted

ROOT = Path(__file__).parents[2]
HOUSE = str(ROOT / "config" / "house.toml")
PROMISED = {
    "house": ["air_min_c", "air_max_c", "hours_below_0c", "degree_hours_below_4c", "degree_hours_above_32c"],
    "fans": ["run_hours", "energy_kwh", "starts"],
    "ground": ["charged_kwh", "discharged_kwh", "latent_share", "energy_closure_error"],
    "pump": ["run_hours", "starts"],
}


def schema(capsys):
    """The schema as it is printed."""
    assert main(["rehearse", "--schema"]) == 0
    return json.loads(capsys.readouterr().out)


def test_schema_is_a_valid_schema_and_needs_no_file(capsys):
    """The schema can be had without settings and is itself sound."""
    printed = schema(capsys)
    assert printed["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(printed)


@pytest.mark.rehearsal
def test_json_fits_its_schema_and_has_the_promised_names(capsys):
    """What --json prints is one JSON document of that schema, with every name a program may rely on."""
    validator = Draft202012Validator(schema(capsys))
    assert main(["rehearse", HOUSE, "--days", "0.25", "--json", "--seed", "3"]) == 0
    printed = capsys.readouterr()
    summary = json.loads(printed.out)
    assert printed.err == ""
    validator.validate(summary)
    for part, names in PROMISED.items():
        assert all(isinstance(summary[part][name], int | float) for name in names), part
    assert summary["promises"]["checked_ticks"] >= 360
    assert summary["promises"]["broken"] == []
    assert (summary["days"], summary["seed"]) == (0.25, 3)
    assert summary["wall_s"] > 0.0
    summary["house"]["air_min_c"] = "cold"
    assert not validator.is_valid(summary)


@pytest.mark.rehearsal
def test_a_pace_is_kept_and_said(capsys):
    """Four hours at ten minutes take a fifth of the ticks of a minute; page and JSON name the pace."""
    asked = ["rehearse", HOUSE, "--days", "0.17", "--strategy", "fans-off", "--pace", "10 min"]
    assert main([*asked, "--json"]) == 0
    summary = json.loads(capsys.readouterr().out)
    assert summary["pace_s"] == 600.0
    assert summary["promises"]["checked_ticks"] < 60
    assert main(asked) == 0
    assert "The controller ticked every 10 min" in capsys.readouterr().out


@pytest.mark.parametrize("pace", ["5", "5 km", "0 s", "1 h", "soon", ""])
def test_a_pace_that_cannot_be_is_refused_in_words(capsys, pace):
    """A time without its unit, and one that is too short or too long, are mistakes of the command line."""
    with pytest.raises(SystemExit) as ended:
        main(["rehearse", HOUSE, "--pace", pace])
    assert ended.value.code == 2
    assert "argument --pace: " in capsys.readouterr().err


@pytest.mark.rehearsal
def test_people_get_a_page_and_the_comparison(capsys):
    """The page fits a terminal, and shows the same days without fans beside it."""
    code = main(["rehearse", HOUSE, "--days", "0.5", "--start", "2026-01-08"])
    printed = capsys.readouterr()
    assert code == 0
    assert printed.err == ""
    lines = printed.out.splitlines()
    assert max(map(len, lines)) <= 80
    assert lines[0] == "Rehearsal of Fellside school garden"
    assert any(line.startswith("What the fans brought") for line in lines)
    assert any(line.endswith("ticks checked, none broken.") for line in lines)


@pytest.mark.rehearsal
def test_fans_off_is_not_compared_with_itself(capsys):
    """The comparison strategy has nothing to be compared with."""
    assert main(["rehearse", HOUSE, "--days", "0.1", "--strategy", "fans-off"]) == 0
    assert "What the fans brought" not in capsys.readouterr().out


@pytest.mark.rehearsal
def test_out_writes_files_and_says_which(tmp_path, capsys):
    """The directory is made, and its files are named; with --json not on standard output."""
    out = tmp_path / "new" / "here"
    assert main(["rehearse", HOUSE, "--days", "0.2", "--json", "--out", str(out)]) == 0
    printed = capsys.readouterr()
    assert json.loads(printed.out) == json.loads((out / "summary.json").read_text(encoding="utf-8"))
    assert printed.err == f"Written to {out}: summary.json, hours.csv, week.png\n"
    assert sorted(path.name for path in out.iterdir()) == ["hours.csv", "summary.json", "week.png"]


@pytest.mark.rehearsal
@pytest.mark.parametrize("arguments", [["--json"], ["--strategy", "fans-off"]])
def test_a_broken_promise_is_exit_code_one(monkeypatch, capsys, arguments):
    """Scripts notice a broken promise without reading."""
    monkeypatch.setattr(
        PromiseWatch, "observe", lambda _watch, tick: [Broken("P1", tick.now_mono_s, "P1: made up")]
    )
    assert main(["rehearse", HOUSE, "--days", "0.01", *arguments]) == 1
    assert "P1: made up" in capsys.readouterr().out


def refused(capsys, *arguments):
    """What is said about a request that cannot be done."""
    assert main(["rehearse", *arguments]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert "Traceback" not in printed.err
    return printed.err


def test_bad_settings_are_told_in_full(tmp_path, capsys):
    """Every error of the settings has its line."""
    bad = tmp_path / "house.toml"
    text = Path(HOUSE).read_text(encoding="utf-8")
    bad.write_text(text.replace('"5 °C"', '"5"').replace("tubes = 24", 'tubes = "many"'), encoding="utf-8")
    said = refused(capsys, str(bad)).splitlines()
    assert len(said) == 4
    assert all(line.startswith(f"{bad}:") for line in said)


def test_bad_weather_is_one_clear_line(tmp_path, capsys):
    """A name nobody knows and a file that is no weather are reported with what was expected."""
    assert "carolina" in refused(capsys, HOUSE, "--weather", "atlantis", "--json")
    broken = tmp_path / "broken.epw"
    broken.write_bytes(bytes(range(256)) * 10)
    said = refused(capsys, HOUSE, "--weather", str(broken))
    assert said.startswith(f"--weather: {broken}")
    assert said.count("\n") == 1


def test_bad_faults_are_told_with_their_lines(tmp_path, capsys):
    """Every error of a fault script has its line."""
    script = tmp_path / "faults.toml"
    script.write_text('[[fault]]\nat = "soon"\nkind = "pump-dead"\nsubject = "north"\n', encoding="utf-8")
    said = refused(capsys, HOUSE, "--faults", str(script)).splitlines()
    assert [line.split(": ")[0] for line in said] == [f"{script}:2", f"{script}:4"]
    assert "cannot be read" in refused(capsys, HOUSE, "--faults", str(tmp_path / "none.toml"))


def test_a_place_that_cannot_be_written_to_is_told_before_the_work(tmp_path, capsys):
    """A file in the way of the directory is found at once."""
    (tmp_path / "file").write_text("")
    said = refused(capsys, HOUSE, "--out", str(tmp_path / "file" / "out"))
    assert said.startswith(f"--out: nothing can be written to {tmp_path / 'file' / 'out'}")


@pytest.mark.rehearsal
def test_a_disk_that_fills_up_is_told_after_the_report(tmp_path, monkeypatch, capsys):
    """Files that cannot be written do not take the summary with them."""

    def full(*_arguments):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("controller.rehearsal.report.files.write", full)
    assert main(["rehearse", HOUSE, "--days", "0.05", "--json", "--out", str(tmp_path)]) == 2
    printed = capsys.readouterr()
    assert json.loads(printed.out)["days"] == 0.05
    assert "No space left on device" in printed.err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--start", "0001-01-01"], "expected 1900 to 2199"),
        (["--days", "99999"], "expected at most 36600"),
        (["--seed", "-1"], "expected 0, 1, 2"),
    ],
)
def test_numbers_out_of_range_are_told_with_the_range(capsys, arguments, said):
    """No request runs for a century or leaves the calendar."""
    assert said in refused(capsys, HOUSE, *arguments)


@pytest.mark.parametrize(
    ("date", "said"),
    [
        ("2026-02-29", "is not in the calendar"),
        ("29.2.2028", "write it as 2026-01-31"),
        ("2026-1-1", "write it"),
    ],
)
def test_days_that_are_none_are_told(capsys, date, said):
    """A day no year has is not the same mistake as a date written in another way."""
    with pytest.raises(SystemExit):
        main(["rehearse", HOUSE, "--start", date])
    assert said in capsys.readouterr().err


@pytest.mark.rehearsal
def test_a_leap_day_can_be_rehearsed(capsys):
    """29 February lives through the weather of the 28th, and the page says so."""
    assert main(["rehearse", HOUSE, "--days", "0.1", "--start", "2028-02-29", "--strategy", "fans-off"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "29 February to 29 February" in told
    assert "29 February has the weather of the 28th" in told


def test_missing_extra_says_how_to_install(monkeypatch, capsys):
    """Without the numerics there is no traceback but the way to get them."""
    found = importlib.util.find_spec
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None if name == "numba" else found(name))
    said = refused(capsys, HOUSE)
    assert "missing: numba" in said
    assert 'pip install "hypocaust[rehearsal]"' in said


def test_broken_extra_says_why(tmp_path):
    """Numerics that are there but cannot be loaded are reported with their own words."""
    (tmp_path / "numba.py").write_text('raise ImportError("this one wants an older numpy")')
    command = [sys.executable, "-m", "controller", "rehearse", HOUSE]
    environ = {**os.environ, "PYTHONPATH": str(tmp_path)}
    ended = subprocess.run(command, cwd=ROOT, env=environ, capture_output=True, text=True, check=False)
    assert (ended.returncode, ended.stdout) == (2, "")
    assert "cannot be used (this one wants an older numpy)" in ended.stderr
    assert 'pip install "hypocaust[rehearsal]"' in ended.stderr
    assert "Traceback" not in ended.stderr


class Terminal:
    """Standard error that claims to be a terminal."""

    def __init__(self):
        self.text = ""
        self.encoding = "utf-8"

    def write(self, text):
        """Keep it."""
        self.text += text

    def flush(self):
        """Nothing is held back."""

    def isatty(self):
        """It is."""
        return True


@pytest.mark.rehearsal
@pytest.mark.parametrize("prepared", [False, True])
def test_a_terminal_shows_progress_and_is_left_clean(monkeypatch, capsys, prepared):
    """First that the house is loaded, or made for the first time, then how far it is; at the end nothing."""
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setattr("controller.simulator.house.model.is_prepared", lambda: prepared)
    assert main(["rehearse", HOUSE, "--days", "1.1", "--json"]) == 0
    assert terminal.text.index("Loading the simulated house") < terminal.text.index("Rehearsing")
    assert ("Preparing the house model for this machine (once, about half" in terminal.text) is not prepared
    assert terminal.text.endswith("\r\x1b[K")
    assert all(len(line) <= 80 for line in terminal.text.replace("\x1b[K", "").split("\r"))
    json.loads(capsys.readouterr().out)


@pytest.mark.process
def test_the_interrupt_key_ends_everything_quietly():
    """A long rehearsal and its twin end at once, with exit code 130 and without a word."""
    assert interrupted(HOUSE, "--days", "3650") == (130, "", "")


@pytest.mark.process
def test_interrupt_inside_generated_code_is_no_other_end(tmp_path):
    """Pressed while a library runs code from text, the key still gives exit code 130 and not a signal."""
    pressing = "import os, signal; os.kill(os.getpid(), signal.SIGINT); [None for _ in range(100)]"
    (tmp_path / "numba.py").write_text(f"exec({pressing!r})")
    command = [sys.executable, "-m", "controller", "rehearse", HOUSE]
    environ = {**os.environ, "PYTHONPATH": str(tmp_path)}
    with heard_by_children():
        ended = subprocess.run(command, cwd=ROOT, env=environ, capture_output=True, text=True, check=False)
    assert (ended.returncode, ended.stdout, ended.stderr) == (130, "", "")


@pytest.mark.process
def test_interrupt_that_a_command_deals_with_itself_leaves_its_exit_code(tmp_path):
    """A command that hears the key, says its word and ends as it likes ends so, and not by the signal."""
    (tmp_path / "pressed.py").write_text(
        """
import sys
from types import SimpleNamespace
from controller import cli

def run(_options):
    try:
        exec("import os, signal; os.kill(os.getpid(), signal.SIGINT); [None for _ in range(100)]")
    except KeyboardInterrupt:
        return 5

cli._parser = lambda: SimpleNamespace(parse_args=lambda _arguments: SimpleNamespace(run=run))
sys.exit(cli.main())
"""
    )
    environ = {**os.environ, "PYTHONPATH": f"{tmp_path}{os.pathsep}{ROOT}"}
    with heard_by_children():
        ended = subprocess.run([sys.executable, "-m", "pressed"], env=environ, check=False)
    assert ended.returncode == 5


def test_request_is_what_the_command_line_says(monkeypatch):
    """Every option reaches the rehearsal."""
    seen = []
    monkeypatch.setattr(rehearse, "rehearse", lambda request: seen.append(request) or 0)
    arguments = (
        "--weather miami --start 2026-05-04 --days 3 --seed 9 --faults f.toml --strategy fans-always --out o"
    )
    assert main(["rehearse", "h.toml", *arguments.split()]) == 0
    (request,) = seen
    assert (request.file, request.faults, request.out) == (Path("h.toml"), Path("f.toml"), Path("o"))
    assert (request.weather, request.days, request.seed) == ("miami", 3.0, 9)
    assert (request.first_day.year, request.first_day.month, request.first_day.day) == (2026, 5, 4)
    assert (request.strategy, request.as_json) == ("fans-always", False)


@pytest.mark.rehearsal
def test_a_rehearsal_is_written_down_as_the_daemon_writes(tmp_path, capsys):
    """--history holds every reading, switching and day of the rehearsal, in the time of its own clock."""
    file = tmp_path / "rehearsed.sqlite3"
    assert main(["rehearse", HOUSE, "--days", "2", "--history", str(file), "--json"]) == 0
    summary = json.loads(capsys.readouterr().out)
    start = datetime.fromisoformat(summary["start"])
    with History(file) as history:
        samples = list(history.samples(start, start + timedelta(days=3)))
        starts = [change for change in history.changes(start, start + timedelta(days=3)) if change.on]
        days = history.days(start.date(), (start + timedelta(days=3)).date())
    assert len(samples) == 2 * 288
    assert sum(change.output.kind is Kind.FAN for change in starts) == summary["fans"]["starts"]
    assert sum(day.covered_s for day in days) == pytest.approx(2 * 86400.0, abs=600.0)


@pytest.mark.parametrize(
    ("others", "words"),
    [
        (["--seed", "1,2"], "--history holds one rehearsal"),
        ([], "exists already"),
    ],
)
def test_history_is_never_mixed_with_another(tmp_path, capsys, others, words):
    """Several rehearsals, or a file that is there already, are refused before the work begins."""
    file = tmp_path / "kept.sqlite3"
    file.write_text("somebody's")
    try:
        code = main(["rehearse", HOUSE, "--history", str(file), *others])
    except SystemExit as ended:
        code = ended.code
    assert code == 2
    assert words in capsys.readouterr().err
    assert file.read_text() == "somebody's"
