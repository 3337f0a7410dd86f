"""The board's pins: one pin factory, made on purpose, and one plain error where pins are missing.

gpiozero would pick a factory by itself and fall back to another with no more than a warning; here the factory
named in the settings is made or the program stops.

Two habits of the lgpio backend do not suit relays and are changed in :func:`_steady_pin_class`: claiming an
output drives it low first, which starts an active-low relay for a moment, and closing a pin turns it into an
input without pull, which leaves the relay to chance. What a pin does after the process is gone is not decided
here: that is the kernel's choice and, in the end, the pull resistor's. Opening a pin switches the chip's own
pull off, so an outside resistor to the OFF level is part of the wiring.
Sources: gpiozero ``pins/lgpio.py``; Linux ``userspace-api/gpio`` (a line is held only while it is requested).
"""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from controller.errors import HypocaustError

if TYPE_CHECKING:
    from controller.settings.schema import Board

DEVICE_DIRECTORY = Path("/dev")
# Label that Linux gives to the chip behind a board's header pins (kernel drivers/pinctrl); its number moves.
HEADER_CHIP_LABEL = "pinctrl-"


class BoardError(HypocaustError):
    """The board's pins cannot be used; the text says what is wrong, where, and what to do."""


class PinFactory(Protocol):
    """What makes pins for relays and floats (a gpiozero factory)."""

    def close(self) -> None:
        """Release every pin."""


def pin_factory(board: Board, work_directory: Path) -> PinFactory:
    """Make the pin factory the settings name, and no other.

    Args:
        board: the [board] settings.
        work_directory: where lgpio may put its pipe unless LG_WD is set; the runtime directory.

    Raises:
        BoardError: there are no usable pins.
    """
    return open_factory(board.pin_factory, work_directory)


def open_factory(kind: str, work_directory: Path) -> PinFactory:
    """Make a pin factory by name: ``"lgpio"`` for real pins, ``"mock"`` for none.

    Raises:
        BoardError: there are no usable pins, or no factory of that name.
    """
    if kind == "mock":
        return _mock_factory()
    if kind == "lgpio":
        return _lgpio_factory(work_directory)
    raise BoardError(f'board.pin_factory: "{kind}" is not known, expected "lgpio" or "mock".')


def pin_problem(pin: int, problem: Exception) -> str:
    """Say in plain words why a pin could not be opened and what to do about it."""
    text = _text(problem)
    if "busy" in text.lower():
        return (
            f"GPIO {pin} is held by another program. Stop that program first "
            "(the service: systemctl stop hypocaust); gpioinfo shows who holds it."
        )
    if "not permitted" in text.lower() or "permission" in text.lower():
        return f"GPIO {pin} may not be used by this user ({text}). Run as a member of group gpio."
    return f"GPIO {pin} cannot be opened ({text}). Check the pin number and the wiring settings."


def _text(problem: Exception) -> str:
    """What an error says; lgpio wraps its words in quotation marks."""
    return str(problem).strip("'\"") or type(problem).__name__


def _mock_factory() -> PinFactory:
    """Pins in memory, for a dry run on a desk."""
    from gpiozero.pins.mock import MockFactory  # noqa: PLC0415 - only a dry run needs it

    factory: PinFactory = MockFactory()
    return factory


def _lgpio_factory(work_directory: Path) -> PinFactory:
    """Real pins through lgpio, on the chip behind the header."""
    numbers = _chip_numbers()
    lgpio = pin_library(work_directory)
    chip = _header_chip(lgpio, numbers)
    from gpiozero.exc import PinUnknownPi  # noqa: PLC0415 - needs a board
    from gpiozero.pins.lgpio import LGPIOFactory, LGPIOPin  # noqa: PLC0415 - needs a board

    try:
        factory: Any = LGPIOFactory(chip=chip)
        factory.pin_class = _steady_pin_class(lgpio, LGPIOPin)
        _ = factory.board_info
    except (PinUnknownPi, OSError) as problem:
        raise BoardError(
            f"The board's model cannot be read ({problem}). Expected a revision in /proc/device-tree or "
            "/proc/cpuinfo; with systemd, ProcSubset= must be all."
        ) from problem
    except lgpio.error as problem:
        raise BoardError(_chip_problem(f"gpiochip{chip}", problem)) from problem
    opened: PinFactory = factory
    return opened


def pin_library(work_directory: Path) -> Any:
    """Import lgpio, which moves the process to LG_WD to make a named pipe there; move back afterwards.

    Raises:
        BoardError: it cannot be imported, or makes no pipe in ``work_directory`` (or LG_WD, if set).
    """
    before = Path.cwd()
    directory = Path(os.environ.setdefault("LG_WD", str(work_directory)))
    try:
        import lgpio  # noqa: PLC0415 - absent on machines without pins
    except ImportError as problem:
        raise BoardError(_library_missing(str(problem))) from problem
    except OSError as problem:
        raise BoardError(
            f"lgpio cannot put its pipe into {directory} ({problem}). Expected a directory this user may "
            "write to; create it or point LG_WD at one."
        ) from problem
    finally:
        os.chdir(before)
    if not hasattr(lgpio, "gpiochip_open"):  # an old release of that name is an empty package
        raise BoardError(_library_missing("an empty package of that name is installed"))
    return lgpio


def _library_missing(problem: str) -> str:
    """Say what to install where the pin library cannot be loaded."""
    return (
        f"The pin library lgpio cannot be loaded ({problem}). It is in the Debian package: "
        f"install that again. Otherwise put it into {sys.prefix}: systemd/README.md has the line, with "
        "requirements-board.lock. From Python 3.13 on it is compiled there, with the system's packages "
        "swig, gcc and python3-dev. For a dry run without pins set "
        'board.pin_factory = "mock".'
    )


def _chip_numbers() -> list[int]:
    """Numbers of the machine's GPIO chips.

    Raises:
        BoardError: the machine has none.
    """
    numbers = sorted(
        int(found[1])
        for path in DEVICE_DIRECTORY.glob("gpiochip*")
        if (found := re.match(r"gpiochip(\d+)$", path.name))
    )
    if not numbers:
        raise BoardError(
            f"This machine has no GPIO pins: {DEVICE_DIRECTORY}/gpiochip* does not exist. Run on the board, "
            'or set board.pin_factory = "mock" for a dry run.'
        )
    return numbers


def _header_chip(lgpio: Any, numbers: list[int]) -> int:
    """Which of the machine's GPIO chips is behind the header pins, found by its label.

    Raises:
        BoardError: none of them is, or this user may not open them.
    """
    refused: list[str] = []
    for number in numbers:
        try:
            handle = lgpio.gpiochip_open(number)
            label = str(lgpio.gpio_get_chip_info(handle)[3])
            lgpio.gpiochip_close(handle)
        except lgpio.error as problem:
            refused.append(_chip_problem(f"gpiochip{number}", problem))
            continue
        if label.startswith(HEADER_CHIP_LABEL):
            return number
    if refused:
        raise BoardError(" ".join(refused))
    raise BoardError(
        f"None of the {len(numbers)} GPIO chips in {DEVICE_DIRECTORY} belongs to header pins (label "
        f'"{HEADER_CHIP_LABEL}..."). Expected a board with a GPIO header.'
    )


def _chip_problem(chip: str, problem: Exception) -> str:
    """Say why a chip could not be opened and what to do about it."""
    return (
        f"{DEVICE_DIRECTORY}/{chip} cannot be opened ({_text(problem)}). Expected read and write access: "
        "make the user a member of group gpio and install the udev rule."
    )


def _steady_pin_class(lgpio: Any, base: type) -> type:
    """A pin that takes its first level in one step and keeps an output driven when it is closed."""

    def output_with_state(self: Any, state: bool) -> None:
        lgpio.gpio_claim_output(self.factory._handle, self._number, int(state))  # noqa: SLF001 - as its base does

    def close(self: Any) -> None:
        if self.function != "output":
            base.close(self)  # type: ignore[attr-defined]

    return type("SteadyPin", (base,), {"output_with_state": output_with_state, "close": close})
