"""How problems are put into lines, and paths into keys."""

from __future__ import annotations

import pytest

from controller.settings.problems import Problem, SettingsError, dotted


def test_problems_come_in_the_order_of_the_file_and_the_whole_file_first():
    """One line each, sorted by line and key; a problem of the whole file has neither."""
    problems = [
        Problem(3, "b", "bad"),
        Problem(3, "a", "bad"),
        Problem(1, "", "odd"),
        Problem(None, "z", "gone"),
    ]
    trouble = SettingsError("house.toml", problems)
    assert (
        str(trouble) == "house.toml: z: gone\nhouse.toml:1: odd\nhouse.toml:3: a: bad\nhouse.toml:3: b: bad"
    )
    assert trouble.name == "house.toml"


@pytest.mark.parametrize(
    ("path", "text"),
    [
        (("loops", "north", "fan_pin"), "loops.north.fan_pin"),
        (("list", 0), "list.0"),
        (("a b",), '"a b"'),
        (("",), '""'),
        (("x" * 40,), "x" * 40),
        (("x" * 41, "y"), f"{'x' * 40}….y"),
    ],
)
def test_a_key_is_written_as_in_the_file(path, text):
    """Parts that TOML wants in quotes have them, and none is longer than a line can bear."""
    assert dotted(path) == text
