"""What the pages beside the scoreboard rest on: ingredients, probe errors and cooling."""

from __future__ import annotations

import math

import pytest

from controller.settings.load import load
from controller.simulator.plant.fault_kinds import FaultKind
from tests.lab.scoreboard import ablation, cooling, probe_errors
from tests.lab.scoreboard.cases import CASES, CONFIG
from tests.lab.scoreboard.reached import Reached
from tests.lab.scoreboard.runs import Score

HOUSE = load(CONFIG / "house.toml")
TUNED, OTHER = CASES[0], CASES[-1]


def year(cold_kh: float, fans_kwh: float = 100.0) -> Reached:
    """A made-up year."""
    return Reached(cold_kh, 50.0, 40.0, 8000.0, fans_kwh, 0.0)


@pytest.mark.parametrize("ingredient", ablation.WITHOUT)
def test_an_ingredient_that_is_left_out_is_one(ingredient):
    """What is changed are settings that exist, each to something else than the default."""
    changes = ablation.WITHOUT[ingredient]
    settings = ablation.changed(HOUSE, changes)
    for table, values in changes.items():
        for name, value in values.items():
            assert name in type(getattr(HOUSE, table)).model_fields
            assert getattr(getattr(settings, table), name) == value != getattr(getattr(HOUSE, table), name)
    if ingredient in (ablation.SHIPPED, ablation.SEASON):
        assert settings == HOUSE


def test_the_table_of_ingredients_has_a_row_for_each():
    """Three numbers for each case, beside those of the whole rule."""
    cases = CASES[:2]
    scores = {
        (case, name): Score(year(12.0, 34.0), 56.0, 0, 0) for case in cases for name in ablation.WITHOUT
    }
    lines = [line for line in ablation.table(cases, scores).splitlines() if line.startswith("|")]
    assert len(lines) == 2 + len(ablation.WITHOUT)
    assert {line.count("|") for line in lines} == {2 + 3 * len(cases)}
    assert lines[2] == "| nothing (as shipped) | 12 | 34 | 56 | 12 | 34 | 56 |"


@pytest.mark.parametrize("place", probe_errors.PLACES)
def test_all_probes_of_a_place_are_off_by_as_much_and_no_other(place):
    """Each probe of the place reads that much wrong from the first second to the last."""
    faults = probe_errors.off(HOUSE, place, -1.5)
    here = {name for name, probe in HOUSE.probes.items() if probe.place == place}
    assert {fault.subject for fault in faults} == here
    assert len(faults) == len(here) > 0
    for fault in faults:
        assert (fault.kind, fault.by) == (FaultKind.PROBE_OFFSET, -1.5)
        assert (fault.at_s, fault.until_s) == (0.0, math.inf)


def test_sound_probes_are_a_house_without_faults():
    """The season that the others are compared with has not one probe off."""
    assert probe_errors.off(HOUSE, *probe_errors.SOUND) == ()


def test_every_kind_of_probe_that_decides_is_off_both_ways():
    """Each place but the outdoor probe, which decides nothing, reads too warm once and too cold once."""
    tried = [(place, by_k) for place, by_k in probe_errors.ERRORS[1:] if not place.startswith("one ")]
    places = {probe.place for probe in HOUSE.probes.values()} - {"outdoor"}
    assert sorted(tried) == sorted((place, by_k) for place in places for by_k in (-1.5, 1.5))


def test_one_probe_of_several_can_be_off_alone():
    """Of a kind that decides and of which there are several, a single one is tried as well."""
    (fault,) = probe_errors.off(HOUSE, "one soil", -1.5)
    assert HOUSE.probes[fault.subject].place == "soil"
    assert fault.by == -1.5


def test_the_table_of_probe_errors_gives_points_of_what_sound_probes_bring():
    """Of 100 K h below 4 °C sound probes spare 50: five more than that are 10 points, ten fewer -20."""
    still = {TUNED: 100.0, OTHER: 300.0}
    cold = {(case, error): 50.0 for case in still for error in probe_errors.ERRORS}
    cold[TUNED, ("bench", 1.5)] = 55.0
    cold[TUNED, ("soil", -1.5)] = 40.0
    cold[OTHER, ("bench", 1.5)] = 300.0
    lines = [line for line in probe_errors.table(still, cold).splitlines() if line.startswith("|")]
    assert lines[0] == f"| probes | {TUNED.name} | {OTHER.name} |"
    assert "| bench +1.5 K | +10.0 | +100.0 |" in lines
    assert "| soil -1.5 K | -20.0 | +0.0 |" in lines
    assert "| bench -1.5 K | +0.0 | +0.0 |" in lines
    assert len(lines) == 1 + len(probe_errors.ERRORS)


@pytest.mark.parametrize("way", list(cooling.WAYS))
def test_a_way_of_cooling_changes_its_own_settings_only(monkeypatch, way):
    """The same house from 1 May on; fans that stand are a strategy, the rest are setpoints."""
    plans = []

    def note(plan):
        plans.append(plan)
        raise KeyboardInterrupt

    monkeypatch.setattr(cooling, "rehearse", note)
    with pytest.raises(KeyboardInterrupt):
        cooling.played(cooling.CASES[0], way, 153.0)
    (plan,) = plans
    house = cooling.CASES[0].settings()
    points = house.setpoints.model_copy(update=cooling.WAYS[way])
    assert plan.settings == house.model_copy(update={"setpoints": points})
    assert plan.strategy == ("fans-off" if way == cooling.STILL else "hypocaust")
    assert (plan.first_day, plan.days) == (cooling.FIRST_DAY, 153.0)


def test_the_table_of_cooling_gives_relief_against_fans_that_stand():
    """Share, price, and how much cooler the hottest hours are; heat taken beside the sun's."""
    case = cooling.CASES[0]
    still = cooling.Season(50.0, 0.0, 41.0, 0.0, None, None, 0)
    found = {
        (case, cooling.STILL, 153.0): still,
        (case, cooling.UNCOOLED, 153.0): cooling.Season(48.0, 0.0, 41.0, 1.0, None, None, 0),
        (case, cooling.SHIPPED, 153.0): cooling.Season(30.0, 0.0, 38.5, 10.0, 40.2, 700.0, 0),
        (case, cooling.PURGED, 153.0): cooling.Season(51.0, 0.0, 41.0, 5.0, 40.0, 700.0, 0),
        (case, cooling.SHIPPED, 365.0): cooling.Season(30.0, 7.25, 38.5, 40.0, 40.2, 700.0, 0),
    }
    assert cooling.summers(found) == [
        f"| {case.name} | fans off | 50 | 0 | 0.0 | 0 | – | – | – |",
        f"| {case.name} | cooling off | 48 | 4 | 0.0 | 1 | 2.0 | – | – |",
        f"| {case.name} | as shipped | 30 | 40 | 2.5 | 10 | 2.0 | 2.0 | 40 of 700 |",
        f"| {case.name} | night purge | 51 | -2 | 0.0 | 5 | -0.2 | -0.8 | 40 of 700 |",
    ]
    assert cooling.winters(found) == [f"| {case.name} | as shipped | 7.2 | 40 |"]
    ways = {cooling.SHIPPED: 30.0, cooling.UNPRICED: 20.0, cooling.COLD_SOIL: 10.0}
    for each in cooling.CASES:
        for way, hot_kh in (dict.fromkeys(cooling.WAYS, 50.0) | ways).items():
            found[each, way, 153.0] = cooling.Season(hot_kh, 0.0, 41.0, 20.0, None, None, 0)
    assert cooling.bounds(found)[0] == f"| {case.name} | 40 | 60 | 20 | 80 |"
    page = cooling.page_of(found).splitlines()
    rows = [*cooling.summers(found), *cooling.bounds(found)]
    assert [line for line in page if line in rows] == rows
