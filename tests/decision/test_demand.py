"""What the house wants of a loop, at the very temperatures at which that changes, and in what numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from controller.decision.demand import heat_rule
from controller.decision.need import updated_need
from controller.decision.reasons import ReasonCode
from controller.decision.state import Demand, Need
from controller.decision.wish import LoopView, Wish
from controller.equipment import OutputId
from controller.settings.schema.derived import DerivedLoop
from controller.units import TemperatureUnit
from tests.decision.world import HOUSE, settings_with

if TYPE_CHECKING:
    from controller.settings.schema import Settings

DAY_S = 86400.0
PLAN = DerivedLoop("north", OutputId.fan("north"), "main", 100.0, 360.0, 300.0)
UNCOOLED = settings_with(setpoints={"cooling": False})
PURGED = settings_with(setpoints={"night_purge": True})
POINTS, FANS = HOUSE.setpoints, HOUSE.fans
MILD_C = 24.0
FROST, HEAT, COOL, BANK, PURGE = Demand.FROST, Demand.HEAT, Demand.COOL, Demand.BANK, Demand.NIGHT_PURGE
A_HAIR = 0.125  # a fraction that floats hold exactly


def asked(
    air_c: float = 15.0,
    ceiling_c: float = 20.0,
    soil_c: float = 10.0,
    running_for: Demand | None = None,
    coldest_c: float | None = 2.0,
    place: float = 0.0,
    heat_w_per_k: float = 400.0,
    settings: Settings = HOUSE,
    passed_k: float = 0.0,
) -> Wish:
    """What is wanted, and why."""
    need = Need(coldest_c, passed_k=passed_k)
    view = LoopView(settings, PLAN, ceiling_c, soil_c, air_c, need, running_for, place, heat_w_per_k)
    return heat_rule(view)


def wanted(air_c: float = 15.0, **seen: Any) -> Demand | ReasonCode:
    """The demand, or the code of the reason why it is missing."""
    wish = asked(air_c, **seen)
    return wish.reason.code if wish.demand is None else wish.demand


def test_the_numbers_these_tests_stand_on() -> None:
    """The thresholds of the example house are those that the cases below are written for."""
    assert (POINTS.frost_limit_c, POINTS.heat_below_c, POINTS.comfort_floor_c) == (2.0, 4.5, 5.0)
    assert (POINTS.cool_above_c, POINTS.air_deadband_k) == (32.0, 1.0)
    assert (FANS.cooling_difference_k, FANS.night_purge_difference_k) == (5.0, 5.0)
    assert (FANS.return_difference_k, FANS.return_spread_k) == (0.5, 0.5)
    assert (FANS.useful_difference_k, FANS.difference_deadband_k, FANS.heat_per_watt) == (2.0, 1.0, 4.0)


@pytest.mark.parametrize(
    ("air_c", "running_for", "place", "expected"),
    [
        (2.0, None, 1.0, FROST),
        (2.0 + A_HAIR, None, 1.0, HEAT),
        (3.0, FROST, 0.0, FROST),
        (3.0 + A_HAIR, FROST, 0.0, HEAT),
        (3.0, HEAT, 0.0, HEAT),
        (4.5, None, 0.0, HEAT),
        (4.5 + A_HAIR, None, 0.0, ReasonCode.NOTHING_WANTED),
        (4.0, None, 1.0, HEAT),
        (4.0 + A_HAIR, None, 1.0, ReasonCode.OTHERS_ENOUGH),
        (4.25, None, 0.5, HEAT),
        (4.5, None, 1.0, ReasonCode.OTHERS_ENOUGH),
        (4.5 + A_HAIR, None, 1.0, ReasonCode.NOTHING_WANTED),
        (5.5, HEAT, 0.0, HEAT),
        (5.5, FROST, 0.0, HEAT),
        (5.5 + A_HAIR, HEAT, 0.0, ReasonCode.NOTHING_WANTED),
        (5.5, BANK, 0.0, BANK),
        (6.0 - A_HAIR, None, 0.0, ReasonCode.NOTHING_WANTED),
        (6.0, None, 0.0, BANK),
        (6.0 - A_HAIR, HEAT, 0.0, ReasonCode.NOTHING_WANTED),
        (5.0, BANK, 0.0, BANK),
        (5.0, COOL, 0.0, BANK),
        (5.0 - A_HAIR, BANK, 0.0, ReasonCode.NOTHING_WANTED),
    ],
)
def test_the_air_decides_what_is_wanted(
    air_c: float, running_for: Demand | None, place: float, expected: Demand | ReasonCode
) -> None:
    """Frost, heat by turns, nothing, banking: each from its own temperature, further while it runs."""
    ceiling_c = 20.0 if expected in (BANK, ReasonCode.NOTHING_WANTED) else 1.0
    assert wanted(air_c, ceiling_c=ceiling_c, running_for=running_for, place=place) == expected


@pytest.mark.parametrize(
    ("air_c", "running_for", "settings", "expected"),
    [
        (32.0, None, HOUSE, COOL),
        (32.0 - A_HAIR, None, HOUSE, ReasonCode.NOT_HOT_YET),
        (31.0, COOL, HOUSE, COOL),
        (31.0 - A_HAIR, COOL, HOUSE, ReasonCode.NOT_HOT_YET),
        (31.0, BANK, HOUSE, ReasonCode.NOT_HOT_YET),
        (45.0, None, UNCOOLED, ReasonCode.COOLING_OFF),
        (31.0, None, UNCOOLED, ReasonCode.COOLING_OFF),
    ],
)
def test_a_hot_crop_is_cooled_unless_that_is_switched_off(
    air_c: float, running_for: Demand | None, settings: Settings, expected: Demand | ReasonCode
) -> None:
    """From the setpoint itself at the crop, whatever the roof, and down through the deadband in a run."""
    seen = wanted(
        air_c, ceiling_c=45.0, soil_c=24.0, coldest_c=MILD_C, running_for=running_for, settings=settings
    )
    assert seen is expected


@pytest.mark.parametrize(
    ("soil_c", "running_for", "heat_w_per_k", "expected"),
    [
        (35.0, None, 400.0, COOL),
        (35.0 + A_HAIR, None, 400.0, ReasonCode.SOIL_TOO_WARM),
        (36.0, COOL, 400.0, COOL),
        (36.0 + A_HAIR, COOL, 400.0, ReasonCode.SOIL_TOO_WARM),
        (45.0, None, 400.0, ReasonCode.SOIL_TOO_WARM),
        (35.0, None, 80.0, COOL),
        (35.0, None, 79.0, ReasonCode.HEAT_TOO_DEAR),
        (36.0, COOL, 81.0, COOL),
        (36.0, COOL, 79.0, ReasonCode.HEAT_TOO_DEAR),
    ],
)
def test_a_hot_crop_is_cooled_while_the_soil_is_clearly_cooler_than_the_roof(
    soil_c: float, running_for: Demand | None, heat_w_per_k: float, expected: Demand | ReasonCode
) -> None:
    """By the cooling difference for a start, less its deadband in a run, and for enough heat a watt."""
    seen = wanted(
        36.0,
        ceiling_c=40.0,
        soil_c=soil_c,
        coldest_c=MILD_C,
        running_for=running_for,
        heat_w_per_k=heat_w_per_k,
    )
    assert seen is expected


def test_a_hot_noon_before_cold_nights_is_banked_where_it_cannot_be_cooled() -> None:
    """Banking asks for a smaller difference than cooling does, where nights make the heat wanted."""
    assert wanted(33.0, ceiling_c=36.0, soil_c=32.0, coldest_c=2.0) is BANK
    assert wanted(33.0, ceiling_c=36.0, soil_c=32.0, coldest_c=MILD_C) is ReasonCode.SOIL_TOO_WARM


@pytest.mark.parametrize(
    ("soil_c", "ceiling_c", "seen", "expected"),
    [
        (27.5, 22.5, {}, PURGE),
        (27.5 - A_HAIR, 19.0, {}, ReasonCode.STORE_NOT_WANTED),
        (27.5, 22.5 + A_HAIR, {}, ReasonCode.STORE_NOT_WANTED),
        (27.0, 19.0, {"running_for": PURGE}, PURGE),
        (27.0 - A_HAIR, 19.0, {"running_for": PURGE}, ReasonCode.STORE_NOT_WANTED),
        (27.5, 23.5, {"running_for": PURGE}, PURGE),
        (27.5, 23.5 + A_HAIR, {"running_for": PURGE}, ReasonCode.STORE_NOT_WANTED),
        (29.0, 19.0, {"settings": HOUSE}, ReasonCode.STORE_NOT_WANTED),
        (29.0, 19.0, {"coldest_c": 5.5}, ReasonCode.NOTHING_TO_BANK),
        (29.0, 19.0, {"coldest_c": None}, ReasonCode.NOTHING_TO_BANK),
        (29.0, 19.0, {"air_c": 4.5}, HEAT),
        (29.0, 19.0, {"air_c": 33.0}, ReasonCode.SOIL_TOO_WARM),
        (29.0, 19.0, {"heat_w_per_k": 39.0}, ReasonCode.STORE_NOT_WANTED),
    ],
)
def test_soil_that_is_too_warm_is_cooled_by_night_where_that_is_set(
    soil_c: float, ceiling_c: float, seen: dict[str, Any], expected: Demand | ReasonCode
) -> None:
    """Down to where it can cool the next day; never out of a house that had a cold night or is too hot."""
    given = {"air_c": 20.0, "coldest_c": MILD_C, "settings": PURGED} | seen
    assert wanted(soil_c=soil_c, ceiling_c=ceiling_c, **given) is expected


def test_a_purge_by_night_leaves_a_full_store() -> None:
    """Soil is not cooled below what nights of a tender crop may ask for."""
    tender = settings_with(PURGED, setpoints={"heat_below_c": 16.0})
    given: dict[str, Any] = {"ceiling_c": 20.0, "air_c": 20.0, "coldest_c": 20.0, "settings": tender}
    assert wanted(soil_c=28.5, **given) is PURGE
    assert wanted(soil_c=28.5 - A_HAIR, **given) is ReasonCode.STORE_NOT_WANTED


@pytest.mark.parametrize("demand", [FROST, HEAT])
@pytest.mark.parametrize(
    ("difference_k", "running", "expected"),
    [
        (0.0, False, ReasonCode.NOTHING_TO_RETURN),
        (A_HAIR, False, ReasonCode.LITTLE_TO_RETURN),
        (0.5 - A_HAIR, False, ReasonCode.LITTLE_TO_RETURN),
        (0.5, False, None),
        (0.25 - A_HAIR / 2.0, True, ReasonCode.LITTLE_TO_RETURN),
        (0.25, True, None),
    ],
)
def test_warmth_is_returned_from_a_difference_that_is_worth_it(
    demand: Demand, difference_k: float, running: bool, expected: ReasonCode | None
) -> None:
    """The whole difference for a start, half of it for a run, and nothing out of colder soil."""
    air_c = 2.0 if demand is FROST else 4.0
    seen = wanted(air_c, ceiling_c=9.0, soil_c=air_c + difference_k, running_for=demand if running else None)
    assert seen == (demand if expected is None else expected)


def test_the_colder_of_roof_and_bench_counts_for_what_can_be_returned() -> None:
    """Either alone shows that there is warmth to give."""
    assert wanted(4.0, ceiling_c=9.0, soil_c=5.0) is HEAT
    assert wanted(4.0, ceiling_c=1.0, soil_c=2.0) is HEAT


@pytest.mark.parametrize(
    ("soil_c", "running_for", "heat_w_per_k", "expected"),
    [
        (20.0, None, 400.0, ReasonCode.NOTHING_TO_BANK),
        (20.0 - A_HAIR, None, 400.0, ReasonCode.DIFFERENCE_SMALL),
        (18.0 + A_HAIR, None, 800.0, ReasonCode.DIFFERENCE_SMALL),
        (18.0, None, 800.0, None),
        (19.0 + A_HAIR, BANK, 800.0, ReasonCode.DIFFERENCE_SMALL),
        (19.0, BANK, 800.0, None),
        (17.0, None, 300.0, None),
        (17.0 + A_HAIR, None, 300.0, ReasonCode.HEAT_TOO_DEAR),
        (18.5, BANK, 300.0, None),
        (18.5 + A_HAIR, BANK, 300.0, ReasonCode.HEAT_TOO_DEAR),
    ],
)
def test_heat_is_banked_where_it_is_worth_a_fan(
    soil_c: float, running_for: Demand | None, heat_w_per_k: float, expected: ReasonCode | None
) -> None:
    """A useful difference and enough heat for the electricity; half of both for a run."""
    seen = wanted(soil_c=soil_c, running_for=running_for, heat_w_per_k=heat_w_per_k)
    assert seen == (BANK if expected is None else expected)


@pytest.mark.parametrize(
    ("soil_c", "running_for", "coldest_c", "stored"),
    [
        (16.5, None, MILD_C, False),
        (16.5 - A_HAIR, None, MILD_C, True),
        (17.0, BANK, MILD_C, False),
        (17.0 - A_HAIR, BANK, MILD_C, True),
        (16.5, COOL, MILD_C, False),
        (20.0, None, 5.5, True),
        (20.0, None, None, True),
        (20.0, None, 18.0, True),
        (20.0, None, 18.0 + A_HAIR, False),
        (16.5, None, 21.5, True),
        (16.5, None, 21.5 + A_HAIR, False),
    ],
)
def test_a_full_store_is_filled_for_nights_that_are_cold_or_will_be(
    soil_c: float, running_for: Demand | None, coldest_c: float | None, stored: bool
) -> None:
    """Twelve kelvin above the heating setpoint it is full; then soil and nights may be 16 K too warm."""
    seen = wanted(
        ceiling_c=25.0, soil_c=soil_c, running_for=running_for, coldest_c=coldest_c, heat_w_per_k=1000.0
    )
    assert seen == (BANK if stored else ReasonCode.STORE_NOT_WANTED)


def test_soil_too_warm_to_cool_the_house_is_not_filled_for_later_nights() -> None:
    """What a purge by night takes out is not put in by day, but nights that are cold come first."""
    given: dict[str, Any] = {"ceiling_c": 40.0, "heat_w_per_k": 1000.0}
    assert wanted(soil_c=27.0 - A_HAIR, coldest_c=6.0, **given) is BANK
    assert wanted(soil_c=27.0, coldest_c=6.0, **given) is ReasonCode.NOT_HOT_YET
    assert wanted(soil_c=27.0, coldest_c=5.0, **given) is BANK


@pytest.mark.parametrize(
    ("soil_c", "coldest_c", "passed_k", "least_w"),
    [
        (1.0, 2.0, 0.0, 400.0),
        (4.5, 2.0, 0.0, 400.0),
        (9.5, 2.0, 0.0, 600.0),
        (16.5, 2.0, 0.0, 880.0),
        (22.5, 2.0, 0.0, 880.0),
        (22.5, None, 0.0, 880.0),
        (4.5, 2.0, 2.0, 400.0),
        (4.5, 2.0, 4.0, 600.0),
        (4.5, 2.0, 6.0, 800.0),
        (9.5, 20.0, 6.0, 1200.0),
        (16.5, 11.5, 0.0, 2200.0),
        (19.5, 8.5, 0.0, 2200.0),
        (19.5, 8.5, 2.0, 2200.0),
    ],
)
def test_heat_for_the_ground_must_bring_more_the_less_it_will_be_needed(
    soil_c: float, coldest_c: float | None, passed_k: float, least_w: float
) -> None:
    """With warmer soil, with nights that have risen since the coldest, and before any have come."""
    given: dict[str, Any] = {"ceiling_c": soil_c + 10.0, "coldest_c": coldest_c, "passed_k": passed_k}
    dear = ReasonCode.HEAT_TOO_LATE if passed_k > 2.0 else ReasonCode.HEAT_TOO_DEAR
    assert wanted(soil_c=soil_c, heat_w_per_k=least_w / 10.0 + A_HAIR, **given) is BANK
    assert wanted(soil_c=soil_c, heat_w_per_k=least_w / 10.0 - A_HAIR, **given) is dear


def test_a_full_store_gets_nothing_more_once_mild_nights_have_risen() -> None:
    """After the winter warm soil has no more nights to wait for."""
    given: dict[str, Any] = {"soil_c": 19.5, "ceiling_c": 40.0, "coldest_c": 8.5}
    assert wanted(passed_k=2.0, **given) is BANK
    assert wanted(passed_k=2.0 + A_HAIR, **given) is ReasonCode.NOT_HOT_YET


@pytest.mark.parametrize(
    ("seen", "sentence"),
    [
        (
            {},
            (
                "banking heat while the ceiling is at least 1.0 K warmer than the soil (now 10.0 K: 20.0 "
                "°C over 10.0 °C); about 4.0 kW for 100 W"
            ),
        ),
        (
            {"air_c": 33.0, "ceiling_c": 40.0, "soil_c": 20.0},
            (
                "cooling since the bench reached 32.0 °C, until it falls below 31.0 °C (now 33.0 °C; "
                "ceiling 40.0 °C); the soil at 20.0 °C takes about 8.0 kW for 100 W"
            ),
        ),
        (
            {"air_c": 33.0, "ceiling_c": 36.0, "soil_c": 33.0, "coldest_c": MILD_C},
            (
                "the soil at 33.0 °C is 2.0 K too warm to cool the house: the ceiling at 36.0 °C must be "
                "5.0 K warmer; a run would move about 1.2 kW for 100 W"
            ),
        ),
        (
            {"air_c": 33.0, "ceiling_c": 36.0, "soil_c": 37.0, "coldest_c": MILD_C},
            (
                "the soil at 37.0 °C is 6.0 K too warm to cool the house: the ceiling at 36.0 °C must be "
                "5.0 K warmer; a run would move about 0 W for 100 W"
            ),
        ),
        (
            {"air_c": 31.0, "ceiling_c": 36.0, "soil_c": 20.0, "coldest_c": MILD_C},
            (
                "cooling begins at 32.0 °C at the bench (now 31.0 °C; ceiling 36.0 °C), and the soil at "
                "20.0 °C needs no more heat for the nights"
            ),
        ),
        (
            {"air_c": 40.0, "ceiling_c": 45.0, "soil_c": 20.0, "coldest_c": MILD_C, "settings": UNCOOLED},
            (
                "cooling is switched off in the settings, at 45.0 °C under the roof; the soil at 20.0 °C "
                "could take about 10.0 kW for 100 W"
            ),
        ),
        (
            {"air_c": 20.0, "ceiling_c": 20.0, "soil_c": 28.0, "coldest_c": MILD_C, "settings": PURGED},
            (
                "cooling the soil by night, from 28.0 °C to 27.0 °C, so that it can take heat by day; the "
                "ceiling at 20.0 °C takes about 3.2 kW for 100 W"
            ),
        ),
        (
            {"air_c": 1.0, "ceiling_c": 0.0},
            (
                "warming with every loop since the air fell to the frost limit of 2.0 °C, until it passes "
                "3.0 °C (now 1.0 °C); the soil at 10.0 °C gives about 4.0 kW for 100 W"
            ),
        ),
        (
            {"air_c": 3.0, "ceiling_c": 4.0, "soil_c": 7.5, "place": 1.0},
            (
                "warming since the air fell below 4.0 °C, until it passes 5.0 °C (now 3.0 °C); the soil "
                "at 7.5 °C gives about 1.8 kW for 100 W"
            ),
        ),
        (
            {"air_c": 4.5, "place": 1.0},
            "other loops warm the house; this one helps once the air falls below 4.0 °C (now 4.5 °C)",
        ),
        (
            {"air_c": 5.0},
            "the house needs neither warmth nor cooling: air 5.0 °C, ceiling 20.0 °C, soil 10.0 °C",
        ),
        ({"soil_c": 21.0}, "nothing to bank: the ceiling at 20.0 °C is no warmer than the soil at 21.0 °C"),
        (
            {"soil_c": 19.0},
            (
                "the ceiling is only 1.0 K warmer than the soil (20.0 °C over 19.0 °C); a fan is worth "
                "its electricity from 2.0 K on"
            ),
        ),
        (
            {"soil_c": 19.5, "running_for": BANK},
            (
                "the ceiling is only 0.5 K warmer than the soil (20.0 °C over 19.5 °C); a fan is worth "
                "its electricity from 1.0 K on"
            ),
        ),
        (
            {"soil_c": 15.0, "heat_w_per_k": 64.0},
            "a run would move about 320 W for 100 W; a fan is worth its electricity from 820 W on",
        ),
        (
            {"soil_c": 10.5, "heat_w_per_k": 100.0, "passed_k": 4.0},
            (
                "a run would move about 950 W for 100 W; now that nights have risen 4.0 K above the coldest "
                "of the season, a fan is worth its electricity from 960 W on"
            ),
        ),
        (
            {"soil_c": 18.0, "coldest_c": MILD_C},
            (
                "the soil at 18.0 °C is warm enough: 16.5 °C will do while nights stay above 5.5 °C "
                "(coldest lately 24.0 °C)"
            ),
        ),
        (
            {"air_c": 4.0, "ceiling_c": 1.0, "soil_c": 0.5},
            "nothing to return: the soil at 0.5 °C is no warmer than the air at 1.0 °C",
        ),
        (
            {"air_c": 4.0, "ceiling_c": 9.0, "soil_c": 4.2},
            (
                "the soil at 4.2 °C is only 0.2 K warmer than the air at 4.0 °C; a fan is worth its "
                "electricity from 0.5 K on"
            ),
        ),
    ],
)
def test_every_reason_says_what_it_was_decided_on(seen: dict[str, Any], sentence: str) -> None:
    """Air, roof and soil; what was needed; what it brings and costs; the setpoint that asked for it."""
    assert asked(**seen).reason.sentence(TemperatureUnit.CELSIUS) == sentence


def test_the_coldest_air_is_remembered_and_fades() -> None:
    """Half a kelvin a day, until colder air comes; the first air seen is the coldest so far."""
    need = updated_need(Need(), 7.0, 100.0)
    assert need == Need(7.0, 100.0)
    need = updated_need(need, 12.0, 100.0 + DAY_S)
    assert need.coldest_c == pytest.approx(7.5, rel=1e-9)
    assert need.at_s == 100.0 + DAY_S
    assert updated_need(need, 3.0, 100.0 + 2 * DAY_S) == Need(3.0, 100.0 + 2 * DAY_S)


def after_days(need: Need, air_c: float, days: int) -> Need:
    """The need after days of such air."""
    for _ in range(days):
        need = updated_need(need, air_c, need.at_s + DAY_S)
    return need


def test_nights_rise_above_the_coldest_of_the_season() -> None:
    """A winter fades slower than a night, new lows end the rise, and so does a summer that is over."""
    winter = updated_need(Need(), -2.0, 0.0)
    spring = after_days(winter, 5.0, 10)
    assert (spring.coldest_c, spring.passed_k) == (pytest.approx(3.0), pytest.approx(4.5))
    frost = updated_need(spring, -1.0, spring.at_s)
    assert (frost.coldest_c, frost.passed_k) == (-1.0, pytest.approx(0.5))
    summer = after_days(spring, 18.0, 30)
    assert (summer.coldest_c, summer.passed_k) == (18.0, 6.0)
    assert after_days(summer, 14.0, 40).passed_k < 2.0
    assert updated_need(summer, 5.0, summer.at_s).passed_k == 0.0


def test_a_lie_about_the_cold_is_forgotten() -> None:
    """A probe that once read far too low makes heat dear for some months at most."""
    lie = updated_need(Need(12.0, 0.0), -30.0, 60.0)
    assert lie.passed_k == 0.0
    for air_c in (3.0, 10.0):
        assert after_days(lie, air_c, 200) == Need(air_c, lie.at_s + 200 * DAY_S)


@pytest.mark.parametrize(
    ("soil_c", "heat_w_per_k", "runs_on"),
    [(18.5, 800.0, True), (18.5 + A_HAIR, 800.0, False), (17.0, 221.0, True), (17.0 + A_HAIR, 221.0, False)],
)
def test_the_deadband_is_what_is_set(soil_c: float, heat_w_per_k: float, runs_on: bool) -> None:
    """Half a kelvin leaves three quarters of the difference, and of the heat that pays, to a run."""
    narrow = settings_with(fans={"difference_deadband_k": 0.5})
    seen = wanted(soil_c=soil_c, heat_w_per_k=heat_w_per_k, running_for=BANK, settings=narrow)
    assert (seen is BANK) is runs_on
