"""The fire watch: what trips it, what does not, and how it is cleared."""

from __future__ import annotations

import pytest

from controller.faults import FaultCode
from controller.readings.reading import Good, Level, Why
from controller.units import TemperatureUnit
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World, settings_with

AIR_PROBES = [name for name, probe in HOUSE.probes.items() if probe.place in ("ceiling", "bench", "outlet")]
OTHER_PROBES = [name for name in HOUSE.probes if name not in AIR_PROBES]


def banking() -> World:
    """A house whose fans all bank heat."""
    world = World()
    world.remember_need(2.0)
    world.sunny()
    world.run(3 * MINUTE_S)
    assert world.fans_on() == 3
    return world


def clear(world: World) -> None:
    """What a person does at the machine once it is safe."""
    world.cleared = frozenset({FaultCode.FIRE})


def latched(world: World) -> bool:
    """Whether the fire watch holds the fans off."""
    return world.state.fire.latched_detail is not None


def burn(world: World, at_c: float = 80.0) -> None:
    """Two air probes show what no sun can do."""
    world.probe_c["ceiling-west"] = world.probe_c["bench"] = at_c
    world.tick()


def suspected(world: World) -> bool:
    """Whether the fire watch holds the fans off, or one probe does alone."""
    return latched(world) or world.state.fire.suspect is not None


@pytest.mark.parametrize("probe", AIR_PROBES)
def test_one_hot_air_probe_stops_every_fan_and_asks_a_person_to_look(probe: str) -> None:
    """Whatever its place, also where the vote goes on without it; it is no latched fire yet."""
    world = banking()
    world.probe_c[probe] = 65.0
    world.tick()
    assert world.fans_on() == 0
    assert world.alarms() == {"fire-one-probe"}
    assert [alarm.detail for alarm in world.alarms_now] == [f"{probe} reads 65.0 °C: look"]
    assert world.why().startswith(f"{probe} reads 65.0 °C, 0 s ago, and no other air probe agrees; ")
    assert not latched(world)


@pytest.mark.parametrize("second", [name for name in AIR_PROBES if name != "bench"])
@pytest.mark.parametrize("later_s", [0.0, 50 * MINUTE_S])
def test_two_hot_air_probes_are_a_fire(second: str, later_s: float) -> None:
    """At the same time or within the hour, even if the first is cool again; it stays until it is cleared."""
    world = banking()
    world.probe_c["bench"] = 65.0
    if later_s:
        world.run(later_s, MINUTE_S)
        world.probe_c["bench"] = 30.0
    world.probe_c[second] = 65.0
    world.tick()
    assert latched(world)
    assert world.fans_on() == 0
    assert world.alarms() >= {"fire"}
    assert world.why().startswith("fire signature 0 s ago: ")
    assert world.why().endswith("fans stay off until a person enters on the machine: hypocaust clear fire")


def test_one_probe_that_rises_fast_to_the_limit_is_a_fire() -> None:
    """Heat and a rise together need no second probe, and a reason without numbers could not be checked."""
    world = banking()
    for step in range(39):
        world.probe_c["ceiling-east"] = 27.0 + step
        world.tick()
    assert latched(world)
    assert world.state.fire.latched_detail == "ceiling-east reads 65.0 °C"


def test_the_only_air_probe_that_can_be_read_is_believed() -> None:
    """Where no other can disagree, one is enough."""
    world = banking()
    world.probe_c = dict.fromkeys(AIR_PROBES, Why.SILENT) | {"bench": 65.0}
    world.tick()
    assert latched(world)


def test_one_hot_probe_is_dismissed_when_the_others_have_disagreed_for_an_hour() -> None:
    """A failing probe costs an hour of fans, not the season; once cool it is watched like any other again."""
    world = banking()
    world.probe_c["bench"] = 70.0
    world.run(HOUR_S - MINUTE_S)
    assert world.fans_on() == 0
    world.run(10 * MINUTE_S)
    assert world.fans_on() == 3
    assert "fire-one-probe" not in world.alarms()
    world.run(5 * HOUR_S, MINUTE_S)
    assert world.fans_on() == 3
    world.probe_c["bench"] = 20.0
    world.tick()
    world.probe_c["bench"] = 70.0
    world.tick()
    assert world.fans_on() == 0
    world.probe_c["ceiling-east"] = 70.0
    world.tick()
    assert latched(world)
    assert world.broken == []


def test_warm_neighbours_do_not_disagree() -> None:
    """While another probe is within ten kelvin of the limit, the hour does not begin."""
    world = banking()
    world.probe_c |= {"ceiling-west": 66.0, "ceiling-east": 60.0}
    world.run(3 * HOUR_S, MINUTE_S)
    assert world.fans_on() == 0
    world.probe_c["ceiling-east"] = 50.0
    world.run(HOUR_S - MINUTE_S, MINUTE_S)
    assert world.alarms() >= {"fire-one-probe"}
    world.run(2 * MINUTE_S, MINUTE_S)
    assert "fire-one-probe" not in world.alarms()
    assert not suspected(world)


@pytest.mark.parametrize("probe", OTHER_PROBES)
def test_soil_and_outdoor_probes_are_no_fire_watch(probe: str) -> None:
    """Probes outside the house air do not trip it."""
    world = banking()
    world.probe_c[probe] = 70.0
    world.run(5 * MINUTE_S)
    assert not suspected(world)


def test_just_below_the_limit_is_a_hot_day() -> None:
    """A tenth below the limit nothing is latched."""
    world = banking()
    for step in range(200):
        world.probe_c["ceiling-west"] = min(27.0 + 0.5 * step, 64.9)
        world.tick()
    assert not suspected(world)


def test_a_fast_rise_stops_every_fan_before_the_limit_is_reached() -> None:
    """Six kelvin a minute for two minutes trips although the air is far below the level."""
    world = banking()
    temperature_c = 27.0
    while world.fans_on() and temperature_c < 60.0:
        world.probe_c["ceiling-east"] = temperature_c
        world.tick()
        temperature_c += 1.0
    assert 40.0 <= temperature_c <= 44.0
    assert world.fans_on() == 0
    assert world.why().startswith("ceiling-east rose 12.0 K in 2 min to 40.0 °C, 0 s ago, and no other ")


def test_a_rise_that_sun_can_make_does_not_trip() -> None:
    """Four kelvin a minute up to 60 °C is sun after cloud."""
    world = banking()
    for step in range(45):
        world.probe_c["ceiling-east"] = 30.0 + step * 4.0 / 6.0
        world.tick()
    assert not suspected(world)


def test_a_rise_shorter_than_its_time_does_not_trip() -> None:
    """A burst of warm air that lasts a minute and goes is no fire."""
    world = banking()
    for temperature_c in (36.0, 40.0, 44.0, 44.0, 40.0, 36.0) * 10:
        world.probe_c["ceiling-east"] = temperature_c
        world.tick()
    assert not suspected(world)


def test_a_probe_warmed_in_the_hand_does_not_trip() -> None:
    """From 5 °C to 37 °C within a minute or two is a person who tests the probe."""
    world = banking()
    world.probe_c["bench"] = 5.0
    world.run(3 * MINUTE_S)
    for step in range(1, 13):
        world.probe_c["bench"] = min(5.0 + step * 4.0, 37.0)
        world.tick()
    world.run(5 * MINUTE_S)
    assert not suspected(world)


def test_an_outlet_that_warms_quickly_when_its_fan_starts_does_not_trip() -> None:
    """Air from the roof may warm an outlet far faster than sun can, at a jump or over minutes."""
    world = World()
    world.outlet_c["north"] = 15.0
    world.run(5 * MINUTE_S)
    for step in range(36):
        world.outlet_c["north"] = min(20.0 + 1.5 * step, 60.0)
        world.tick()
    world.outlet_c["north"] = 20.0
    world.run(5 * MINUTE_S)
    world.outlet_c["north"] = 60.0
    world.run(10 * MINUTE_S)
    assert not suspected(world)


def test_a_rate_is_not_measured_across_a_silence() -> None:
    """A probe that was silent for a while and comes back warmer starts a new trace."""
    world = banking()
    world.probe_c["ceiling-west"] = 20.0
    world.run(3 * MINUTE_S)
    world.probe_c["ceiling-west"] = Why.SILENT
    world.run(MINUTE_S)
    for step in range(30):
        world.probe_c["ceiling-west"] = min(35.0 + 2.0 * step, 45.0)
        world.tick()
    assert not suspected(world)


def test_a_held_sample_is_not_counted_twice() -> None:
    """The trace grows with new samples, not with ticks, and stays within its window."""
    world = banking()
    before = world.state.fire.traces["ceiling-west"]
    reading = world.snapshot().probes["ceiling-west"]
    assert isinstance(reading, Good)
    world.run(HOUR_S, 5.0)
    trace = world.state.fire.traces["ceiling-west"]
    assert trace[-1][0] - trace[1][0] < HOUSE.fire.rise_for_s <= trace[-1][0] - trace[0][0]
    assert before[0][0] < trace[0][0]


def test_the_stop_lasts_when_the_air_has_cooled() -> None:
    """A day later, long cool again, the fans are still off and the alarm still stands."""
    world = banking()
    burn(world)
    world.probe_c.clear()
    world.run(24 * HOUR_S, 60.0)
    assert world.fans_on() == 0
    assert "fire" in world.alarms()
    assert "fire signature 24 h 00 min ago" in world.why()


def test_a_person_clears_it_on_the_machine() -> None:
    """Cleared, the alarm goes at once and the fans come back after their rest."""
    world = banking()
    burn(world)
    world.probe_c.clear()
    world.run(HOUR_S)
    clear(world)
    world.tick()
    assert "fire" not in world.alarms()
    world.run(2 * MINUTE_S)
    assert world.fans_on() == 3
    assert world.broken == []


def test_clearing_while_it_is_still_hot_changes_nothing() -> None:
    """Nothing is cleared while even one probe still shows it; what tripped first stays the reason."""
    world = banking()
    burn(world)
    first = world.state.fire
    for cooler_c in (80.0, 20.0):
        world.probe_c["bench"] = cooler_c
        world.run(MINUTE_S)
        clear(world)
        world.tick()
        now = world.state.fire
        assert (now.latched_detail, now.latched_since_s) == (first.latched_detail, first.latched_since_s)
        assert world.fans_on() == 0


def test_clearing_another_fault_does_not_clear_a_fire() -> None:
    """Only the fire itself can be cleared."""
    world = banking()
    burn(world)
    world.probe_c.clear()
    world.cleared = frozenset({FaultCode.FROST})
    world.tick()
    assert latched(world)


@pytest.mark.parametrize("same_boot", [True, False])
def test_the_stop_outlives_a_restart(same_boot: bool) -> None:
    """Neither a restart of the program nor of the machine lets a fan run after a fire signature."""
    world = banking()
    burn(world)
    world.probe_c.clear()
    world.restart(60.0, same_boot=same_boot)
    world.run(2 * HOUR_S)
    assert world.fans_on() == 0
    assert "ago: ceiling-west " in world.why()
    assert world.broken == []


def test_a_fire_does_not_stop_the_pump() -> None:
    """Water is pumped whatever the air does."""
    world = banking()
    world.probe_c["ceiling-west"] = 80.0
    world.run(MINUTE_S)
    world.level["main"] = Level.WET
    world.tick()
    assert world.pump()


RISE_S = HOUSE.fire.rise_for_s
HALF_K = HOUSE.fire.rise_k_s * RISE_S / 2.0


@pytest.mark.parametrize(
    ("first_k", "second_k", "trips"),
    [
        (HALF_K + 0.01, HALF_K + 0.01, True),
        (HALF_K - 0.01, HALF_K + 0.02, False),
        (HALF_K + 0.02, HALF_K - 0.01, False),
        (0.0, 2.0 * HALF_K + 0.1, False),  # a burst of warm air
        (2.0 * HALF_K + 0.1, 0.0, False),
    ],
)
@pytest.mark.parametrize("unit", list(TemperatureUnit))
def test_both_halves_of_the_time_must_rise_that_fast(
    first_k: float, second_k: float, trips: bool, unit: TemperatureUnit
) -> None:
    """A hair less in either half is weather; the words are in the units that people chose."""
    world = World(settings_with(site={"show": unit}), settle=False)
    start_c = 45.0
    for reads_c in (start_c, start_c + first_k, start_c + first_k + second_k):
        world.probe_c["ceiling-west"] = reads_c
        world.tick(RISE_S / 2.0)
    assert (world.state.fire.suspect is not None) is trips
    detail = world.state.fire.suspect_detail
    assert ("°F" in detail) is (trips and unit is TemperatureUnit.FAHRENHEIT)
