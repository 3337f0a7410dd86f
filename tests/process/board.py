"""A board made of files, so that a real process can be killed and its outputs looked at afterwards.

``python -m tests.process.board DIRECTORY SPEED COMMAND...`` runs the real program with two things replaced:
its pins are files in DIRECTORY (``17.out`` is what pin 17 is driven to, ``24.in`` what drives pin 24), and
its monotonic clock runs SPEED times faster. A killed process leaves every ``.out`` file as it was, as a
board's kernel may leave its pins. Every level ever written stands in ``journal`` too, one line each: real
monotonic seconds, process, pin, level. While there is a file named ``hang`` the next tick hangs, with one
named ``freeze`` it hangs and keeps the interpreter locked, and with ``17.hang`` pin 17 does not answer.
"""

from __future__ import annotations

import ctypes
import os
import sys
import threading
import time
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from controller.service.lean import postpone_what_is_never_used

postpone_what_is_never_used()  # before anything else, as the command does

from gpiozero.pins.mock import MockFactory, MockPin  # noqa: E402

import controller.clock  # noqa: E402
import controller.readings.gather  # noqa: E402
from controller.clock import SystemClock  # noqa: E402
from controller.outputs import board  # noqa: E402

if TYPE_CHECKING:
    from datetime import datetime

POLL_S = 0.01


class FilePin(MockPin):  # type: ignore[misc]
    """A mock pin whose level lives in a file."""

    directory: Path

    def _get_state(self) -> Any:
        self._hang()
        return super()._get_state()

    def _hang(self) -> None:
        while (self.directory / f"{self.info.name.removeprefix('GPIO')}.hang").exists():
            time.sleep(POLL_S)

    def _set_state(self, value: Any) -> None:
        self._hang()
        super()._set_state(value)
        if self.function == "output":
            self._write(bool(value))

    def output_with_state(self, state: Any) -> None:
        """Become an output at once at this level, and write it down."""
        super().output_with_state(state)
        self._write(bool(state))

    def _write(self, level: bool) -> None:
        pin = self.info.name.removeprefix("GPIO")
        path = self.directory / f"{pin}.out"
        beside = path.with_suffix(".new")
        beside.write_text("1" if level else "0")
        with (self.directory / "journal").open("a", encoding="ascii") as journal:
            journal.write(f"{time.monotonic():.6f} {os.getpid()} {pin} {int(level)}\n")
        beside.replace(path)


class FileFactory(MockFactory):  # type: ignore[misc]
    """Makes file pins and drives the inputs from their files."""

    def __init__(self) -> None:
        super().__init__(pin_class=FilePin)
        threading.Thread(target=self._follow, daemon=True).start()

    def _follow(self) -> None:
        files: dict[str, Path] = {}
        while True:
            time.sleep(POLL_S)
            for pin in list(self.pins.values()):
                name = pin.info.name.removeprefix("GPIO")
                path = files.get(name) or files.setdefault(name, FilePin.directory / f"{name}.in")
                if pin.function != "input" or not path.exists():
                    continue
                if path.read_text() == "1":
                    pin.drive_high()
                else:
                    pin.drive_low()


class FastClock(SystemClock):
    """The system's clock, with monotonic time and the time of day running faster."""

    speed = 1.0
    began_s = time.monotonic()

    def monotonic_s(self) -> float:
        """Seconds since boot, many times faster."""
        return super().monotonic_s() * self.speed

    def wall_utc(self) -> datetime | None:
        """The time of day, hurrying on from that of the start; otherwise it would seem to be set back."""
        now_utc = super().wall_utc()
        ahead_s = (super().monotonic_s() - self.began_s) * (self.speed - 1.0)
        return None if now_utc is None else now_utc + timedelta(seconds=ahead_s)

    def wait(self, wake: threading.Event, timeout_s: float) -> bool:
        """Wait a shorter time."""
        return super().wait(wake, timeout_s / self.speed)


def main() -> int:
    """Replace pins and clock, then run the command line as it is."""
    FilePin.directory = Path(sys.argv[1])
    FastClock.speed = float(sys.argv[2])
    board._mock_factory = FileFactory
    gather = controller.readings.gather.Gatherer.gather

    def gather_or_hang(*args: Any, **kwargs: Any) -> Any:
        while (FilePin.directory / "hang").exists():
            time.sleep(POLL_S)
        while (FilePin.directory / "freeze").exists():
            ctypes.PyDLL(None).usleep(100_000_000)
        return gather(*args, **kwargs)

    controller.readings.gather.Gatherer.gather = gather_or_hang  # type: ignore[method-assign]
    controller.clock.SystemClock = FastClock  # type: ignore[misc]
    from controller.cli import main as command  # noqa: PLC0415 - must see the replaced clock

    return command(sys.argv[3:])


if __name__ == "__main__":
    sys.exit(main())
