"""The outlook on the night as people learn of it, and a forecast low that somebody gives."""

from __future__ import annotations

import pytest

from controller.diagnosis.evening import Evening, Expected, warning
from controller.diagnosis.evening_words import notice
from controller.forecast.outlook import Outlook
from controller.forecast.store import Heater, Lasts, Shell, Store
from controller.forecast.watch import no_nights
from controller.readings.said import Act, Said
from controller.units import TemperatureUnit
from tests.decision.world import HOUR_S, MINUTE_S, World

CELSIUS, FAHRENHEIT = TemperatureUnit.CELSIUS, TemperatureUnit.FAHRENHEIT
NIGHT = Outlook(3.1, 2.3, 0.8, 5.4, by_forecast=False)
LOW, WITHOUT = "Tonight about", "Without the store about"
UNTIL = "The store lasts until about"
IN_FIVE_HOURS = "Heater: needed in about 5 h 00 min"
NO_BOUNDS = Outlook(3.1, None, None, None, by_forecast=False)


@pytest.mark.parametrize(
    ("expected", "hour", "unit", "words"),
    [
        (
            Expected(NIGHT, 0.4, -2.0, 2.9, Lasts.UNTIL, 8.0 * HOUR_S, Heater.NOT_NEEDED),
            21.5,
            CELSIUS,
            f"{LOW} 3.1 °C (0.8 to 5.4). {WITHOUT} 0.4 °C. {UNTIL} 05:30. Heater: not needed",
        ),
        (
            Expected(NIGHT, 0.4, -2.0, 2.9, Lasts.THE_NIGHT, 0.0, Heater.NEEDED, 5.0 * HOUR_S),
            None,
            FAHRENHEIT,
            f"{LOW} 37.6 °F (33.4 to 41.7). {WITHOUT} 32.7 °F. The store lasts the night. {IN_FIVE_HOURS}",
        ),
        (
            Expected(NO_BOUNDS, 3.1, None, None, Lasts.NOT_NEEDED, 0.0, Heater.READY),
            18.0,
            CELSIUS,
            "Tonight about 3.1 °C. The store is not needed. Heater: keep it ready",
        ),
        (Expected(NO_BOUNDS), 18.0, CELSIUS, "Tonight about 3.1 °C"),
    ],
)
def test_the_notice_says_what_is_known_and_nothing_else(
    expected: Expected, hour: float | None, unit: TemperatureUnit, words: str
) -> None:
    """One line, in the unit of the house; times by the clock, or counted from now without one."""
    assert notice(expected, hour, unit) == words


@pytest.mark.parametrize(
    ("expected", "age_s", "warns"),
    [
        (Expected(NIGHT), 0.0, True),
        (Expected(NIGHT), 2.0 * HOUR_S, False),
        (Expected(NO_BOUNDS), 0.0, False),
        ("it is day", 0.0, False),
    ],
)
def test_an_outlook_with_bounds_decides_what_is_announced(
    expected: Expected | str, age_s: float, warns: bool
) -> None:
    """Before it has any, or once it is old, the rule of the nights before counts."""
    found = warning(Evening(no_nights(), expected, 100.0), 100.0 + age_s)
    assert (found is not None) is warns
    if found is not None:
        assert NIGHT.from_c is not None
        assert found.announced_c <= NIGHT.from_c <= found.low_c <= NIGHT.low_c


def test_a_forecast_that_is_given_counts_at_once_and_switches_nothing() -> None:
    """It is in the outlook at the next tick; what is commanded is what would have been without it."""
    given, other = World(), World()
    for world in (given, other):
        world.hour = 16.0
        world.bench_c = world.ceiling_c = 6.0
    given.said = (Said(Act.LOW, "-12.50"),)
    for world in (given, other):
        world.tick(10.0)
        world.said = ()
        world.run(2.0 * HOUR_S, MINUTE_S)
    nights = given.evidence.evening.nights
    assert nights.given is not None
    assert nights.given.low_c == -12.5
    assert given.changes == other.changes
    assert given.state == other.state


def test_the_store_raises_only_nights_in_which_its_fans_run() -> None:
    """No loop runs in a mild night; in a cold one all do, and warmer soil raises more, until none is left."""
    loss = Shell(18.0, 7.5, 3.2, "double film", 0.8, 0.0).loss_w_per_k()
    assert 1500.0 < loss < 3000.0  # about 12 to 20 W/K for each m² of floor

    def raised(soil_c: float, low_c: float) -> float:
        return Store((300.0, 300.0), (4.5, 4.0), soil_c, 0.5, 0.3).raise_k(low_c, loss)

    assert raised(15.0, 8.0) == 0.0
    assert 0.0 < raised(8.0, 1.0) < raised(15.0, 1.0)
    assert raised(1.0, 1.0) == 0.0
    assert Store((300.0,), (4.5,), 8.0, 0.5, 0.5).lasts_h(1.0) == pytest.approx(13.0)
    assert Store((300.0,), (4.5,), 8.0, 0.5, float("nan")).lasts_h(1.0) is None
