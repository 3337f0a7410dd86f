"""What one look at all probes adds to the day: its coldest moment, warm probes, resting and banking loops."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from controller.decision.state import OutputState
from controller.diagnosis.comparisons import compared
from controller.diagnosis.probe_records import NEW_DAY, Comparisons, Today, nothing_compared
from controller.equipment import OutputId
from controller.readings.reading import Good, Missing, Reading, Why
from controller.readings.snapshot import LoopReadings
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World

if TYPE_CHECKING:
    from collections.abc import Mapping

NOW_S = 2.0**20
LOOK_S = 15 * MINUTE_S
A_HAIR = 0.125  # a fraction that floats hold exactly
PLAN = HOUSE.derived
TEMPLATE = World(settle=False).snapshot()
LOOPS = ("north", "middle", "south")
SOUTH = OutputId.fan("south")
LONG_OFF = {OutputId.fan(loop): OutputState(on=False, since_mono_s=0.0) for loop in LOOPS}
WEST, EAST, BENCH = "ceiling-west", "ceiling-east", "bench"
START = nothing_compared(NOW_S)


def good(value: float | None) -> Reading:
    """A reading, or none."""
    return Missing(Why.SILENT, NOW_S) if value is None else Good(value, NOW_S)


def look(
    before: Comparisons,
    ceiling: float | None = 12.0,
    bench: float | None = 12.0,
    soil: Mapping[str, float | None] | None = None,
    outlet: Mapping[str, float | None] | None = None,
    outputs: Mapping[OutputId, OutputState] = LONG_OFF,
    after_s: float = LOOK_S,
    probes: Mapping[str, float | None] | None = None,
) -> Comparisons:
    """Look once more at a house like this, soils at 12 °C and outlets silent unless they are given."""
    soils = dict.fromkeys(LOOPS, 12.0) | dict(soil or {})
    outlets = dict.fromkeys(LOOPS, None) | dict(outlet or {})
    loops = {name: LoopReadings(good(soils[name]), good(None), good(outlets[name])) for name in LOOPS}
    named = {name: good(value) for name, value in (probes or {}).items()}
    snapshot = TEMPLATE._replace(ceiling=good(ceiling), bench=good(bench), loops=loops, probes=named)
    return compared(before, PLAN, snapshot, outputs, before.looked_s + after_s)


def air(
    before: Comparisons, ceiling: float | None, west: float | None, east: float | None, bench: float | None
) -> Comparisons:
    """Look once more at the three probes in the air of the house."""
    return look(before, ceiling, probes={WEST: west, EAST: east, BENCH: bench})


def today(comparisons: Comparisons) -> Today:
    """The day so far."""
    assert comparisons.today is not None
    return comparisons.today


def test_probes_are_looked_at_every_quarter_of_an_hour() -> None:
    """Not a moment sooner."""
    assert look(START, after_s=LOOK_S - A_HAIR) is START
    assert look(START, after_s=LOOK_S).looked_s == NOW_S + LOOK_S


def test_a_day_begins_with_the_first_look_at_the_roof() -> None:
    """Without a ceiling there is no coldest moment to begin with."""
    seen = look(START, None, probes={WEST: 5.0})
    assert seen.today is None
    seen = look(seen, 7.0, probes={WEST: 7.0})
    kept = today(seen)._replace(loops=NEW_DAY)
    assert kept == Today(NOW_S + 2 * LOOK_S, 7.0, {WEST: 7.0}, {}, {}, {}, {}, NEW_DAY)


@pytest.mark.parametrize(("ceiling", "kept"), [(7.0, True), (8.0, True), (None, True), (7.0 - A_HAIR, False)])
def test_what_was_read_at_the_coldest_moment_is_kept(ceiling: float | None, kept: bool) -> None:
    """Only colder air counts, and with it every reading of that moment; the day goes on."""
    first = look(START, 7.0, probes={WEST: 7.0, "north-soil": 12.0})
    seen = today(look(first, ceiling, probes={WEST: 6.0, "north-soil": None}))
    assert seen.then_c == (today(first).then_c if kept else {WEST: 6.0})
    assert seen.coldest_c == (7.0 if kept else ceiling)
    assert seen.began_s == today(first).began_s


@pytest.mark.parametrize(
    ("looks", "then_k", "most_k"),
    [
        ([(9.0, 9.0, 10.0, 12.0)], {WEST: 0.0, EAST: 1.0, BENCH: 2.0}, {WEST: 0.0, EAST: 1.0, BENCH: 2.0}),
        (
            [(9.0, 9.0, 10.0, 12.0), (20.0, 24.0, 20.0, 20.0), (21.0, 21.0, 21.5, 30.0)],
            {WEST: 0.0, EAST: 1.0, BENCH: 2.0},
            {WEST: 4.0, EAST: 1.0, BENCH: 8.5},
        ),
        (
            [(9.0, 9.0, 10.0, 12.0), (20.0, 24.0, 20.0, 20.0), (5.0, 5.0, 6.5, None)],
            {WEST: 0.0, EAST: 1.5},
            {WEST: 4.0, EAST: 1.5, BENCH: 2.0},
        ),
        (
            [(9.0, 9.0, 10.0, None), (20.0, 20.0, 20.0, 23.0)],
            {WEST: 0.0, EAST: 1.0},
            {WEST: 0.0, EAST: 1.0, BENCH: 3.0},
        ),
        ([(9.0, 9.0, None, 12.0)], {BENCH: 3.0}, {BENCH: 3.0}),
        ([(9.0, None, None, 12.0)], {}, {}),
    ],
    ids=["at night", "by day", "a colder look", "bench answers later", "single ceiling", "no ceiling"],
)
def test_the_most_that_a_probe_was_warmer_than_its_place_is_kept(
    looks: list[tuple[float | None, ...]], then_k: dict[str, float], most_k: dict[str, float]
) -> None:
    """Ceilings against the coldest of them, the bench against the warmest; at the coldest and at most."""
    seen = START
    for ceiling, west, east, bench in looks:
        seen = air(seen, ceiling, west, east, bench)
    assert (today(seen).excess_then_k, today(seen).excess_k) == (then_k, most_k)


def two_looks(on: bool, for_s: float, **house: Any) -> Today:
    """The day after two looks, the south fan having been on or off for so long at the first."""
    outputs = {**LONG_OFF, SOUTH: OutputState(on=on, since_mono_s=NOW_S + LOOK_S - for_s)}
    return today(look(look(START, outputs=outputs, **house), outputs=outputs, **house))


AT_REST_S = 3 * HOUR_S


@pytest.mark.parametrize(
    ("for_s", "changes", "expected"),
    [
        (AT_REST_S, {}, (2, 3.0)),
        (AT_REST_S - A_HAIR, {}, (1, 1.5)),
        (AT_REST_S, {"bench": 14.0}, (2, 2.0)),
        (AT_REST_S, {"bench": 14.0 + A_HAIR}, None),
        (AT_REST_S, {"bench": 10.0}, (2, 6.0)),
        (AT_REST_S, {"bench": 10.0 - A_HAIR}, None),
        (AT_REST_S, {"bench": None}, None),
        (AT_REST_S, {"outlet": {"south": None}}, None),
        (AT_REST_S, {"soil": {"south": None}}, None),
        (AT_REST_S, {"soil": {"north": None}}, (2, 3.0)),
    ],
)
def test_an_outlet_at_rest_is_compared_with_the_middle_of_soil_and_bench(
    for_s: float, changes: dict[str, Any], expected: tuple[int, float] | None
) -> None:
    """Three hours after its fan has stopped, and where soil and bench are within two kelvin."""
    seen = two_looks(False, for_s, **({"bench": 13.0, "outlet": {"south": 14.0}} | changes))
    assert seen.resting == ({} if expected is None else {"south": expected})


@pytest.mark.parametrize(
    ("for_s", "changes", "expected"),
    [
        (LOOK_S, {}, (2, 1.5)),
        (LOOK_S - A_HAIR, {}, (1, 0.75)),
        (LOOK_S, {"ceiling": 17.0}, (2, 1.2)),
        (LOOK_S, {"ceiling": 17.0 - A_HAIR}, None),
        (LOOK_S, {"ceiling": 5.0, "outlet": {"south": 11.0}}, None),
    ],
)
def test_a_banking_loop_is_judged_by_its_share_of_the_difference(
    for_s: float, changes: dict[str, Any], expected: tuple[int, float] | None
) -> None:
    """A quarter of an hour after its start and from five kelvin of difference on; not while it warms."""
    seen = two_looks(True, for_s, **({"ceiling": 20.0, "outlet": {"south": 14.0}} | changes))
    assert seen.banking == ({} if expected is None else {"south": expected})


def test_a_loop_is_not_judged_without_the_roof() -> None:
    """A look at which no ceiling can be read adds nothing to what the loop has shown."""
    outputs = {**LONG_OFF, SOUTH: OutputState(on=True, since_mono_s=0.0)}
    seen = look(START, 20.0, outlet={"south": 14.0}, outputs=outputs)
    assert today(seen).banking == {"south": (1, 0.75)}
    seen = look(seen, None, outlet={"south": 14.0}, outputs=outputs)
    assert today(seen).banking == {"south": (1, 0.75)}


def test_a_colder_look_keeps_what_loops_have_shown_so_far() -> None:
    """Resting outlets and banking loops are added up over the whole day."""
    outputs = {**LONG_OFF, SOUTH: OutputState(on=True, since_mono_s=0.0)}
    seen = START
    for ceiling in (20.0, 19.0, 18.0):
        seen = look(seen, ceiling, outlet={"north": 13.0, "south": 12.0}, outputs=outputs)
    assert today(seen).resting == {"north": (3, 3.0)}
    assert today(seen).banking == {"south": (3, 3.0)}
    assert today(seen).coldest_c == 18.0
