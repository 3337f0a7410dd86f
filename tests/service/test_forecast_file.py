"""A forecast low out of a file that another program renews."""

from __future__ import annotations

import os
import time
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from controller.readings.said import Act, Said
from controller.service.forecast_file import ForecastFile

if TYPE_CHECKING:
    from pathlib import Path

AFTERNOON = datetime(2026, 1, 31, 15, 0, tzinfo=UTC)


class Clock:
    """Time that a test moves."""

    def __init__(self) -> None:
        self.passed_s = 0.0
        self.is_set = True

    def monotonic_s(self) -> float:
        """As set."""
        return 500.0 + self.passed_s

    def wall_utc(self) -> datetime | None:
        """As set."""
        return AFTERNOON + timedelta(seconds=self.passed_s) if self.is_set else None

    def wait(self, *_: object) -> bool:
        """Never waits."""
        raise AssertionError("nothing waits")


@pytest.fixture(autouse=True)
def _in_utc(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()


def test_each_new_low_of_this_evening_is_said_once(tmp_path: Path) -> None:
    """It is looked at once a minute; the nights of yesterday's evening and of tomorrow's do not count."""
    path, clock = tmp_path / "low", Clock()
    file = ForecastFile(str(path), clock)
    said = []
    for written in ("2026-01-30 -3 °C\n", "2026-01-31 18 F", "2026-01-31 18 F", "2026-02-01 0 °C", None):
        if written is not None:
            path.write_text(written, encoding="utf-8")
        clock.passed_s += 61.0
        said += [*file.said(), *file.said()]
        assert file.findings() == ()
    assert said == [Said(Act.LOW, "-7.78")]
    path.write_text("2026-01-31 -5 °C", encoding="utf-8")
    clock.passed_s = 11.0 * 3600.0  # two in the morning: still the night of the 31st
    assert file.said() == (Said(Act.LOW, "-5.00"),)


@pytest.mark.parametrize(
    ("written", "trouble"),
    [
        (b"", "expected one line"),
        (b"-7.5", "expected one line"),
        (b"2026-01-31 -7.5", "line 1: "),
        (b"31.1.2026 -7.5 C", "does not begin with a date"),
        (b"2026-01-31 300 C", "out of range"),
        (b"2026-01-31 -7 C\n2026-02-01 -8 C", "expected one line"),
        (b"\xff\xfe", "no text"),
        (b"2026-01-31 " + b"9" * 1000, "longer than"),
    ],
)
def test_what_is_not_such_a_line_is_reported_and_not_used(
    tmp_path: Path, written: bytes, trouble: str
) -> None:
    """The alarm names the file, says what is wrong and what was expected; mending it ends the alarm."""
    path, clock = tmp_path / "low", Clock()
    path.write_bytes(written)
    file = ForecastFile(str(path), clock)
    assert file.said() == ()
    (finding,) = file.findings()
    assert (finding.code.value, finding.subject) == ("forecast-file", str(path))
    assert trouble in finding.detail
    path.write_text("2026-01-31 -7 C", encoding="utf-8")
    clock.passed_s = 61.0
    assert file.said() == (Said(Act.LOW, "-7.00"),)
    assert file.findings() == ()


def test_a_pipe_in_its_place_holds_nothing_up(tmp_path: Path) -> None:
    """Nobody writes into it, and the tick goes on; so it does without any file, and without a clock."""
    path, clock = tmp_path / "low", Clock()
    os.mkfifo(path)
    file = ForecastFile(str(path), clock)
    assert file.said() == ()
    assert "not a plain file" in file.findings()[0].detail
    path.unlink()
    clock.passed_s, clock.is_set = 61.0, False
    assert file.said() == ()
    assert "no such file" in file.findings()[0].detail
