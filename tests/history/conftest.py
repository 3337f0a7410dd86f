"""What the history tests share: a clock that is set by hand, and ticks made of what a test cares about."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import pytest

from controller.decision.command import Decision, OutputChange
from controller.decision.reasons import Reason, ReasonCode
from controller.diagnosis.alarms import Alarm, AlarmEvent
from controller.diagnosis.evidence import no_evidence
from controller.diagnosis.learn import Diagnosis
from controller.equipment import OutputId
from controller.faults import FaultCode, Priority
from controller.history.writer import HistoryWriter
from controller.readings.reading import Good, Missing, Why
from controller.readings.snapshot import Snapshot
from controller.record.tally import DayTally
from controller.record.tick import TickRecord
from controller.units import TemperatureUnit

if TYPE_CHECKING:
    import threading
    from collections.abc import Callable, Iterator, Mapping
    from pathlib import Path

START_UTC = datetime(2026, 3, 1, 6, 0, tzinfo=UTC)


@dataclass
class HandClock:
    """A clock that stands still until a test moves it; ``wait`` returns at once unless set otherwise."""

    mono_s: float = 1000.0
    wall: datetime | None = START_UTC
    pauses_s: list[float] = field(default_factory=list)

    def monotonic_s(self) -> float:
        """The time set by hand."""
        return self.mono_s

    def wall_utc(self) -> datetime | None:
        """The date set by hand."""
        return self.wall

    def wait(self, wake: threading.Event, timeout_s: float) -> bool:
        """Note the pause asked for and let the other thread have a turn."""
        self.pauses_s.append(timeout_s)
        return wake.wait(0.002)

    def advance(self, seconds: float) -> None:
        """Move both times on together."""
        self.mono_s += seconds
        if self.wall is not None:
            self.wall += timedelta(seconds=seconds)


SETTINGS = SimpleNamespace(site=SimpleNamespace(show=TemperatureUnit.CELSIUS))


def make_tick(clock: HandClock, probes: Mapping[str, float | Why] | None = None, **parts: Any) -> TickRecord:
    """A finished tick at the clock's time; ``parts``: changes, alarms, today, finished_day, settings."""
    readings = {
        name: Missing(value, clock.mono_s) if isinstance(value, Why) else Good(value, clock.mono_s)
        for name, value in (probes or {"ceiling": 21.5}).items()
    }
    unknown = Missing(Why.NOT_FITTED, clock.mono_s)
    return TickRecord(
        seq=0,
        now_mono_s=clock.mono_s,
        settings=parts.get("settings", SETTINGS),
        snapshot=Snapshot(unknown, unknown, unknown, {}, {}, readings, wall_utc=clock.wall),
        decision=Decision({}, tuple(parts.get("changes", ()))),
        state=None,  # type: ignore[arg-type]  # history looks at what was decided, not at the state behind it
        diagnosis=Diagnosis(no_evidence((), 0.0), (), tuple(parts.get("alarms", ()))),
        heat_w={},
        today=parts.get("today", DayTally()),
        finished_day=parts.get("finished_day"),
    )


def fan_change(on: bool = True, loop: str = "north") -> OutputChange:
    """A fan that starts (or stops) because it is hot."""
    numbers = {
        "probe": "bench",
        "air_c": 29.5,
        "ceiling_c": 31.25,
        "soil_c": 14.0,
        "setpoint_c": 28.0,
        "until_c": 27.0,
        "heat_w": 1900.0,
        "power_w": 120.0,
    }
    return OutputChange(OutputId.fan(loop), on, Reason(ReasonCode.COOL, numbers))


def frost(raised: bool = True) -> AlarmEvent:
    """The frost alarm, raised or cleared."""
    return AlarmEvent(Alarm(FaultCode.FROST, "", "air 1.2 °C", Priority.ACT_NOW, 0.0), raised)


@pytest.fixture
def clock() -> HandClock:
    """A clock set by hand."""
    return HandClock()


@pytest.fixture
def tick(clock: HandClock) -> Callable[..., TickRecord]:
    """Makes ticks at the clock's time."""
    return lambda *probes, **parts: make_tick(clock, *probes, **parts)


@pytest.fixture(scope="session")
def house() -> tuple[type[HandClock], Callable[..., TickRecord]]:
    """The clock and the tick maker themselves, for tests that need fresh ones for every example."""
    return HandClock, make_tick


@pytest.fixture
def change() -> Callable[..., OutputChange]:
    """Makes output changes."""
    return fan_change


@pytest.fixture
def alarm() -> Callable[..., AlarmEvent]:
    """Makes alarm events."""
    return frost


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where the history of the test lies."""
    return tmp_path / "history.sqlite3"


@pytest.fixture
def writer(path: Path, clock: HandClock) -> Iterator[HistoryWriter]:
    """A writer without a thread: it writes when asked to."""
    made = HistoryWriter(path, clock, "boot-a")
    yield made
    made._close_connection()
