"""Outlets at the very values at which they are judged, look by look."""

from __future__ import annotations

from dataclasses import replace

import pytest

from controller.decision.heat import LoopPlan, plan_for
from controller.decision.state import OutputState
from controller.diagnosis.outlet_records import OutletRecord, OutletWatch, unknown_outlets
from controller.diagnosis.outlets import air_moves, is_known, swapped, watched_outlets, welded
from controller.equipment import OutputId
from controller.readings.reading import Good, Missing, Reading, Why
from controller.readings.snapshot import LoopReadings
from tests.decision.world import HOUSE, World

A_HAIR = 0.125  # a fraction that floats hold exactly
NAMES = ("north", "middle", "south")
# With these, moving air keeps a quarter of the difference and still air half: 30 °C and 20 °C in a house of
# 40 °C over a soil of 0 °C, so that each kelvin between them is a tenth of the way.
LOOPS = tuple(LoopPlan(name, OutputId.fan(name), "main", 100.0, 360.0, 100.0) for name in NAMES)
PLAN = replace(plan_for(HOUSE), loops=LOOPS)
TEMPLATE = World(settle=False).snapshot()
MOVING_C, STILL_C, BETWEEN_C = 30.0, 20.0, 25.0
SILENT = Missing(Why.SILENT, 0.0)


def good(value: float | None) -> Reading:
    """A reading, or none."""
    return SILENT if value is None else Good(value, 0.0)


def moves(
    ceiling: float | None, bench: float | None, soil: float | None, outlet: float | None
) -> float | None:
    """How much the outlet looks like moving air."""
    return air_moves(LOOPS[0], good(ceiling), good(bench), LoopReadings(good(soil), SILENT, good(outlet)))


@pytest.mark.parametrize(
    ("ceiling", "bench", "outlet", "expected"),
    [
        (40.0, 40.0, 30.0, 1.0),
        (40.0, 40.0, 20.0, 0.0),
        (40.0, 40.0, 23.0, 0.3),
        (40.0, None, 27.0, 0.7),
        (40.0, 20.0, 30.0, 1.0),
        (40.0, 20.0, 10.0, 0.0),
        (5.0, 0.0, 3.75, 1.0),
        (5.0 - A_HAIR, 0.0, 3.75, None),
        (-5.0, 0.0, -3.75, 1.0),
        (-5.0 + A_HAIR, 0.0, -3.75, None),
        (8.0, 8.0, 6.0, 1.0),
        (8.0, 8.0 + A_HAIR, 6.0, None),
        (-8.0, -8.0, -6.0, 1.0),
        (-8.0, -8.0 - A_HAIR, -6.0, None),
        (8.0, 16.0, 6.0, 1.0),
    ],
)
def test_an_outlet_lies_somewhere_between_still_and_moving_air(
    ceiling: float, bench: float | None, outlet: float, expected: float | None
) -> None:
    """From five kelvin between roof and soil, where moving and still air are two kelvin apart."""
    assert moves(ceiling, bench, 0.0, outlet) == expected


def test_all_is_counted_from_the_soil() -> None:
    """A soil ten kelvin warmer under a house ten kelvin warmer changes nothing."""
    assert moves(50.0, 50.0, 10.0, 40.0) == 1.0
    assert moves(50.0, 30.0, 10.0, 20.0) == 0.0


@pytest.mark.parametrize("missing", [0, 2, 3])
def test_without_roof_soil_or_outlet_nothing_is_judged(missing: int) -> None:
    """The bench alone can be stood in for."""
    seen = [40.0, 40.0, 0.0, 30.0]
    assert moves(*(None if place == missing else value for place, value in enumerate(seen))) is None


class Outlets:
    """Three outlets under a roof of 40 °C over a soil of 0 °C, long settled, all still and all fans off."""

    def __init__(self) -> None:
        self.now_s = 2.0**20
        self.outlet: dict[str, float | None] = dict.fromkeys(NAMES, STILL_C)
        self.on: dict[str, bool] = dict.fromkeys(NAMES, False)
        self.since_s = dict.fromkeys(NAMES, 0.0)
        self.bench_c = 40.0
        self.watch = unknown_outlets(NAMES, self.now_s)

    def look(self, after_s: float = 300.0) -> OutletRecord:
        """Look once after this time; returns what is known of the north outlet."""
        self.now_s += after_s
        loops = {
            name: LoopReadings(good(0.0), SILENT, good(value_c)) for name, value_c in self.outlet.items()
        }
        snapshot = TEMPLATE._replace(ceiling=good(40.0), bench=good(self.bench_c), loops=loops)
        outputs = {
            OutputId.fan(name): OutputState(on=on, since_mono_s=self.since_s[name])
            for name, on in self.on.items()
        }
        self.watch = watched_outlets(self.watch, PLAN, snapshot, outputs, self.now_s)
        return self.watch.signs["north"]


def test_outlets_are_looked_at_every_five_minutes() -> None:
    """Not a moment sooner, and a look counts for the time since the last, ten minutes at most."""
    outlets = Outlets()
    before = outlets.watch
    outlets.look(300.0 - A_HAIR)
    assert outlets.watch is before
    assert outlets.look(A_HAIR) == OutletRecord(still_while_off_s=300.0)
    assert outlets.watch.looked_s == outlets.now_s
    assert outlets.look(500.0) == OutletRecord(still_while_off_s=800.0)
    assert outlets.look(900.0) == OutletRecord(still_while_off_s=1400.0)
    assert outlets.look(600.0) == OutletRecord(still_while_off_s=1800.0)
    assert outlets.look() == OutletRecord(still_while_off_s=1800.0)


def test_a_look_that_shows_nothing_only_passes_the_time() -> None:
    """Outlets that cannot be read, or lie in between, leave all signs as they were."""
    outlets = Outlets()
    before = outlets.look()
    for value_c in (None, BETWEEN_C):
        outlets.outlet = dict.fromkeys(NAMES, value_c)
        assert outlets.look() == before
        assert outlets.watch.looked_s == outlets.now_s
        outlets.on = dict.fromkeys(NAMES, True)
        assert outlets.look() == before


@pytest.mark.parametrize(
    ("on", "value_c", "settles_s", "expected"),
    [
        (True, 27.0, 600.0, OutletRecord(moving_while_on_s=300.0)),
        (False, 23.0, 1800.0, OutletRecord(still_while_off_s=300.0)),
        (False, 27.0, 1800.0, OutletRecord(moving_while_off_s=300.0)),
    ],
)
def test_a_fan_is_judged_once_its_outlet_has_settled(
    on: bool, value_c: float, settles_s: float, expected: OutletRecord
) -> None:
    """Ten minutes after a start and half an hour after a stop, to the moment, at the very limits of both."""
    for after_s, signs in ((settles_s - A_HAIR, OutletRecord()), (settles_s, expected)):
        outlets = Outlets()
        outlets.on["north"], outlets.outlet["north"] = on, value_c
        outlets.since_s["north"] = outlets.now_s + 300.0 - after_s
        assert outlets.look() == signs


@pytest.mark.parametrize("value_c", [27.0 - A_HAIR, 23.0 + A_HAIR])
@pytest.mark.parametrize("on", [True, False])
def test_what_looks_neither_still_nor_moving_is_no_sign(value_c: float, on: bool) -> None:
    """A hair past either limit nothing is counted."""
    outlets = Outlets()
    outlets.on["north"], outlets.outlet["north"] = on, value_c
    assert outlets.look() == OutletRecord()


def test_a_house_tells_once_an_outlet_has_looked_both_ways_for_half_an_hour() -> None:
    """Seconds short of it in either it does not, and it stays so when nothing is seen any more."""
    outlets = Outlets()
    for _ in range(6):
        outlets.look()
    outlets.on["north"], outlets.outlet["north"] = True, MOVING_C
    for _ in range(5):
        outlets.look()
        assert not outlets.watch.tells
    assert outlets.look() == OutletRecord(moving_while_on_s=1800.0, still_while_off_s=1800.0)
    assert outlets.watch.tells
    assert outlets.look() == OutletRecord(moving_while_on_s=1800.0, still_while_off_s=1800.0)
    outlets.watch = OutletWatch(outlets.now_s, unknown_outlets(NAMES, 0.0).signs, is_known=True)
    outlets.look()
    assert outlets.watch.tells
    assert not is_known(OutletRecord(moving_while_on_s=1799.0, still_while_off_s=1800.0))
    assert not is_known(OutletRecord(moving_while_on_s=1800.0, still_while_off_s=1799.0))


def test_air_without_a_command_is_counted_until_it_stops() -> None:
    """Half an hour of it, in an outlet that has looked still for as long before; one still look ends it."""
    outlets = Outlets()
    for _ in range(7):
        outlets.look()
    outlets.outlet["north"] = MOVING_C
    for _ in range(5):
        assert not welded(outlets.look())
    assert welded(outlets.look())
    assert outlets.look().moving_while_off_s == 1800.0
    outlets.outlet["north"] = STILL_C
    assert outlets.look() == OutletRecord(still_while_off_s=1800.0)
    assert not welded(OutletRecord(moving_while_off_s=1799.0, still_while_off_s=1800.0))
    assert not welded(OutletRecord(moving_while_off_s=1800.0, still_while_off_s=1799.0))


def crosswise() -> Outlets:
    """North runs and its outlet is still; the south outlet moves although its fan is off."""
    outlets = Outlets()
    outlets.on["north"] = True
    outlets.outlet["south"] = MOVING_C
    return outlets


def test_another_outlet_that_answers_is_counted_for_the_fan_that_is_on() -> None:
    """A quarter of an hour of it is enough; the outlet that answers is not taken to move unasked."""
    outlets = crosswise()
    assert outlets.look() == OutletRecord(other_moved_s=300.0, other_loop="south")
    outlets.look()
    assert not swapped(outlets.watch.signs["north"])
    assert swapped(outlets.look())
    assert outlets.look() == OutletRecord(other_moved_s=900.0, other_loop="south")
    assert outlets.watch.signs["south"] == OutletRecord()
    assert outlets.watch.signs["middle"] == OutletRecord(still_while_off_s=1200.0)


def test_an_outlet_just_still_enough_is_suspected_like_any_other() -> None:
    """At the very limit its air is looked for elsewhere, and a hair above it is not."""
    for value_c, north, south in (
        (23.0, OutletRecord(other_moved_s=300.0, other_loop="south"), OutletRecord()),
        (23.0 + A_HAIR, OutletRecord(), OutletRecord(moving_while_off_s=300.0)),
    ):
        outlets = crosswise()
        outlets.outlet["north"] = value_c
        assert outlets.look() == north
        assert outlets.watch.signs["south"] == south


def test_only_the_loop_that_looks_still_is_suspected() -> None:
    """A second fan that runs, with an outlet in between or one that cannot be read, is left alone."""
    for value_c in (BETWEEN_C, None):
        outlets = crosswise()
        outlets.on["middle"], outlets.outlet["middle"] = True, STILL_C
        outlets.outlet |= {"north": value_c, "south": 27.0}
        assert outlets.look() == OutletRecord()
        assert outlets.watch.signs["middle"] == OutletRecord(other_moved_s=300.0, other_loop="south")
        assert outlets.watch.signs["south"] == OutletRecord()


def test_still_air_is_that_of_the_bench() -> None:
    """In a cool house under a hot roof an outlet at 16 °C is still, and at 17 °C neither."""
    outlets = Outlets()
    outlets.bench_c, outlets.outlet["north"] = 20.0, 16.0
    assert outlets.look() == OutletRecord(still_while_off_s=300.0)
    outlets.outlet["north"] = 17.0
    assert outlets.look() == OutletRecord(still_while_off_s=300.0)


def test_another_answer_begins_the_count_anew() -> None:
    """Only one and the same outlet time and again is a sign of crossed wires."""
    outlets = crosswise()
    outlets.look()
    outlets.look()
    outlets.outlet |= {"south": STILL_C, "middle": MOVING_C}
    assert outlets.look() == OutletRecord(other_moved_s=300.0, other_loop="middle")


def test_two_outlets_that_move_unasked_answer_nobody() -> None:
    """Of two nobody knows which belongs to the fan, so both are counted as unasked."""
    outlets = crosswise()
    outlets.outlet["middle"] = MOVING_C
    assert outlets.look() == OutletRecord()
    assert outlets.watch.signs["south"] == OutletRecord(moving_while_off_s=300.0)
    assert outlets.watch.signs["middle"] == OutletRecord(moving_while_off_s=300.0)


def test_an_outlet_moves_unasked_while_the_fan_that_is_on_moves_its_own() -> None:
    """Nobody looks for its air elsewhere then; nor where the other cannot be judged."""
    for value_c in (MOVING_C, None):
        outlets = crosswise()
        outlets.outlet["north"] = value_c
        outlets.look()
        assert outlets.watch.signs["north"].other_loop == ""
        assert outlets.watch.signs["south"] == OutletRecord(moving_while_off_s=300.0)


def test_a_silent_outlet_answers_nobody() -> None:
    """An outlet that cannot be read is not taken to move."""
    outlets = crosswise()
    outlets.outlet["south"] = None
    assert outlets.look() == OutletRecord()
    outlets.outlet["south"] = 27.0 - A_HAIR
    assert outlets.look() == OutletRecord()


def test_a_fan_that_moves_its_own_air_alone_is_cleared_of_suspicion() -> None:
    """With the other fan off it must be its own air; with the other on it may be that one's."""
    outlets = crosswise()
    outlets.look()
    outlets.outlet |= {"north": MOVING_C, "south": MOVING_C}
    outlets.on["south"] = True
    assert outlets.look() == OutletRecord(moving_while_on_s=300.0, other_moved_s=300.0, other_loop="south")
    outlets.on["south"], outlets.outlet["south"] = False, STILL_C
    assert outlets.look() == OutletRecord(moving_while_on_s=600.0)
