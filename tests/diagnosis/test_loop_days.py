"""A day of loops side by side: what their soils and resting outlets show."""

from __future__ import annotations

import pytest

from controller.diagnosis.loop_days import gives_moving_air, rests_after, swings_after, warms_less
from controller.diagnosis.probe_records import NEW_DAY, LoopDay, Record

LOOPS = ("north", "middle", "south")


def warmed(*kelvins: float, drive_kh: float = 30.0) -> LoopDay:
    """A day in which the soils warmed by so much."""
    soils_c = {loop: (12.0, by_k) for loop, by_k in zip(LOOPS, kelvins, strict=False)}
    return NEW_DAY._replace(soils_c=soils_c, drive_kh=dict.fromkeys(soils_c, drive_kh))


def after(days: list[LoopDay]) -> dict[str, Record]:
    """The records of the soils after these days."""
    records: dict[str, Record] = {}
    for day in days:
        records = dict(swings_after(day, records))
    return records


def named(records: dict[str, Record]) -> list[str]:
    """The loops that a person is called for."""
    return [name for name, record in records.items() if warms_less(record)]


@pytest.mark.parametrize(
    ("north_k", "found"), [(1.6, ["north"]), (1.9, []), (2.5, [])], ids=["blocked", "a little less", "more"]
)
def test_a_loop_whose_soil_warms_less_than_usual_is_named_within_days(
    north_k: float, found: list[str]
) -> None:
    """Its neighbours, which now bank more, are not."""
    days = [warmed(2.0, 2.1, 2.2)] * 6 + [warmed(north_k, 2.2, 2.3)] * 5
    assert named(after(days)) == found


def test_a_loop_that_has_always_warmed_less_is_not_named() -> None:
    """What is particular to a loop is learned as usual."""
    assert named(after([warmed(1.2, 2.1, 2.2)] * 12)) == []


@pytest.mark.parametrize(
    "day",
    [warmed(1.0, 2.1, 2.2, drive_kh=9.0), warmed(1.0, 2.1), warmed(0.0, 2.1, 2.2)],
    ids=["little banked", "two loops", "no change"],
)
def test_a_day_that_proves_little_is_left_out(day: LoopDay) -> None:
    """Too little banking for the steps of a probe, nobody to compare with, or a probe that stands still."""
    assert after([day]) == {}


def test_an_outlet_that_has_moved_towards_the_soil_at_rest_is_named() -> None:
    """Only that one, although its neighbours stand out against it."""
    records: dict[str, Record] = {}
    for share in [0.5] * 6 + [0.2] * 4:
        shares = {"north": (10, 10 * share), "middle": (10, 5.2), "south": (10, 4.9)}
        records = dict(rests_after(NEW_DAY._replace(rests=shares), records))
    assert [name for name, record in records.items() if gives_moving_air(record)] == ["north"]
