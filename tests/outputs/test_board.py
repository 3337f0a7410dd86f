"""The pin factory: the one that was asked for, or one plain error."""

from __future__ import annotations

import os
import subprocess
import sys
from importlib.util import find_spec
from types import ModuleType

import pytest

from controller.outputs import board
from controller.outputs.board import BoardError, open_factory, pin_factory, pin_problem
from controller.outputs.relay import Relay
from controller.settings.schema import Board

needs_lgpio = pytest.mark.skipif(find_spec("lgpio") is None, reason="the pin library is not installed here")


def test_mock_factory_is_made_when_asked_for(tmp_path):
    """The mock factory needs no board and no lgpio."""
    factory = pin_factory(Board(pin_factory="mock"), tmp_path)
    assert type(factory).__name__ == "MockFactory"
    factory.close()


def test_machine_without_pins_gives_one_plain_error(monkeypatch, tmp_path):
    """Without a GPIO chip nothing falls back to another factory; no desk is asked for the pin library."""
    monkeypatch.setattr(board, "DEVICE_DIRECTORY", tmp_path)
    monkeypatch.setitem(sys.modules, "lgpio", None)
    with pytest.raises(BoardError, match=r"no GPIO pins.*mock"):
        open_factory("lgpio", tmp_path)


@pytest.mark.parametrize("found", [None, ModuleType("lgpio")])
def test_missing_library_gives_one_plain_error(monkeypatch, tmp_path, found):
    """A board without lgpio, or with the empty package of that name, shows what to install."""
    monkeypatch.setattr(board, "DEVICE_DIRECTORY", tmp_path)
    (tmp_path / "gpiochip0").touch()
    monkeypatch.setitem(sys.modules, "lgpio", found)
    monkeypatch.setenv("LG_WD", str(tmp_path))
    words = r"lgpio cannot be loaded.*requirements-board\.lock.*Python 3\.13.*swig, gcc and python3-dev"
    with pytest.raises(BoardError, match=words):
        open_factory("lgpio", tmp_path)


def test_unknown_factory_is_refused(tmp_path):
    """Only the two names of the settings are factories."""
    with pytest.raises(BoardError, match='"native" is not known, expected "lgpio" or "mock"'):
        open_factory("native", tmp_path)


@needs_lgpio
def test_lgpio_pipe_goes_to_the_work_directory_and_the_process_stays_where_it_was(tmp_path):
    """LG_WD is set where it is missing, and relative paths still mean the same afterwards."""
    (tmp_path / "work").mkdir()
    (tmp_path / "here").mkdir()
    program = (
        "import os; from pathlib import Path; from controller.outputs import board\n"
        "os.environ.pop('LG_WD', None)\n"
        f"before = Path({str(tmp_path / 'here')!r}); os.chdir(before); "
        f"board.pin_library(Path({str(tmp_path / 'work')!r})); assert Path.cwd() == before"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False, timeout=30
    )
    assert done.returncode == 0, done.stderr
    assert [path.name for path in (tmp_path / "work").iterdir()] == [".lgd-nfy0"]
    assert list((tmp_path / "here").iterdir()) == []


@needs_lgpio
def test_work_directory_that_cannot_be_written_gives_one_plain_error(tmp_path):
    """A missing runtime directory is named, with what to do."""
    program = (
        "import os; from pathlib import Path; from controller.outputs import board\n"
        "os.environ.pop('LG_WD', None)\n"
        f"os.chdir({str(tmp_path)!r}); Path('gpiochip0').touch(); board.DEVICE_DIRECTORY = Path.cwd()\n"
        "try: board.open_factory('lgpio', Path('/nowhere/at/all'))\n"
        "except board.BoardError as problem: print(problem)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False, timeout=30
    )
    assert "lgpio cannot put its pipe into /nowhere/at/all" in done.stdout
    assert "point LG_WD at one" in done.stdout


@needs_lgpio
def test_work_directory_in_the_environment_wins(monkeypatch, tmp_path):
    """A service manager that sets LG_WD is not overruled."""
    monkeypatch.setenv("LG_WD", str(tmp_path))
    board.pin_library(tmp_path / "other")
    assert os.environ["LG_WD"] == str(tmp_path)


def test_chip_is_found_by_its_label(chips, tmp_path):
    """The header chip is used whatever its number is."""
    chips({0: "brcmvirt-gpio", 4: "pinctrl-rp1"})
    factory = open_factory("lgpio", tmp_path)
    assert factory.chip == 4
    factory.close()


def test_chip_that_may_not_be_opened_names_group_and_rule(chips, tmp_path):
    """A user outside group gpio reads which group to join."""
    chips({0: None})
    with pytest.raises(BoardError, match=r"gpiochip0 cannot be opened.*group gpio"):
        open_factory("lgpio", tmp_path)


def test_chip_without_header_is_not_taken(chips, tmp_path):
    """A machine whose only chips belong to something else is refused."""
    chips({0: "gpio-expander"})
    with pytest.raises(BoardError, match="None of the 1 GPIO chips"):
        open_factory("lgpio", tmp_path)


def test_active_low_relay_is_never_driven_to_on_while_it_is_opened(chips, tmp_path):
    """Its first level is OFF in the same step that makes the pin an output."""
    chip = chips({0: "pinctrl-bcm2835"})
    factory = open_factory("lgpio", tmp_path)
    relay = Relay(17, active_high=False, factory=factory)
    assert [level for pin, level in chip.history if pin == 17 and level != "input"] == [1]
    assert not relay.is_on()
    relay.close()
    factory.close()


def test_closed_relay_stays_driven_off(chips, tmp_path):
    """Closing neither floats the pin nor leaves it on."""
    chip = chips({0: "pinctrl-bcm2835"})
    factory = open_factory("lgpio", tmp_path)
    relay = Relay(17, active_high=True, factory=factory)
    relay.set(True)
    assert chip.levels[17] == 1
    relay.close()
    factory.close()
    assert 17 in chip.outputs
    assert chip.levels[17] == 0
    assert chip.history[-1] == (17, 0)
    assert 0 in chip.closed_handles


def test_busy_pin_says_who_to_stop(chips, tmp_path):
    """A pin the daemon still holds is explained, not shown as a driver error."""
    chip = chips({0: "pinctrl-bcm2835"})
    chip.busy.add(17)
    factory = open_factory("lgpio", tmp_path)
    with pytest.raises(BoardError, match=r"GPIO 17 is held by another program.*systemctl stop hypocaust"):
        Relay(17, active_high=True, factory=factory)
    factory.close()


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("'GPIO busy'", "held by another program"),
        ("'no permission to perform action'", "group gpio"),
        ("'bad GPIO number'", r"cannot be opened \(bad GPIO number\)"),
    ],
)
def test_every_pin_problem_says_what_to_do(said, expected):
    """What the library says is turned into words for the person at the board."""
    with pytest.raises(BoardError, match=expected):
        raise BoardError(pin_problem(4, RuntimeError(said)))
