"""Everything off without the daemon, from good, invalid and damaged settings files."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import threading
import tracemalloc
from pathlib import Path

import pytest
from gpiozero.pins.mock import MockFactory

from controller.outputs import safe_state
from controller.outputs.safe_state import PinToClear, drive_all_off, read_pins
from controller.settings.last_good import copy_of, write_copy

ALL = {
    PinToClear("pump:corner", 17, True),
    PinToClear("fan:north", 22, False),
    PinToClear("fan:south", 23, True),
}


@pytest.fixture
def factory(monkeypatch):
    """The factory that is opened, so that a test sees its pins; closing leaves the levels to look at."""
    made = MockFactory()
    monkeypatch.setattr(safe_state, "open_factory", lambda _kind, _directory: made)
    yield made
    made.close()


def test_every_pin_is_driven_to_its_off_level(house, factory):
    """Pumps and fans go off, each at its own polarity, whatever the pins were before."""
    levels = {}
    for pin, on_level in ((17, True), (22, False), (23, True)):
        mock = factory.pin(pin)
        mock.function = "output"
        mock.state = on_level
        mock.close = lambda pin=pin, mock=mock: levels.update({pin: mock.state})
    report = drive_all_off(house)
    assert report.driven == ("fan:north (GPIO 22)", "fan:south (GPIO 23)", "pump:corner (GPIO 17)")
    assert report.problems == ()
    assert levels == {17: False, 22: True, 23: False}


def test_one_pin_that_fails_does_not_keep_the_others(house, factory):
    """The outputs that could not be driven are listed, the rest are off."""
    levels = {}
    for pin in (17, 23):
        mock = factory.pin(pin)
        mock.function = "output"
        mock.state = True
        mock.close = lambda pin=pin, mock=mock: levels.update({pin: mock.state})
    house.write_text(house.read_text(encoding="utf-8").replace("= 22", "= 99"), encoding="utf-8")
    report = drive_all_off(house)
    assert len(report.driven) == 2
    (problem,) = report.problems
    assert problem.startswith("fan:north (GPIO 99): not driven off.")
    assert levels == {17: False, 23: False}


@pytest.fixture
def kept(house, factory, tmp_path, monkeypatch):  # noqa: ARG001 - the pins to look at
    """The last good copy of the file, as the daemon keeps it."""
    monkeypatch.setenv("STATE_DIRECTORY", str(tmp_path))
    copy = copy_of(house)
    write_copy(copy, house, house.read_text(encoding="utf-8"))
    return copy


def test_pins_that_only_the_last_good_copy_has_go_off_as_well(house, kept):
    """The daemon ran on the copy, or on wiring that the file has lost since."""
    house.write_text(
        house.read_text(encoding="utf-8").replace("fan_pin = 23", "fan_pin = 5"), encoding="utf-8"
    )
    report = drive_all_off(house)
    assert set(report.driven) == {
        "pump:corner (GPIO 17)", "fan:north (GPIO 22)", "fan:south (GPIO 5)", "fan:south (GPIO 23)"
    }  # fmt: skip
    assert report.problems == ()
    house.unlink()
    report = drive_all_off(house)
    assert set(report.driven) == {"pump:corner (GPIO 17)", "fan:north (GPIO 22)", "fan:south (GPIO 23)"}
    assert "cannot be read" in report.problems[0]
    assert kept.exists()


def test_a_copy_that_disagrees_about_the_level_is_told(house, kept):
    """A person who changed the file has looked at the relays last; nobody may rely on it unseen."""
    text = house.read_text(encoding="utf-8")
    house.write_text(text.replace("active_high = false", "active_high = true"), encoding="utf-8")
    assert text != house.read_text(encoding="utf-8")
    report = drive_all_off(house)
    (problem,) = report.problems
    assert "fan:north (GPIO 22) has another active_high" in problem
    assert str(kept) in problem


def test_pin_that_hangs_does_not_keep_the_others(house, factory, monkeypatch):
    """It is named, the rest are off, and the program comes to its end."""
    levels, go_on = {}, threading.Event()
    for pin in (17, 23):
        mock = factory.pin(pin)
        mock.close = lambda pin=pin, mock=mock: levels.update({pin: mock.state})
    monkeypatch.setattr(factory.pin(22), "output_with_state", lambda _state: go_on.wait(30.0), raising=False)
    report = drive_all_off(house)
    go_on.set()
    assert report.driven == ("fan:south (GPIO 23)", "pump:corner (GPIO 17)")
    assert report.problems == ("fan:north (GPIO 22): not driven off. GPIO 22 has not answered within 0.5 s",)
    assert levels == {17: False, 23: False}


def test_pin_that_reads_back_on_is_not_called_off(house, factory, monkeypatch):
    """A pin that something else holds on is a problem, not a success."""
    monkeypatch.setattr(
        type(factory.pin(23)), "_get_state", lambda self: self.info.name == "GPIO23" or self._state
    )
    report = drive_all_off(house)
    assert "fan:south (GPIO 23)" not in report.driven
    assert any("reads back on" in problem for problem in report.problems)


def test_pin_still_held_by_the_daemon_is_explained(house, chips):
    """A busy pin says which output, and which service to stop."""
    chip = chips({0: "pinctrl-bcm2835"})
    chip.busy.add(22)
    house.write_text(house.read_text(encoding="utf-8").replace('"mock"', '"lgpio"'), encoding="utf-8")
    report = drive_all_off(house)
    assert report.driven == ("fan:south (GPIO 23)", "pump:corner (GPIO 17)")
    (problem,) = report.problems
    assert problem.startswith("fan:north (GPIO 22): not driven off.")
    assert "systemctl stop hypocaust" in problem
    assert chip.levels[17] == 0


def test_machine_without_pins_lists_what_was_not_driven(house, monkeypatch, tmp_path):
    """No board, no success: every output is named."""
    monkeypatch.setattr("controller.outputs.board.DEVICE_DIRECTORY", tmp_path)
    monkeypatch.setenv("LG_WD", str(tmp_path))
    house.write_text(house.read_text(encoding="utf-8").replace('"mock"', '"lgpio"'), encoding="utf-8")
    report = drive_all_off(house)
    assert report.driven == ()
    assert "Not driven off: fan:north, fan:south, pump:corner." in report.problems[0]


def test_settings_that_the_daemon_would_refuse_still_give_their_pins(house):
    """Unknown keys and bad units elsewhere do not matter here."""
    house.write_text('colour = "red"\n' + house.read_text(encoding="utf-8"), encoding="utf-8")
    found = read_pins(house)
    assert set(found.pins) == ALL
    assert found.problems == ()
    assert found.factory == "mock"


# A reader of TOML gives these up with errors of its own kinds, or takes minutes over them.
HARD_TO_READ = (
    "\nx = " + "[" * 5000,
    "\nx = " + "9" * 5000,
    "\nx" + ".x" * 30_000 + " = 1",
    "\n#" + " " * 250_000,
)


@pytest.mark.parametrize(
    "damage", ["\n[setpoints\nheat_below = ", '\nname = "half\n', "\n\x00\ufffd= = =", *HARD_TO_READ]
)
def test_damaged_file_still_gives_its_pins_but_no_success(house, damage):
    """Pins are picked out line by line; nobody knows whether they are all, so the report says so."""
    house.write_text(house.read_text(encoding="utf-8") + damage, encoding="utf-8")
    found = read_pins(house)
    assert set(found.pins) == ALL
    assert found.factory == "mock"
    assert len(found.problems) == 1
    assert "damaged" in found.problems[0]


def test_file_that_is_not_text_is_survived(house):
    """Bytes of any kind in the middle of the file do not raise."""
    house.write_bytes(house.read_bytes() + b"\n\xff\xfe\x80 = [\n")
    assert set(read_pins(house).pins) == ALL


@pytest.mark.parametrize(
    ("line", "bad", "said"),
    [
        ("fan_pin = 23", 'fan_pin = "23"', "loops.south.fan_pin: not a pin number"),
        ("fan_pin = 23", "fan_pin = true", "loops.south.fan_pin: not a pin number"),
        ("fan_pin = 23", "fan_pin_ = 23", "loops.south.fan_pin: not a pin number"),
        (
            "fan_pin = 23",
            'fan_pin = 23\nactive_high = "no"',
            "loops.south.active_high: neither true nor false",
        ),
    ],
)
def test_pin_that_cannot_be_made_out_is_named_and_never_guessed(house, line, bad, said):
    """A guessed polarity could start a motor, so that output is left alone and reported."""
    house.write_text(house.read_text(encoding="utf-8").replace(line, bad), encoding="utf-8")
    found = read_pins(house)
    assert {pin.output for pin in found.pins} == {"pump:corner", "fan:north"}
    assert said in found.problems[0]
    assert "fan:south was not driven off" in found.problems[0]


def test_pipe_and_device_are_not_waited_for(tmp_path):
    """What is no file is refused at once: a pipe would never end, a device never stop giving."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path in (pipe, Path("/dev/zero")):
        (said,) = read_pins(path).problems
        assert "not a file" in said
        assert "nothing was driven off" in said


def test_missing_file_and_empty_file_are_failures(tmp_path):
    """Where no pin is known, nothing is claimed to be off."""
    assert "cannot be read" in drive_all_off(tmp_path / "none.toml").problems[0]
    empty = tmp_path / "empty.toml"
    empty.touch()
    assert "no output pin found" in drive_all_off(empty).problems[0]


def test_command_exits_zero_only_if_all_are_off(house, capsys):
    """The exit status is what a service manager and a script go by."""
    from controller.cli.safe import safe  # noqa: PLC0415

    assert safe(house) == 0
    assert "fan:north (GPIO 22), fan:south (GPIO 23), pump:corner (GPIO 17)" in capsys.readouterr().out
    house.write_text(house.read_text(encoding="utf-8") + "\n[broken\n", encoding="utf-8")
    assert safe(house) == 1
    assert "damaged" in capsys.readouterr().err


def test_no_room_for_a_temporary_directory_is_no_obstacle(house, monkeypatch):
    """A full disk does not keep the fans running."""

    def full(**_arguments):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(tempfile, "TemporaryDirectory", full)
    assert drive_all_off(house).problems == ()


def test_command_loads_nothing_of_the_daemon(house):
    """It starts without settings model, scheduler, link or history: less to load, less to break."""
    program = (
        "import sys; from pathlib import Path; from controller.cli.safe import safe; "
        f"code = safe(Path({str(house)!r})); "
        "heavy = {'pydantic', 'apscheduler', 'paho', 'sqlite3', 'structlog', 'numpy'} & set(sys.modules); "
        "print(sorted(heavy)); sys.exit(code)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False, timeout=30
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1] == "[]"


@pytest.mark.parametrize(
    "beside",
    [
        "[" + ".".join(['"="'] * 60_000) + "]\nx = 1\n",
        "x = " + "[" * 200_000,
        "[loops.huge]\nfan_pin = 0x" + "f" * 9000 + "\n",
        "[loops.huge]\nfan_pin = " + "1" * 9000 + "\n",
        "[loops.none]\nfan_pin = -3\n",
    ],
)
def test_what_would_choke_a_reader_keeps_no_pin_on(house, factory, beside):
    """Keys and numbers without end are passed over within bounded memory; every other pin goes off."""
    assert factory is not None
    house.write_text(house.read_text(encoding="utf-8") + beside, encoding="utf-8")
    tracemalloc.start()
    report = drive_all_off(house)
    peak_bytes = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert len(report.driven) == 3
    assert report.problems
    assert peak_bytes < 10_000_000


@pytest.mark.parametrize("damage", ["", "\nname = 'half a l"])
def test_signals_go_off_as_well(house, factory, damage):  # noqa: ARG001 - the pins to look at
    """They call, each at its own polarity; found line by line where the file is damaged."""
    text = house.read_text(encoding="utf-8")
    signal = "\n[signal]\npin = 25\nactive_high = true\ntoday_pin = 26\ntoday_active_high = false\n"
    house.write_text(text + signal + damage, encoding="utf-8")
    assert set(read_pins(house).pins) == {
        *ALL, PinToClear("signal:all-well", 25, True), PinToClear("signal:today", 26, False)
    }  # fmt: skip
    assert drive_all_off(house).driven[-2:] == ("signal:all-well (GPIO 25)", "signal:today (GPIO 26)")
