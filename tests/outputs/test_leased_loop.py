"""The loop over real outputs under a lease: what is recorded, kept and counted when ticks stop coming."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from controller.decision.reasons import ReasonCode
from controller.equipment import OutputId
from controller.loop import ControlLoop, Parts
from controller.outputs.bank import OutputBank
from controller.outputs.lease import LeasedOutputs, LeaseGuard
from controller.record.restoring import restored
from tests.decision.world import HOUSE, MINUTE_S, World

FANS = [OutputId.fan(name) for name in HOUSE.loops]
LEASE_S = HOUSE.service.lease_s


class House:
    """A controller on a sunny noon whose ticks a test makes."""

    def __init__(self, clock, switch):
        self.clock, self.world = clock, World(settle=False)
        self.world.sunny()
        self.switches = {output: switch() for output in (*FANS, OutputId.pump("main"))}
        bank = OutputBank(self.switches, clock)
        self.guard = LeaseGuard(bank, clock, LEASE_S)
        self.saved = []
        self.parts = Parts(
            clock,
            lambda: HOUSE,
            SimpleNamespace(gather=self._seen, settles_at_mono_s=None),
            SimpleNamespace(latest=dict),
            SimpleNamespace(look=dict),
            LeasedOutputs(bank, self.guard),
            memory=SimpleNamespace(save=lambda data, *, urgent: self.saved.append((data, urgent))),
        )
        self.loop = ControlLoop(self.parts)

    def _seen(self, *_args, **_values):
        self.world.now_s = self.clock.monotonic_s()
        return self.world.snapshot()

    def tick(self, after_s=10.0):
        """Let time pass and tick; the guard looks before as its thread would."""
        self.clock.now_mono_s += after_s
        self.guard.check(self.clock.now_mono_s)
        return self.loop.tick()

    def on(self):
        """Which outputs are driven on."""
        return [output for output, switch in self.switches.items() if switch.on]


@pytest.fixture
def house(clock, switches):
    """A house after its first hours, with all fans on."""
    made = House(clock, type(switches[OutputId.fan("north")]))
    while len(made.on()) < len(FANS):
        made.tick()
        assert made.clock.now_mono_s < 1e5
    return made


def test_ticks_that_come_back_after_a_trip_record_remember_and_count_what_went_off(house):
    """Off in the history, rests in the memory, and no more running time than the motors had."""
    before = house.tick()
    silent_s = 10 * MINUTE_S
    for _ in range(int(LEASE_S)):
        house.clock.now_mono_s += 1.0
        house.guard.check(house.clock.now_mono_s)
    assert house.on() == []
    record = house.tick(silent_s - LEASE_S)
    assert house.on() == []
    assert {(change.output, change.reason.code) for change in record.decision.changes} == {
        (fan, ReasonCode.NO_DECISION) for fan in FANS
    }
    data, _ = house.saved[-1]
    kept = restored(record.state, data, same_boot=True, now_mono_s=record.now_mono_s)
    assert all(kept.outputs[fan].since_mono_s == record.now_mono_s for fan in FANS)
    for loop in HOUSE.loops:
        ran_s = record.today.loops[loop].run_s - before.today.loops[loop].run_s
        assert ran_s == pytest.approx(LEASE_S, abs=house.guard.check_every_s)
    covered_s = record.today.covered_s - before.today.covered_s
    assert covered_s == pytest.approx(LEASE_S, abs=house.guard.check_every_s)
    assert {output for output, on in record.pins.on.items() if on} == set()
    assert house.loop.broken == ()


def test_thirteen_trips_give_no_more_starts_than_an_hour_allows(house):
    """A program that hangs again and again wears no motor out, and breaks no promise."""
    starts = {fan: switch.writes.count(True) for fan, switch in house.switches.items()}
    for _ in range(13):
        house.tick(LEASE_S + 60.0)
        house.tick()
    for output, switch in house.switches.items():
        assert switch.writes.count(True) - starts[output] <= HOUSE.fans.starts_per_hour
    assert house.loop.broken == ()


def test_single_output_that_failed_is_counted_as_standing(house):
    """One fan goes off by itself: recorded with the next tick but one, and it counts no running time then."""
    fan = FANS[0]
    house.switches[fan].on = False
    seen = house.tick()
    assert seen.pins.on[fan] is False
    record = house.tick()
    (change,) = record.decision.changes
    assert (change.output, change.reason.code) == (fan, ReasonCode.OUTPUT_FAILED)
    assert record.today.loops[fan.name].run_s == seen.today.loops[fan.name].run_s
    assert house.on() == FANS[1:]
    assert house.loop.broken == ()
