"""What the fans do for a house: bank its noons for cold nights, warm it, and rest when it needs nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.readings.reading import Why
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World, settings_with

if TYPE_CHECKING:
    from controller.settings.schema import Settings

POINTS, FANS = HOUSE.setpoints, HOUSE.fans
COLD_NIGHT_C, WARM_NIGHT_C = 2.0, 24.0
FULL_C = 17.1  # soil in which the shipped house banks no more after warm nights
UNCOOLED = settings_with(setpoints={"cooling": False})
PURGED = settings_with(setpoints={"night_purge": True})
# Motors that may switch often, so that a test sees the rule and not the motor's limits.
NIMBLE_FANS = {"minimum_run_s": 60.0, "purge_s": 60.0, "minimum_rest_s": 60.0, "starts_per_hour": 12}
DEAR, VERY_DEAR = (settings_with(fans={"heat_per_watt": heat}) for heat in (20.0, 50.0))
CHOOSY = settings_with(fans={"useful_difference_k": 5.0})


def house(settings: Settings = HOUSE, night_c: float = COLD_NIGHT_C, soil_c: float = 14.0) -> World:
    """A house that has lately had such a night, over such soil."""
    world = World(settings)
    world.remember_need(night_c)
    world.soil_c = dict.fromkeys(settings.loops, soil_c)
    return world


@pytest.mark.parametrize(
    ("settings", "night_c", "air_c", "soil_c", "demand"),
    [
        (HOUSE, COLD_NIGHT_C, (27.0, 22.0), 14.0, "bank"),
        (HOUSE, COLD_NIGHT_C, (33.0, 28.0), 14.0, "bank"),
        (HOUSE, WARM_NIGHT_C, (36.0, 32.0), FULL_C, "cool"),
        (HOUSE, WARM_NIGHT_C, (32.0, Why.SILENT), FULL_C, "cool"),
        (UNCOOLED, COLD_NIGHT_C, (36.0, 32.0), 14.0, "bank"),
        (PURGED, WARM_NIGHT_C, (19.0, 19.5), 28.0, "night-purge"),
        (HOUSE, COLD_NIGHT_C, (4.5, 4.5), 14.0, "heat"),
        (VERY_DEAR, COLD_NIGHT_C, (4.5, 4.5), 14.0, "heat"),
        (HOUSE, COLD_NIGHT_C, (2.0, 2.0), 14.0, "frost"),
        (HOUSE, COLD_NIGHT_C, (4.5, Why.SILENT), 14.0, "heat"),
        (HOUSE, COLD_NIGHT_C, (3.9, 5.5), 14.0, "heat"),
        (HOUSE, COLD_NIGHT_C, (7.5, 4.5), 5.1, "heat"),
        (HOUSE, COLD_NIGHT_C, (5.0, 2.0), 2.6, "frost"),
    ],
    ids=[
        "a sunny noon is banked",
        "a hot noon is banked whether or not the house is cooled",
        "a hot crop is cooled",
        "the ceiling stands in for a bench that cannot be read",
        "where cooling is off a hot noon is banked all the same",
        "warm soil is cooled by night where that is set",
        "a cold house is warmed",
        "however dear the heat",
        "in frost it is the frost that counts",
        "the ceiling stands in for a missing bench",
        "a bench that reads too warm lets no crop freeze",
        "a ceiling that reads too warm keeps no warmth back",
        "in frost neither",
    ],
)
def test_what_a_house_wants_of_its_fans(
    settings: Settings, night_c: float, air_c: tuple[float, float | Why], soil_c: float, demand: str
) -> None:
    """Roof and bench, soil and the nights behind it decide what the first loop runs for."""
    world = house(settings, night_c, soil_c)
    world.ceiling_c, world.bench_c = air_c
    world.run(2 * MINUTE_S)
    assert world.demand() == demand
    assert world.broken == []


@pytest.mark.parametrize(
    ("settings", "night_c", "air_c", "soil_c", "words"),
    [
        (
            HOUSE,
            COLD_NIGHT_C,
            (27.0, 5.9),
            14.0,
            "the house needs neither warmth nor cooling: air 5.9 °C, ceiling 27.0 °C",
        ),
        (
            HOUSE,
            COLD_NIGHT_C,
            (4.6, 4.6),
            20.0,
            "the house needs neither warmth nor cooling: air 4.6 °C, ceiling 4.6 °C",
        ),
        (HOUSE, WARM_NIGHT_C, (31.0, 28.0), FULL_C, "the soil at 17.1 °C is warm enough: "),
        (HOUSE, WARM_NIGHT_C, (38.0, 31.0), FULL_C, "cooling begins at 32.0 °C at the bench (now 31.0 °C"),
        (UNCOOLED, WARM_NIGHT_C, (45.0, 40.0), FULL_C, "cooling is switched off in the settings, at 45.0 °C"),
        (HOUSE, WARM_NIGHT_C, (38.0, 33.0), 34.0, "the soil at 34.0 °C is 1.0 K too warm to cool the house"),
        (HOUSE, WARM_NIGHT_C, (19.0, 19.5), 28.0, "the soil at 28.0 °C is warm enough: "),
        (PURGED, COLD_NIGHT_C, (19.0, 19.5), 28.0, "nothing to bank: "),
        (
            HOUSE,
            COLD_NIGHT_C,
            (4.5, 4.5),
            4.0,
            "nothing to return: the soil at 4.0 °C is no warmer than the air at 4.5 °C",
        ),
        (
            HOUSE,
            COLD_NIGHT_C,
            (4.5, 4.5),
            4.9,
            "the soil at 4.9 °C is only 0.4 K warmer than the air at 4.5 °C",
        ),
        (
            HOUSE,
            COLD_NIGHT_C,
            (13.0, 6.1),
            14.0,
            "nothing to bank: the ceiling at 13.0 °C is no warmer than the soil at 14.0 °C",
        ),
        (
            CHOOSY,
            COLD_NIGHT_C,
            (21.0, 18.0),
            17.0,
            "the ceiling is only 4.0 K warmer than the soil (21.0 °C over 17.0 °C)",
        ),
        (DEAR, COLD_NIGHT_C, (22.0, 18.0), 15.0, "a run would move about 2.4 kW for 120 W; a fan is worth"),
    ],
    ids=[
        "a cool bench keeps the warmth under its roof",
        "a house that is warm enough is never cooled by warm soil",
        "no heat is banked that nobody will want",
        "a hot roof over a crop that is not",
        "a hot house whose cooling is off",
        "soil that is too warm to cool",
        "warm soil by night where no purge is asked for",
        "a purge never robs a house that had a cold night",
        "cold soil has nothing to give",
        "or too little for a fan",
        "a roof no warmer than the soil has nothing to bank",
        "or too little for a fan by day",
        "or too little for the electricity",
    ],
)
def test_what_a_house_does_not_need_moves_no_fan(
    settings: Settings, night_c: float, air_c: tuple[float, float], soil_c: float, words: str
) -> None:
    """Every fan stays off for an hour, and a person reads why."""
    world = house(settings, night_c, soil_c)
    world.ceiling_c, world.bench_c = air_c
    world.run(HOUR_S)
    assert world.changes == []
    assert world.why().startswith(words)


STEADY, WAVERING, A_LITTLE = 0.0, 0.1, 0.05


@pytest.mark.parametrize(
    ("ceiling", "bench", "soil_c", "night_c"),
    [
        ((45.0, STEADY), (POINTS.cool_above_c, WAVERING), FULL_C, WARM_NIGHT_C),
        ((32.0 + FANS.cooling_difference_k, WAVERING), (36.0, STEADY), 32.0, WARM_NIGHT_C),
        ((30.0 - FANS.night_purge_difference_k, WAVERING), (25.0, STEADY), 30.0, WARM_NIGHT_C),
        ((POINTS.heat_below_c, STEADY), (POINTS.heat_below_c, WAVERING), 14.0, COLD_NIGHT_C),
        ((4.0, STEADY), (POINTS.heat_below_c - FANS.return_spread_k, WAVERING), 10.0, COLD_NIGHT_C),
        ((10.0 - FANS.return_difference_k, WAVERING), (3.5, STEADY), 10.0, COLD_NIGHT_C),
        ((25.0, STEADY), (POINTS.comfort_floor_c + POINTS.air_deadband_k, A_LITTLE), 10.0, COLD_NIGHT_C),
        ((6.0 + FANS.useful_difference_k, WAVERING), (15.0, STEADY), 6.0, COLD_NIGHT_C),
        ((POINTS.frost_limit_c, WAVERING), (POINTS.frost_limit_c, WAVERING), 5.0, COLD_NIGHT_C),
    ],
    ids=[
        "cool",
        "cooling difference",
        "purge",
        "heat",
        "spread",
        "return difference",
        "comfort floor",
        "useful difference",
        "frost",
    ],
)
def test_noise_round_a_setpoint_causes_one_start_and_no_stop(
    ceiling: tuple[float, float], bench: tuple[float, float], soil_c: float, night_c: float
) -> None:
    """A value that wavers by a tenth round any threshold for an hour never makes a fan short-cycle."""
    world = house(settings_with(fans=NIMBLE_FANS, setpoints={"night_purge": True}), night_c)
    world.soil_c["north"] = soil_c
    for turn in range(360):
        sign = -1.0 if turn % 2 else 1.0
        world.ceiling_c, world.bench_c = (mean_c + sign * by_k for mean_c, by_k in (ceiling, bench))
        world.tick()
    assert (len(world.starts()), world.stops()) == (1, [])
    assert world.broken == []


@pytest.mark.parametrize(("night_c", "demand"), [(5.4, "bank"), (22.0, None)])
def test_one_cold_night_makes_banking_into_a_full_store_wanted(night_c: float, demand: str | None) -> None:
    """A minute of air near the heating setpoint has even a full store charged; warm air has not."""
    world = house(night_c=WARM_NIGHT_C, soil_c=FULL_C)
    world.ceiling_c = world.bench_c = night_c
    world.run(MINUTE_S)
    world.sunny()
    world.run(10 * MINUTE_S)
    assert world.demand() == demand


def test_a_cold_night_is_forgotten_by_half_a_kelvin_a_day() -> None:
    """A night of 2 °C has a full store charged for the week in which it fades to 5.5 °C, not for longer."""
    world = house(soil_c=FULL_C)
    world.sunny()
    for _ in range(7 * 24 - 1):
        world.tick(HOUR_S)
    assert world.demand() == "bank"
    for _ in range(24):
        world.tick(HOUR_S)
    assert world.demand() != "bank"


@pytest.mark.parametrize(
    ("settings", "heat_wave"), [(HOUSE, "cool"), (UNCOOLED, None)], ids=["as is", "not cooled"]
)
def test_the_season_needs_no_switch(settings: Settings, heat_wave: str | None) -> None:
    """Over warm soil the same settings bank in winter, cool in summer unless that is off, and bank again."""
    world = house(settings, WARM_NIGHT_C, FULL_C)
    seen = []
    for night_c, noon_c in ((1.0, 25.0), (22.0, 25.0), (22.0, 36.0), (1.0, 25.0)):
        if night_c > 10.0:
            world.remember_need(night_c)
        world.ceiling_c = world.bench_c = night_c
        world.run(2 * HOUR_S, 60.0)
        night = world.demand()
        world.ceiling_c, world.bench_c = noon_c, noon_c - 4.0
        world.run(2 * HOUR_S, 60.0)
        seen.append((night, world.demand()))
    assert seen == [("frost", "bank"), (None, None), (None, heat_wave), ("frost", "bank")]
    assert world.broken == []
