"""One look at the outlets: whether air moves there, and what that says about the fan that should move it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from controller.decision.state import OutputState
from controller.diagnosis.outlet_records import NO_OUTLET_RECORD, OutletRecord, OutletWatch, unknown_outlets
from controller.diagnosis.outlets import air_moves, is_known, swapped, watched_outlets, welded
from controller.equipment import OutputId
from controller.readings.reading import Good, Missing, Reading, Why
from controller.readings.snapshot import LoopReadings
from controller.settings.schema.derived import DerivedLoop
from tests.decision.world import HOUSE, MINUTE_S, World

A_HAIR = 0.125  # a fraction that floats hold exactly
LOOK_S = 5 * MINUTE_S
NAMES = ("north", "middle", "south")
# With these, moving air keeps a quarter of the difference and still air half: 30 °C and 20 °C in a house of
# 40 °C over a soil of 0 °C, so that each kelvin between them is a tenth of the way.
LOOPS = tuple(DerivedLoop(name, OutputId.fan(name), "main", 100.0, 360.0, 100.0) for name in NAMES)
PLAN = replace(HOUSE.derived, loops=LOOPS)
TEMPLATE = World(settle=False).snapshot()
MOVING_C, JUST_MOVING_C, BETWEEN_C, JUST_STILL_C, STILL_C = 30.0, 27.0, 25.0, 23.0, 20.0


def good(value: float | None) -> Reading:
    """A reading, or none."""
    return Missing(Why.SILENT, 0.0) if value is None else Good(value, 0.0)


@pytest.mark.parametrize(
    ("ceiling_c", "bench_c", "soil_c", "outlet_c", "share"),
    [
        (40.0, 40.0, 0.0, 30.0, 1.0),
        (40.0, 40.0, 0.0, 20.0, 0.0),
        (40.0, 40.0, 0.0, 23.0, 0.3),
        (50.0, 50.0, 10.0, 40.0, 1.0),  # all is counted from the soil
        (50.0, 30.0, 10.0, 20.0, 0.0),
        (40.0, 20.0, 0.0, 30.0, 1.0),  # still air lies halfway to the bench
        (40.0, 20.0, 0.0, 10.0, 0.0),
        (40.0, None, 0.0, 27.0, 0.7),  # the ceiling stands in for the bench, and nothing for the others
        (None, 40.0, 0.0, 30.0, None),
        (40.0, 40.0, None, 30.0, None),
        (40.0, 40.0, 0.0, None, None),
        (5.0, 0.0, 0.0, 3.75, 1.0),  # five kelvin between roof and soil, by day and by night
        (5.0 - A_HAIR, 0.0, 0.0, 3.75, None),
        (-5.0, 0.0, 0.0, -3.75, 1.0),
        (-5.0 + A_HAIR, 0.0, 0.0, -3.75, None),
        (8.0, 8.0, 0.0, 6.0, 1.0),  # two kelvin between moving and still air
        (8.0, 8.0 + A_HAIR, 0.0, 6.0, None),
        (-8.0, -8.0, 0.0, -6.0, 1.0),
        (-8.0, -8.0 - A_HAIR, 0.0, -6.0, None),
        (8.0, 16.0, 0.0, 6.0, 1.0),
    ],
)
def test_an_outlet_lies_somewhere_between_still_and_moving_air(
    ceiling_c: float | None,
    bench_c: float | None,
    soil_c: float | None,
    outlet_c: float | None,
    share: float | None,
) -> None:
    """0 is still and 1 is moving; no answer where a reading is missing or both would read about the same."""
    readings = LoopReadings(good(soil_c), good(None), good(outlet_c))
    assert air_moves(LOOPS[0], good(ceiling_c), good(bench_c), readings) == share


class Outlets:
    """Three outlets under a roof of 40 °C over a soil of 0 °C, long settled, all still and all fans off."""

    def __init__(self) -> None:
        self.now_s = 2.0**20
        self.outlet: dict[str, float | None] = dict.fromkeys(NAMES, STILL_C)
        self.on: dict[str, bool] = dict.fromkeys(NAMES, False)
        self.since_s = dict.fromkeys(NAMES, 0.0)
        self.bench_c = 40.0
        self.watch = unknown_outlets(NAMES, self.now_s)

    def look(self, after_s: float = LOOK_S) -> OutletRecord:
        """Look once after this time; returns what is known of the north outlet."""
        self.now_s += after_s
        loops = {
            name: LoopReadings(good(0.0), good(None), good(value_c)) for name, value_c in self.outlet.items()
        }
        snapshot = TEMPLATE._replace(ceiling=good(40.0), bench=good(self.bench_c), loops=loops)
        outputs = {
            OutputId.fan(name): OutputState(on=on, since_mono_s=self.since_s[name])
            for name, on in self.on.items()
        }
        self.watch = watched_outlets(self.watch, PLAN, snapshot, outputs, self.now_s)
        return self.watch.records["north"]

    def looks(self, count: int) -> OutletRecord:
        """Look several times."""
        for _ in range(count - 1):
            self.look()
        return self.look()


@pytest.mark.parametrize(
    ("after_s", "counted_s"),
    [
        ((LOOK_S - A_HAIR,), 0.0),
        ((LOOK_S - A_HAIR, A_HAIR), LOOK_S),
        ((500.0,), 500.0),
        ((2 * LOOK_S + A_HAIR,), 2 * LOOK_S),
        ((LOOK_S,) * 7, 30 * MINUTE_S),
        ((500.0, 900.0, 500.0, 500.0), 30 * MINUTE_S),
    ],
)
def test_looks_are_five_minutes_apart_and_count_for_the_time_since_the_last(
    after_s: tuple[float, ...], counted_s: float
) -> None:
    """For ten minutes at most, so that a gap proves nothing; half an hour of either kind is enough."""
    outlets = Outlets()
    for pause_s in after_s:
        seen = outlets.look(pause_s)
    assert seen == OutletRecord(still_while_off_s=counted_s)


MOVES, STILL, UNASKED = (
    OutletRecord(moving_while_on_s=LOOK_S),
    OutletRecord(still_while_off_s=LOOK_S),
    OutletRecord(moving_while_off_s=LOOK_S),
)


@pytest.mark.parametrize(
    ("on", "for_s", "outlet_c", "expected"),
    [
        (True, 10 * MINUTE_S, JUST_MOVING_C, MOVES),
        (True, 10 * MINUTE_S - A_HAIR, JUST_MOVING_C, NO_OUTLET_RECORD),
        (True, 10 * MINUTE_S, JUST_MOVING_C - A_HAIR, NO_OUTLET_RECORD),
        (True, 10 * MINUTE_S, STILL_C, NO_OUTLET_RECORD),
        (True, 10 * MINUTE_S, None, NO_OUTLET_RECORD),
        (False, 30 * MINUTE_S, JUST_STILL_C, STILL),
        (False, 30 * MINUTE_S - A_HAIR, JUST_STILL_C, NO_OUTLET_RECORD),
        (False, 30 * MINUTE_S, JUST_STILL_C + A_HAIR, NO_OUTLET_RECORD),
        (False, 30 * MINUTE_S, JUST_MOVING_C, UNASKED),
        (False, 30 * MINUTE_S - A_HAIR, JUST_MOVING_C, NO_OUTLET_RECORD),
        (False, 30 * MINUTE_S, JUST_MOVING_C - A_HAIR, NO_OUTLET_RECORD),
        (False, 30 * MINUTE_S, None, NO_OUTLET_RECORD),
    ],
)
def test_an_outlet_is_judged_once_it_has_settled(
    on: bool, for_s: float, outlet_c: float | None, expected: OutletRecord
) -> None:
    """Ten minutes after a start and half an hour after a stop; what lies in between is no sign."""
    outlets = Outlets()
    outlets.on["north"], outlets.outlet["north"] = on, outlet_c
    outlets.since_s["north"] = outlets.now_s + LOOK_S - for_s
    assert outlets.look() == expected


@pytest.mark.parametrize("outlet_c", [None, BETWEEN_C])
@pytest.mark.parametrize("on", [True, False])
def test_a_look_that_shows_nothing_leaves_what_is_known(outlet_c: float | None, on: bool) -> None:
    """Only the time passes while outlets cannot be read or lie in between."""
    outlets = Outlets()
    before = outlets.look()
    outlets.outlet, outlets.on = dict.fromkeys(NAMES, outlet_c), dict.fromkeys(NAMES, on)
    assert outlets.look() == before
    assert outlets.watch.looked_s == outlets.now_s


@pytest.mark.parametrize(("outlet_c", "counted_s"), [(16.0, LOOK_S), (17.0, 0.0)])
def test_still_air_is_that_of_the_bench(outlet_c: float, counted_s: float) -> None:
    """In a cool house under a hot roof an outlet at 16 °C is still, and at 17 °C neither."""
    outlets = Outlets()
    outlets.bench_c, outlets.outlet["north"] = 20.0, outlet_c
    assert outlets.look() == OutletRecord(still_while_off_s=counted_s)


HALF_AN_HOUR_S = 30 * MINUTE_S


@pytest.mark.parametrize(
    ("question", "enough"),
    [
        (is_known, OutletRecord(moving_while_on_s=HALF_AN_HOUR_S, still_while_off_s=HALF_AN_HOUR_S)),
        (welded, OutletRecord(moving_while_off_s=HALF_AN_HOUR_S, still_while_off_s=HALF_AN_HOUR_S)),
        (swapped, OutletRecord(other_moved_s=15 * MINUTE_S, other_loop="south")),
    ],
)
def test_signs_must_have_lasted(question: object, enough: OutletRecord) -> None:
    """Half an hour of both looks before outlets are trusted, and of air unasked; half of it if crossed."""
    assert callable(question)
    assert question(enough)
    for name in ("moving_while_on_s", "still_while_off_s", "moving_while_off_s", "other_moved_s"):
        if seen_s := getattr(enough, name):
            assert not question(enough._replace(**{name: seen_s - 1.0}))


def test_a_house_that_has_shown_both_looks_of_an_outlet_is_trusted_from_then_on() -> None:
    """Half an hour still and half an hour moving; later nothing more is counted, and it stays so."""
    outlets = Outlets()
    outlets.looks(6)
    outlets.on["north"], outlets.outlet["north"] = True, MOVING_C
    outlets.looks(5)
    assert not outlets.watch.known
    enough = OutletRecord(moving_while_on_s=HALF_AN_HOUR_S, still_while_off_s=HALF_AN_HOUR_S)
    assert outlets.look() == outlets.look() == enough
    assert outlets.watch.known
    outlets.watch = OutletWatch(outlets.now_s, unknown_outlets(NAMES, 0.0).records, known=True)
    outlets.look()
    assert outlets.watch.known


def test_air_without_a_command_is_counted_until_it_stops() -> None:
    """Half an hour of it, in an outlet that has looked still for as long before; one still look ends it."""
    outlets = Outlets()
    outlets.looks(6)
    outlets.outlet["north"] = MOVING_C
    assert not welded(outlets.looks(5))
    assert welded(outlets.look())
    assert outlets.look().moving_while_off_s == HALF_AN_HOUR_S
    outlets.outlet["north"] = STILL_C
    assert outlets.look() == OutletRecord(still_while_off_s=HALF_AN_HOUR_S)


def crosswise() -> Outlets:
    """North runs and its outlet is still; the south outlet moves although its fan is off."""
    outlets = Outlets()
    outlets.on["north"] = True
    outlets.outlet["south"] = MOVING_C
    return outlets


BY_SOUTH = OutletRecord(other_moved_s=LOOK_S, other_loop="south")


@pytest.mark.parametrize(
    ("outlets_c", "north", "middle", "south"),
    [
        ({}, BY_SOUTH, STILL, NO_OUTLET_RECORD),
        ({"north": JUST_STILL_C, "south": JUST_MOVING_C}, BY_SOUTH, STILL, NO_OUTLET_RECORD),
        ({"north": JUST_STILL_C + A_HAIR}, NO_OUTLET_RECORD, STILL, UNASKED),
        ({"north": MOVING_C}, MOVES, STILL, UNASKED),
        ({"north": None}, NO_OUTLET_RECORD, STILL, UNASKED),
        ({"south": JUST_MOVING_C - A_HAIR}, NO_OUTLET_RECORD, STILL, NO_OUTLET_RECORD),
        ({"south": None}, NO_OUTLET_RECORD, STILL, NO_OUTLET_RECORD),
        ({"middle": MOVING_C}, NO_OUTLET_RECORD, UNASKED, UNASKED),
    ],
    ids=[
        "south answers north",
        "just so",
        "north not still enough",
        "north moves its own air",
        "north silent",
        "south not moving enough",
        "south silent",
        "two answer",
    ],
)
def test_air_that_a_running_fan_does_not_move_is_looked_for_elsewhere(
    outlets_c: dict[str, float | None], north: OutletRecord, middle: OutletRecord, south: OutletRecord
) -> None:
    """One other outlet that moves answers; of two nobody knows, and without a suspect it moves unasked."""
    outlets = crosswise()
    outlets.outlet |= outlets_c
    outlets.look()
    assert outlets.watch.records == {"north": north, "middle": middle, "south": south}


@pytest.mark.parametrize("north_c", [BETWEEN_C, None])
def test_only_the_loop_that_looks_still_is_suspected(north_c: float | None) -> None:
    """Of two fans that run, the one whose outlet lies in between or cannot be read is left alone."""
    outlets = crosswise()
    outlets.on["middle"], outlets.outlet["north"] = True, north_c
    outlets.look()
    assert outlets.watch.records == {"north": NO_OUTLET_RECORD, "middle": BY_SOUTH, "south": NO_OUTLET_RECORD}


def test_only_the_same_answer_time_and_again_is_a_sign_of_crossed_fans() -> None:
    """A quarter of an hour of it is enough and no more is counted; another answer begins anew."""
    outlets = crosswise()
    assert not swapped(outlets.looks(2))
    assert swapped(outlets.look())
    assert outlets.look() == OutletRecord(other_moved_s=15 * MINUTE_S, other_loop="south")
    outlets.outlet |= {"south": STILL_C, "middle": MOVING_C}
    assert outlets.look() == OutletRecord(other_moved_s=LOOK_S, other_loop="middle")


def test_a_fan_that_moves_its_own_air_alone_is_cleared_of_suspicion() -> None:
    """With the other fan off it must be its own air; with the other on it may be that one's."""
    outlets = crosswise()
    outlets.look()
    outlets.outlet["north"] = MOVING_C
    outlets.on["south"] = True
    assert outlets.look() == MOVES._replace(other_moved_s=LOOK_S, other_loop="south")
    outlets.on["south"], outlets.outlet["south"] = False, STILL_C
    assert outlets.look() == OutletRecord(moving_while_on_s=2 * LOOK_S)
