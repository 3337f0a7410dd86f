"""The lease: outputs go off in time without ticks, and stay off until ticks are back."""

from __future__ import annotations

import threading
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.decision.driven import Lost
from controller.equipment import OutputId
from controller.faults import FaultCode
from controller.outputs.bank import OutputBank
from controller.outputs.lease import LeaseGuard

FAN = OutputId.fan("north")
LEASE_S = 35.0


class Motor:
    """A switch in memory."""

    def __init__(self):
        self.on = False

    def set(self, on):
        """Drive the motor."""
        self.on = on

    def is_on(self):
        """Whether it is driven."""
        return self.on

    def close(self):
        """Drive it off."""
        self.on = False


class HandClock:
    """A clock whose time is an attribute."""

    def __init__(self):
        self.now_mono_s = 0.0

    def monotonic_s(self):
        """The time a test has set."""
        return self.now_mono_s


@pytest.fixture
def motor():
    """The fan under guard."""
    return Motor()


@pytest.fixture
def bank(motor):
    """A bank of that one fan."""
    return OutputBank({FAN: motor})


@pytest.fixture
def guard(bank, clock):
    """A guard whose thread does not run."""
    return LeaseGuard(bank, clock, LEASE_S)


def tick(bank, guard, now_mono_s, on=True):
    """What the loop does with the outputs in one tick; returns what it was told to be lost."""
    lost = guard.lost()
    guard.renew(now_mono_s)
    bank.drive({FAN: on and lost is None}, now_mono_s)
    return lost


def test_outputs_are_held_off_until_the_first_renewal(bank, guard, motor, clock):
    """Making the guard is enough to keep everything off; that is no trip."""
    bank.drive({FAN: True}, clock.now_mono_s)
    assert not motor.on
    tick(bank, guard, clock.now_mono_s)
    tick(bank, guard, clock.now_mono_s)
    assert motor.on
    assert guard.trips == 0
    assert guard.findings() == ()


def test_outputs_go_off_before_the_lease_has_run_out(bank, guard, motor, clock):
    """The last check that lets them run is more than a check before the end of the lease."""
    start_s = clock.now_mono_s
    tick(bank, guard, start_s)
    assert not guard.check(start_s + LEASE_S - guard.check_every_s - 0.01)
    assert motor.on
    assert guard.check(start_s + LEASE_S - guard.check_every_s)
    assert not motor.on
    assert guard.trips == 1


def test_the_tick_after_a_trip_is_told_and_nothing_comes_back_by_itself(bank, guard, motor, clock):
    """A trip is reported once, with the lease; the old commands driven again change nothing."""
    start_s = clock.now_mono_s
    tick(bank, guard, start_s)
    guard.check(start_s + 40.0)
    guard.check(start_s + 41.0)
    clock.now_mono_s = start_s + 42.0
    guard.renew(clock.now_mono_s)
    bank.drive({FAN: True}, clock.now_mono_s)
    assert not motor.on
    assert guard.lost() == Lost(frozenset({FAN}), LEASE_S, start_s + 40.0)
    bank.drive({FAN: False}, clock.now_mono_s)
    assert guard.lost() is None
    assert guard.trips == 1
    tick(bank, guard, clock.now_mono_s)
    assert motor.on


def test_trip_with_nothing_on_is_told_too(bank, guard, clock):
    """Nobody looked for a while, whatever ran: it counts as a restart."""
    tick(bank, guard, clock.now_mono_s, on=False)
    guard.check(clock.now_mono_s + LEASE_S)
    assert guard.lost() == Lost(frozenset(), LEASE_S, clock.now_mono_s + LEASE_S)


@pytest.mark.parametrize("looks", [True, False])
def test_tick_that_hangs_until_the_lease_is_over_switches_nothing_on(bank, guard, motor, clock, looks):
    """Whether the guard trips in the middle of it or the tick itself finds out: the next one is told."""
    start_s = clock.now_mono_s
    tick(bank, guard, start_s)
    assert guard.lost() is None  # asked by the tick of 10 s later, which then hangs
    clock.now_mono_s = start_s + 50.0
    if looks:
        guard.check(clock.now_mono_s)
    guard.renew(start_s + 10.0)
    bank.drive({FAN: True}, start_s + 10.0)
    assert not motor.on
    assert guard.trips == 1
    assert tick(bank, guard, clock.now_mono_s) == Lost(frozenset({FAN}), LEASE_S, start_s + 50.0)
    tick(bank, guard, clock.now_mono_s)
    assert motor.on


def test_first_tick_that_is_too_late_to_be_carried_out_is_told(bank, guard, motor, clock):
    """What it commanded never happened, although there was nothing to trip."""
    start_s = clock.now_mono_s
    clock.now_mono_s += LEASE_S
    tick(bank, guard, start_s)
    assert not motor.on
    assert tick(bank, guard, clock.now_mono_s) == Lost(frozenset({FAN}), LEASE_S, clock.now_mono_s)


def test_trip_is_told_for_an_hour(bank, guard, clock):
    """The finding outlives the trip so that a person hears of it, then goes away."""
    start_s = clock.now_mono_s
    tick(bank, guard, start_s)
    clock.now_mono_s = start_s + 40.0
    guard.check(clock.now_mono_s)
    tick(bank, guard, clock.now_mono_s)
    (finding,) = guard.findings()
    assert (finding.code, finding.subject) == (FaultCode.OUTPUT, "lease")
    assert "35 s" in finding.detail
    clock.now_mono_s += 3601.0
    assert guard.findings() == ()


def test_log_that_blocks_does_not_keep_a_motor_running(bank, guard, motor, clock, monkeypatch):
    """Everything is off before the first word about it is written."""
    levels = []

    def note(*_args, **_values):
        levels.append(motor.on)

    monkeypatch.setattr("controller.outputs.bank.log", SimpleNamespace(info=note))
    monkeypatch.setattr("controller.outputs.lease.log", SimpleNamespace(error=note))
    tick(bank, guard, clock.now_mono_s)
    guard.check(clock.now_mono_s + LEASE_S)
    assert levels == [False, False]


def test_guard_thread_feeds_while_ticks_come_and_trips_by_itself(bank, motor, clock):
    """Each look at a renewed lease is passed on, even to a listener with a defect; none after the trip."""
    looked, off = threading.Event(), threading.Event()

    def listener():
        looked.set()
        raise ZeroDivisionError

    guard = LeaseGuard(bank, clock, LEASE_S, listener)
    tick(bank, guard, clock.now_mono_s)
    tick(bank, guard, clock.now_mono_s)
    original = bank.all_off
    bank.all_off = lambda why: (original(why), off.set())
    guard.start()
    assert looked.wait(10.0)
    looked.clear()
    assert looked.wait(10.0)
    clock.now_mono_s += LEASE_S
    assert off.wait(10.0)
    assert not motor.on
    looked.clear()
    guard.check(clock.now_mono_s)
    guard.stop()
    assert not looked.is_set()


@settings(max_examples=300, deadline=None)
@given(
    lease_s=st.floats(3.0, 180.0),
    late=st.floats(0.0, 1.5),
    steps=st.lists(
        st.tuples(
            st.sampled_from(["tick", "drive only", "late tick", "off", "nothing"]), st.integers(1, 400)
        ),
        max_size=60,
    ),
)
def test_nothing_is_on_longer_than_the_lease_after_the_last_renewal(lease_s, late, steps):
    """Whatever ticks come, hang or forget to renew: past the lease everything is off, at every look."""
    clock, motor = HandClock(), Motor()
    bank = OutputBank({FAN: motor})
    guard = LeaseGuard(bank, clock, lease_s)
    renewed_mono_s = None
    for what, looks in steps:
        now = clock.now_mono_s
        if what == "tick":
            lost = tick(bank, guard, now)
            renewed_mono_s = now
            assert motor.on is (lost is None)
        elif what == "drive only":
            bank.drive({FAN: True}, now)
        elif what == "late tick":
            began = now - late * lease_s
            tick(bank, guard, began)
            renewed_mono_s = began if renewed_mono_s is None else max(renewed_mono_s, began)
        elif what == "off":
            bank.drive({FAN: False}, now)
        for _ in range(looks):
            clock.now_mono_s += guard.check_every_s
            if motor.on:
                assert renewed_mono_s is not None
                assert clock.now_mono_s - renewed_mono_s <= lease_s * (1 + 1e-9)
            guard.check(clock.now_mono_s)
