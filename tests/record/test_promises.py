"""The promise watch as a whole, and what it says of fire, readings, clock and roots (P5, P6, P10, P12)."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Demand
from controller.readings.reading import Level, Why
from controller.record.promises import PromiseWatch
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, settings_with
from tests.record.made import FANS, MAIN, MIDDLE, NORTH, PUMP, QUICK, Made

if TYPE_CHECKING:
    from controller.equipment import OutputId

HOT_C = HOUSE.fire.level_c
LOWER_C, UPPER_C = HOUSE.setpoints.root_zone_min_c, HOUSE.setpoints.root_zone_max_c
RESCUE_C = HOUSE.setpoints.root_zone_rescue_max_c
BANK, COOL, HEAT = Demand.BANK, Demand.COOL, Demand.HEAT
SILENT = Why.SILENT


def test_a_proper_day_breaks_nothing() -> None:
    """Fans one after the other, long runs, rests, an emptied sump and drain-down are all in order."""
    made = Made(settings_with(fans={"starts_per_hour": 2}))
    reported = made.tick(NORTH) + made.tick(NORTH, MIDDLE, after_s=30.0)
    reported += made.tick(NORTH, MIDDLE, after_s=FANS.minimum_run_s)
    reported += made.tick(after_s=10.0)
    reported += made.tick(NORTH, after_s=FANS.minimum_rest_s)
    made.level = Level.WET
    reported += made.tick(reason=Reason(ReasonCode.FLOOD, {"for_s": 0.0}))
    reported += made.tick(MAIN, after_s=30.0)
    made.level = Level.DRY
    reported += made.tick(MAIN, after_s=MINUTE_S)
    reported += made.tick(after_s=PUMP.run_on_s)
    reported += made.tick(NORTH, after_s=PUMP.drain_down_s)
    assert reported == []
    assert made.watch.checked_ticks == 10


def test_several_breaks_in_one_tick_are_all_reported() -> None:
    """A fan into water on unknown soil breaks two promises, and both are named with the output."""
    made = Made(level=Level.WET, soil=SILENT)
    assert made.tick(NORTH) == ["P1", "P6"]
    assert all("north" in words for words in made.said)


def unseen(monkeypatch: pytest.MonkeyPatch, made: Made, *on: OutputId) -> None:
    """A tick whose changes the watch could not check to their end."""
    with monkeypatch.context() as patched:
        patched.setattr(PromiseWatch, "_check_change", None)
        with pytest.raises(TypeError):
            made.tick(*on, after_s=FANS.minimum_run_s)


@pytest.mark.parametrize(("early_s", "says"), [(0.1, ["P4"]), (0.0, [])])
def test_after_a_tick_that_could_not_be_checked_motors_are_taken_as_found(
    monkeypatch: pytest.MonkeyPatch, early_s: float, says: list[str]
) -> None:
    """Starts and stops that were missed break nothing; rests count from when the motor was found off."""
    made = Made()
    made.tick(NORTH)
    unseen(monkeypatch, made, MIDDLE)
    assert made.tick(MIDDLE) == []
    assert made.tick(after_s=1.0) == []  # nobody knows how long middle ran, this one time
    assert made.tick(NORTH, after_s=FANS.minimum_rest_s - 1.0 - early_s) == says


def test_what_is_switched_in_the_tick_after_is_checked_as_always(monkeypatch: pytest.MonkeyPatch) -> None:
    """A start then counts as a start, and a pump that was found on may have run its longest."""
    made = Made(QUICK, level=Level.WET)
    unseen(monkeypatch, made, MAIN)
    assert made.tick() == []
    assert made.tick(MAIN, after_s=PUMP.rest_s - 0.1) == ["P3"]
    made = Made()
    unseen(monkeypatch, made, MIDDLE)
    assert made.tick() == []
    assert made.tick(MIDDLE, after_s=FANS.minimum_rest_s) == []
    assert made.tick(after_s=1.0) == ["P4"]
    made = Made()
    unseen(monkeypatch, made, MIDDLE)
    assert made.tick(MIDDLE, NORTH) == []
    assert made.tick(MIDDLE, after_s=FANS.minimum_run_s - 0.1) == ["P4"]


@pytest.mark.parametrize(
    ("probe_c", "says"),
    [
        ({"ceiling-west": HOT_C}, ["P5"]),
        ({"bench": HOT_C}, ["P5"]),
        ({"north-outlet": HOT_C}, ["P5"]),
        ({"ceiling-west": HOT_C - 0.1, "bench": 40.0}, []),
        ({"outdoor": 70.0, "north-soil": 70.0, "north-roots": 70.0}, []),  # only house air is watched
        ({"elsewhere": 70.0}, []),  # a probe that nobody has given a place
        ({"elsewhere": 70.0, "bench": 70.0}, ["P5"]),
        ({"bench": SILENT, "ceiling-west": Why.STALE}, []),
        ({"bench": SILENT, "ceiling-west": 70.0}, ["P5"]),
    ],
)
def test_p5_hot_house_air_latches(probe_c: dict[str, float | Why], says: list[str]) -> None:
    """A probe in the house at the fire level that latches nothing is reported, fans or no fans."""
    assert Made(probe_c=probe_c).tick() == says
    made = Made(probe_c=probe_c, latched="it reads 65.0 °C")
    assert made.tick() == []
    assert made.tick(NORTH) == says


def test_p5_a_fan_stays_forbidden_until_a_person_clears_the_fire() -> None:
    """Air that has cooled changes nothing."""
    made = Made(probe_c={"north-outlet": 70.0}, latched="north-outlet reads 70.0 °C")
    assert made.tick() == []
    made.probe_c = {}
    assert made.tick(NORTH, after_s=HOUR_S) == ["P5"]
    made.latched, made.cleared = None, True
    assert made.tick(NORTH) == []


def test_p5_a_latch_that_is_lost_is_reported() -> None:
    """Nobody has cleared it and the latch is gone: reported at once."""
    made = Made(probe_c={"bench": 70.0}, latched="bench reads 70.0 °C")
    assert made.tick() == []
    made.probe_c, made.latched = {}, None
    assert made.tick() == ["P5"]


@pytest.mark.parametrize(
    ("seen", "says"),
    [
        ({"ceiling": SILENT}, ["P6"]),
        ({"soil": Why.STALE}, ["P6"]),
        ({"outlet": SILENT, "root": Why.NOT_FITTED, "bench": SILENT}, []),  # something stands in for them
        ({"ceiling_age_s": HOUSE.judging.air_hold_s, "soil_age_s": HOUSE.judging.soil_hold_s}, []),
        ({"ceiling_age_s": HOUSE.judging.air_hold_s + 0.1}, ["P6"]),
        ({"soil_age_s": HOUSE.judging.soil_hold_s + 0.1}, ["P6"]),
        ({"level": Why.STALE, "bench": SILENT, "ceiling": SILENT, "soil": SILENT}, ["P1", "P6"]),
    ],
)
def test_p6_a_fan_runs_on_readings_that_are_believed_and_not_too_old(
    seen: dict[str, Any], says: list[str]
) -> None:
    """The ceiling holds for minutes, the soil for hours; a moment more is reported. Others may be missing."""
    assert replace(Made(), **seen).tick(NORTH) == says


@pytest.mark.parametrize(("after_s", "says"), [(5 * 86400.0, []), (0.0, []), (-0.1, ["P10"])])
def test_p10_the_monotonic_clock_never_runs_backwards(after_s: float, says: list[str]) -> None:
    """A tick before the last one is reported; a pause of days is not, nor a clock that stands still."""
    made = Made()
    made.tick()
    assert made.tick(after_s=after_s) == says


@pytest.mark.parametrize(
    ("demand", "ceiling_c", "soil_c", "root_c", "words"),
    [
        (BANK, 27.0, 14.0, UPPER_C, f"P12: fan north banks at {UPPER_C:.2f} °C in the root zone"),
        (BANK, 27.0, 14.0, UPPER_C - 0.1, None),
        (BANK, 10.0, 14.0, UPPER_C, None),
        (BANK, 14.0, 14.0, UPPER_C, None),  # without a difference heat goes nowhere
        (BANK, 50.0, UPPER_C, Why.NOT_FITTED, f"P12: fan north banks at {UPPER_C:.2f} °C in the soil"),
        (COOL, 50.0, 14.0, RESCUE_C - 0.1, None),
        (COOL, 50.0, 14.0, RESCUE_C, f"P12: fan north cools at {RESCUE_C:.2f} °C in the root zone"),
        (COOL, 50.0, RESCUE_C, SILENT, f"P12: fan north cools at {RESCUE_C:.2f} °C in the soil"),
        (COOL, 50.0, RESCUE_C, RESCUE_C - 0.1, None),  # the probe counts where it can be read
        (HEAT, 3.0, 10.0, LOWER_C, f"P12: fan north discharges at {LOWER_C:.2f} °C in the root zone"),
        (HEAT, 3.0, 10.0, LOWER_C + 0.1, None),
        (HEAT, LOWER_C - 2.0, LOWER_C, SILENT, f"P12: fan north discharges at {LOWER_C:.2f} °C in the soil"),
        (BANK, 27.0, 10.0, LOWER_C, None),
        (BANK, 14.0, 14.0, LOWER_C, None),
    ],
)
def test_p12_root_zone_limits(
    demand: Demand, ceiling_c: float, soil_c: float, root_c: float | Why, words: str | None
) -> None:
    """Banking at the upper limit, cooling at the rescue limit, discharging at the lower one are reported."""
    made = Made(ceiling=ceiling_c, soil=soil_c, root=root_c, demand=demand)
    made.tick(NORTH)
    assert made.said == ([] if words is None else [words])
