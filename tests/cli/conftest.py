"""Fixtures of the command line's tests."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


@pytest.fixture
def zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str], None]]:
    """Moves this process to another time zone, named as POSIX does: "XST-2" is two hours east of UTC."""

    def move(name: str) -> None:
        monkeypatch.setenv("TZ", name)
        time.tzset()

    yield move
    monkeypatch.undo()
    time.tzset()


@pytest.fixture(autouse=True)
def _in_utc(zone: Callable[[str], None]) -> None:
    """Local time is UTC unless a test says otherwise."""
    zone("UTC")
