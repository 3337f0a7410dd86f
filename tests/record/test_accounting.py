"""A day's sums against sums worked out by hand."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from controller.decision.command import Command, Decision, OutputChange
from controller.decision.reasons import Reason, ReasonCode
from controller.equipment import OutputId
from controller.readings.reading import Why
from controller.record.accounting import add_tick, day_of, heat_now_w
from controller.record.tally import JOULES_PER_KWH, DayTally, LoopTally, PumpTally
from tests.decision.world import HOUSE, World

NORTH = OutputId.fan("north")
MAIN = OutputId.pump("main")
WORDS = Reason(ReasonCode.DEMANDED, {"ceiling_c": 20.0, "soil_c": 10.0})


def commanding(*on: OutputId, started: tuple[OutputId, ...] = ()) -> Decision:
    """A decision in which exactly these outputs are on, and these have just been started."""
    outputs = [OutputId.fan(loop) for loop in HOUSE.loops] + [MAIN]
    commands = {output: Command(output in on, WORDS) for output in outputs}
    return Decision(commands, tuple(OutputChange(o, on=True, reason=WORDS) for o in started))


ALL_OFF = commanding()


def test_time_electricity_and_heat_add_up() -> None:
    """Half an hour at 120 W and 2400 W into the soil, then ten minutes at 600 W out of it."""
    world = World(settle=False)
    on = commanding(NORTH)
    day = add_tick(DayTally(), on, on, world.snapshot(), HOUSE, {"north": 2400.0}, 1800.0)
    day = add_tick(day, on, ALL_OFF, world.snapshot(), HOUSE, {"north": -600.0}, 600.0)
    day = add_tick(day, ALL_OFF, ALL_OFF, world.snapshot(), HOUSE, {"north": None}, 600.0)
    assert day.loops == {
        "north": LoopTally(
            run_s=2400.0,
            starts=0,
            electricity_j=120.0 * 2400.0,
            banked_j=2400.0 * 1800.0,
            returned_j=600.0 * 600.0,
        )
    }
    assert day.covered_s == 3000.0
    assert day.loops["north"].banked_j / JOULES_PER_KWH == pytest.approx(1.2)
    assert day.pumps == {}


def test_a_run_without_a_readable_outlet_counts_time_and_electricity_but_no_heat() -> None:
    """What was not measured is not claimed."""
    on = commanding(NORTH)
    day = add_tick(DayTally(), on, on, World(settle=False).snapshot(), HOUSE, {"north": None}, 100.0)
    assert day.loops["north"] == LoopTally(run_s=100.0, electricity_j=12_000.0)


def test_the_pump_adds_up_with_its_own_power() -> None:
    """A minute at 400 W is 24 kJ."""
    snapshot = World(settle=False).snapshot()
    started = commanding(MAIN, started=(MAIN,))
    day = add_tick(DayTally(), ALL_OFF, started, snapshot, HOUSE, {}, 10.0)
    day = add_tick(day, started, ALL_OFF, snapshot, HOUSE, {}, 60.0)
    assert day.pumps == {"main": PumpTally(run_s=60.0, starts=1, electricity_j=24_000.0)}


def test_a_start_counts_when_it_is_commanded_and_a_stop_does_not() -> None:
    """Two starts and a stop are two starts; nothing has run before the first of them."""
    snapshot = World(settle=False).snapshot()
    stop = ALL_OFF._replace(changes=(OutputChange(NORTH, on=False, reason=WORDS),))
    day = DayTally()
    for before, now in (
        (None, commanding(NORTH, started=(NORTH,))),
        (commanding(NORTH), stop),
        (stop, commanding(NORTH, started=(NORTH,))),
    ):
        day = add_tick(day, before, now, snapshot, HOUSE, {}, 10.0)
    assert (day.loops["north"].starts, day.loops["north"].run_s) == (2, 10.0)


def test_a_quiet_tick_keeps_every_sum() -> None:
    """With nothing running and nothing started only the time goes on."""
    snapshot = World(settle=False).snapshot()
    day = DayTally("2026-03-01", 100.0, 1.0, 30.0, {"north": LoopTally(5.0)}, {"main": PumpTally(7.0, 2)})
    day = add_tick(day, ALL_OFF, ALL_OFF, snapshot, HOUSE, {}, 10.0)
    assert day == DayTally(
        "2026-03-01", 110.0, 1.0, 30.0, {"north": LoopTally(5.0)}, {"main": PumpTally(7.0, 2)}
    )


def test_a_start_is_added_to_what_was_there() -> None:
    """Date, time, range and the sums of the same output stay; one start comes to them."""
    snapshot = World(settle=False).snapshot()
    day = DayTally("2026-03-01", 100.0, 1.0, 30.0, {"north": LoopTally(5.0, 1)}, {"main": PumpTally(7.0, 2)})
    started = commanding(NORTH, MAIN, started=(NORTH, MAIN))
    assert add_tick(day, ALL_OFF, started, snapshot, HOUSE, {}, 10.0) == DayTally(
        "2026-03-01", 110.0, 1.0, 30.0, {"north": LoopTally(5.0, 2)}, {"main": PumpTally(7.0, 3)}
    )


def test_heat_is_the_air_stream_times_its_change() -> None:
    """0.30 m³/s of dry air at 15 °C and 240 m carries 359.3 W a kelvin; ten kelvin lost are 3593 W banked.

    Density from the ideal gas law with R = 287.05 J/(kg K) and the pressure of the ICAO standard
    atmosphere at 240 m, 98 472 Pa; heat capacity 1006 J/(kg K).
    """
    world = World(settle=False)
    world.ceiling_c = 25.0
    world.outlet_c = {"north": 15.0, "middle": 15.0, "south": Why.SILENT}
    before = commanding(NORTH, OutputId.fan("south"))
    heat_w = heat_now_w(before, world.snapshot(), HOUSE)
    by_hand_w = 0.30 * 98_472.0 / (287.05 * 288.15) * 1006.0 * 10.0
    assert heat_w["north"] == pytest.approx(by_hand_w, rel=2e-3)
    assert heat_w["middle"] is None
    assert heat_w["south"] is None


def test_heat_given_back_is_negative() -> None:
    """An outlet warmer than the ceiling takes heat out of the soil."""
    world = World(settle=False)
    world.ceiling_c, world.outlet_c = 2.0, {"north": 9.0}
    heat_w = heat_now_w(commanding(NORTH), world.snapshot(), HOUSE)["north"]
    assert heat_w is not None
    assert heat_w == pytest.approx(-359.3 * 7.0, rel=2e-3)


def test_before_the_first_decision_nothing_has_run() -> None:
    """The very first tick knows of no heat."""
    assert heat_now_w(None, World(settle=False).snapshot(), HOUSE) == dict.fromkeys(HOUSE.loops)


def test_the_range_of_the_air_follows_the_bench() -> None:
    """Lowest and highest are those of the bench; a tick without any air changes neither."""
    world = World(settle=False)
    day = DayTally("2026-03-01")
    for bench_c in (8.0, 3.5, Why.SILENT, 21.0, 14.0):
        world.bench_c = bench_c
        world.ceiling_c = 15.0
        day = add_tick(day, None, ALL_OFF, world.snapshot(), HOUSE, {}, 10.0)
    world.ceiling_c = world.bench_c = Why.SILENT
    day = add_tick(day, None, ALL_OFF, world.snapshot(), HOUSE, {}, 10.0)
    assert (day.air_min_c, day.air_max_c) == (3.5, 21.0)
    assert day.date == "2026-03-01"


def test_the_ceiling_stands_in_where_there_is_no_bench() -> None:
    """Without a bench probe the range is that of the air under the roof."""
    world = World(settle=False)
    world.bench_c, world.ceiling_c = Why.NOT_FITTED, 33.0
    day = add_tick(DayTally(), None, ALL_OFF, world.snapshot(), HOUSE, {}, 10.0)
    assert (day.air_min_c, day.air_max_c) == (33.0, 33.0)


def test_sums_before_are_left_untouched() -> None:
    """Adding a tick gives new sums and changes none that somebody else may still read."""
    on = commanding(NORTH, MAIN)
    first = add_tick(DayTally(), on, on, World(settle=False).snapshot(), HOUSE, {"north": 1.0}, 10.0)
    kept = (dict(first.loops), dict(first.pumps))
    add_tick(first, on, on, World(settle=False).snapshot(), HOUSE, {"north": 1.0}, 10.0)
    assert (first.loops, first.pumps) == kept


def test_the_day_is_the_date_once_the_clock_is_set() -> None:
    """Until then there is no date to book on."""
    assert day_of(None) is None
    assert day_of(datetime(2026, 3, 1, 23, 59, tzinfo=UTC)) == "2026-03-01"


def test_a_kilowatt_hour_is_3600000_joules() -> None:
    """By definition: 1000 W for 3600 s."""
    assert JOULES_PER_KWH == 1000.0 * 3600.0
