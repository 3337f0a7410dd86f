"""``hypocaust migrate``: the change is shown first, and the old file is kept."""

from __future__ import annotations

import pytest

from controller.cli import main
from controller.settings.load import load
from tests.process.bench import ROOT

OLD = (ROOT / "config" / "one-loop.toml").read_text(encoding="utf-8") + "\n[pump]\ntries = 3\n"


@pytest.fixture
def old(tmp_path):
    """A file of an older release, with rights of its own."""
    path = tmp_path / "house.toml"
    path.write_text(OLD, encoding="utf-8")
    path.chmod(0o640)
    return path


def test_the_diff_is_shown_and_nothing_is_changed(old, capsys):
    """Without --write the exit code says that there is something to do."""
    assert main(["migrate", str(old)]) == 1
    shown = capsys.readouterr().out
    assert "\n-tries = 3\n+# until format 3: tries = 3\n" in shown
    assert f"hypocaust migrate {old} --write" in shown
    assert old.read_text(encoding="utf-8") == OLD
    assert [path.name for path in old.parent.iterdir()] == ["house.toml"]


def test_writing_keeps_the_old_file_and_its_rights(old, capsys):
    """Twice, the old files have names of their own; the new one is good and as closed as before."""
    for _ in range(2):
        old.write_text(OLD, encoding="utf-8")
        assert main(["migrate", str(old), "--write"]) == 0
    assert load(old).site.format is not None
    assert old.stat().st_mode & 0o777 == 0o640
    kept = sorted(path.name for path in old.parent.iterdir())
    assert kept == ["house.toml", "house.toml.format-2", "house.toml.format-2.1"]
    assert (old.parent / kept[1]).read_text(encoding="utf-8") == OLD
    assert "house.toml.format-2.1" in capsys.readouterr().out


def test_other_mistakes_are_named_and_nothing_is_written(old, capsys):
    """Bad settings never take the place of others."""
    text = OLD.replace('place = "ceiling"', 'place = "attic"')
    old.write_text(text, encoding="utf-8")
    assert main(["migrate", str(old), "--write"]) == 2
    assert "probes.roof.place" in capsys.readouterr().err
    assert old.read_text(encoding="utf-8") == text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("tries = ", "house.toml:1: "),
        ("pump = { tries = 3 }\n", "change it by hand"),
        ("[site]\nformat = 99\n", "install a newer release"),
    ],
)
def test_what_cannot_be_migrated_is_said(old, capsys, text, words):
    """No TOML, a line that only a person can change, a file of a newer release."""
    old.write_text(text, encoding="utf-8")
    assert main(["migrate", str(old), "--write"]) == 2
    assert words in capsys.readouterr().err
    assert old.read_text(encoding="utf-8") == text


def test_a_current_file_needs_nothing(capsys):
    """The shipped example is left alone."""
    assert main(["migrate", str(ROOT / "config" / "house.toml"), "--write"]) == 0
    assert "needs no change" in capsys.readouterr().out


def test_check_points_to_it(old, capsys):
    """Each setting that is gone, and the end of the check, name the command that mends the file."""
    assert main(["check", str(old)]) == 2
    said = capsys.readouterr().err
    assert "pump.tries: is gone since 2026-11-29 (format 3)" in said
    assert said.count("hypocaust migrate") == 2
