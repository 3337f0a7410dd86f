"""The rehearsal as text."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

import pytest

from controller.decision.command import OutputChange
from controller.decision.reasons import Reason, ReasonCode
from controller.equipment import OutputId
from controller.rehearsal.journal import Happening
from controller.rehearsal.report.text import IDLE_WORDS, WIDTH, report
from controller.rehearsal.report.text import STRATEGIES as WORDS
from controller.rehearsal.strategies import STRATEGIES
from controller.rehearsal.summary import AlarmSums, DemandSums, FittingSums, PromiseSums
from controller.units import TemperatureUnit
from tests.rehearsal.made_up import BUILDING, HOUSE, LOOP, SUMMARY, VENTS

EXAMPLE = Happening(
    datetime(2026, 1, 3, 1, 17, tzinfo=timezone(timedelta(hours=-5))),
    OutputChange(
        OutputId.fan("north"),
        True,
        Reason(
            ReasonCode.HEAT,
            {
                "setpoint_c": 5.0,
                "until_c": 6.0,
                "air_c": 4.9,
                "soil_c": 12.2,
                "heat_w": 2700.0,
                "power_w": 120.0,
            },
        ),
    ),
)


def changed(**parts):
    """The summary with some parts replaced."""
    return SUMMARY.model_copy(update=parts)


def text(summary=SUMMARY, examples=(EXAMPLE,), unit=TemperatureUnit.CELSIUS, without_fans=None):
    """The report as one text; lines that were wrapped are joined again."""
    lines = report(summary, examples, unit, without_fans)
    assert max(map(len, lines)) <= WIDTH
    return " ".join(" ".join(lines).split())


def test_says_what_is_assumed_to_be_opened_and_by_whom():
    """Vents that no settings name are called an assumption; named ones say who works them, and when."""
    assert (
        "note: the settings name no openings, so this assumes 20.2 m2 of roof vents and that somebody, or an "
        "automatic opener, opens them when the bench is warmer than 30.0 °C, at any hour"
    ) in text()
    by_hand = {"worked": "person", "kind": "door", "open_from": "08:00", "open_until": "18:00"}
    openings = {
        "doors": VENTS.model_copy(update=by_hand),
        "flaps": VENTS,
        "hatch": VENTS.model_copy(update={"worked": "never", "open_above_c": None}),
    }
    warm = "opens them when the bench is warmer than 30.0 °C"
    told = text(changed(building=BUILDING.model_copy(update={"openings_named": True, "openings": openings})))
    for words in (
        f"doors (door, 20.2 m2): assumes that a person {warm}, between 08:00 and 18:00",
        f"flaps (roof vent, 20.2 m2): assumes that an automatic opener {warm}, at any hour",
        "hatch (roof vent, 20.2 m2): assumes that they stay shut",
    ):
        assert f"note: {words}" in told
    shut = text(changed(building=BUILDING.model_copy(update={"openings": {}})))
    assert "note: this house has nothing that opens; it stays shut on hot days" in shut
    assert "no openings" not in shut


def test_says_where_when_and_what_was_made_up():
    """A reader knows house, days, weather, made-up parts and how the soil began."""
    told = text()
    assert told.startswith(
        "Rehearsal of Fellside school garden 7 days, 1 January to 7 January, in the weather of A Valley"
    )
    assert "The controller ticked every 60 s, and at once when a float turned" in told
    assert "ticked every 5 min" in text(changed(pace_s=300.0))
    assert "note: rain is made up" in told
    assert "the soil at the tubes starts at 12.3 °C" in told


@pytest.mark.parametrize(
    ("start", "days", "told_so"),
    [
        ("2027-12-31", 59.0, False),
        ("2027-12-31", 60.5, True),
        ("2028-02-29", 0.1, True),
        ("2028-03-01", 100.0, False),
        ("2026-01-01", 365.0, False),
        ("2100-01-01", 365.0, False),
    ],
)
def test_a_leap_day_is_told_if_it_is_among_the_days(start, days, told_so):
    """Only rehearsals that go through 29 February have the note."""
    told = text(changed(start=f"{start}T00:00:00-05:00", days=days))
    assert ("29 February has the weather of the 28th" in told) == told_so


def test_years_that_repeat_are_told():
    """More than a year of days has the same weather again."""
    assert "every year has the same weather" in text(changed(days=366.0))
    assert "every year has the same weather" not in text(changed(days=365.0))


def test_house_stands_beside_outdoors():
    """Inside and outdoors are in one row each."""
    told = text()
    assert "coldest 1.0 °C -10.0 °C" in told
    assert "time in frost 0 h 100 h" in told
    assert "degree-hours below 4.0 °C 36 K h" in told
    assert "time above 32.0 °C 0 h" in told


def test_heat_goes_with_its_purpose_direction_and_price():
    """Each demand shows hours, electricity, heat with its direction, and heat for a unit of electricity."""
    assert "warming the house 66.7 8.0 kWh 131 kWh out of soil 16 kWh" in text()
    sums = {"bank": DemandSums(run_hours=1.0, energy_kwh=0.0, heat_kwh=2.0)}
    told = text(changed(ground=SUMMARY.ground.model_copy(update={"by_demand": sums})))
    assert "banking heat 1.0 0.0 kWh 2.0 kWh into soil -" in told


def test_fans_that_never_ran_are_said_so():
    """No table without rows."""
    told = text(changed(ground=SUMMARY.ground.model_copy(update={"by_demand": {}, "charged_kwh": 0.0})))
    assert "The fans did not run." in told


def test_standing_still_has_its_causes():
    """The most frequent causes have their share; like ones are joined, the rare ones are left out."""
    told = text()
    assert "Of the time they stood still, 60 % because neither warmth nor cooling was wanted" in told
    assert "39 % because of water, or tubes still draining, 1 % because the run before" in told
    assert "motors had to rest" not in told


def test_every_cause_has_words():
    """Whatever can keep a fan off has its words."""
    runs = {"bank", "cool", "night-purge", "heat", "frost", "demanded", "trial"}
    others = ("pump-", "signal-")
    of_fans = {code for code in ReasonCode if not code.value.startswith(others) and code.value not in runs}
    assert set(IDLE_WORDS) == of_fans


def test_loops_and_water():
    """Each loop and each sump has its line; time lost to water is given as a share of all fan hours."""
    told = text()
    assert "north 66.7 10 0.0 kWh 131 kWh 12.3 °C 6.6 °C" in told
    assert "main 21 min 23 13 min" in told
    assert "kept fans locked for 22 % of the time (37 h" in told


def test_long_names_do_not_break_the_table():
    """A name of 24 letters is shortened."""
    name = "a" * 24
    told = text(changed(fans=SUMMARY.fans.model_copy(update={"by_loop": {name: LOOP}})))
    assert f"{'a' * 14}.." in told
    assert name not in told


def test_alarms_say_how_often_when_and_what_to_do():
    """An alarm comes with its count, its first time and its action; none is said too."""
    assert (
        "frost: 4 times, first on 5 Jan 23:33 (air 2.0 °C) Do: Cover the crop, shut vents and doors."
        in text()
    )
    assert "Alarms: none." in text(changed(alarms={}))
    once = {"fire": AlarmSums(raised=1, first_at="2026-01-05T23:33:00-05:00", first="")}
    assert "fire: once on 5 Jan 23:33 Do: Keep out" in text(changed(alarms=once))


def test_urgent_alarms_come_first_and_the_others_by_name():
    """Of more alarms than fit, the urgent ones are shown in full."""
    codes = ["link", "probe", "storage", "float", "bus", "settings-rejected", "fire"]
    sums = {code: AlarmSums(raised=1, first_at="2026-01-05T23:33:00-05:00", first="") for code in codes}
    told = text(changed(alarms=sums))
    assert told.index("fire: once") < told.index("storage: once")
    assert "and less urgent: probe" in told


def test_examples_are_sentences_in_the_readers_unit():
    """A reason is shown with its time, its output and temperatures as the reader wants them."""
    assert "3 Jan 01:17 fan north on: warming since the air fell below 5.0 °C, until" in text()
    assert "until it passes 42.8 °F (now 40.8 °F)" in text(unit=TemperatureUnit.FAHRENHEIT)
    assert "How it decides" not in text(examples=())


def test_comparison_adds_up_as_printed():
    """The difference is that of the two figures a reader sees."""
    theirs = HOUSE.model_copy(
        update={"air_min_c": -3.65, "hours_below_0c": 28.6, "degree_hours_below_4c": 242.4}
    )
    told = text(without_fans=changed(house=theirs))
    assert "coldest 1.0 °C -3.6 °C +4.6 K" in told
    assert "warmest 15.5 °C 15.5 °C none" in told
    assert "time in frost 0 h 29 h -29 h" in told
    assert "degree-hours below 4.0 °C 36 K h 242 K h -206 K h" in told
    assert "for 8.0 kWh of electricity" in told
    assert "What the fans brought" not in text()


def test_fans_that_never_ran_are_not_compared():
    """Two equal columns show nothing."""
    idle = SUMMARY.fans.model_copy(update={"run_hours": 0.0})
    assert "What the fans brought" not in text(changed(fans=idle), without_fans=SUMMARY)


def test_comparison_in_fahrenheit():
    """Differences and degree-hours are in °F too."""
    theirs = HOUSE.model_copy(update={"air_min_c": -5.0, "degree_hours_below_4c": 100.0})
    told = text(without_fans=changed(house=theirs), unit=TemperatureUnit.FAHRENHEIT)
    assert "coldest 33.9 °F 23.0 °F +10.9 °F" in told
    assert "degree-hours below 39.2 °F 64 °F h 180 °F h -116 °F h" in told


def test_promises_kept_and_broken():
    """Kept promises take one line, broken ones are shown in full."""
    assert "Safety promises: 10 212 ticks checked, none broken." in text()
    broken = PromiseSums(
        checked_ticks=5, broken=["P1: fan north on while main is wet (2026-01-01T00:05:00-05:00)"]
    )
    told = text(changed(promises=broken))
    assert "SAFETY PROMISES BROKEN, a defect in the program (5 ticks checked): P1: fan north on" in told


@pytest.mark.parametrize("error", [0.02, -0.02, float("nan")])
def test_energy_that_does_not_close_is_a_warning(error):
    """Books that miss more than a thousandth, or cannot be worked out, are not to be relied on."""
    ground = SUMMARY.ground.model_copy(update={"energy_closure_error": error})
    assert "WARNING: the energy books" in text(changed(ground=ground))
    assert "WARNING" not in text()


def test_other_strategies_are_named():
    """A comparison strategy is named at the top."""
    assert "The fans are held off; only the pumps work." in text(changed(strategy="fans-off"))


@pytest.mark.parametrize("strategy", STRATEGIES)
def test_every_strategy_can_be_reported(strategy):
    """Each strategy that can be rehearsed has its words; the controller's own needs none."""
    told = WORDS[strategy]
    assert told in text(changed(strategy=strategy))
    assert bool(told) is (strategy != "hypocaust")


def test_heater_screen_and_cloth_are_told_only_where_fitted():
    """Hours of each, and the heater's heat; a house without them says nothing of them."""
    assert "backup heater on" not in text()
    fittings = {
        "shade": FittingSums(run_hours=3.5, heat_kwh=0.0),
        "heater": FittingSums(run_hours=12.4, heat_kwh=62.0),
    }
    told = text(changed(house=HOUSE.model_copy(update={"fittings": fittings})))
    assert "shade cloth drawn 3.5 h backup heater on 12 h, 62.0 kWh of heat" in told
    assert "thermal screen" not in told
