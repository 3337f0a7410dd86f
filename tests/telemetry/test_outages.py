"""An hour without a broker, in seconds: nothing grows, and all is reported within a minute of its return."""

from __future__ import annotations

import os
import threading
import time

import pytest

from controller.diagnosis.alarms import AlarmEvent
from controller.faults import HOUR_S, FaultCode
from controller.settings.schema import Mqtt
from controller.telemetry.publisher import Publisher
from controller.telemetry.sender import Sender
from tests.broker import until
from tests.telemetry import ticks
from tests.telemetry.test_sender import ROOT, HurriedClock

OUTAGE_S, RETURN_S = HOUR_S, 60.0
LIMIT = 100  # a new connection learns of every alarm there can be, and of all that goes on
USER, RIGHT, WRONG = "house", "right-one", "wrong-one"


class LeapingClock(HurriedClock):
    """A clock that leaps over every pause."""

    def wait(self, wake, timeout_s):
        """Be there at once."""
        self.pauses_s.append(timeout_s)
        self.ahead_s += timeout_s
        return wake.wait(0.001)


class House:
    """Ticks of a house in frost, told to a sender; the alarm comes and goes."""

    def __init__(self, sender):
        self._publisher = Publisher(sender, ticks.PROGRAM, lambda: 0)
        self.seq = 0

    def tick(self, words, *, raised):
        """One tick, in which the frost alarm with these words is raised or cleared."""
        self.seq += 1
        alarm = ticks.alarm(FaultCode.FROST, "", words)
        decision = ticks.diagnosis(*[alarm] if raised else [], events=(AlarmEvent(alarm, raised),))
        self._publisher.observe(ticks.tick(seq=self.seq, now_mono_s=1000.0 + self.seq, diagnosis=decision))


@pytest.fixture
def secret(tmp_path):
    """The password file."""
    file = tmp_path / "secret"
    file.touch(mode=0o600)
    file.write_text(RIGHT)
    return file


@pytest.fixture
def clock():
    """A clock that leaps over pauses."""
    return LeapingClock()


@pytest.fixture
def sender(clock, secret, brokers):
    """A started sender to a broker with a password."""
    broker = brokers.with_password(USER, RIGHT)
    mqtt = Mqtt(host="127.0.0.1", port=broker.port, user=USER, password_file=str(secret), outbox_limit=LIMIT)
    sender = Sender(mqtt, "fellside", clock)
    sender.start()
    until(sender.connected, "the broker accepts the sender")
    yield sender
    assert sender.stop()


@pytest.mark.broker
@pytest.mark.parametrize("wrong_password", [False, True])
def test_all_is_told_within_a_minute_of_the_brokers_return(brokers, clock, sender, secret, wrong_password):
    """Stopped, or asking for another password, for an hour: bounded, and then status and alarms arrive."""
    broker = brokers._made[0]
    house = House(sender)
    files, threads = len(os.listdir("/proc/self/fd")), threading.active_count()  # noqa: PTH208 - a count
    broker.stop()
    if wrong_password:
        secret.write_text(WRONG)
        broker.start()
    while sum(clock.pauses_s) < OUTAGE_S:
        house.tick("air 1.2 °C", raised=house.seq % 2 == 0)
        assert sender.waiting() <= LIMIT
        time.sleep(0.005)
    assert len(sender.findings()) == 1
    assert len(os.listdir("/proc/self/fd")) <= files + 10  # noqa: PTH208
    assert threading.active_count() <= threads
    house.tick("raised meanwhile", raised=True)
    secret.write_text(RIGHT)
    if not wrong_password:
        broker.start()
    before = len(clock.pauses_s)
    until(sender.connected, "the broker accepts the sender again")
    assert sum(clock.pauses_s[before:]) <= RETURN_S
    house.tick("raised meanwhile", raised=True)
    recorder = broker.recorder(USER, RIGHT)
    recorder.wait(f"{ROOT}/status", lambda heard: heard.json()["seq"] == house.seq)
    recorder.wait(f"{ROOT}/alarm/frost", lambda heard: b"raised meanwhile" in heard.payload)
