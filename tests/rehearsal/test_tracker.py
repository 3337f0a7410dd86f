"""Sums over a rehearsal, from ticks of a small world and a house held by hand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import pytest

from controller.decision.state import Demand
from controller.equipment import OutputId
from controller.faults import DAY_S
from controller.readings.reading import Level
from controller.rehearsal.hours import HourBook
from controller.rehearsal.journal import Doing, Journal
from controller.rehearsal.tracker import Tracker
from controller.simulator.house.state import HouseState, LoopState, record, rows
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World

START = datetime(2026, 1, 1, tzinfo=UTC)
FAN_W, HEAT_W = 120.0, -2400.0
HEATER_W = 5000.0


class Plant:
    """A house whose every number a test sets."""

    def __init__(self):
        loops, sumps = tuple(HOUSE.loops), tuple(HOUSE.sumps)
        self.model = SimpleNamespace(
            house=record(HouseState),
            loops=rows(LoopState, len(loops)),
            loop_names=loops,
            sump_names=sumps,
        )
        self.model.loops["power_w"] = FAN_W
        self.model.loops["heat_w"] = HEAT_W
        self.air(10.0, 10.0)
        self.building = HOUSE.house
        self.heater_s = self.screen_s = self.shade_s = 0.0
        self.charged_j = self.discharged_j = self.latent_j = self.electricity_j = 0.0

    def truth(self):
        """What the tracker reads of the true state."""
        return SimpleNamespace(
            soil_c=dict.fromkeys(self.model.loop_names, 12.0),
            charged_j=self.charged_j,
            discharged_j=self.discharged_j,
            latent_j=self.latent_j,
            fan_energy_j=self.electricity_j,
        )

    def books(self):
        """Books that close but for a millionth."""
        return SimpleNamespace(
            energy_closure=1e-6,
            heater_s=self.heater_s,
            heater_j=HEATER_W * self.heater_s,
            screen_s=self.screen_s,
            shade_s=self.shade_s,
        )

    def air(self, bench_c, outdoor_c):
        """Set the air."""
        self.model.house.bench_c = bench_c
        self.model.house.out_c = outdoor_c


@pytest.fixture
def world():
    """A world whose motors have rested."""
    return World()


def minute_of(world):
    """The tick that comes after a minute."""
    world.tick(MINUTE_S)
    return world.record


def test_frost_and_degree_hours_are_sums_over_time(world):
    """Two hours at -1 °C are two of frost and ten K h below 4 °C; three at 34 °C are six above 32 °C."""
    plant = Plant()
    tracker = Tracker(plant)
    record = minute_of(world)
    for bench_c, outdoor_c, dt_s in ((-1.0, -5.0, 2 * HOUR_S), (34.0, 30.0, 3 * HOUR_S), (4.0, 0.0, HOUR_S)):
        plant.air(bench_c, outdoor_c)
        tracker.passed(record, dt_s)
    house = tracker.house_sums()
    assert (house.air_min_c, house.air_max_c) == (-1.0, 34.0)
    assert (house.outdoor_min_c, house.outdoor_max_c) == (-5.0, 30.0)
    assert house.hours_below_0c == pytest.approx(2.0)
    assert house.outdoor_hours_below_0c == pytest.approx(2.0)
    assert house.degree_hours_below_4c == pytest.approx(10.0)
    assert house.degree_hours_above_32c == pytest.approx(6.0)


def warm_until(world, tracker, minutes):
    """Hold the house at 4 °C over soil of 12 °C, so that fans warm it."""
    world.ceiling_c, world.bench_c = 3.5, 4.0
    for _ in range(minutes):
        tracker.passed(minute_of(world), MINUTE_S)


def test_fan_hours_electricity_and_heat_go_to_loop_and_purpose(world):
    """What ran is counted once by loop and once by purpose, and both agree."""
    plant = Plant()
    tracker = Tracker(plant)
    warm_until(world, tracker, 120)
    fans, ground = tracker.fan_sums(), tracker.ground_sums()
    assert fans.starts == len(HOUSE.loops)
    assert fans.run_hours > 3.0
    assert set(ground.by_demand) == {"heat"}
    heat = ground.by_demand["heat"]
    assert heat.run_hours == pytest.approx(fans.run_hours)
    assert heat.energy_kwh == pytest.approx(fans.energy_kwh)
    assert heat.energy_kwh == pytest.approx(fans.run_hours * FAN_W / 1000.0)
    assert heat.heat_kwh == pytest.approx(fans.run_hours * HEAT_W / 1000.0)
    assert sum(loop.discharged_kwh for loop in fans.by_loop.values()) == pytest.approx(-heat.heat_kwh)
    assert sum(fans.idle_hours.values()) + fans.run_hours == pytest.approx(2.0 * len(HOUSE.loops))


def test_pump_and_water_are_counted_by_sump(world):
    """A wet float counts as wet, the pump runs, and every fan is locked for as long as the tubes drain."""
    tracker = Tracker(Plant())
    world.level["main"] = Level.WET
    tracker.passed(minute_of(world), MINUTE_S)
    world.level["main"] = Level.DRY
    tracker.passed(minute_of(world), MINUTE_S)
    pump = tracker.pump_sums()
    assert pump.starts == pump.by_sump["main"].starts == 1
    assert pump.wet_hours == pytest.approx(MINUTE_S / HOUR_S)
    assert pump.run_hours >= MINUTE_S / HOUR_S
    assert pump.locked_hours == pytest.approx(2 * len(HOUSE.loops) * MINUTE_S / HOUR_S)


def test_latent_share_is_of_what_was_charged():
    """Nothing charged means no share, not a division by 0."""
    plant = Plant()
    tracker = Tracker(plant)
    assert tracker.ground_sums().latent_share == 0.0
    plant.charged_j, plant.latent_j = 4.0e6, 1.0e6
    assert tracker.ground_sums().latent_share == pytest.approx(0.25)
    assert tracker.ground_sums().energy_closure_error == 1e-6


def test_journal_keeps_runs_with_their_purpose(world):
    """A fan that warms, then fights frost, leaves two spans without a gap; the last ends with the journal."""
    journal = Journal(START)
    passed_s = 0.0
    for air_c in (4.0, 1.0):
        world.ceiling_c = world.bench_c = air_c
        for _ in range(30):
            journal.note(minute_of(world), passed_s)
            passed_s += MINUTE_S
    journal.close(passed_s)
    spans = [span for span in journal.spans if span.name == "north"]
    assert [span.demand for span in spans] == [Demand.HEAT, Demand.FROST]
    assert spans[0].ended == spans[1].began == START + timedelta(minutes=30)
    assert spans[1].ended == START + timedelta(minutes=60)
    assert {span.doing for span in spans} == {Doing.FAN}


def test_journal_remembers_the_first_of_each_reason_and_alarm(world):
    """Three fans that start for the same reason are one example; a frost alarm has its time."""
    journal = Journal(START)
    world.ceiling_c = world.bench_c = 1.0
    for minute in range(60):
        journal.note(minute_of(world), minute * MINUTE_S)
    examples = journal.examples(5)
    assert len(examples) == 1
    assert examples[0].change.output.kind == "fan"
    assert set(journal.alarms) == {"frost"}
    raised = journal.alarms["frost"]
    assert raised.times == 1
    assert START < raised.first_at <= START + timedelta(minutes=11)


def test_examples_do_not_drown_in_pump_changes(world):
    """However many reasons pumps have, two are shown."""
    journal = Journal(START)
    now_s = 0.0
    while now_s < 7 * DAY_S + HOUR_S:
        often = now_s < HOUR_S or now_s > 7 * DAY_S - HOUR_S
        now_s += MINUTE_S if often else 10 * MINUTE_S
        world.level["main"] = Level.WET if 5 * MINUTE_S < now_s <= 7 * MINUTE_S else Level.DRY
        world.tick(MINUTE_S if often else 10 * MINUTE_S)
        journal.note(world.record, now_s)
    kinds = [example.change.output for example in journal.examples(99)]
    assert kinds.count(OutputId.pump("main")) == 2


def test_hour_rows_close_at_full_hours_and_keep_sums(world):
    """Sixty minutes make a row; the rest of a broken hour makes one too; what the rows hold adds up."""
    plant = Plant()
    book = HourBook(plant, START)
    world.ceiling_c, world.bench_c = 3.5, 4.0
    for minute in range(90):
        plant.air(4.0 if minute != 10 else 1.5, -3.0)
        plant.discharged_j += 3.6e5
        plant.electricity_j += 3.6e4
        book.passed(minute_of(world), MINUTE_S, (minute + 1) * MINUTE_S)
    book.close(90 * MINUTE_S)
    book.close(90 * MINUTE_S)
    assert [row.ended - START for row in book.rows] == [timedelta(hours=1), timedelta(hours=1.5)]
    assert [row.bench_min_c for row in book.rows] == [1.5, 4.0]
    assert [row.discharged_kwh for row in book.rows] == pytest.approx([6.0, 3.0])
    assert sum(row.electricity_kwh for row in book.rows) == pytest.approx(0.9)
    assert 0.0 < book.rows[0].fan_s["north"] <= 3600.0
    assert book.rows[1].fan_s["north"] == pytest.approx(1800.0)


def test_only_what_is_fitted_is_summed_from_the_start_on():
    """Two hours of a 5 kW heater are 10 kWh, what ran before the start left out; no cloth, no line."""
    plant = Plant()
    plant.building = HOUSE.house.model_copy(update={"heater_power_w": HEATER_W, "screen_saving": 0.4})
    plant.heater_s = plant.screen_s = HOUR_S
    tracker = Tracker(plant)
    plant.heater_s = 3.0 * HOUR_S
    fittings = tracker.house_sums().fittings
    assert sorted(fittings) == ["heater", "screen"]
    assert fittings["heater"].run_hours == pytest.approx(2.0)
    assert fittings["heater"].heat_kwh == pytest.approx(10.0)
    assert (fittings["screen"].run_hours, fittings["screen"].heat_kwh) == (0.0, 0.0)
    plant.building = HOUSE.house
    assert tracker.house_sums().fittings == {}
