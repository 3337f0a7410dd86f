"""Terminals of any encoding."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from controller.cli.plain_text import _plain

ROOT = Path(__file__).parents[2]
HOUSE = str(ROOT / "config" / "house.toml")


def said(*arguments: str, **environ: str) -> tuple[int, bytes, bytes]:
    """Exit code and bytes of both streams, in an environment with these variables."""
    done = subprocess.run(
        [sys.executable, "-m", "controller", *arguments],
        cwd=ROOT,
        env={**os.environ, **environ},
        capture_output=True,
        check=False,
    )
    return done.returncode, done.stdout, done.stderr


PLAIN = (
    {"PYTHONIOENCODING": "ascii"},
    {"LANG": "C", "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
)


@pytest.mark.process
@pytest.mark.parametrize("environ", PLAIN)
@pytest.mark.parametrize(
    "arguments",
    [
        ["check", HOUSE],
        ["rehearse", "--schema"],
        ["rehearse", HOUSE, "--weather", "Überlingen…°"],
        ["status", "nowhere-°.toml"],
        ["probes", "--bus", "/nowhere-°"],
        ["safe", "nowhere-°.toml"],
        ["run", "nowhere-°.toml"],
    ],
)
def test_commands_speak_to_a_plain_terminal(environ: dict[str, str], arguments: list[str]) -> None:
    """Degree signs and foreign letters, ours or from the command line, end no command."""
    code, out, err = said(*arguments, **environ)
    assert code in {0, 1, 2, 3}
    assert b"Traceback" not in out + err
    assert b"UnicodeEncodeError" not in out + err
    assert (out + err).isascii()
    assert out + err


@pytest.mark.rehearsal
def test_a_rehearsal_on_a_plain_terminal_keeps_its_columns() -> None:
    """The page has as many letters in each line as with degree signs, all of them plain."""
    arguments = ("rehearse", HOUSE, "--days", "0.1", "--strategy", "fans-off")
    code, plain, err = said(*arguments, PYTHONIOENCODING="ascii")
    _, full, _ = said(*arguments, PYTHONIOENCODING="utf-8")
    assert (code, err) == (0, b"")
    assert plain.isascii()
    widths = [[len(line) for line in page.decode().splitlines()[:-1]] for page in (plain, full)]
    assert widths[0] == widths[1]
    assert max(widths[0]) <= 80


def test_every_replacement_is_one_plain_letter() -> None:
    """Alignment survives; a letter nobody thought of becomes a question mark."""
    for letter in ("°", "²", "³", "–", "é", "Ü", "½", "…", "→", "日", "ﬁ"):
        assert len(_plain(letter)) == 1
        assert _plain(letter).isascii()
    assert _plain("→") == "?"
    assert _plain("é") == "e"
