"""A switch with a deadline: one that hangs holds up nobody, and ends off when it answers again."""

from __future__ import annotations

import threading
from functools import partial
from types import SimpleNamespace

import pytest

from controller.equipment import OutputId
from controller.outputs.bank import OutputBank, open_all
from controller.outputs.deadline import DeadlineSwitch

SOON_S = 0.05  # the deadline of what hangs for certain
PATIENCE_S = 30.0
FAN, FAN_2, PUMP = OutputId.fan("north"), OutputId.fan("south"), OutputId.pump("corner")


class HangingSwitch:
    """A switch whose driver hangs on demand."""

    def __init__(self):
        self.on = False
        self.writes = []
        self.go_on = threading.Event()
        self.go_on.set()
        self.ended_off = threading.Event()

    def set(self, on):
        """Drive, or hang first."""
        self.go_on.wait(PATIENCE_S)
        self.writes.append(on)
        self.on = on
        if not on:
            self.ended_off.set()

    def is_on(self):
        """Read, or hang first."""
        self.go_on.wait(PATIENCE_S)
        return self.on

    def close(self):
        """Drive off."""
        self.set(False)


@pytest.fixture
def hanging():
    """A switch that can hang; it lets go at the end."""
    switch = HangingSwitch()
    yield switch
    switch.go_on.set()


def behind(switch, deadline_s=PATIENCE_S):
    """That switch behind a deadline."""
    return DeadlineSwitch(lambda: switch, "GPIO 22", deadline_s)


def test_healthy_switch_is_the_same_with_a_deadline(switches):
    """Levels, errors and release go through; the thread ends with it."""
    switch = DeadlineSwitch(lambda: switches[FAN], "the only one of this name", PATIENCE_S)
    (thread,) = [one for one in threading.enumerate() if one.name == "output-the only one of this name"]
    switch.set(True)
    assert switch.is_on()
    switches[FAN].refuse = {False}
    with pytest.raises(OSError, match="Input/output error"):
        switch.set(False)
    switches[FAN].refuse = set()
    switch.close()
    assert switches[FAN].closed
    thread.join(PATIENCE_S)
    assert not thread.is_alive()


def test_hanging_write_fails_in_time_then_at_once_and_ends_off(hanging):
    """After the first deadline nobody waits any more; what was to go on goes off when the driver returns."""
    switch = behind(hanging, SOON_S)
    hanging.go_on.clear()
    with pytest.raises(OSError, match=r"GPIO 22 has not answered within 0.05 s"):
        switch.set(True)
    with pytest.raises(OSError, match="since a call before"):
        switch.is_on()
    hanging.go_on.set()
    assert hanging.ended_off.wait(PATIENCE_S)
    assert hanging.writes == [True, False]


@pytest.mark.parametrize("hangs", [FAN, FAN_2, PUMP])
def test_one_output_that_hangs_keeps_no_other_on(switches, hangs, hanging):
    """The others go off and the tick goes on, whichever hangs; the bank says which it was."""
    switches[hangs] = hanging
    bank = OutputBank({o: behind(s, SOON_S if o == hangs else PATIENCE_S) for o, s in switches.items()})
    bank.drive(dict.fromkeys(switches, True), 0.0)
    hanging.go_on.clear()
    pins = bank.drive({}, 10.0)
    assert pins.on == {**dict.fromkeys(switches, False), hangs: None}
    (finding,) = bank.findings()
    assert finding.subject == str(hangs)
    assert "it may be running" in finding.detail
    bank.hold("test", 45.0)
    assert [switch.on for output, switch in switches.items() if output != hangs] == [False, False]


def test_opening_goes_on_past_a_pin_that_hangs(monkeypatch, hanging):
    """Every other pin is driven off before the start is given up, naming the one."""
    opened = []

    def relay(pin, _active_high, _factory):
        opened.append(pin)
        if pin == 22:
            hanging.go_on.clear()
            hanging.go_on.wait(PATIENCE_S)
        return HangingSwitch()

    monkeypatch.setattr("controller.outputs.bank.Relay", relay)
    monkeypatch.setattr(
        "controller.outputs.bank.DeadlineSwitch", partial(DeadlineSwitch, deadline_s=4 * SOON_S)
    )
    wiring = SimpleNamespace(
        loops={"north": SimpleNamespace(fan_pin=22, active_high=True)},
        sumps={"corner": SimpleNamespace(pump_pin=17, active_high=True)},
        signal=None,
    )
    with pytest.raises(Exception, match="fan:north: GPIO 22 has not answered"):
        open_all(wiring, None)
    assert opened == [22, 17]
