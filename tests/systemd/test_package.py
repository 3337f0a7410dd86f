"""What the Debian package is made of; the package itself is tried by ``systemd/package/try``."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys

import pytest

from controller import __version__
from controller.cli import _parser
from controller.settings.schema import Settings
from controller.settings.schema.quantities import plain_key
from controller.settings.wording import NAMED_TABLES, section_at
from tests.process.bench import ROOT

PACKAGE = ROOT / "systemd" / "package"
COMMANDS = sorted(next(action for action in _parser()._actions if action.dest == "==SUPPRESS==").choices)
sys.path.append(str(PACKAGE))
import changes  # noqa: E402 - programs of the package's build, not of ours
import pages  # noqa: E402
import vendored  # noqa: E402

sys.path.remove(str(PACKAGE))


def completed(*words: str) -> list[str]:
    """What bash offers for the last word."""
    asked = 'COMP_WORDS=("$@") COMP_CWORD=$(($# - 1)); _hypocaust; printf "%s\\n" "${COMPREPLY[@]}"'
    script = f"{pages.completion()}\n{asked}"
    done = subprocess.run(
        ["bash", "-c", script, "bash", *words],
        cwd=ROOT / "config",
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.split()


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        (["hypocaust", "ver"], ["verify"]),
        (["hypocaust", "migrate", "--w"], ["--write"]),
        (["hypocaust", "house", "pl"], ["planted"]),
        (["hypocaust", "seen", "--until", ""], ["dawn"]),
        (["hypocaust", "check", "one"], ["one-loop.toml"]),
        (["hypocaust", "nonsense", ""], []),
    ],
)
def test_bash_completes_commands_options_words_and_files(words, offered):
    """What is offered is what the program takes at that place."""
    assert completed(*words) == offered


def test_bash_offers_every_command():
    """No command is left out."""
    assert set(COMMANDS) <= set(completed("hypocaust", ""))


def test_the_page_of_commands_has_every_command_and_option():
    """It is written from the command line itself."""
    page = pages.commands("1.0", "2026-01-31").replace(r"\-", "-")
    for name in COMMANDS:
        assert f".SS hypocaust {name}" in page
    assert r"\fB--write\fR" in page
    assert r"\fB--for \fITIME\fB\fR" in page


def test_the_page_of_settings_has_every_setting():
    """It is written from the settings reference itself."""
    page = pages.settings("1.0", "2026-01-31").replace(r"\-", "-")
    for table in Settings.model_fields:
        section = section_at((table, "NAME")) if table in NAMED_TABLES else section_at((table,))
        for attribute in section.model_fields:
            assert rf"\fB{plain_key(attribute)}\fR" in page


@pytest.mark.skipif(shutil.which("groff") is None, reason="groff is not installed")
@pytest.mark.parametrize("write", [pages.commands, pages.settings])
def test_groff_reads_the_pages_without_a_warning(write):
    """No line is taken for a request by mistake."""
    done = subprocess.run(
        ["groff", "-Kutf8", "-man", "-Tutf8", "-ww", "-z"],
        input=write("1.0", "2026-01-31"), capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")


def test_the_newest_change_is_the_release():
    """The page of changes and the program name the same version."""
    newest = changes.releases(ROOT)[0]
    assert newest.version == __version__
    assert len(newest.points) >= 3


def test_the_changelog_has_debians_form():
    """Head, points and signature stand where dpkg looks for them."""
    text = changes.debian(ROOT, "9.9", "Somebody <somebody@example.org>")
    lines = text.splitlines()
    assert lines[0] == "hypocaust (9.9) stable; urgency=medium"
    assert lines[2].startswith("  * ")
    assert re.fullmatch(
        r" -- Somebody <somebody@example.org>  \w{3}, \d\d \w{3} \d{4} 12:00:00 \+0000", lines[-1]
    )
    assert max(map(len, lines)) <= 80


SCRIPTS = (
    "files/postinst",
    "files/prerm",
    "files/postrm",
    "files/compile",
    "build",
    "try",
    "inside",
    "trial.sh",
)


@pytest.mark.parametrize("name", SCRIPTS)
def test_the_scripts_are_well_formed(name):
    """The shell that runs each of them can read it."""
    path = PACKAGE / name
    shell = path.read_text(encoding="utf-8").partition("\n")[0].removeprefix("#!")
    subprocess.run([shell, "-n", str(path)], check=True, timeout=10)


def test_compiled_packages_are_for_pythons_that_the_lock_has_wheels_for():
    """Of the packages that are needed for building only, none goes in; their names are in the lock."""
    lock = (ROOT / "requirements.lock").read_text(encoding="ascii")
    for name in vendored.BUILDING_ONLY:
        assert f"\n{name}==" in lock


def test_a_file_that_differs_between_pythons_is_refused(tmp_path):
    """Two Pythons share one folder, so that a file of both must be the same."""
    for python, text in (("3.11", "a = 1\n"), ("3.13", "a = 2\n")):
        (tmp_path / python).mkdir()
        (tmp_path / python / "part.py").write_text(text, encoding="utf-8")
    vendored._merge(tmp_path / "3.11", tmp_path / "site")
    with pytest.raises(SystemExit, match=r"part\.py differs"):
        vendored._merge(tmp_path / "3.13", tmp_path / "site")
