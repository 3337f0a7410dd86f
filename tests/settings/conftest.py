"""What the tests of the settings share: the sample house, and ways to spoil it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from controller.settings.load import SettingsError, parse

if TYPE_CHECKING:
    from collections.abc import Callable

    from controller.settings.problems import Problem

CONFIG = Path(__file__).parents[2] / "config"


@pytest.fixture
def house() -> str:
    """The text of the sample house, which is good."""
    return (CONFIG / "house.toml").read_text(encoding="utf-8")


@pytest.fixture
def small() -> str:
    """The text of the smallest house, which is good."""
    return (CONFIG / "one-loop.toml").read_text(encoding="utf-8")


@pytest.fixture
def problems_of() -> Callable[[str], dict[str, str]]:
    """A function that gives the problems of a text, message by key."""

    def problems(text: str) -> dict[str, str]:
        return {problem.key: problem.message for problem in _problems(text)}

    return problems


def _problems(text: str) -> tuple[Problem, ...]:
    """The problems of a text that must be bad."""
    with pytest.raises(SettingsError) as caught:
        parse(text, "house.toml")
    return caught.value.problems
