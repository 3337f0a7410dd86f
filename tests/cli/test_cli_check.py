"""``hypocaust check``: good files in one line, bad ones with every error on standard error."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import pytest

from controller.cli.check import BAD, GOOD, check

CONFIG = Path(__file__).parents[2] / "config"


def run(path) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of a check."""
    out, err = StringIO(), StringIO()
    return check(str(path), out, err), out.getvalue(), err.getvalue()


def test_a_good_file_is_summed_up_in_one_line():
    """Exit 0 and what the file describes, with its one weakness; nothing on standard error."""
    code, out, err = run(CONFIG / "house.toml")
    assert code == GOOD == 0
    first, note = out.splitlines()
    assert first == "house.toml is good: 3 loops, 1 sump, 13 probes; shows °C; publishes to localhost:1883"
    assert note.startswith("  note: house.sump_volume: 60 L at 2 L/s can need 30 starts an hour")
    assert err == ""


def test_notes_follow_the_summary():
    """What is allowed but worth a second look is reported, and the file stays good."""
    code, out, err = run(CONFIG / "one-loop.toml")
    assert code == GOOD
    summary, *notes = out.splitlines()
    assert summary == "one-loop.toml is good: 1 loop, 1 sump, 2 probes; shows °C; publishes nothing"
    assert notes
    assert all(note.startswith("  note: ") for note in notes)
    assert err == ""


@pytest.mark.parametrize("name", ["cool-crop", "warm-crop"])
def test_the_example_crops_are_good(name):
    """Exit 0, and no remark but on what a house with three probes cannot see and that nobody is called."""
    code, out, err = run(CONFIG / f"{name}.toml")
    assert (code, err) == (GOOD, "")
    summary, *notes = out.splitlines()
    assert summary == f"{name}.toml is good: 1 loop, 1 sump, 3 probes; shows °C; publishes nothing"
    assert all(note.endswith(("not monitored", "looks at the status")) for note in notes)


def test_every_error_is_on_standard_error_with_its_line(tmp_path):
    """Exit 2, nothing on standard output, one line for each thing that is wrong."""
    text = (CONFIG / "house.toml").read_text(encoding="utf-8")
    path = tmp_path / "bad.toml"
    bad = (
        text.replace('rest = "2 min"  ', 'rust = "2 min"  ', 1)
        .replace('lease = "35 s"', 'lease = "5"')
        .replace("= 22", "= 14")
    )
    path.write_text(bad, encoding="utf-8")
    code, out, err = run(path)
    assert code == BAD == 2
    assert out == ""
    lines = err.splitlines()
    for line, (key, fragment) in zip(
        lines,
        [("pump.rust", "rust ="), ("loops.south.fan_pin", "= 14"), ("service.lease", "lease =")],
        strict=True,
    ):
        number = bad[: bad.index(fragment)].count("\n") + 1
        assert line.startswith(f"{path}:{number}: {key}: ")


@pytest.mark.parametrize("path", ["/does/not/exist.toml", "/", ""])
def test_a_path_that_is_no_file_is_an_error_in_one_line(path):
    """Nothing to read is exit 2 as well."""
    code, out, err = run(path)
    assert (code, out) == (BAD, "")
    assert err.count("\n") == 1


def test_standard_streams_are_the_default(capsys):
    """Without streams the answers go where a command's answers go."""
    assert check(str(CONFIG / "house.toml")) == GOOD
    assert check("/does/not/exist.toml") == BAD
    captured = capsys.readouterr()
    assert captured.out.startswith("house.toml is good")
    assert captured.err.startswith("/does/not/exist.toml: it cannot be read")
