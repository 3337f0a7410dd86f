"""``hypocaust verify``: one line a look, and an exit code for whoever asks by a script."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from controller.cli import verify as command
from controller.service.installed import Look, State


@pytest.mark.parametrize(
    ("states", "code", "end"),
    [
        ((State.PASS, State.PASS), 0, "Whole, and ready to control this house."),
        ((State.PASS, State.NOT_HERE), 3, "Whole. It cannot control a house until what is not here is."),
        ((State.NOT_HERE, State.FAIL), 1, "Not ready: mend what failed, then run this again."),
    ],
)
def test_the_worst_look_decides(monkeypatch, states, code, end):
    """What is broken counts more than what is not here."""
    looks = [Look(f"part {number}", state, "some words") for number, state in enumerate(states)]
    monkeypatch.setattr(command, "_looks", lambda _: iter(looks))
    out = io.StringIO()
    assert command.verify(Path("house.toml"), out) == code
    lines = out.getvalue().splitlines()
    assert lines[-1] == end
    assert [line.split("  ")[0] for line in lines[:-1]] == [state.value for state in states]


def test_lines_fit_a_screen(monkeypatch):
    """Long words wrap below each other, within 80 letters."""
    look = Look("pin library", State.FAIL, "lgpio cannot be loaded because of this and that. " * 5)
    monkeypatch.setattr(command, "_looks", lambda _: iter([look]))
    out = io.StringIO()
    command.verify(Path("house.toml"), out)
    first, second, *_ = out.getvalue().splitlines()
    assert first.index("lgpio") == len(second) - len(second.lstrip())
    assert max(map(len, out.getvalue().splitlines())) <= 80
