"""What the report's tests share: the example house, and the report of a history."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.settings.load import load
from tests.process.bench import ROOT

if TYPE_CHECKING:
    from controller.settings.schema import Settings


@pytest.fixture(scope="session")
def settings() -> Settings:
    """Of the example house."""
    return load(ROOT / "config" / "house.toml")


@pytest.fixture(scope="session")
def one_loop() -> Settings:
    """Of a house with a ceiling and a soil probe and nothing else."""
    return load(ROOT / "config" / "one-loop.toml")
