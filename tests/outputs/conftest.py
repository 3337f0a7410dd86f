"""Switches that fail on request, a clock that stands still, and a GPIO chip made of memory."""

from __future__ import annotations

import errno

import pytest

from controller.equipment import OutputId

FAN = OutputId.fan("north")
FAN_2 = OutputId.fan("south")
PUMP = OutputId.pump("corner")

HOUSE = """
[board]
pin_factory = "{factory}"

[sumps.corner]
float_pin = 5
pump_pin = 17

[loops.north]
fan_pin = 22
active_high = false
sump = "corner"

[loops.south]
fan_pin = 23
sump = "corner"
"""


class FakeClock:
    """A clock that moves only when a test moves it."""

    def __init__(self):
        self.now_mono_s = 1000.0

    def monotonic_s(self):
        """The time a test has set."""
        return self.now_mono_s

    def wall_utc(self):
        """No date is known."""

    def wait(self, wake, timeout_s):
        """Wait so briefly that a thread under test looks again at once."""
        del timeout_s
        return wake.wait(0.002)


class FaultySwitch:
    """A switch in memory that records what it was commanded and can be made to fail."""

    def __init__(self):
        self.on = False
        self.writes = []
        self.refuse = set()
        self.welded = False
        self.blind = False
        self.blind_after = False
        self.closed = False

    def set(self, on):
        """Record the write, and fail if asked to."""
        self.writes.append(on)
        if on in self.refuse:
            raise OSError(errno.EIO, "Input/output error")
        self.on = on
        self.blind |= self.blind_after

    def is_on(self):
        """What the pin shows, welded contacts included."""
        if self.blind:
            raise OSError(errno.EIO, "Input/output error")
        return self.on or self.welded

    def close(self):
        """Drive off and remember it."""
        self.set(False)
        self.closed = True


class FakeChip:
    """The part of the lgpio library that gpiozero uses, on a chip made of memory."""

    def __init__(self, lgpio, labels):
        self.error = lgpio.error
        self.labels = labels
        self.levels = {}
        self.outputs = set()
        self.history = []
        self.busy = set()
        self.closed_handles = []

    def gpiochip_open(self, number):
        """Open a chip, or refuse."""
        if self.labels.get(number) is None:
            raise self.error("can not open gpiochip")
        return number

    def gpiochip_close(self, handle):
        """Remember that the chip was closed."""
        self.closed_handles.append(handle)

    def gpio_get_chip_info(self, handle):
        """Status, lines, name and label."""
        return [0, 54, f"gpiochip{handle}", self.labels[handle]]

    def gpio_claim_input(self, _handle, pin, _flags=0):
        """Make a pin an input, unless another program holds it."""
        if pin in self.busy:
            raise self.error("GPIO busy")
        self.outputs.discard(pin)
        self.history.append((pin, "input"))

    def gpio_claim_output(self, _handle, pin, level=0):
        """Make a pin an output at a level; low if none is given, as the library does."""
        self.outputs.add(pin)
        self.levels[pin] = level
        self.history.append((pin, level))

    def gpio_get_mode(self, _handle, pin):
        """Bit 1 is set for an output."""
        return 2 if pin in self.outputs else 0

    def gpio_read(self, _handle, pin):
        """The level of a pin."""
        return self.levels.get(pin, 0)

    def gpio_write(self, _handle, pin, level):
        """Drive a pin."""
        self.levels[pin] = int(level)
        self.history.append((pin, int(level)))


@pytest.fixture
def clock():
    """A clock that a test moves by hand."""
    return FakeClock()


@pytest.fixture
def switches():
    """Two fans and a pump."""
    return {PUMP: FaultySwitch(), FAN: FaultySwitch(), FAN_2: FaultySwitch()}


@pytest.fixture
def house(tmp_path):
    """A settings file with one pump and two fans on the mock factory."""
    path = tmp_path / "house.toml"
    path.write_text(HOUSE.format(factory="mock"), encoding="utf-8")
    return path


@pytest.fixture
def chips(monkeypatch, tmp_path):
    """Make a board with GPIO chips of the given labels, {number: label, or None where opening fails}."""
    pytest.importorskip("lgpio", reason="the pin library is not installed here")
    monkeypatch.setenv("LG_WD", str(tmp_path))

    def make(labels):
        from controller.outputs import board  # noqa: PLC0415

        lgpio = board.pin_library(tmp_path)
        devices = tmp_path / "dev"
        devices.mkdir()
        for number in labels:
            (devices / f"gpiochip{number}").touch()
        monkeypatch.setattr(board, "DEVICE_DIRECTORY", devices)
        chip = FakeChip(lgpio, labels)
        for name in dir(FakeChip):
            if name.startswith("gpio"):
                monkeypatch.setattr(lgpio, name, getattr(chip, name))
        from gpiozero.pins.local import LocalPiFactory  # noqa: PLC0415

        monkeypatch.setattr(LocalPiFactory, "_get_revision", lambda _self: 0xA02082)
        monkeypatch.setattr(LocalPiFactory, "pins", {})
        LocalPiFactory._reservations.clear()
        return chip

    return make
