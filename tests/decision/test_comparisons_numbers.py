"""Comparing probes at the very limits: what a look adds to a day, and what a day makes of a record."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from controller.decision.heat import plan_for
from controller.decision.state import OutputState
from controller.diagnosis.comparisons import compared, comparison_findings
from controller.diagnosis.probe_records import Comparisons, Record, Today, nothing_compared
from controller.equipment import OutputId
from controller.readings.reading import Good, Missing, Reading, Why
from controller.readings.snapshot import LoopReadings
from controller.units import TemperatureUnit
from tests.decision.world import HOUR_S, HOUSE, World

if TYPE_CHECKING:
    from collections.abc import Mapping

NOW_S = 2.0**20
DAY_S = 24 * HOUR_S
A_HAIR = 0.125  # a fraction that floats hold exactly
PLAN = plan_for(HOUSE)
TEMPLATE = World(settle=False).snapshot()
LOOPS = ("north", "middle", "south")
LONG_OFF = {OutputId.fan(loop): OutputState(on=False, since_mono_s=0.0) for loop in LOOPS}
SILENT = Missing(Why.SILENT, NOW_S)
WEST, EAST, BENCH = "ceiling-west", "ceiling-east", "bench"


def good(value: float | None) -> Reading:
    """A reading, or none."""
    return SILENT if value is None else Good(value, NOW_S)


def look(
    before: Comparisons,
    now_s: float,
    ceiling: float | None = 12.0,
    bench: float | None = 12.0,
    soil: Mapping[str, float | None] | None = None,
    outlet: Mapping[str, float | None] | None = None,
    outputs: Mapping[OutputId, OutputState] = LONG_OFF,
    **probes: float | None,
) -> Comparisons:
    """Look once at probes of these names (``_`` for ``-``) in a house like this, soils at 12 °C."""
    soils = dict.fromkeys(LOOPS, 12.0) | dict(soil or {})
    outlets = dict.fromkeys(LOOPS, None) | dict(outlet or {})
    loops = {name: LoopReadings(good(soils[name]), SILENT, good(outlets[name])) for name in LOOPS}
    named = {name.replace("_", "-"): good(value) for name, value in probes.items()}
    snapshot = TEMPLATE._replace(ceiling=good(ceiling), bench=good(bench), loops=loops, probes=named)
    return compared(before, PLAN, snapshot, outputs, now_s)


def today(comparisons: Comparisons) -> Today:
    """The day so far."""
    assert comparisons.today is not None
    return comparisons.today


def test_probes_are_looked_at_every_quarter_of_an_hour() -> None:
    """Not a moment sooner."""
    before = nothing_compared(NOW_S)
    assert look(before, NOW_S + 900.0 - A_HAIR) is before
    assert look(before, NOW_S + 900.0).looked_s == NOW_S + 900.0


def test_a_day_begins_with_the_first_look_at_the_roof() -> None:
    """Without a ceiling there is no coldest moment to begin with."""
    seen = look(nothing_compared(NOW_S), NOW_S + 900.0, None, bench=5.0)
    assert seen.today is None
    seen = look(seen, NOW_S + 1800.0, 7.0, ceiling_west=7.0, bench=8.0)
    assert today(seen) == Today(NOW_S + 1800.0, 7.0, {WEST: 7.0}, {}, {}, {}, {})


def test_what_was_read_at_the_coldest_moment_is_kept() -> None:
    """Only colder air counts, and with it every probe's reading of that moment."""
    seen = look(nothing_compared(NOW_S), NOW_S + 900.0, 7.0, ceiling_west=7.0, north_soil=12.0)
    first = {WEST: 7.0, "north-soil": 12.0}
    for ceiling in (7.0, 8.0, None):
        seen = look(seen, seen.looked_s + 900.0, ceiling, ceiling_west=1.0, north_soil=13.0)
        assert (today(seen).coldest_c, today(seen).then_c) == (7.0, first)
    seen = look(seen, seen.looked_s + 900.0, 7.0 - A_HAIR, ceiling_west=6.0, north_soil=None)
    assert (today(seen).coldest_c, today(seen).then_c) == (7.0 - A_HAIR, {WEST: 6.0})
    assert today(seen).began_s == NOW_S + 900.0


def test_the_most_that_a_probe_was_warmer_than_its_place_is_kept() -> None:
    """Ceilings against the coldest of them, the bench against the warmest; then and at most."""
    seen = nothing_compared(NOW_S)
    for ceiling, west, east, bench in (
        (9.0, 9.0, 10.0, 12.0),
        (20.0, 24.0, 20.0, 20.0),
        (21.0, 21.0, 21.5, 30.0),
    ):
        seen = compared_air(seen, ceiling, west, east, bench)
    assert today(seen).excess_then_k == {WEST: 0.0, EAST: 1.0, BENCH: 2.0}
    assert today(seen).excess_k == {WEST: 4.0, EAST: 1.0, BENCH: 8.5}
    seen = compared_air(seen, 5.0, 5.0, 6.5, None)
    assert today(seen).excess_then_k == {WEST: 0.0, EAST: 1.5}
    assert today(seen).excess_k == {WEST: 4.0, EAST: 1.5, BENCH: 8.5}


def compared_air(
    before: Comparisons, ceiling: float | None, west: float | None, east: float | None, bench: float | None
) -> Comparisons:
    """One more look at the three probes in the air of the house."""
    probes = {WEST: good(west), EAST: good(east), BENCH: good(bench)}
    snapshot = TEMPLATE._replace(ceiling=good(ceiling), probes=probes)
    return compared(before, PLAN, snapshot, LONG_OFF, before.looked_s + 900.0)


def test_a_probe_that_answers_later_in_the_day_joins_it() -> None:
    """Its first look is its warmest so far."""
    seen = compared_air(nothing_compared(NOW_S), 9.0, 9.0, 10.0, None)
    seen = compared_air(seen, 20.0, 20.0, 20.0, 23.0)
    assert today(seen).excess_k == {WEST: 0.0, EAST: 1.0, BENCH: 3.0}


def test_a_colder_look_keeps_what_loops_have_shown_so_far() -> None:
    """Resting outlets and banking loops go on being added up over the whole day."""
    outputs = {**LONG_OFF, OutputId.fan("south"): OutputState(on=True, since_mono_s=0.0)}
    seen = nothing_compared(NOW_S)
    for count, ceiling in ((1, 20.0), (2, 19.0), (3, 18.0)):
        outlets = {"north": 13.0, "south": 12.0}
        seen = look(seen, NOW_S + 900.0 * count, ceiling, outlet=outlets, outputs=outputs)
    assert today(seen).resting == {"north": (3, 3.0)}
    assert today(seen).banking == {"south": (3, 3.0)}
    assert today(seen).coldest_c == 18.0


def test_a_single_ceiling_has_no_peer_and_a_bench_without_roof_neither() -> None:
    """What cannot be compared is not."""
    seen = compared_air(nothing_compared(NOW_S), 9.0, 9.0, None, 12.0)
    assert today(seen).excess_k == {BENCH: 3.0}
    seen = compared_air(nothing_compared(NOW_S), 9.0, None, None, 12.0)
    assert today(seen).excess_k == {}


def resting(**changes: Any) -> dict[str, tuple[int, float]]:
    """What two looks at the south outlet, whose fan has been off for three hours, have added up to."""
    outputs = dict(LONG_OFF)
    outputs[OutputId.fan("south")] = OutputState(on=False, since_mono_s=NOW_S + 900.0 - 3.0 * HOUR_S)
    shown: dict[str, Any] = {"bench": 13.0, "outlet": {"south": 14.0}, "outputs": outputs}
    seen = nothing_compared(NOW_S)
    for count in (1, 2):
        seen = look(seen, NOW_S + 900.0 * count, **(shown | changes))
    return today(seen).resting


def test_an_outlet_at_rest_is_compared_with_the_middle_of_soil_and_bench() -> None:
    """Three hours after its fan has stopped, and where soil and bench are within two kelvin."""
    assert resting() == {"south": (2, 3.0)}
    assert resting(bench=14.0) == {"south": (2, 2.0)}
    assert resting(bench=10.0) == {"south": (2, 6.0)}
    assert resting(bench=14.0 + A_HAIR) == {}
    assert resting(bench=10.0 - A_HAIR) == {}
    assert resting(bench=None) == {}
    assert resting(outlet={"south": None}) == {}
    assert resting(soil={"south": None}) == {}
    assert resting(soil={"north": None}) == {"south": (2, 3.0)}
    late = dict(LONG_OFF)
    late[OutputId.fan("south")] = OutputState(on=False, since_mono_s=NOW_S + 900.0 - 3.0 * HOUR_S + A_HAIR)
    assert resting(outputs=late) == {"south": (1, 1.5)}


def banking(on_since_s: float = NOW_S, **changes: Any) -> dict[str, tuple[int, float]]:
    """What two looks at a banking south loop have added up to."""
    outputs = dict(LONG_OFF)
    outputs[OutputId.fan("south")] = OutputState(on=True, since_mono_s=on_since_s)
    shown: dict[str, Any] = {"ceiling": 20.0, "outlet": {"south": 14.0}, "outputs": outputs}
    seen = nothing_compared(NOW_S)
    for count in (1, 2):
        seen = look(seen, NOW_S + 900.0 * count, **(shown | changes))
    return today(seen).banking if seen.today is not None else {}


def test_a_banking_loop_is_judged_by_its_share_of_the_difference() -> None:
    """A quarter of an hour after its start and from five kelvin of difference on."""
    assert banking() == {"south": (2, 1.5)}
    assert banking(NOW_S + A_HAIR) == {"south": (1, 0.75)}
    assert banking(ceiling=17.0) == {"south": (2, 1.2)}
    assert banking(ceiling=17.0 - A_HAIR) == {}
    assert banking(ceiling=5.0, outlet={"south": 11.0}) == {}
    assert banking(ceiling=None) == {}


def day_over(
    then: Mapping[str, float] | None = None,
    excess: Mapping[str, tuple[float, float]] | None = None,
    at_rest: dict[str, tuple[int, float]] | None = None,
    banked: dict[str, tuple[int, float]] | None = None,
    records: Mapping[str, Record] | None = None,
    shares: Mapping[str, Record] | None = None,
    after_s: float = DAY_S,
) -> Comparisons:
    """What comes of a day that has shown this; ``excess`` is (at the coldest moment, at most)."""
    most = {name: most_k for name, (_, most_k) in (excess or {}).items()}
    then_k = {name: then_k for name, (then_k, _) in (excess or {}).items()}
    day = Today(NOW_S, 5.0, then or {}, then_k, most, at_rest or {}, banked or {})
    before = Comparisons(NOW_S, day, records or {}, shares or {}, False)
    return look(before, NOW_S + after_s)


def test_a_day_is_over_after_a_day() -> None:
    """Conclusions are drawn at its end and the next day begins with that look."""
    air = {WEST: 10.0, EAST: 10.0, BENCH: 15.0}
    seen = day_over(air, after_s=DAY_S - A_HAIR)
    assert seen.records == {}
    assert today(seen).began_s == NOW_S
    seen = day_over(air)
    assert seen.records[BENCH] == Record(0.0, 5.0, 1, 1)
    assert seen.records[WEST] == Record(0.0, 0.0, 1, 0)
    assert seen.suspicious
    assert today(seen).began_s == NOW_S + DAY_S
    assert not day_over({WEST: 10.0, EAST: 10.0, BENCH: 10.0}).suspicious


@pytest.mark.parametrize(("value_c", "off"), [(12.0, 1), (12.0 - A_HAIR, 0), (8.0, 1), (8.0 + A_HAIR, 0)])
def test_house_air_is_held_to_two_kelvin_of_the_middle_probe(value_c: float, off: int) -> None:
    """Warmer or colder, from the limit itself; of two probes nobody knows which, so the second is named."""
    seen = day_over({WEST: 10.0, EAST: 10.0, BENCH: value_c})
    assert seen.records[BENCH] == Record(0.0, value_c - 10.0, 1, off)
    assert day_over({WEST: 10.0, EAST: value_c}).records == {EAST: Record(0.0, value_c - 10.0, 1, off)}
    assert day_over({WEST: value_c, BENCH: 10.0}).records == {BENCH: Record(0.0, 10.0 - value_c, 1, off)}
    assert day_over({BENCH: value_c}).records == {}


def test_a_record_follows_its_probe_by_half_and_counts_the_days_off() -> None:
    """Half of each day's distance counts; days off in a row are counted to three; the days to thirty."""
    air = {WEST: 10.0, EAST: 10.0, BENCH: 14.0}
    for before, after in (
        (Record(0.0, 1.0, 4, 0), Record(0.0, 2.5, 5, 1)),
        (Record(0.0, 2.0, 29, 2), Record(0.0, 3.0, 30, 3)),
        (Record(0.0, 2.0, 30, 3), Record(0.0, 3.0, 30, 3)),
        (Record(0.0, -1.0, 7, 2), Record(0.0, 1.5, 8, 0)),
    ):
        assert day_over(air, records={BENCH: before}).records[BENCH] == after


@pytest.mark.parametrize(
    ("before", "value_c", "after"),
    [
        (None, 15.0, Record(3.0, 3.0, 1, 0)),
        (Record(3.0, 3.0, 1, 0), 14.0, Record(2.5, 2.5, 2, 0)),
        (Record(3.0, 3.0, 1, 0), 22.0, Record(5.0, 6.5, 2, 0)),
        (Record(3.0, 3.0, 1, 0), 2.0, Record(1.0, -3.5, 2, 0)),
        (Record(3.0, 3.0, 4, 2), 23.0, Record(4.6, 7.0, 5, 0)),
        (Record(3.0, 3.0, 5, 0), 15.375, Record(3.0625, 3.1875, 6, 0)),
        (Record(3.0, 3.0, 5, 0), 16.0, Record(3.0 + 2.0 / 30.0, 3.5, 6, 0)),
        (Record(3.0, 3.0, 5, 0), 14.0, Record(3.0 - 2.0 / 30.0, 2.5, 6, 0)),
        (Record(3.0, 3.0, 5, 0), 19.0, Record(3.0, 5.0, 6, 1)),
        (Record(3.0, 3.0, 5, 2), 11.0, Record(3.0, 1.0, 6, 3)),
        (Record(3.0, 3.0, 5, 0), 19.0 - A_HAIR, Record(3.0 + 2.0 / 30.0, 5.0 - A_HAIR / 2.0, 6, 0)),
    ],
)
def test_a_soil_is_held_to_its_own_usual_distance(
    before: Record | None, value_c: float, after: Record
) -> None:
    """It is learned day by day within bounds, known after five days, and not from days that are off."""
    soils = {"north-soil": value_c, "middle-soil": 12.0, "south-soil": 12.0}
    records = {} if before is None else {"north-soil": before}
    seen = day_over(soils, records=records).records["north-soil"]
    assert seen == pytest.approx(after)


def test_soils_and_roots_are_compared_where_there_are_three() -> None:
    """Of two nobody knows which has moved; roots are compared with roots only."""
    assert day_over({"north-soil": 15.0, "middle-soil": 12.0}).records == {}
    seen = day_over({"north-roots": 15.0, "middle-roots": 12.0, "south-roots": 11.0, "north-soil": 30.0})
    assert {name: record.lately for name, record in seen.records.items()} == {
        "north-roots": 3.5, "middle-roots": -1.0, "south-roots": -2.5
    }  # fmt: skip


@pytest.mark.parametrize(("looks", "expected"), [(4, Record(0.0, 2.0, 1, 1)), (3, None)])
def test_an_outlet_needs_four_looks_in_a_day(looks: int, expected: Record | None) -> None:
    """Their mean distance is held to the same two kelvin."""
    seen = day_over(at_rest={"south": (looks, 2.0 * looks)})
    assert seen.records.get("south-outlet") == expected


def test_the_days_of_an_outlet_add_up() -> None:
    """A third day that is off by two kelvin follows two others, in the record of that outlet."""
    before = {"south-outlet": Record(0.0, 2.0, 2, 2), "north-outlet": Record(0.0, 0.5, 4, 0)}
    seen = day_over(at_rest={"south": (4, 8.0)}, records=before)
    assert seen.records == before | {"south-outlet": Record(0.0, 2.0, 3, 3)}


@pytest.mark.parametrize(
    ("excess", "before", "after"),
    [
        ((1.0, 4.0), 0.0, 1.0),
        ((1.0, 4.0), 1.5, 2.5),
        ((1.0, 4.0), 4.5, 5.0),
        ((1.0, 4.0 - A_HAIR), 2.0, 1.75),
        ((1.0, 4.0 - A_HAIR), 0.125, 0.0),
    ],
)
def test_sunny_days_are_counted_from_three_kelvin_against_the_night(
    excess: tuple[float, float], before: float, after: float
) -> None:
    """A sunny day adds one up to five, another takes a quarter away down to none."""
    seen = day_over(excess={EAST: excess}, records={EAST: Record(0.5, 0.25, 3, 1, before)})
    assert seen.records[EAST] == Record(0.5, 0.25, 3, 1, after)
    assert seen.suspicious


def test_a_probe_that_was_not_seen_at_the_coldest_moment_is_not_in_the_sun() -> None:
    """Its warmth by day has nothing to be compared with."""
    day = Today(NOW_S, 5.0, {}, {}, {EAST: 9.0}, {}, {})
    seen = look(Comparisons(NOW_S, day, {}, {}), NOW_S + DAY_S)
    assert seen.records == {EAST: Record()}
    assert not seen.suspicious


def test_what_is_remembered_of_probes_that_are_gone_is_dropped() -> None:
    """The others stay as they were on a day that shows nothing of them."""
    kept = Record(0.5, 0.25, 3, 1)
    assert day_over(records={"old": kept, "north-soil": kept}).records == {"north-soil": kept}


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
    banked = {"north": (2, 2.0 * share), "middle": (4, 3.0), "south": (2, 1.5)}
    seen = day_over(banked=banked, shares={} if before is None else {"north": before})
    assert seen.shares["north"] == pytest.approx(after)
    assert seen.suspicious is (after.off_days > 0)


def test_shares_are_compared_where_three_loops_banked_long_enough() -> None:
    """A loop with a single look does not count, and of two nobody knows which has changed."""
    before = {"north": Record(0.5, 0.5, 6)}
    banked = {"north": (1, 0.9), "middle": (2, 1.5), "south": (2, 1.5)}
    assert day_over(banked=banked, shares=before).shares is before
    seen = day_over(banked=banked | {"north": (2, 1.8)}, shares=before).shares
    assert set(seen) == {"north", "middle", "south"}


def told(
    records: Mapping[str, Record],
    shares: Mapping[str, Record] | None = None,
    unit: TemperatureUnit = TemperatureUnit.CELSIUS,
) -> list[tuple[str, ...]]:
    """What a person is told of these records."""
    seen = Comparisons(NOW_S, None, records, shares or {}, suspicious=True)
    found = comparison_findings(seen, unit)
    return [(one.code.value, one.subject, one.detail) for one in found]


def test_a_person_is_told_after_three_days() -> None:
    """Which probe, how far and which way; a loop by its air; nothing before the third day."""
    assert told({BENCH: Record(0.0, 9.0, 9, 2, 2.75)}, {"north": Record(0.0, 0.1, 9, 2)}) == []
    compared_with = "compared with the others"
    assert told(
        {BENCH: Record(0.5, 3.0, 9, 3), WEST: Record(0.5, -2.0, 9, 3), EAST: Record(sunny_days=3.0)}
    ) == [
        ("probe-off", BENCH, f"about 2.5 K too warm, {compared_with}"),
        ("probe-off", WEST, f"about 2.5 K too cold, {compared_with}"),
        ("probe-in-sun", EAST, "by day warmer than its place can be"),
    ]
    words = "the soil's temperature than usual, against the other loops"
    assert told({}, {"north": Record(0.75, 0.8, 9, 3), "south": Record(0.75, 0.7, 9, 3)}) == [
        ("loop-weak", "north", f"its air comes out nearer to {words}"),
        ("loop-weak", "south", f"its air comes out further from {words}"),
    ]


def test_how_far_a_probe_is_off_is_told_in_the_readers_unit() -> None:
    """Two and a half kelvin are four and a half degrees Fahrenheit."""
    assert told({BENCH: Record(0.5, 3.0, 9, 3)}, unit=TemperatureUnit.FAHRENHEIT) == [
        ("probe-off", BENCH, "about 4.5 °F too warm, compared with the others")
    ]


def test_nothing_is_told_of_records_that_no_day_has_found_suspicious() -> None:
    """The question is asked at every tick, so that the answer is found once a day."""
    seen = Comparisons(NOW_S, None, {BENCH: Record(0.0, 9.0, 9, 3)}, {}, suspicious=False)
    assert comparison_findings(seen, TemperatureUnit.CELSIUS) == []
