"""In which order loops give warmth back to a cold house: the warmest soil first, in frost all at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.readings.reading import Level, Why
from controller.settings.load import load
from tests.decision.world import FILE, HOUR_S, HOUSE, MINUTE_S, World, settings_with, two_sumps

if TYPE_CHECKING:
    from collections.abc import Callable

    from controller.settings.schema import Settings

FANS, POINTS = HOUSE.fans, HOUSE.setpoints
SPREAD_K, BAND_K = FANS.return_spread_k, POINTS.air_deadband_k
A_LITTLE_K = 0.05
# Motors that may switch often, so that a test sees the rule and not the motor's limits.
NIMBLE_FANS = {"minimum_run_s": 60.0, "purge_s": 60.0, "minimum_rest_s": 60.0, "starts_per_hour": 12}
ALL = ["north", "middle", "south"]


def graded(spread_k: float = SPREAD_K) -> World:
    """A winter house in which the middle loop has the warmest soil and the north loop the coldest."""
    world = World(settings_with(fans=NIMBLE_FANS | {"return_spread_k": spread_k}))
    world.soil_c |= {"north": 11.0, "middle": 13.0, "south": 12.0}
    return world


def colder_by(world: World, below_k: float, demand: str = "heat") -> list[str]:
    """The loops that return warmth with the air this far below the heating setpoint."""
    world.ceiling_c = world.bench_c = POINTS.heat_below_c - below_k
    world.run(5 * MINUTE_S)
    on = [loop for loop in world.settings.loops if world.fan(loop)]
    assert all(world.demand(loop) == demand for loop in on)
    return on


@pytest.mark.parametrize(
    ("spread_k", "colder"),
    [
        (
            spread_k,
            [
                (-A_LITTLE_K, []),
                (0.0, ["middle"]),
                (spread_k / 2.0 - A_LITTLE_K, ["middle"]),
                (spread_k / 2.0 + A_LITTLE_K, ["middle", "south"]),
                (spread_k - A_LITTLE_K, ["middle", "south"]),
                (spread_k + A_LITTLE_K, ALL),
            ],
        )
        for spread_k in (SPREAD_K, 2.0)
    ]
    + [(0.0, [(-A_LITTLE_K, []), (0.0, ALL)])],
    ids=["as shipped", "wide", "none"],
)
def test_loops_start_one_after_the_other_the_warmest_soil_first(
    spread_k: float, colder: list[tuple[float, list[str]]]
) -> None:
    """The first at the heating setpoint, the last where the air is colder by the whole spread."""
    world = graded(spread_k)
    assert [(below_k, colder_by(world, below_k)) for below_k, _ in colder] == colder
    assert [world.stops(loop) for loop in ALL] == [[]] * 3


def test_loops_stop_one_after_the_other_the_coldest_soil_first() -> None:
    """As the air warms up each stops a deadband above where it started."""
    world = graded()
    colder_by(world, SPREAD_K + A_LITTLE_K)
    warmer = [
        (SPREAD_K - BAND_K + A_LITTLE_K, ALL),
        (SPREAD_K - BAND_K - A_LITTLE_K, ["middle", "south"]),
        (SPREAD_K / 2.0 - BAND_K - A_LITTLE_K, ["middle"]),
        (-BAND_K - A_LITTLE_K, []),
    ]
    assert [(below_k, colder_by(world, below_k)) for below_k, _ in warmer] == warmer


def test_a_loop_keeps_its_turn_while_it_runs() -> None:
    """Although another soil is warmer by now."""
    world = graded()
    assert colder_by(world, 0.0) == ["middle"]
    world.soil_c |= {"north": 13.5, "middle": 10.0, "south": 14.0}
    assert colder_by(world, 0.0) == ["middle"]
    assert colder_by(world, SPREAD_K / 2.0 + A_LITTLE_K) == ["middle", "south"]
    assert world.stops("middle") == []


def test_in_frost_no_loop_waits_for_another() -> None:
    """At the frost limit every loop gives what it has, however wide the spread."""
    assert colder_by(graded(5.0), POINTS.heat_below_c - POINTS.frost_limit_c, "frost") == ALL


def test_a_loop_whose_turn_has_not_come_says_so() -> None:
    """With the air cold enough for the first loop only, the others name the air at which they follow."""
    world = graded(2.0)
    assert colder_by(world, 0.5) == ["middle"]
    assert (
        world.why("south")
        == "other loops warm the house; this one helps once the air falls below 3.5 °C (now 4.0 °C)"
    )
    assert (
        world.why("north")
        == "other loops warm the house; this one helps once the air falls below 2.5 °C (now 4.0 °C)"
    )
    colder_by(world, -A_LITTLE_K)
    assert "other loops" not in world.why("south")


def backing_off(world: World, for_s: float = HOUR_S) -> None:
    """The south loop has failed and is not tried again for this long."""
    fans = world.state.fans
    south = fans["south"]._replace(failed_runs=1, back_off_until_s=world.now_s + for_s)
    world.state = world.state._replace(fans={**fans, "south": south})


def draining(world: World) -> None:
    """The tubes of the south loop have just been under water."""
    world.level["low"] = Level.WET
    world.tick()
    world.level["low"] = Level.DRY


BLOCKS: dict[str, Callable[[World], None]] = {
    "flood": lambda world: world.level.update(low=Level.WET),
    "float unreadable": lambda world: world.level.update(low=Why.UNREADABLE),
    "draining": draining,
    "root zone cold": lambda world: world.root_c.update(south=POINTS.root_zone_min_c),
    "soil unknown": lambda world: world.soil_c.update(south=Why.SILENT),
    "back-off": backing_off,
}


def warmest_south() -> World:
    """A winter house whose south loop has the warmest soil and a sump of its own."""
    world = World(settings_with(two_sumps(), fans=NIMBLE_FANS))
    world.soil_c |= {"north": 11.0, "middle": 12.0, "south": 13.0}
    return world


@pytest.mark.parametrize("block", BLOCKS.values(), ids=BLOCKS)
def test_a_loop_that_cannot_start_leaves_its_turn_to_the_others(block: Callable[[World], None]) -> None:
    """Whatever keeps the warmest soil from giving, the next warmest is the first and the third the second."""
    world = warmest_south()
    block(world)
    assert colder_by(world, 0.0) == ["middle"]
    assert colder_by(world, SPREAD_K / 2.0 + A_LITTLE_K) == ["north", "middle"]


def test_a_loop_whose_back_off_is_over_has_its_turn_again() -> None:
    """A failed run of long ago costs the warmest soil nothing."""
    world = warmest_south()
    backing_off(world, -1.0)
    assert colder_by(world, 0.0) == ["south"]


def test_a_single_loop_is_always_the_first() -> None:
    """A house with one loop returns warmth at its heating setpoint."""
    settings: Settings = load(FILE.with_name("one-loop.toml"))
    world = World(settings)
    assert colder_by(world, POINTS.heat_below_c - settings.setpoints.heat_below_c) == list(settings.loops)
