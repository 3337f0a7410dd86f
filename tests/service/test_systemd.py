"""Telling the service manager: exact messages, silence where nobody listens, an honest watchdog."""

from __future__ import annotations

import os
import socket
import uuid
from itertools import pairwise

import pytest

from controller.service.systemd import Notifier, Watchdog

MANAGER_ENVIRONMENT = {"WATCHDOG_USEC": "45000000", "WATCHDOG_PID": "77"}


@pytest.fixture
def notifier(manager, tmp_path):
    """A notifier that talks to the fake manager."""
    del manager
    return Notifier({"NOTIFY_SOCKET": str(tmp_path / "notify")})


def test_messages_are_those_of_the_protocol(manager, notifier):
    """Each state is one datagram of KEY=VALUE lines."""
    assert notifier.ready("three loops, one sump")
    assert notifier.status("cooling")
    assert notifier.reloading(1234.567891)
    assert notifier.stopping()
    assert notifier.watchdog()
    assert manager.heard() == [
        "READY=1\nSTATUS=three loops, one sump",
        "STATUS=cooling",
        "RELOADING=1\nMONOTONIC_USEC=1234567891",
        "STOPPING=1",
        "WATCHDOG=1",
    ]


def test_status_with_a_line_break_cannot_smuggle_a_message(manager, notifier):
    """Text from elsewhere stays on its one line."""
    notifier.status("odd\nSTOPPING=1  text")
    assert manager.heard() == ["STATUS=odd STOPPING=1 text"]


def test_abstract_socket_is_reached():
    """An address that begins with @ is in the abstract namespace."""
    name = f"hypocaust-test-{uuid.uuid4()}"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind("\0" + name)
        listener.setblocking(False)
        assert Notifier({"NOTIFY_SOCKET": "@" + name}).ready()
        assert listener.recv(100) == b"READY=1"


def test_no_manager_means_silence(tmp_path):
    """Without a socket, or with one that nobody reads, nothing is sent and nothing raises."""
    assert not Notifier({}).ready()
    assert not Notifier({"NOTIFY_SOCKET": str(tmp_path / "gone")}).ready()


def test_manager_that_does_not_read_never_blocks_a_tick(notifier):
    """A full queue loses messages instead of stopping the loop."""
    sent = [notifier.watchdog() for _ in range(5000)]
    assert sent[0]
    assert not sent[-1]


def test_watchdog_pings_at_most_every_third_of_the_interval(manager, notifier):
    """Ticks in between send nothing; the first one pings at once."""
    watchdog = Watchdog(notifier, MANAGER_ENVIRONMENT, pid=77)
    assert watchdog.interval_s == 45.0
    pinged_s = [second for second in range(60) if watchdog.beat(True, 500.0 + second)]
    assert pinged_s == [0, 15, 30, 45]
    assert manager.heard() == ["WATCHDOG=1"] * 4


def test_watchdog_at_the_pace_of_the_guard_stays_below_half_the_interval(notifier):
    """With a look every second no two pings are further apart than sd_watchdog_enabled(3) recommends."""
    watchdog = Watchdog(notifier, MANAGER_ENVIRONMENT, pid=77)
    pinged_s = [second for second in range(600) if watchdog.beat(True, float(second))]
    assert max(later - earlier for earlier, later in pairwise(pinged_s)) <= 45.0 / 2


@pytest.mark.parametrize(("lease_s", "slow"), [(55.0, False), (54.9, True)])
def test_watchdog_that_bites_too_late_for_the_lease_is_known(notifier, lease_s, slow):
    """The interval and what switching off takes after it have to fit into the lease."""
    assert Watchdog(notifier, MANAGER_ENVIRONMENT, pid=77).too_slow_for(lease_s) is slow
    assert not Watchdog(notifier, {}, pid=77).too_slow_for(lease_s)


def test_watchdog_is_silent_while_any_worker_is_not_alive(manager, notifier):
    """A dead worker starves the watchdog however often the loop beats."""
    watchdog = Watchdog(notifier, MANAGER_ENVIRONMENT, pid=77)
    assert not any(watchdog.beat(False, 10.0 * step) for step in range(20))
    assert manager.heard() == []
    assert watchdog.beat(True, 200.0)


def test_ping_that_was_lost_is_sent_again_at_the_next_tick(tmp_path):
    """A ping the manager did not get does not count as sent."""
    watchdog = Watchdog(Notifier({"NOTIFY_SOCKET": str(tmp_path / "late")}), MANAGER_ENVIRONMENT, pid=77)
    assert not watchdog.beat(True, 0.0)
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(str(tmp_path / "late"))
        assert watchdog.beat(True, 10.0)


@pytest.mark.parametrize(
    "environment",
    [{}, {"WATCHDOG_USEC": "0"}, {"WATCHDOG_USEC": "soon"}, {**MANAGER_ENVIRONMENT, "WATCHDOG_PID": "78"}],
)
def test_no_watchdog_no_pings(manager, notifier, environment):
    """Without an interval, with a damaged one, or with one meant for another process, nothing is sent."""
    watchdog = Watchdog(notifier, environment, pid=77)
    assert watchdog.interval_s is None
    assert not watchdog.beat(True, 0.0)
    assert manager.heard() == []


def test_watchdog_without_pid_is_meant_for_us(notifier):
    """WATCHDOG_PID is optional."""
    assert Watchdog(notifier, {"WATCHDOG_USEC": "1500000"}).interval_s == 1.5
    assert Watchdog(notifier, {"WATCHDOG_USEC": "1", "WATCHDOG_PID": str(os.getpid())}).interval_s is not None
