"""What a whole day says of each probe and loop, and what a person is called for after some days."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.decision.state import OutputState
from controller.diagnosis.comparisons import compared, comparison_findings
from controller.diagnosis.probe_records import NEW_DAY, Comparisons, Record, Today
from controller.equipment import OutputId
from controller.units import TemperatureUnit
from tests.decision.world import HOUR_S, HOUSE, World

if TYPE_CHECKING:
    from collections.abc import Mapping

NOW_S = 2.0**20
DAY_S = 24 * HOUR_S
A_HAIR = 0.125  # a fraction that floats hold exactly
PLAN = HOUSE.derived
SNAPSHOT = World(settle=False).snapshot()
OFF = {OutputId.fan(loop): OutputState(on=False, since_mono_s=NOW_S) for loop in HOUSE.loops}
WEST, EAST, BENCH = "ceiling-west", "ceiling-east", "bench"
SOIL, SOUTH_OUTLET = "north-soil", "south-outlet"
NOT_SEEN = Today(NOW_S, 5.0, {}, {}, {}, {}, {}, NEW_DAY)


def day_over(
    day: Today,
    records: Mapping[str, Record] | None = None,
    shares: Mapping[str, Record] | None = None,
    after_s: float = DAY_S,
) -> Comparisons:
    """What is known after a day that has shown this, and the records before it."""
    before = Comparisons(NOW_S, day, records or {}, shares or {}, {}, {}, {}, suspicious=False)
    return compared(before, PLAN, SNAPSHOT, OFF, NOW_S + after_s)


def known(name: str, record: Record | None) -> dict[str, Record]:
    """What is known of this probe or loop, if anything."""
    return {} if record is None else {name: record}


def read(then_c: Mapping[str, float]) -> Today:
    """A day at whose coldest moment probes read this."""
    return NOT_SEEN._replace(then_c=then_c)


def test_a_day_is_over_after_24_hours() -> None:
    """Conclusions are drawn at its end, and the next day begins with that look."""
    day = read({WEST: 10.0, EAST: 10.0, BENCH: 15.0})
    early, late = day_over(day, after_s=DAY_S - A_HAIR), day_over(day)
    assert early.records == {}
    assert late.records == {
        WEST: Record(0.0, 0.0, 1),
        EAST: Record(0.0, 0.0, 1),
        BENCH: Record(0.0, 5.0, 1, 1),
    }
    for seen, began_s in ((early, NOW_S), (late, NOW_S + DAY_S)):
        assert seen.today is not None
        assert seen.today.began_s == began_s


@pytest.mark.parametrize(
    ("then_c", "name", "distance_k", "off"),
    [
        ({WEST: 10.0, EAST: 10.0, BENCH: 12.0}, BENCH, 2.0, True),
        ({WEST: 10.0, EAST: 10.0, BENCH: 12.0 - A_HAIR}, BENCH, 2.0 - A_HAIR, False),
        ({WEST: 10.0, EAST: 10.0, BENCH: 8.0}, BENCH, -2.0, True),
        ({WEST: 10.0, EAST: 10.0, BENCH: 8.0 + A_HAIR}, BENCH, -2.0 + A_HAIR, False),
        ({WEST: 10.0, EAST: 12.0}, EAST, 2.0, True),
        ({WEST: 10.0, BENCH: 8.0}, BENCH, -2.0, True),
        ({BENCH: 12.0}, BENCH, None, False),
    ],
)
def test_house_air_is_held_to_two_kelvin_of_the_middle_probe(
    then_c: dict[str, float], name: str, distance_k: float | None, off: bool
) -> None:
    """From the limit itself, either way; of two nobody knows which is wrong, so the second is named."""
    seen = day_over(read(then_c))
    expected = None if distance_k is None else Record(0.0, distance_k, 1, int(off))
    assert seen.records.get(name) == expected
    assert len(seen.records) == {1: 0, 2: 1, 3: 3}[len(then_c)]
    assert seen.suspicious is off


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (Record(0.0, 1.0, 4, 0), Record(0.0, 2.5, 5, 1)),
        (Record(0.0, 2.0, 29, 2), Record(0.0, 3.0, 30, 3)),
        (Record(0.0, 2.0, 30, 3), Record(0.0, 3.0, 30, 3)),
        (Record(0.0, -1.0, 7, 2), Record(0.0, 1.5, 8, 0)),
    ],
)
def test_a_record_follows_its_probe_by_half_and_counts_the_days_off(before: Record, after: Record) -> None:
    """A bench 4 K off: half of that counts today; days off in a row count to three, days to thirty."""
    day = read({WEST: 10.0, EAST: 10.0, BENCH: 14.0})
    assert day_over(day, {BENCH: before}).records[BENCH] == after


@pytest.mark.parametrize(
    ("before", "distance_k", "after"),
    [
        (None, 3.0, Record(3.0, 3.0, 1, 0)),  # at first each day is believed, by at most 2 K
        (Record(3.0, 3.0, 1, 0), 2.0, Record(2.5, 2.5, 2, 0)),
        (Record(3.0, 3.0, 1, 0), 10.0, Record(5.0, 6.5, 2, 0)),
        (Record(3.0, 3.0, 1, 0), -10.0, Record(1.0, -3.5, 2, 0)),
        (Record(3.0, 3.0, 4, 2), 11.0, Record(4.6, 7.0, 5, 0)),
        (Record(3.0, 3.0, 5, 0), 3.375, Record(3.0625, 3.1875, 6, 0)),  # then by a thirtieth of that
        (Record(3.0, 3.0, 5, 0), 4.0, Record(3.0 + 2.0 / 30.0, 3.5, 6, 0)),
        (Record(3.0, 3.0, 5, 0), 2.0, Record(3.0 - 2.0 / 30.0, 2.5, 6, 0)),
        (Record(3.0, 3.0, 5, 0), 7.0, Record(3.0, 5.0, 6, 1)),  # and not from days that are off
        (Record(3.0, 3.0, 5, 2), -1.0, Record(3.0, 1.0, 6, 3)),
        (Record(3.0, 3.0, 5, 0), 7.0 - A_HAIR, Record(3.0 + 2.0 / 30.0, 5.0 - A_HAIR / 2.0, 6, 0)),
    ],
)
def test_a_soil_is_held_to_its_own_usual_distance(
    before: Record | None, distance_k: float, after: Record
) -> None:
    """It is learned day by day within bounds, known after five days, and not from days that are off."""
    day = read({SOIL: 12.0 + distance_k, "middle-soil": 12.0, "south-soil": 12.0})
    assert day_over(day, known(SOIL, before)).records[SOIL] == pytest.approx(after)


@pytest.mark.parametrize(
    ("then_c", "distances_k"),
    [
        ({SOIL: 15.0, "middle-soil": 12.0}, {}),
        (
            {"north-roots": 15.0, "middle-roots": 12.0, "south-roots": 11.0, SOIL: 30.0},
            {"north-roots": 3.5, "middle-roots": -1.0, "south-roots": -2.5},
        ),
    ],
)
def test_soils_and_roots_are_compared_where_there_are_three(
    then_c: dict[str, float], distances_k: dict[str, float]
) -> None:
    """Of two nobody knows which has moved; roots are compared with the middle of the other roots only."""
    records = day_over(read(then_c)).records
    assert {name: record.lately for name, record in records.items()} == distances_k


@pytest.mark.parametrize(
    ("looks", "before", "after"),
    [
        (3, None, None),
        (4, None, Record(0.0, 2.0, 1, 1)),
        (4, Record(0.0, 2.0, 2, 2), Record(0.0, 2.0, 3, 3)),
    ],
)
def test_an_outlet_needs_four_looks_in_a_day(looks: int, before: Record | None, after: Record | None) -> None:
    """Their mean distance is held to the same two kelvin; other outlets keep their records."""
    others = {"north-outlet": Record(0.0, 0.5, 4, 0)}
    day = NOT_SEEN._replace(resting={"south": (looks, 2.0 * looks)})
    seen = day_over(day, others | known(SOUTH_OUTLET, before))
    assert seen.records == others | known(SOUTH_OUTLET, after)


@pytest.mark.parametrize(
    ("then_k", "most_k", "before", "after"),
    [
        (1.0, 4.0, None, 1.0),
        (1.0, 4.0, 0.0, 1.0),
        (1.0, 4.0, 1.5, 2.5),
        (1.0, 4.0, 4.5, 5.0),
        (1.0, 4.0 - A_HAIR, 2.0, 1.75),
        (1.0, 4.0 - A_HAIR, 0.125, 0.0),
        (None, 9.0, 0.0, 0.0),
    ],
)
def test_days_in_the_sun_are_counted_from_three_kelvin_against_the_night(
    then_k: float | None, most_k: float, before: float | None, after: float
) -> None:
    """A sunny day adds one up to five, another takes a quarter away; without a night there is no answer."""
    day = NOT_SEEN._replace(excess_then_k={} if then_k is None else {EAST: then_k}, excess_k={EAST: most_k})
    seen = day_over(day, known(EAST, None if before is None else Record(0.5, sunny_days=before)))
    assert seen.records == {EAST: Record(0.0 if before is None else 0.5, sunny_days=after)}
    assert seen.suspicious is (after > 0.0)


def test_what_is_remembered_of_probes_that_are_gone_is_dropped() -> None:
    """The others stay as they were on a day that shows nothing of them."""
    kept = Record(0.5, 0.25, 3, 1)
    assert day_over(NOT_SEEN, {"old": kept, SOIL: kept}).records == {SOIL: kept}


@pytest.mark.parametrize(
    ("share", "before", "after"),
    [
        (0.75, None, Record(0.0, 0.0, 1, 0)),
        (1.0, None, Record(0.25, 0.25, 1, 0)),
        (0.75 + 0.07, Record(0.0, 0.0, 5, 0), Record(0.0, 0.035, 6, 1)),
        (0.75 + 0.068, Record(0.0, 0.0, 5, 0), Record(0.035 / 30.0, 0.034, 6, 0)),
        (0.75 - 0.08, Record(0.0, 0.0, 5, 2), Record(0.0, -0.04, 6, 3)),
    ],
)
def test_a_loops_share_is_held_to_what_is_usual_against_the_others(
    share: float, before: Record | None, after: Record
) -> None:
    """Three and a half hundredths are the limit, learned and counted as for probes."""
    day = NOT_SEEN._replace(banking={"north": (2, 2.0 * share), "middle": (4, 3.0), "south": (2, 1.5)})
    seen = day_over(day, shares=known("north", before))
    assert seen.shares["north"] == pytest.approx(after)
    assert seen.suspicious is (after.off_days > 0)


@pytest.mark.parametrize(("looks", "compared_loops"), [(1, {"north"}), (2, {"north", "middle", "south"})])
def test_shares_are_compared_where_three_loops_banked_long_enough(
    looks: int, compared_loops: set[str]
) -> None:
    """A loop with a single look does not count, and of two nobody knows which has changed."""
    before = {"north": Record(0.5, 0.5, 6)}
    day = NOT_SEEN._replace(banking={"north": (looks, 0.9 * looks), "middle": (2, 1.5), "south": (2, 1.5)})
    shares = day_over(day, shares=before).shares
    assert set(shares) == compared_loops
    assert (shares == before) is (looks == 1)


OFF_TWO_DAYS, OFF_THREE_DAYS = Record(0.5, 3.0, 9, 2, 2.75), Record(0.5, 3.0, 9, 3)
NEARER, FURTHER = Record(0.75, 0.8, 9, 3), Record(0.75, 0.7, 9, 3)
AS_WORDS = "the soil's temperature than usual, against the other loops"


@pytest.mark.parametrize(
    ("records", "shares", "called"),
    [
        ({BENCH: OFF_TWO_DAYS}, {"north": NEARER._replace(off_days=2)}, []),
        (
            {BENCH: OFF_THREE_DAYS},
            {},
            [("probe-off", BENCH, "about 2.5 K too warm, compared with the others")],
        ),
        (
            {BENCH: OFF_THREE_DAYS._replace(lately=-2.0)},
            {},
            [("probe-off", BENCH, "about 2.5 K too cold, compared with the others")],
        ),
        ({EAST: Record(sunny_days=3.0)}, {}, [("probe-in-sun", EAST, "by day warmer than its place can be")]),
        ({}, {"north": NEARER}, [("loop-weak", "north", f"its air comes out nearer to {AS_WORDS}")]),
        ({}, {"north": FURTHER}, [("loop-weak", "north", f"its air comes out further from {AS_WORDS}")]),
    ],
    ids=["two days", "too warm", "too cold", "in the sun", "silted", "blocked"],
)
def test_a_person_is_called_after_three_days(
    records: dict[str, Record], shares: dict[str, Record], called: list[tuple[str, str, str]]
) -> None:
    """Which probe, how far and which way; a loop by its air; nothing before the third day."""
    seen = Comparisons(NOW_S, None, records, shares, {}, {}, {}, suspicious=True)
    found = comparison_findings(seen, TemperatureUnit.CELSIUS)
    assert [(one.code.value, one.subject, one.detail) for one in found] == called


def test_how_far_a_probe_is_off_is_written_in_the_readers_unit() -> None:
    """Two and a half kelvin are four and a half degrees Fahrenheit."""
    seen = Comparisons(NOW_S, None, {BENCH: OFF_THREE_DAYS}, {}, {}, {}, {}, suspicious=True)
    (found,) = comparison_findings(seen, TemperatureUnit.FAHRENHEIT)
    assert found.detail == "about 4.5 °F too warm, compared with the others"


def test_nobody_is_called_for_records_that_no_day_has_found_suspicious() -> None:
    """The question is asked at every tick, so the answer is found once a day."""
    seen = Comparisons(NOW_S, None, {BENCH: OFF_THREE_DAYS}, {}, {}, {}, {}, suspicious=False)
    assert comparison_findings(seen, TemperatureUnit.CELSIUS) == []
