"""The weekly trial run of each fan, and what starts show of fans in a season in which no fan is wanted."""

from __future__ import annotations

from typing import Any

import pytest

from controller.equipment import Kind
from controller.faults import DAY_S
from controller.readings.reading import Level
from tests.decision.world import HOUR_S, MINUTE_S, settings_with
from tests.diagnosis.test_outlets import Fans

STEP_S = 5 * MINUTE_S
IDLE = settings_with(setpoints={"comfort_floor_c": 30.0})  # no fan is wanted


class Idle(Fans):
    """A house in mild weather: too warm to need warmth, not warm enough to bank."""

    def __init__(self) -> None:
        super().__init__()
        self.settings = IDLE
        self.ceiling_c, self.bench_c = 22.0, 20.5
        self.run(HOUR_S, MINUTE_S)
        self.switched.clear()
        self.most_on = 0

    def days(self, count: float) -> None:
        """Time passes."""
        end_s = self.now_s + count * DAY_S
        while self.now_s < end_s:
            self.tick(STEP_S)
            self.most_on = max(self.most_on, self.fans_on())


@pytest.fixture(name="idle")
def _idle() -> Idle:
    return Idle()


def test_each_idle_fan_is_tried_once_a_week_and_alone(idle: Idle) -> None:
    """After six days and after twelve, each for its minimum run, with the reason in words."""
    idle.days(5.5)
    assert idle.switched == []
    idle.days(7.5)
    for loop in idle.settings.loops:
        starts, stops = idle.starts(loop), idle.stops(loop)
        assert len(starts) == len(stops) == 2
        assert all(stop - start <= 30 * MINUTE_S for start, stop in zip(starts, stops, strict=True))
    assert idle.most_on == 1
    fans = [change for change in idle.changes if change.on and change.output.kind is Kind.FAN]
    reasons = [change.reason.sentence(idle.settings.site.show) for change in fans]
    assert all(words.startswith("weekly test of the fan") for words in reasons)
    assert (idle.events, idle.broken) == ([], [])


@pytest.mark.parametrize(
    "spoiled",
    [
        {"ceiling_c": 16.0, "bench_c": 15.5},
        {"ceiling_c": 5.2, "bench_c": 5.2},
        {"level": {"main": Level.WET}},
        {"root_c": dict.fromkeys(IDLE.loops, 36.0)},
    ],
    ids=["nothing to see", "near the cold", "water", "root zone hot"],
)
def test_a_trial_waits_for_a_moment_in_which_it_shows_something_and_does_no_harm(
    idle: Idle, spoiled: dict[str, Any]
) -> None:
    """Nothing starts before; when all is well again each fan has its trial."""
    good = {name: getattr(idle, name) for name in spoiled}
    for name, value in spoiled.items():
        setattr(idle, name, value)
    idle.days(8)
    assert [idle.starts(loop) for loop in idle.settings.loops] == [[], [], []]
    for name, value in good.items():
        setattr(idle, name, value)
    idle.days(0.3)
    assert all(idle.starts(loop) for loop in idle.settings.loops)
    assert idle.broken == []


@pytest.mark.parametrize("ceiling_c", [22.0, 7.0])
def test_a_dead_fan_is_found_in_a_season_that_needs_none(idle: Idle, ceiling_c: float) -> None:
    """Its outlet does not answer three trials; the others stay unnamed. By day or on a cool night alike."""
    idle.ceiling_c, idle.bench_c = ceiling_c, ceiling_c - 1.0
    idle.moved_by["north"] = None
    idle.days(8)
    assert idle.events == [("fan-no-effect", "north", True)]


def test_crossed_fans_are_found_in_a_season_that_needs_none(idle: Idle) -> None:
    """Each trial moves the other one's outlet."""
    idle.moved_by |= {"north": "south", "south": "north"}
    idle.days(8)
    assert idle.events == [("fan-swapped", "north", True)]


def test_a_week_without_a_trial_outlives_a_restart(idle: Idle) -> None:
    """The days before it count."""
    idle.days(5.5)
    idle.restart()
    idle.days(1)
    assert all(idle.starts(loop) for loop in idle.settings.loops)
