"""The lease: outputs go off in time without ticks, and stay off until ticks are back."""

from __future__ import annotations

import threading
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

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
    """What the loop does with the outputs in one tick."""
    guard.renew(now_mono_s)
    bank.drive({FAN: on}, now_mono_s)


def test_outputs_are_held_off_until_the_first_renewal(bank, guard, motor, clock):
    """Making the guard is enough to keep everything off; that is no trip."""
    bank.drive({FAN: True}, clock.now_mono_s)
    assert not motor.on
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


def test_outputs_stay_off_until_renewed_and_are_driven_again(bank, guard, motor, clock):
    """A trip is counted once, driving without renewal changes nothing, the next tick puts it right."""
    start_s = clock.now_mono_s
    tick(bank, guard, start_s)
    guard.check(start_s + 40.0)
    guard.check(start_s + 41.0)
    bank.drive({FAN: True}, start_s + 42.0)
    assert not motor.on
    tick(bank, guard, start_s + 43.0)
    assert motor.on
    assert guard.trips == 1


def test_tick_that_began_before_the_trip_does_not_renew(bank, guard, motor, clock):
    """A tick that hung wakes up with old readings; only the one after it may switch on."""
    start_s = clock.now_mono_s
    tick(bank, guard, start_s)
    clock.now_mono_s = start_s + 40.0
    guard.check(start_s + 40.0)
    tick(bank, guard, start_s + 10.0)
    bank.drive({FAN: True}, start_s + 41.0)
    assert not motor.on
    tick(bank, guard, start_s + 50.0)
    assert motor.on


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


def test_guard_thread_trips_by_itself_and_says_that_it_is_alive(bank, guard, motor, clock):
    """With no help from the tick the thread switches off; stopped or silent, it counts as dead."""
    assert not guard.alive()
    tick(bank, guard, clock.now_mono_s)
    off = threading.Event()
    original = bank.all_off
    bank.all_off = lambda why: (original(why), off.set())
    guard.start()
    assert guard.alive()
    clock.now_mono_s += LEASE_S
    assert off.wait(10.0)
    assert not motor.on
    guard.stop()
    assert not guard.alive()


def test_guard_that_has_stopped_looking_is_not_alive(bank, guard, clock):
    """A thread that exists but hangs does not feed the watchdog."""
    entered, go_on = threading.Event(), threading.Event()
    tick(bank, guard, clock.now_mono_s)
    bank.all_off = lambda _why: (entered.set(), go_on.wait(10.0))
    guard.start()
    clock.now_mono_s += LEASE_S
    assert entered.wait(10.0)
    clock.now_mono_s += 6.0
    assert not guard.alive()
    go_on.set()
    guard.stop()


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
            tick(bank, guard, now)
            renewed_mono_s = now
            assert motor.on
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
