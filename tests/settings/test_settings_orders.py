"""Settings of which one must be below another, or may at most reach it."""

from __future__ import annotations

from typing import NamedTuple

import pytest

from controller.settings.load import parse
from controller.settings.orders import ORDERS
from controller.settings.schema import Settings
from controller.settings.schema.quantities import plain_key, read_quantity
from controller.settings.schema.section import detail, quantity_kind
from tests.settings.edit import changed


class Rule(NamedTuple):
    """Two keys with values that just break the rule and values that just keep it, and why there is a rule.

    Where the values that break it are equal the first must be below the second; elsewhere it may reach it.
    """

    lower: str
    upper: str
    broken: tuple[str, str]
    kept: tuple[str, str]
    why: str

    def values(self, pair: tuple[str, str]) -> dict[str, str]:
        """The two values as TOML, by key."""
        return {key: f'"{value}"' for key, value in zip((self.lower, self.upper), pair, strict=True)}


BELOW_AND_AT_MOST = [
    Rule(
        "setpoints.heat_below",
        "setpoints.cool_above",
        ("25 °C", "25 °C"),
        ("24.9 °C", "25 °C"),
        "or the house would be heated and cooled at once",
    ),
    Rule(
        "setpoints.frost_limit",
        "setpoints.heat_below",
        ("44.7 °F", "7 °C"),
        ("44.6 °F", "7 °C"),
        "because heating must begin before the crop is in danger",
    ),
    Rule(
        "setpoints.comfort_floor",
        "setpoints.cool_above",
        ("29 °C", "28.9 °C"),
        ("29 °C", "29 °C"),
        "or no heat could be banked before cooling begins",
    ),
    Rule(
        "setpoints.root_zone_min",
        "setpoints.root_zone_max",
        ("25 °C", "25 °C"),
        ("24.9 °C", "25 °C"),
        "or the soil could be neither charged nor discharged",
    ),
    Rule(
        "setpoints.root_zone_max",
        "setpoints.root_zone_rescue_max",
        ("30.1 °C", "30 °C"),
        ("30 °C", "30 °C"),
        "because cooling, a rescue, may warm the roots at least as far as banking may",
    ),
    Rule(
        "fans.difference_deadband",
        "fans.cooling_difference",
        ("1.9 K", "1.9 K"),
        ("1.8 K", "1.9 K"),
        "or a running fan would never stop",
    ),
    Rule(
        "fans.difference_deadband",
        "fans.night_purge_difference",
        ("1.5 K", "1.5 K"),
        ("1.4 K", "1.5 K"),
        "or a running fan would never stop",
    ),
    Rule(
        "setpoints.too_hot",
        "fire.level",
        ("50 °C", "50 °C"),
        ("49.9 °C", "50 °C"),
        "or a hot day would count as a fire",
    ),
    Rule(
        "fans.difference_deadband",
        "fans.useful_difference",
        ("3 K", "3 K"),
        ("2.9 K", "3 K"),
        "or a running fan would never stop",
    ),
    Rule(
        "fans.purge",
        "fans.minimum_run",
        ("11 min", "659.5 s"),
        ("11 min", "660 s"),
        "or a run could end before its outlet has been judged",
    ),
    Rule(
        "fans.back_off",
        "fans.longest_back_off",
        ("6 h", "5.9 h"),
        ("6 h", "6 h"),
        "because the doubling starts from it",
    ),
    Rule(
        "pump.run_on",
        "pump.drain_down",
        ("2 min", "1.9 min"),
        ("2 min", "2 min"),
        "or fans could start while the pump is still running on",
    ),
    Rule(
        "pump.exercise_run",
        "pump.run_on",
        ("10.5 s", "10 s"),
        ("10 s", "10 s"),
        "because both run the pump with little or no water",
    ),
    Rule(
        "pump.minimum_rest",
        "pump.rest",
        ("2.5 min", "2.4 min"),
        ("2.5 min", "150 s"),
        "because the rest after a longest run is never the shorter one",
    ),
    Rule(
        "house.heater_below",
        "house.vents_open_above",
        ("25 °C", "25 °C"),
        ("24.9 °C", "25 °C"),
        "or the backup heater would heat against open vents",
    ),
]
each_rule = pytest.mark.parametrize("rule", BELOW_AND_AT_MOST, ids=lambda rule: f"{rule.lower} {rule.upper}")


@each_rule
def test_settings_out_of_order_are_refused_with_both_sides_and_the_reason(house, problems_of, rule):
    """One error at the first of the two, in the person's own words."""
    side = "below" if rule.broken[0] == rule.broken[1] else "at most"
    assert problems_of(changed(house, rule.values(rule.broken))) == {
        rule.lower: f"{rule.lower} is {rule.broken[0]} and {rule.upper} is {rule.broken[1]}; "
        f"expected the first to be {side} the second, {rule.why}"
    }


@each_rule
def test_settings_just_in_order_are_good(house, rule):
    """In whatever units they are written."""
    assert parse(changed(house, rule.values(rule.kept))).site.name == "fellside"


def test_every_rule_of_order_is_tried():
    """No rule is left out of the table above."""
    rules = {tuple(f"{table}.{plain_key(name)}" for table, name in (one.lower, one.upper)) for one in ORDERS}
    assert rules == {(rule.lower, rule.upper) for rule in BELOW_AND_AT_MOST}


@pytest.mark.parametrize("order", ORDERS, ids=lambda order: f"{order.lower[1]} {order.upper[1]}")
def test_settings_that_must_be_in_order_are_of_one_kind_and_in_order_by_default(order):
    """No rule compares kelvin with watts, the defaults keep every rule, and the limits alone do not."""
    read = []
    limits = []
    for table, attribute in (order.lower, order.upper):
        field = Settings.model_fields[table].annotation.model_fields[attribute]
        kind = quantity_kind(field)
        limits.append([read_quantity(kind, detail(field, name)).si for name in ("low", "high")])
        read.append((kind, read_quantity(kind, field.default).si))
    (lower_kind, lower), (upper_kind, upper) = read
    assert lower_kind == upper_kind
    assert lower < upper or (order.equal and lower == upper)
    (_, lower_high), (upper_low, _) = limits
    assert lower_high >= upper_low, "the limits alone keep this rule"
