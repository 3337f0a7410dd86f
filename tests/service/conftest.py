"""A clock that stands still and a service manager that only listens."""

from __future__ import annotations

import logging
import socket

import pytest
import structlog


class FakeClock:
    """A clock that moves only when a test moves it."""

    def __init__(self):
        self.now_mono_s = 1000.0
        self.wall = None

    def monotonic_s(self):
        """The time a test has set."""
        return self.now_mono_s

    def wall_utc(self):
        """The date a test has set, None before."""
        return self.wall

    def wait(self, wake, timeout_s):
        """Wait so briefly that a thread under test looks again at once."""
        del timeout_s
        return wake.wait(0.002)


class Manager:
    """The receiving end of a notification socket."""

    def __init__(self, address):
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind(address)
        self.socket.setblocking(False)

    def heard(self):
        """All messages since the last question."""
        messages = []
        while True:
            try:
                messages.append(self.socket.recv(4096).decode())
            except BlockingIOError:
                return messages


@pytest.fixture
def clock():
    """A clock that a test moves by hand."""
    return FakeClock()


@pytest.fixture
def manager(tmp_path):
    """A service manager at the path ``tmp_path / "notify"``."""
    made = Manager(str(tmp_path / "notify"))
    yield made
    made.socket.close()


@pytest.fixture
def clean_logging():
    """Logging as it was before, whatever a test configures."""
    root = logging.getLogger()
    handlers, level, raising = root.handlers[:], root.level, logging.raiseExceptions
    yield
    root.handlers[:], logging.raiseExceptions = handlers, raising
    root.setLevel(level)
    for name in ("apscheduler", "paho", "asyncio"):
        logging.getLogger(name).setLevel(logging.NOTSET)
    structlog.reset_defaults()
