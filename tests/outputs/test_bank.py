"""All outputs together: only changes are written, failures end off, nothing raises."""

from __future__ import annotations

import threading
from types import SimpleNamespace

import pytest
from gpiozero.pins.mock import MockFactory

from controller.decision.driven import Lost, Turn
from controller.equipment import OutputId
from controller.faults import FaultCode
from controller.outputs.bank import OutputBank, open_all
from controller.outputs.board import BoardError

PUMP, FAN, FAN_2 = OutputId.pump("corner"), OutputId.fan("north"), OutputId.fan("south")
ALL_OFF = {PUMP: False, FAN: False, FAN_2: False}


@pytest.fixture
def bank(switches):
    """A bank of the two fans and the pump."""
    return OutputBank(switches)


def wiring(*, fan_2_pin=23):
    """The part of the settings that opening relays needs."""
    return SimpleNamespace(
        sumps={"corner": SimpleNamespace(pump_pin=17, active_high=True)},
        loops={
            "north": SimpleNamespace(fan_pin=22, active_high=False),
            "south": SimpleNamespace(fan_pin=fan_2_pin, active_high=True),
        },
        signal=None,
    )


def test_only_what_differs_is_written(bank, switches):
    """A command that is already true touches no pin."""
    bank.drive({**ALL_OFF, FAN: True}, 0.0)
    bank.drive({**ALL_OFF, FAN: True}, 10.0)
    assert switches[FAN].writes == [True]
    assert switches[PUMP].writes == []
    assert bank.is_on(FAN)
    assert bank.findings() == ()


def test_off_goes_before_on(bank, switches):
    """A change-over never has both running because of the order of writing."""
    order = []
    for output, switch in switches.items():
        switch.set = lambda on, output=output, switch=switch: (
            order.append((output, on)),
            setattr(switch, "on", on),
        )
    bank.drive({**ALL_OFF, FAN_2: True}, 0.0)
    bank.drive({**ALL_OFF, PUMP: True}, 10.0)
    assert order == [(FAN_2, True), (FAN_2, False), (PUMP, True)]


def test_output_without_a_command_is_off(bank, switches):
    """What a decision does not mention does not keep running."""
    bank.drive({FAN: True}, 0.0)
    bank.drive({}, 10.0)
    assert not switches[FAN].on


def test_output_that_went_off_by_itself_stays_off_until_a_decision_knows_of_it(bank, switches):
    """What runs no more is reported as lost and starts again only after it was commanded off in between."""
    bank.drive({FAN: True}, 0.0)
    assert bank.lost() is None
    switches[FAN].on = False
    pins = bank.drive({FAN: True}, 10.0)
    assert (pins.on[FAN], pins.turns) == (False, (Turn(FAN, False, 10.0),))
    assert bank.lost() == Lost(frozenset({FAN}))
    assert "went off by itself" in bank.findings()[0].detail
    bank.drive({FAN: True}, 20.0)
    assert not switches[FAN].on
    bank.drive({FAN: False}, 30.0)
    assert bank.lost() is None
    bank.drive({FAN: True}, 40.0)
    assert switches[FAN].on
    assert bank.findings() == ()


def test_every_switching_is_told_once_with_its_time(switches):
    """The times are the clock's, not the decision's; who switched does not matter."""
    clock = SimpleNamespace(monotonic_s=lambda: 17.5)
    bank = OutputBank(switches, clock)
    assert bank.drive({PUMP: True}, 10.0).turns == (Turn(PUMP, True, 17.5),)
    assert bank.drive({PUMP: True}, 20.0).turns == ()
    bank.hold("test", 40.0)
    bank.release()
    pins = bank.drive({PUMP: True}, 50.0)
    assert pins.turns == (Turn(PUMP, False, 17.5),)
    assert pins.on == ALL_OFF


def test_motor_that_may_have_started_unseen_counts_as_started(bank, switches):
    """An output that was driven on and cannot be read back is forced off; its level is unknown."""
    switches[FAN].blind_after = True
    pins = bank.drive({FAN: True}, 10.0)
    assert pins.on[FAN] is None
    assert pins.turns == (Turn(FAN, True, 10.0),)
    assert switches[FAN].writes[-1] is False
    switches[FAN].blind = switches[FAN].blind_after = False
    assert bank.drive({FAN: False}, 20.0).turns == (Turn(FAN, False, 20.0),)


def test_fans_go_off_before_pumps(bank, switches):
    """Fans feed a fire and blow into water within seconds; a pump takes no harm from one more."""
    order = []
    for output, switch in switches.items():
        switch.set = lambda on, output=output: order.append((output, on))
    bank.all_off("test")
    assert order == [(FAN, False), (FAN_2, False), (PUMP, False)]


def test_failure_to_switch_on_ends_off_and_leaves_the_others_working(bank, switches):
    """One broken output is a finding, its neighbours run as commanded."""
    switches[FAN].refuse = {True}
    bank.drive({FAN: True, FAN_2: True, PUMP: True}, 0.0)
    assert switches[FAN].writes == [True, False]
    assert switches[FAN_2].on
    assert switches[PUMP].on
    (finding,) = bank.findings()
    assert (finding.code, finding.subject) == (FaultCode.OUTPUT, "fan:north")
    assert "could not be switched on" in finding.detail
    assert finding.detail.endswith("it is off")


def test_finding_stays_until_the_same_command_has_worked(bank, switches):
    """Being off again does not prove that switching on works."""
    switches[FAN].refuse = {True}
    bank.drive({FAN: True}, 0.0)
    switches[FAN].refuse = set()
    bank.drive({FAN: False}, 10.0)
    assert len(bank.findings()) == 1
    bank.drive({FAN: True}, 20.0)
    assert bank.findings() == ()


def test_output_that_will_not_go_off_says_that_it_may_be_running(bank, switches):
    """The one case in which a person must go and look is said in those words, and every tick tries again."""
    bank.drive({FAN: True}, 0.0)
    switches[FAN].refuse = {False}
    bank.drive({FAN: False}, 10.0)
    bank.drive({FAN: False}, 20.0)
    (finding,) = bank.findings()
    assert "it may be running" in finding.detail
    assert switches[FAN].writes.count(False) == 4
    switches[FAN].refuse = set()
    bank.drive({FAN: False}, 30.0)
    assert bank.findings() == ()


def test_read_back_that_contradicts_the_command_is_a_finding(bank, switches):
    """A pin that reads back on after being driven off is reported."""
    switches[FAN].welded = True
    bank.drive(ALL_OFF, 0.0)
    (finding,) = bank.findings()
    assert "reads back on" in finding.detail


def test_output_that_cannot_be_read_is_driven_off(bank, switches):
    """Nothing is left on that cannot be watched."""
    bank.drive({FAN: True}, 0.0)
    switches[FAN].blind = True
    bank.drive({FAN: True}, 10.0)
    assert not switches[FAN].on
    assert bank.is_on(FAN) is None
    assert bank.findings()[0].subject == "fan:north"


def test_unexpected_exception_does_not_reach_the_tick(bank, switches):
    """Even an error that no port promises leaves the other outputs driven."""

    def broken(_on):
        raise ZeroDivisionError

    switches[PUMP].set = broken
    bank.drive({PUMP: True, FAN: True}, 0.0)
    assert switches[FAN].on
    assert bank.findings()[0].subject == "pump:corner"


def test_all_off_writes_even_what_reads_off(bank, switches):
    """All off trusts no read-back."""
    bank.drive({FAN: True}, 0.0)
    bank.all_off("test")
    assert all(switch.writes[-1] is False for switch in switches.values())
    assert not any(switch.on for switch in switches.values())


def test_all_off_goes_on_past_a_broken_output(bank, switches):
    """The first output that fails does not protect the next from being switched off."""
    bank.drive({PUMP: True, FAN: True}, 0.0)
    switches[PUMP].refuse = {False}
    bank.all_off("test")
    assert not switches[FAN].on
    assert [finding.subject for finding in bank.findings()] == ["pump:corner"]


def test_held_bank_switches_nothing_on(bank, switches):
    """While the bank is held every command means off."""
    bank.drive({FAN: True}, 0.0)
    bank.hold("test", 5.0)
    switches[FAN].writes.clear()
    bank.drive({FAN: True}, 10.0)
    assert True not in switches[FAN].writes
    bank.release()
    bank.drive({FAN: True}, 20.0)
    assert not switches[FAN].on
    bank.drive({FAN: False}, 30.0)
    bank.drive({FAN: True}, 40.0)
    assert switches[FAN].on


def test_decision_older_than_the_hold_switches_nothing_on(bank, switches):
    """A tick that hung through the hold does not act on what it saw before."""
    bank.hold("test", 60.0)
    bank.release()
    bank.drive({FAN: True}, 59.0)
    assert not switches[FAN].on
    assert bank.lost() == Lost(frozenset({FAN}))
    bank.drive({FAN: False}, 60.0)
    bank.drive({FAN: True}, 61.0)
    assert switches[FAN].on


def test_hold_does_not_wait_for_a_drive_that_hangs(bank, switches):
    """The other outputs go off while one driver call is stuck, and the stuck one goes off when it returns."""
    bank.drive({FAN_2: True}, 0.0)
    stuck, go_on = threading.Event(), threading.Event()

    def slow(on):
        if on:
            stuck.set()
            go_on.wait(30.0)
        switches[FAN].on = on

    switches[FAN].set = slow
    tick = threading.Thread(target=bank.drive, args=({FAN: True, FAN_2: True}, 10.0))
    tick.start()
    assert stuck.wait(10.0)
    bank.hold("test", 45.0)
    assert not switches[FAN_2].on
    assert tick.is_alive()
    go_on.set()
    tick.join(10.0)
    assert not switches[FAN].on


def test_close_drives_off_and_releases_everything(bank, switches):
    """One that cannot be released does not keep the others; nothing can be switched on afterwards."""
    bank.drive({PUMP: True, FAN: True}, 0.0)
    switches[PUMP].refuse = {False}
    bank.close()
    assert not switches[FAN].on
    assert switches[FAN].closed
    assert switches[FAN_2].closed
    bank.drive({FAN: True}, 10.0)
    assert not switches[FAN].on


def test_every_relay_is_off_once_opened():
    """Pins that stood at ON are OFF before the bank is handed over, whatever their polarity."""
    factory = MockFactory()
    for pin, on_level in ((17, True), (22, False), (23, True)):
        factory.pin(pin).function = "output"
        factory.pin(pin).state = on_level
    bank = open_all(wiring(), factory)
    assert [factory.pin(pin).state for pin in (17, 22, 23)] == [False, True, False]
    bank.drive({PUMP: True, FAN: True, FAN_2: True}, 0.0)
    assert [factory.pin(pin).state for pin in (17, 22, 23)] == [True, False, True]
    bank.close()
    factory.close()


def test_pin_that_cannot_be_opened_leaves_the_others_off_and_is_named():
    """Opening goes on past a bad pin so that the good ones are off, then refuses and names the output."""
    factory = MockFactory()
    factory.pin(22).function = "output"
    factory.pin(22).state = False
    opened = []
    factory.pin(22).close = lambda: opened.append(factory.pin(22).state)
    with pytest.raises(BoardError, match="fan:south: GPIO 99 cannot be opened"):
        open_all(wiring(fan_2_pin=99), factory)
    assert opened == [True]
    factory.close()
