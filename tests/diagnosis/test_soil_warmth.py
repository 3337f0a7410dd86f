"""Soils that do not warm although their fans bank: water in all tubes, or silt beside one probe."""

from __future__ import annotations

import pytest

from controller.diagnosis.probe_records import NEW_DAY, LoopDay, Warmth
from controller.diagnosis.soil_warmth import (
    NO_SOILS,
    Soils,
    idle_soils,
    soil_findings,
    warmths_after,
    with_idle,
)
from controller.diagnosis.start_records import StartRecord
from controller.faults import DAY_S, FaultCode, Finding

NOON_S = 10.5 * DAY_S
Warmths = dict[str, Warmth]


def day(rise_k: float, drive_kh: float = 30.0, low_c: float = 12.0) -> LoopDay:
    """A day on which north's soil has warmed by so much for what it has banked."""
    return NEW_DAY._replace(soils_c={"north": (low_c, rise_k)}, drive_kh={"north": drive_kh})


def after(*days: LoopDay, sound: int = 4) -> Warmths:
    """What is known after sound days and these, each looked at by noon."""
    known: Warmths = {}
    for each in (*[day(2.0)] * sound, *days):
        known = dict(warmths_after(each, with_idle(each, known, NOON_S)))
    return known


def seen(known: Warmths, moved_s: float) -> Soils:
    """What these show of a fan that has last been seen to move its air then."""
    return idle_soils(known, {"north": StartRecord(moved_s, moved_s, moved_s)})


def test_a_soil_that_does_not_warm_is_seen_on_the_day_and_until_it_warms_again() -> None:
    """A cloudy day in between changes nothing, a day of a quarter of the usual warmth does."""
    idle = after(day(0.2))
    assert seen(idle, NOON_S - DAY_S) == Soils(frozenset({"north"}), frozenset({"north"}), frozenset())
    assert seen(after(day(0.2), day(0.1, drive_kh=5.0)), 0.0).idle == {"north"}
    assert seen(after(day(0.2), day(0.6)), 0.0) == NO_SOILS
    assert idle["north"].usual == pytest.approx(2.0 / 30.0)


@pytest.mark.parametrize(
    ("shown", "sound"),
    [(day(0.2), 2), (day(0.1, drive_kh=10.0), 4), (day(0.6), 4), (day(0.1, low_c=-0.3), 4)],
    ids=["not known yet", "little banked", "it warms", "it thaws"],
)
def test_a_day_that_proves_little_names_nobody(shown: LoopDay, sound: int) -> None:
    """What is usual takes three days to know, and a day needs some hours of banking."""
    assert seen(after(shown, sound=sound), 0.0) == NO_SOILS


@pytest.mark.parametrize(
    ("moved_s", "still", "aired"),
    [(NOON_S - DAY_S, True, False), (NOON_S - 3600.0, True, True), (NOON_S + 3600.0, False, True)],
    ids=["the day before", "this morning", "since"],
)
def test_a_fan_that_moves_its_air_while_the_soil_stays_cold_has_silt_beside_the_probe(
    moved_s: float, still: bool, aired: bool
) -> None:
    """Air that has moved since is no water in all tubes."""
    soils = seen(after(day(0.2)), moved_s)
    assert (bool(soils.still), bool(soils.aired)) == (still, aired)


def test_the_loop_is_named_unless_its_sump_is() -> None:
    """Once as a loop that lacks air; not beside tubes that are all shut."""
    soils = seen(after(day(0.2)), 0.0)
    assert [(one.code, one.subject) for one in soil_findings(soils, [])] == [(FaultCode.LOOP_WEAK, "north")]
    assert list(soil_findings(soils, [Finding(FaultCode.TUBES_SHUT, "main")])) == []
