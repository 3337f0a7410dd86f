"""Days belong to the house: its own calendar counts, on whatever machine the report is made."""

from __future__ import annotations

import time
from datetime import UTC, date, datetime, timedelta, timezone
from typing import TYPE_CHECKING

import pytest

from controller.report.calendar import Calendar, calendar_of, days_between

if TYPE_CHECKING:
    from collections.abc import Iterator

FIRST = date(2026, 1, 1)


def ends(zone_h: float, days: int = 9, late_s: float = 60.0) -> list[tuple[date, datetime]]:
    """Days that ended at local midnight of a zone, or a little later."""
    midnight = datetime(2026, 1, 2, tzinfo=UTC) - timedelta(hours=zone_h)
    late = timedelta(seconds=late_s)
    return [(FIRST + timedelta(days=n), midnight + timedelta(days=n) + late) for n in range(days)]


@pytest.fixture
def in_berlin(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A machine an hour ahead of UTC, two in summer."""
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("in_berlin")
@pytest.mark.parametrize("zone_h", [-5, 5.75, 13, 0])
@pytest.mark.parametrize("late_s", [0.0, 60.0, 290.0])
def test_the_house_s_own_midnights_set_the_calendar(zone_h: float, late_s: float) -> None:
    """Far from the machine's zone, in quarters of an hour, however late the tick after midnight was."""
    found = calendar_of(ends(zone_h, late_s=late_s))
    assert found == Calendar(timezone(timedelta(hours=zone_h)))


@pytest.mark.usefixtures("in_berlin")
def test_a_machine_beside_the_house_keeps_its_own_zone() -> None:
    """With its summer time, which a fixed offset would not have."""
    found = calendar_of(ends(1.0))
    assert found == Calendar(None)
    assert found.begin(date(2026, 7, 1)) == datetime(2026, 6, 30, 22, tzinfo=UTC)
    assert found.offset_s(datetime(2026, 7, 1, tzinfo=UTC).timestamp()) == 7200.0
    assert found.offset_s(datetime(2026, 1, 1, tzinfo=UTC).timestamp()) == 3600.0


@pytest.mark.usefixtures("in_berlin")
def test_a_restart_at_noon_changes_no_calendar() -> None:
    """Most midnights decide, and one that was closed hours later does not; without any the machine's do."""
    late = (FIRST, datetime(2026, 1, 2, 16, tzinfo=UTC))
    assert calendar_of([late, *ends(-5)]) == calendar_of(ends(-5))
    assert calendar_of([]) == Calendar(None)


def test_days_are_counted_to_the_last() -> None:
    """Both ends included."""
    assert list(days_between(FIRST, FIRST + timedelta(days=2)))[-1] == date(2026, 1, 3)
    assert list(days_between(FIRST, FIRST)) == [FIRST]
