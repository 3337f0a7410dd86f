"""Strategies to compare with."""

from __future__ import annotations

import pytest

from controller.decision.demand import heat_rule
from controller.decision.state import Demand, Need
from controller.decision.wish import LoopView
from controller.rehearsal.strategies import STRATEGIES
from tests.decision.world import HOUSE


def wish(strategy, ceiling_c, running_for=None, soil_c=12.0):
    """What a strategy wants of the first loop, over soil of 12 °C unless another is given."""
    loop = HOUSE.derived.loops[0]
    view = LoopView(
        settings=HOUSE,
        loop=loop,
        ceiling_c=ceiling_c,
        soil_c=soil_c,
        air_c=ceiling_c,
        need=Need(0.0),
        running_for=running_for,
        rank=0.0,
        heat_w_per_k=loop.expected_w_per_k,
    )
    return STRATEGIES[strategy](view)


@pytest.mark.parametrize("ceiling_c", [-10.0, 15.0, 45.0])
def test_off_and_always_do_not_look_at_the_weather(ceiling_c):
    """One never wants a fan, the other always does."""
    assert wish("fans-off", ceiling_c).demand is None
    assert wish("fans-always", ceiling_c).demand is Demand.PLAIN


def test_thermostat_has_a_deadband_on_both_sides():
    """Above 24 °C and below 10 °C the fan is wanted; once running, for 1 K longer."""
    assert wish("plain-thermostat", 24.1).demand is Demand.PLAIN
    assert wish("plain-thermostat", 23.9).demand is None
    assert wish("plain-thermostat", 23.1, Demand.PLAIN).demand is Demand.PLAIN
    assert wish("plain-thermostat", 22.9, Demand.PLAIN).demand is None
    assert wish("plain-thermostat", 9.9).demand is Demand.PLAIN
    assert wish("plain-thermostat", 10.1).demand is None
    assert wish("plain-thermostat", 10.9, Demand.PLAIN).demand is Demand.PLAIN
    assert wish("plain-thermostat", 11.1, Demand.PLAIN).demand is None


RUNS = Demand.PLAIN


@pytest.mark.parametrize(
    ("ceiling_c", "soil_c", "running_for", "runs"),
    [
        (20.1, 12.0, None, True),
        (19.9, 12.0, None, False),
        (25.0, 19.9, None, True),
        (25.0, 20.1, None, False),
        (19.1, 12.0, RUNS, True),
        (18.9, 12.0, RUNS, False),
        (25.0, 20.9, RUNS, True),
        (25.0, 21.1, RUNS, False),
        (9.9, 18.0, None, True),
        (10.1, 18.0, None, False),
        (5.0, 10.1, None, True),
        (5.0, 9.9, None, False),
        (10.9, 18.0, RUNS, True),
        (11.1, 18.0, RUNS, False),
        (5.0, 9.1, RUNS, True),
        (5.0, 8.9, RUNS, False),
        (25.0, 35.0, None, False),
        (5.0, -5.0, None, False),
    ],
)
def test_simple_difference_wants_warm_or_cold_air_and_soil_that_differs(ceiling_c, soil_c, running_for, runs):
    """Air above 20 °C over soil 5 K colder, or below 10 °C over soil 5 K warmer; once on, 1 K more."""
    wanted = wish("simple-difference", ceiling_c, running_for, soil_c).demand
    assert wanted is (Demand.PLAIN if runs else None)


@pytest.mark.parametrize("strategy", [name for name in STRATEGIES if name != "hypocaust"])
def test_every_wish_has_a_sentence(strategy):
    """Each reason can be written out with the numbers it carries."""
    for ceiling_c in (5.0, 15.0, 30.0):
        assert "°C" in wish(strategy, ceiling_c).reason.sentence(HOUSE.site.show)


def test_default_is_the_controllers_own_rule():
    """The rehearsal runs by default what the greenhouse runs."""
    assert STRATEGIES["hypocaust"] is heat_rule
    assert wish("hypocaust", 30.0).demand is Demand.BANK
