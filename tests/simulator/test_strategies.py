"""Strategies to compare with."""

from __future__ import annotations

import pytest

from controller.decision.demand import LoopView
from controller.decision.heat import plan_for
from controller.decision.state import Demand, Need
from controller.simulator.strategies import STRATEGIES
from tests.decision.world import HOUSE


def wish(strategy, ceiling_c, running_for=None):
    """What a strategy wants of the first loop over soil of 12 °C."""
    plan = plan_for(HOUSE).loops[0]
    view = LoopView(HOUSE, plan, ceiling_c, 12.0, ceiling_c, Need(0.0), running_for)
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


@pytest.mark.parametrize("strategy", [name for name in STRATEGIES if name != "hypocaust"])
def test_every_wish_has_a_sentence(strategy):
    """Each reason can be written out with the numbers it carries."""
    for ceiling_c in (5.0, 15.0, 30.0):
        assert "°C" in wish(strategy, ceiling_c).reason.sentence(HOUSE.site.show)


def test_default_is_the_controllers_own_rule():
    """The rehearsal runs by default what the greenhouse runs."""
    assert wish("hypocaust", 30.0).demand is Demand.COOL
