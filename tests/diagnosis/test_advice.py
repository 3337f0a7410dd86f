"""What a person is advised to do, from the probes alone, and what is never said."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.decision.decide import initial_state
from controller.diagnosis.advice import (
    NOTHING_WATCHED,
    Advice,
    AdviceCode,
    AirWatch,
    Mark,
    advice,
    watched_air,
)
from controller.faults import HOUR_S
from controller.readings.reading import Good, Missing, Reading, Why
from controller.units import TemperatureUnit
from tests.decision.world import HOUSE, MINUTE_S, World

if TYPE_CHECKING:
    from controller.readings.snapshot import Snapshot

NOW_S = 100_000.0
COOL_NIGHT_C, MILD_NIGHT_C = 6.0, 15.0
SEEN = World(settle=False).snapshot()
KEEP_C = 18.5  # half-way between the comfort floor and cool_above of the example house


def reading(value: float | Why) -> Reading:
    """A reading of now."""
    return Missing(value, NOW_S) if isinstance(value, Why) else Good(value, NOW_S)


def seen(bench: float | Why, outdoor: float | Why, ceiling: float | Why = 36.0) -> Snapshot:
    """What the air probes read."""
    return SEEN._replace(bench=reading(bench), outdoor=reading(outdoor), ceiling=reading(ceiling))


def given(
    snapshot: Snapshot, watch: AirWatch = NOTHING_WATCHED, coldest_c: float | None = COOL_NIGHT_C
) -> Advice | None:
    """The advice, after nights as cold as that."""
    state = initial_state(HOUSE, NOW_S)
    state = state._replace(need=state.need._replace(coldest_c=coldest_c))
    return advice(watched_air(watch, snapshot, HOUSE, NOW_S), snapshot, state, HOUSE, NOW_S)


@pytest.mark.parametrize(
    ("bench", "outdoor", "ceiling", "words"),
    [
        (
            33.0,
            21.0,
            40.0,
            "open doors and vents, or shade the house: 21.0 °C outdoors, 33.0 °C at the bench",
        ),
        (
            33.0,
            30.5,
            40.0,
            "shade the house: 30.5 °C outdoors, 33.0 °C at the bench, so open doors cool it little",
        ),
        (
            33.0,
            Why.NOT_FITTED,
            40.0,
            "open doors and vents, or shade the house: 33.0 °C at the bench; no reading from outdoors",
        ),
        (
            Why.SILENT,
            21.0,
            40.0,
            "open doors and vents, or shade the house: 21.0 °C outdoors, 40.0 °C at the ceiling",
        ),
        (31.9, 21.0, 40.0, None),
        (Why.SILENT, 21.0, Why.SILENT, None),
    ],
)
def test_a_hot_house_is_to_be_opened_where_that_helps(
    bench: float | Why, outdoor: float | Why, ceiling: float | Why, words: str | None
) -> None:
    """With the numbers of the probes that were read, and of no other."""
    found = given(seen(bench, outdoor, ceiling))
    assert (None if found is None else found.sentence(TemperatureUnit.CELSIUS, "12:00")) == words


def test_advice_for_the_heat_has_the_deadband_of_cooling() -> None:
    """It comes at the setpoint and goes a kelvin below it."""
    hot = watched_air(NOTHING_WATCHED, seen(32.0, 20.0), HOUSE, NOW_S)
    assert given(seen(31.0, 20.0), hot) is not None
    assert given(seen(30.9, 20.0), hot) is None
    assert given(seen(31.0, 20.0)) is None


def test_nobody_is_advised_to_let_air_to_a_fire() -> None:
    """While a fire signature is latched no advice is given."""
    snapshot = seen(50.0, 20.0)
    state = initial_state(HOUSE, NOW_S)
    state = state._replace(fire=state.fire._replace(latched_detail="bench reads 70.0 °C"))
    watch = watched_air(NOTHING_WATCHED, snapshot, HOUSE, NOW_S)
    assert advice(watch, snapshot, state, HOUSE, NOW_S) is None


def evening(bench_c: float = 24.5, outdoor_c: float = 12.0, for_s: float = HOUR_S) -> AirWatch:
    """The air as it was some time ago."""
    return AirWatch(marks=(Mark(NOW_S - for_s, bench_c, outdoor_c),))


@pytest.mark.parametrize(
    ("snapshot", "watch", "coldest_c", "left_s"),
    [
        (seen(21.5, 10.0), evening(), COOL_NIGHT_C, HOUR_S),
        (seen(KEEP_C, 10.0), evening(), COOL_NIGHT_C, 0.0),
        (seen(KEEP_C - 2.9, 10.0), evening(), COOL_NIGHT_C, 0.0),
        (seen(KEEP_C - 3.1, 10.0), evening(), COOL_NIGHT_C, None),
        (seen(21.5, 10.0), evening(), MILD_NIGHT_C, None),
        (seen(21.5, 10.0), evening(), None, None),
        (seen(21.5, 13.0), evening(), COOL_NIGHT_C, None),
        (seen(21.5, 19.0), evening(outdoor_c=20.0), COOL_NIGHT_C, None),
        (seen(21.5, Why.SILENT), evening(), COOL_NIGHT_C, None),
        (seen(Why.SILENT, 10.0, 21.5), evening(), COOL_NIGHT_C, None),
        (seen(24.0, 10.0), evening(), COOL_NIGHT_C, None),
        (seen(23.5, 10.0), evening(25.0), COOL_NIGHT_C, None),
        (seen(21.5, 10.0), evening(for_s=29 * MINUTE_S), COOL_NIGHT_C, None),
        (seen(21.5, 10.0), NOTHING_WATCHED, COOL_NIGHT_C, None),
    ],
    ids=[
        "an hour is left at 3 K an hour",
        "none is left",
        "the warmth is going",
        "it has gone",
        "nights are mild",
        "nothing is known of the nights",
        "it grows warmer outdoors, so this is no evening",
        "it is as warm outdoors as what is worth keeping",
        "nothing is known of outdoors",
        "nothing is known of the bench",
        "it falls too slowly to speak of",
        "there is more time than a trend is good for",
        "a trend takes half an hour",
        "nothing has been watched",
    ],
)
def test_a_house_is_to_be_closed_in_time_before_a_cool_night(
    snapshot: Snapshot, watch: AirWatch, coldest_c: float | None, left_s: float | None
) -> None:
    """As the bench falls, while there is warmth to keep, a cooler evening outdoors and cool nights lately."""
    found = given(snapshot, watch, coldest_c)
    assert (None if found is None else found.left_s) == (None if left_s is None else pytest.approx(left_s))
    assert found is None or found.code is AdviceCode.CLOSE


@pytest.mark.parametrize(
    ("left_s", "by", "when"),
    [(3600.0, "17:40", "by 17:40"), (3600.0, None, "within 60 min"), (0.0, "17:40", "now")],
)
def test_the_time_to_close_is_a_time_of_day_only_where_the_clock_is_set(
    left_s: float, by: str | None, when: str
) -> None:
    """Otherwise it is a duration, and no time at all once it is over."""
    words = Advice(AdviceCode.CLOSE, 21.5, "bench", 10.0, left_s, 3.0).sentence(TemperatureUnit.CELSIUS, by)
    assert words == (
        f"close doors and vents {when} to keep the warmth: 21.5 °C at the bench, falling by 3.0 K an hour; "
        "10.0 °C outdoors"
    )


def test_the_air_of_the_last_hour_is_kept_and_no_more() -> None:
    """A mark every ten minutes; a lost probe ends the trend, for nobody knows what happened meanwhile."""
    watch = NOTHING_WATCHED
    for minute in range(181):
        snapshot = seen(25.0, 12.0)
        watch = watched_air(watch, snapshot, HOUSE, NOW_S + minute * MINUTE_S)
    assert len(watch.marks) == 7
    assert watch.marks[0].at_s == NOW_S + 120 * MINUTE_S
    assert watched_air(watch, seen(25.0, Why.SILENT), HOUSE, NOW_S + 3 * HOUR_S).marks == ()


def test_advice_comes_with_every_tick() -> None:
    """A house that is hot all the same is said to be, whatever the fans do."""
    world = World()
    world.ceiling_c, world.bench_c, world.outdoor_c = 45.0, 38.0, 24.0
    world.run(10 * MINUTE_S)
    assert world.record is not None
    assert world.record.diagnosis.advice == Advice(AdviceCode.OPEN, 38.0, "bench", 24.0)
    assert world.demand() == "cool"
