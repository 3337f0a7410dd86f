"""The figures that protect crop, motors and people, written down a second time by hand."""

from __future__ import annotations

import pytest

from controller.settings.schema import Board, Fans, Fire, Judging, Pump, Service, Setpoints, Sump
from controller.settings.schema.quantities import read_quantity
from controller.settings.schema.section import detail, quantity_kind

MINUTE_S, HOUR_S, DAY_S = 60.0, 3600.0, 86400.0

# Default, smallest and largest value, in SI. The reference page is written from the program and follows every
# change of it; this table does not, so that nobody moves one of these figures by a slip.
FIGURES = {
    Setpoints: {
        "frost_limit_c": (2.0, -10.0, 15.0),
        "heat_below_c": (4.5, -5.0, 25.0),
        "air_deadband_k": (1.0, 0.2, 5.0),
        "too_hot_c": (40.0, 25.0, 60.0),
        "cool_above_c": (32.0, 15.0, 45.0),
        "root_zone_max_c": (26.0, 10.0, 40.0),
        "root_zone_rescue_max_c": (36.0, 10.0, 40.0),
        "root_zone_min_c": (-2.0, -5.0, 25.0),
        "root_zone_deadband_k": (0.5, 0.1, 3.0),
    },
    Fans: {
        "purge_s": (5 * MINUTE_S, MINUTE_S, 30 * MINUTE_S),
        "back_off_s": (30 * MINUTE_S, 5 * MINUTE_S, 6 * HOUR_S),
        "longest_back_off_s": (8 * HOUR_S, 30 * MINUTE_S, 48 * HOUR_S),
        "minimum_run_s": (20 * MINUTE_S, MINUTE_S, HOUR_S),
        "minimum_rest_s": (10 * MINUTE_S, MINUTE_S, HOUR_S),
        "starts_per_hour": (2, 1, 12),
        "stagger_s": (30.0, 5.0, 10 * MINUTE_S),
    },
    Pump: {
        "run_on_s": (20.0, 5.0, 2 * MINUTE_S),
        "longest_run_s": (30 * MINUTE_S, 15 * MINUTE_S, HOUR_S),
        "rest_s": (2 * MINUTE_S, 30.0, 6 * MINUTE_S),
        "minimum_rest_s": (2 * MINUTE_S, 30.0, 6 * MINUTE_S),
        "starts_per_hour": (10, 4, 20),
        "duty_run_s": (MINUTE_S, 10.0, 3 * MINUTE_S),
        "duty_rest_s": (14 * MINUTE_S, 10 * MINUTE_S, HOUR_S),
        "exercise_every_s": (7 * DAY_S, DAY_S, 60 * DAY_S),
        "exercise_run_s": (5.0, 1.0, 20.0),
        "drain_down_s": (30 * MINUTE_S, MINUTE_S, 12 * HOUR_S),
    },
    Fire: {
        "level_c": (65.0, 50.0, 85.0),
        "rise_k_s": (5.0 / MINUTE_S, 2.0 / MINUTE_S, 20.0 / MINUTE_S),
        "rise_for_s": (2 * MINUTE_S, MINUTE_S, 10 * MINUTE_S),
    },
    Judging: {
        "air_hold_s": (5 * MINUTE_S, MINUTE_S, 15 * MINUTE_S),
        "soil_hold_s": (6 * HOUR_S, 10 * MINUTE_S, DAY_S),
        "air_jump_k": (10.0, 3.0, 40.0),
        "soil_jump_k": (3.0, 0.5, 20.0),
        "air_stuck_s": (6 * HOUR_S, HOUR_S, 48 * HOUR_S),
        "soil_stuck_s": (14 * DAY_S, DAY_S, 60 * DAY_S),
        "vote_spread_k": (6.0, 1.0, 20.0),
    },
    Service: {"tick_s": (10.0, 1.0, 15.0), "lease_s": (35.0, 30.0, 3 * MINUTE_S)},
    Sump: {"wet_after_s": (0.2, 0.02, 0.6), "dry_after_s": (5.0, 1.0, MINUTE_S)},
    Board: {"sample_every_s": (15.0, 2.0, 2 * MINUTE_S), "read_deadline_s": (5.0, 1.0, 30.0)},
}


@pytest.mark.parametrize("table", FIGURES, ids=lambda table: table.__name__)
def test_the_figures_that_protect_something_are_those_written_here(table):
    """Nobody moves a default or a limit of frost, runs, rests, fire, judging, tick or lease by a slip."""
    for name, figures in FIGURES[table].items():
        field = table.model_fields[name]
        written = (field.default, detail(field, "low"), detail(field, "high"))
        kind = quantity_kind(field)
        found = written if kind is None else tuple(read_quantity(kind, text).si for text in written)
        assert found == pytest.approx(figures), name


def test_what_could_start_a_motor_or_hide_a_fault_is_off_by_default():
    """No purge by night, no fan over a float that cannot be read, and a float whose cut wire reads wet."""
    assert Setpoints().night_purge is False
    assert Fans().run_in_frost_with_float_unreadable is False
    assert Sump.model_fields["float_kind"].default == "opens-on-rise"
