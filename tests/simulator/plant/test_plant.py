"""The simulated plant behind the ports: probes, floats, switches, faults, time, books."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pytest

from controller.equipment import Kind, OutputId
from controller.readings.reading import Level, RawFailure, RawTemperature, Why
from controller.settings.load import parse
from controller.simulator.plant.clock import MONOTONIC_START_S
from controller.simulator.plant.fault_kinds import FaultKind
from controller.simulator.plant.faults import ScriptedFault
from controller.simulator.plant.plant import SimulatedPlant, leap_days_s
from tests.simulator.garden import EXAMPLE, MARCH, PlainRule, plant, run, set_kind, settings, weather

LOOP = next(iter(settings().loops))
SUMP = next(iter(settings().sumps))
PUMP = OutputId.pump(SUMP)
CEILING = settings().probe_names("ceiling")[0]
DAY_S = 86_400.0


def fault(kind: FaultKind, subject: str = "", at_s: float = 0.0, **more: float | str) -> ScriptedFault:
    """A fault from a time on."""
    return ScriptedFault(kind, subject, at_s, **more)


def value_c(house: SimulatedPlant, probe: str) -> float:
    """What a probe shows now."""
    sample = house.temperatures.latest()[probe]
    assert isinstance(sample, RawTemperature)
    return sample.value_c


def fill(house: SimulatedPlant, litres_per_s: float) -> None:
    """Keep the ground so wet that the sump fills at about this rate."""
    parameters = house.model.whole.sumps.parameters[0]
    depth_m = litres_per_s / 1000.0 * parameters.drain_s / parameters.catchment_m2
    house.model.sumps[0].soil_water_m = depth_m


def test_every_probe_and_output_of_the_settings_is_there() -> None:
    """Names match, samples carry the monotonic time of the clock, and nothing runs at the start."""
    house = plant()
    samples = house.temperatures.latest()
    assert set(samples) == set(settings().probes)
    assert {sample.at_mono_s for sample in samples.values()} == {MONOTONIC_START_S}
    assert set(house.floats.look()) == set(settings().sumps)
    assert len(house.switches) == len(settings().loops) + len(settings().sumps)
    assert not any(switch.is_on() for switch in house.switches.values())


def test_probes_show_sixteenths_near_the_truth() -> None:
    """Values are multiples of 1/16 K near the truth; exact probes are within one step of it."""
    for exact, most_k in ((False, 0.6), (True, 1.0 / 32.0 + 1e-9)):
        house = plant(seed=3, exact_probes=exact)
        house.advance(3600.0)
        for _ in range(20):
            house.advance(60.0)
            house.temperatures.latest()
        truth = house.truth()
        assert all((value_c(house, probe) * 16.0).is_integer() for probe in settings().probes)
        assert value_c(house, CEILING) == pytest.approx(truth.ceiling_c, abs=most_k)
        soil = settings().probe_names("soil", LOOP)[0]
        assert value_c(house, soil) == pytest.approx(truth.soil_c[LOOP], abs=most_k)


def test_probes_are_read_in_rounds() -> None:
    """Between two rounds the same samples come back; the source is alive all the time."""
    house = plant()
    first = house.temperatures.latest()[CEILING]
    house.advance(settings().board.sample_every_s - 1.0)
    assert house.temperatures.latest()[CEILING] is first
    house.advance(1.0)
    assert house.temperatures.latest()[CEILING] is not first
    assert house.temperatures.alive()


def test_the_same_seed_shows_the_same_and_another_does_not() -> None:
    """Offsets and noise come from the seed alone."""
    first, again, other = (plant(seed=seed) for seed in (5, 5, 6))
    for house in (first, again, other):
        house.advance(600.0)
    assert dict(first.temperatures.latest()) == dict(again.temperatures.latest())
    assert dict(first.temperatures.latest()) != dict(other.temperatures.latest())


def test_a_fan_moves_heat_into_cold_soil_and_cools_the_house() -> None:
    """By a sunny noon in March the soil gains, the outlet is cool, and the twin without fans is hotter."""
    running, standing = plant(), plant()
    for house in (running, standing):
        house.advance(11.0 * 3600.0)
    set_kind(running, Kind.FAN, True)
    for house in (running, standing):
        house.advance(3.0 * 3600.0)
    truth = running.truth()
    assert all(truth.fan_running.values())
    assert truth.heat_w[LOOP] > 500.0
    assert truth.outlet_c[LOOP] < truth.ceiling_c - 3.0
    assert truth.charged_j > 10.0 * truth.fan_energy_j
    assert truth.ceiling_c < standing.truth().ceiling_c - 1.0
    expected_j = 3.0 * 3600.0 * sum(loop.power_w for loop in settings().loops.values())
    assert truth.fan_energy_j == pytest.approx(expected_j)


def test_the_float_turns_within_a_second_and_wakes_the_loop() -> None:
    """Time stops right after the turn; the look shows the change with its time, then the level now."""
    house = plant()
    fill(house, 0.5)
    turns: list[float] = []
    house.on_float_turn = lambda: turns.append(house.now_s)
    house.floats.look()
    passed_s = house.advance_to_edge(600.0)
    assert passed_s == pytest.approx(60.0 / 0.5, rel=0.02)
    assert turns == [house.now_s]
    levels = house.floats.look()[SUMP]
    assert [raw.level for raw in levels] == [Level.WET, Level.WET]
    assert levels[0].at_mono_s == house.now_s


def test_the_pump_empties_the_pit_and_the_float_falls() -> None:
    """60 L at 2 L/s less the inflow take half a minute and a little."""
    house = plant()
    fill(house, 0.4)
    house.advance_to_edge(3600.0)
    house.switches[PUMP].set(True)
    assert house.advance_to_edge(3600.0) == pytest.approx(60.0 / 1.6, rel=0.02)
    assert house.truth().float_wet[SUMP] is False
    assert house.books().pumped_m3 == pytest.approx(0.075, rel=0.02)


def test_flooded_tubes_carry_no_air() -> None:
    """With a dead pump and a wet spring the tubes fill, and a running fan moves nothing but warms itself."""
    house = plant(faults=[fault(FaultKind.PUMP_DEAD, SUMP)])
    fill(house, 2.0)
    house.switches[PUMP].set(True)
    set_kind(house, Kind.FAN, True)
    house.advance(3600.0)
    truth = house.truth()
    assert truth.flooded[LOOP]
    assert not truth.pumping[SUMP]
    assert not truth.fan_running[LOOP]
    assert truth.heat_w[LOOP] == 0.0


@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        (FaultKind.FLOAT_UNREADABLE, None),
        (FaultKind.FLOAT_STUCK_WET, Level.WET),
        (FaultKind.FLOAT_STUCK_DRY, Level.DRY),
    ],
)
def test_broken_floats(kind: FaultKind, expected: Level | None) -> None:
    """From its time on the float says what the fault says; the break itself is seen as a change."""
    house = plant(faults=[fault(kind, SUMP, 60.0)])
    if kind is FaultKind.FLOAT_STUCK_DRY:
        fill(house, 5.0)
        house.advance(30.0)
        assert house.floats.look()[SUMP][-1].level is Level.WET
    house.advance(61.0)
    assert house.floats.look()[SUMP][-1].level is expected


def test_a_bouncing_float_shows_many_changes() -> None:
    """Every look brings changes between wet and dry."""
    house = plant(faults=[fault(FaultKind.FLOAT_CHATTER, SUMP)])
    house.advance(60.0)
    assert {raw.level for raw in house.floats.look()[SUMP]} == {Level.WET, Level.DRY}


def test_broken_probes() -> None:
    """Silent, at 85 °C, all zeros: each in the shape the bus would give it, and healed afterwards."""
    kinds = (FaultKind.PROBE_SILENT, FaultKind.PROBE_POWER_ON, FaultKind.PROBE_ALL_ZERO)
    faults = [
        fault(kind, CEILING, 100.0 * n, until_s=100.0 * n + 50.0) for n, kind in enumerate(kinds, start=1)
    ]
    house = plant(faults=faults)
    seen = []
    for _ in range(3):
        house.advance(110.0 if not seen else 100.0)
        seen.append(house.temperatures.latest()[CEILING])
    assert seen[0] == RawFailure(Why.SILENT, MONOTONIC_START_S + 110.0)
    assert isinstance(seen[1], RawTemperature)
    assert (seen[1].value_c, seen[1].scratchpad) == (85.0, bytes.fromhex("50054b467fff0c101c"))
    assert isinstance(seen[2], RawTemperature)
    assert (seen[2].value_c, seen[2].scratchpad) == (0.0, bytes(9))
    house.advance(100.0)
    assert isinstance(house.temperatures.latest()[CEILING], RawTemperature)
    assert value_c(house, CEILING) < 40.0


def test_a_stuck_probe_stays_and_a_drifting_one_walks_away() -> None:
    """Stuck keeps its last value through a day; a drift of 2 K a day is 1 K after twelve hours."""
    bench = settings().probe_names("bench")[0]
    soil = settings().probe_names("soil", LOOP)[0]
    sound = plant(exact_probes=True)
    faults = [fault(FaultKind.PROBE_STUCK, bench, 3600.0), fault(FaultKind.PROBE_DRIFT, soil, by=2.0)]
    house = plant(exact_probes=True, faults=faults)
    for each in (house, sound):
        each.advance(3590.0)
        each.temperatures.latest()
    before_c = value_c(house, bench)
    for each in (house, sound):
        each.advance(DAY_S / 2 - 3590.0)
    assert value_c(house, bench) == before_c
    assert value_c(house, soil) - value_c(sound, soil) == pytest.approx(1.0, abs=0.0626)


@pytest.mark.parametrize("by_k", [-1.5, 1.5])
def test_a_probe_with_an_offset_is_as_far_off_at_noon_as_at_the_start(by_k: float) -> None:
    """It shows that much more or less than a sound one, at once and after half a day, and only it does."""
    soil, bench = settings().probe_names("soil", LOOP)[0], settings().probe_names("bench")[0]
    sound = plant(exact_probes=True)
    house = plant(exact_probes=True, faults=[fault(FaultKind.PROBE_OFFSET, soil, by=by_k)])
    for pause_s in (0.0, DAY_S / 2):
        for each in (house, sound):
            each.advance(pause_s)
        assert value_c(house, soil) - value_c(sound, soil) == pytest.approx(by_k, abs=1.0 / 16.0)
        assert value_c(house, bench) == value_c(sound, bench)


def test_a_silent_bus_takes_every_probe() -> None:
    """Not one probe answers."""
    house = plant(faults=[fault(FaultKind.BUS_SILENT)])
    assert all(isinstance(sample, RawFailure) for sample in house.temperatures.latest().values())


def test_broken_fans_and_pumps() -> None:
    """A dead fan stands though driven, a welded one runs though not, a clogged pump moves a quarter."""
    names = list(settings().loops)
    house = plant(
        faults=[
            fault(FaultKind.FAN_DEAD, names[0]),
            fault(FaultKind.FAN_WELDED, names[1]),
            fault(FaultKind.PUMP_CLOGGED, SUMP, by=0.75),
        ]
    )
    house.switches[OutputId.fan(names[0])].set(True)
    sump = house.model.sumps[0]
    sump.volume_m3, sump.float_wet = 0.06, 1.0
    house.switches[PUMP].set(True)
    house.advance(60.0)
    running = house.truth().fan_running
    assert (running[names[0]], running[names[1]]) == (False, True)
    assert house.books().pumped_m3 == pytest.approx(0.03, rel=0.01)
    assert not house.switches[OutputId.fan(names[1])].is_on()


def test_a_deaf_output_raises() -> None:
    """It cannot be driven, as with a dead GPIO."""
    house = plant(faults=[fault(FaultKind.OUTPUT_DEAF, LOOP)])
    with pytest.raises(OSError, match=f"fan:{LOOP} cannot be driven"):
        house.switches[OutputId.fan(LOOP)].set(True)


def test_closing_an_output_switches_it_off() -> None:
    """As the real one does."""
    house = plant()
    switch = house.switches[PUMP]
    switch.set(True)
    switch.close()
    house.advance(60.0)
    assert not switch.is_on()
    assert not house.truth().pumping[SUMP]


def test_a_cloudburst_fills_the_sump() -> None:
    """Four hours of it on dry ground bring the float up within two days; without it the float stays down."""
    burst = ScriptedFault(FaultKind.CLOUDBURST, SUMP, 0.0, 4 * 3600.0)
    house, dry = plant(faults=[burst]), plant()
    for each in (house, dry):
        each.advance(2 * DAY_S)
    assert house.truth().float_wet[SUMP]
    assert not dry.truth().float_wet[SUMP]


def test_how_time_is_cut_does_not_matter_much() -> None:
    """A day in ticks of 7 s, 60 s and 600 s ends within 0.1 K and with books that all close."""
    ends = []
    for tick_s in (7.0, 60.0, 600.0):
        house = plant()
        set_kind(house, Kind.FAN, True)
        for _ in range(int(DAY_S / tick_s)):
            house.advance(tick_s)
        house.advance(DAY_S - (house.now_s - MONOTONIC_START_S))
        books = house.books()
        assert abs(books.energy_closure) < 1e-9
        assert abs(books.water_closure_m3) < 1e-9
        assert abs(books.vapour_closure_kg) < 1e-6
        assert abs(books.film_closure_kg) < 1e-6
        ends.append(house.truth().bench_c)
    assert np.ptp(ends) < 0.1


def test_a_leap_day_lives_through_the_day_before_again() -> None:
    """From 28 February 2028 the weather of 29 February is that of the 28th, and 1 March is 1 March."""
    start = datetime(2028, 2, 28)  # noqa: DTZ001
    assert leap_days_s(start, weather())[0] == DAY_S
    house = plant(start)
    outdoors = []
    for _ in range(3 * 24):
        house.advance(3600.0)
        outdoors.append(house.truth().outdoor_c)
    assert outdoors[:23] == pytest.approx(outdoors[24:47], abs=0.2)
    march = plant(datetime(2026, 3, 1))  # noqa: DTZ001
    march.advance(12 * 3600.0)
    assert outdoors[48 + 11] == pytest.approx(march.truth().outdoor_c, abs=1e-9)


def test_a_cut_float_wire_reads_as_the_float_is_built() -> None:
    """A float that opens on rise reads wet when its wire is cut, the other kind reads dry."""
    for kind, level in (("opens-on-rise", Level.WET), ("closes-on-rise", Level.DRY)):
        text = EXAMPLE.read_text(encoding="utf-8").replace('"opens-on-rise"', f'"{kind}"', 1)
        house = SimulatedPlant(parse(text), weather(), MARCH, faults=[fault(FaultKind.FLOAT_WIRE_CUT, SUMP)])
        house.advance(60.0)
        assert house.floats.look()[SUMP][-1].level is level


def test_swapped_probes_show_each_other_and_a_noisy_one_fails_now_and_then() -> None:
    """Ceiling and soil change places; two answers in five of the bench probe are damaged."""
    soil, bench = settings().probe_names("soil", LOOP)[0], settings().probe_names("bench")[0]
    faults = [
        fault(FaultKind.PROBE_SWAPPED, CEILING, other=soil),
        fault(FaultKind.PROBE_NOISY, bench, by=0.4),
    ]
    house, sound = plant(exact_probes=True, faults=faults), plant(exact_probes=True)
    damaged = 0
    for _ in range(200):
        for each in (house, sound):
            each.advance(60.0)
        damaged += isinstance(house.temperatures.latest()[bench], RawFailure)
    assert value_c(house, CEILING) == value_c(sound, soil)
    assert value_c(house, soil) == value_c(sound, CEILING)
    assert 50 < damaged < 110


def test_a_probe_in_the_sun_is_off_by_day_only() -> None:
    """At night it shows what it should, at noon it is several kelvins off."""
    house, sound = (
        plant(exact_probes=True, faults=faults)
        for faults in ((), (fault(FaultKind.PROBE_IN_SUN, CEILING, by=20.0),))
    )
    off_k = []
    for _ in range(2):
        off_k.append(abs(value_c(house, CEILING) - value_c(sound, CEILING)))
        for each in (house, sound):
            each.advance(12.5 * 3600.0)
    off_k.append(abs(value_c(house, CEILING) - value_c(sound, CEILING)))
    assert off_k[0] == 0.0
    assert off_k[1] > 3.0


def test_a_hung_bus_lets_samples_grow_old() -> None:
    """The last round stays, with its time; its worker still counts as alive."""
    house = plant(faults=[fault(FaultKind.BUS_HUNG, at_s=600.0)])
    house.advance(590.0)
    before = house.temperatures.latest()[CEILING]
    house.advance(3600.0)
    assert house.temperatures.latest()[CEILING] is before
    assert house.temperatures.alive()


def test_a_leaking_check_valve_sends_its_water_back_and_no_water_is_lost() -> None:
    """Twenty litres run back after a run, at 0.2 L/s, and the books close."""
    house = plant(faults=[fault(FaultKind.CHECK_VALVE_LEAKS, SUMP, by=0.02)])
    sump = house.model.sumps[0]
    sump.volume_m3, sump.float_wet = 0.06, 1.0
    start_m3 = 0.06
    house.switches[PUMP].set(True)
    house.advance(60.0)
    house.switches[PUMP].set(False)
    assert house.truth().water_m3[SUMP] == pytest.approx(0.0, abs=1e-9)
    house.advance(50.0)
    assert house.truth().water_m3[SUMP] == pytest.approx(0.01, abs=1e-9)
    house.advance(600.0)
    assert house.truth().water_m3[SUMP] == pytest.approx(0.02, abs=1e-9)
    assert house.books().pumped_m3 == pytest.approx(0.04, abs=1e-9)
    assert house.books().water_closure_m3 + start_m3 == pytest.approx(0.0, abs=1e-9)


def test_a_blocked_intake_costs_flow_and_power_and_brings_the_outlet_nearer_the_soil() -> None:
    """Half the intake shut: a fifth less air, less power, and a higher effectiveness; silt likewise."""
    names = list(settings().loops)
    house = plant(
        faults=[
            fault(FaultKind.FAN_BLOCKED, names[0], by=0.5),
            fault(FaultKind.TUBES_SILTED, names[1], by=0.5),
        ]
    )
    house.advance(12 * 3600.0)
    set_kind(house, Kind.FAN, True)
    house.advance(3600.0)
    blocked, silted, sound = house.model.loops
    assert 0.75 < blocked.flow_share < 0.85
    assert 0.8 < silted.flow_share < 0.95
    assert sound.flow_share == 1.0
    assert blocked.power_w < silted.power_w < sound.power_w
    assert blocked.units > sound.units > silted.units
    assert blocked.outlet_c < sound.outlet_c < silted.outlet_c


def test_silt_keeps_the_day_s_heat_from_the_soil_beside_it_and_no_heat_is_lost() -> None:
    """Probes among silted tubes miss the day's heat, the open tubes' soil gets more; the books close."""
    silted = ScriptedFault(FaultKind.TUBES_SILTED, "north", 2.0 * DAY_S, 4.0 * DAY_S, by=0.6)
    house = plant(exact_probes=True, faults=[silted])
    rule = PlainRule(house)
    run(house, 4.0, rule)
    warmed_k = value_c(house, "south-soil") - value_c(house, "north-soil")
    assert warmed_k > 2.0
    assert house.truth().soil_c["north"] > house.truth().soil_c["south"]
    assert house.model.loops["silted"][0] == pytest.approx(0.6)
    run(house, 1.0, rule)
    assert house.model.loops["silted"][0] == 0.0
    assert 0.0 < value_c(house, "south-soil") - value_c(house, "north-soil") < warmed_k
    assert abs(house.books().energy_closure) < 1e-9
