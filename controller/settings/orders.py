"""Settings of which one must be below another."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Order:
    """A setting that must be below another (may reach it, if ``equal``), both as (table, attribute)."""

    lower: tuple[str, str]
    upper: tuple[str, str]
    why: str
    equal: bool = False


ORDERS = (
    Order(
        ("setpoints", "heat_below_c"),
        ("setpoints", "cool_above_c"),
        "or the house would be heated and cooled at once",
    ),
    Order(
        ("setpoints", "frost_limit_c"),
        ("setpoints", "heat_below_c"),
        "because heating must begin before the crop is in danger",
        equal=True,
    ),
    Order(
        ("setpoints", "comfort_floor_c"),
        ("setpoints", "cool_above_c"),
        "or no heat could be banked before cooling begins",
        equal=True,
    ),
    Order(
        ("setpoints", "root_zone_min_c"),
        ("setpoints", "root_zone_max_c"),
        "or the soil could be neither charged nor discharged",
    ),
    Order(
        ("fans", "difference_deadband_k"),
        ("fans", "useful_difference_k"),
        "or a running fan would never stop",
    ),
    Order(
        ("fans", "purge_s"),
        ("fans", "minimum_run_s"),
        "or a run could end before its outlet has been judged",
        equal=True,
    ),
    Order(
        ("fans", "back_off_s"),
        ("fans", "longest_back_off_s"),
        "because the doubling starts from it",
        equal=True,
    ),
    Order(
        ("pump", "exercise_run_s"),
        ("pump", "run_on_s"),
        "because both run the pump with little or no water",
        equal=True,
    ),
    Order(
        ("pump", "run_on_s"),
        ("pump", "drain_down_s"),
        "or fans could start while the pump is still running on",
        equal=True,
    ),
    Order(
        ("pump", "minimum_rest_s"),
        ("pump", "rest_s"),
        "because the rest after a longest run is never the shorter one",
        equal=True,
    ),
    Order(("setpoints", "too_hot_c"), ("fire", "level_c"), "or a hot day would count as a fire"),
    Order(
        ("house", "heater_below_c"),
        ("house", "vents_open_above_c"),
        "or the backup heater would heat against open vents",
    ),
)
