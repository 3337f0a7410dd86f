"""A bench for the real program: kernel files for probes, files for pins, a socket for its service manager."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

ROOT = Path(__file__).parents[2]
SPEED = 20.0
LEASE = "35 s"
PATIENCE_S = 240.0  # for a slow machine with other work; what must be quick is measured by itself
# Kernel arithmetic and check byte of a DS18B20 frame: Linux drivers/w1/slaves/w1_therm.c; Maxim AN27.


def crc8(data: bytes) -> int:
    """CRC-8 of the 1-wire bus."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0x8C if crc & 1 else crc >> 1
    return crc


def w1_slave(value_c: float) -> str:
    """The kernel's two lines for a genuine DS18B20 at this temperature."""
    raw = round(value_c * 16.0)
    frame = bytes([raw & 0xFF, (raw >> 8) & 0xFF, 0x4B, 0x46, 0x7F, 0xFF, 0x10 - (raw & 0x0F), 0x10])
    check = crc8(frame)
    words = " ".join(f"{byte:02x}" for byte in (*frame, check))
    return f"{words} : crc={check:02x} YES\n{words} t={int(raw * 1000 / 16)}\n"


class Bench:
    """One program under test with everything around it."""

    def __init__(self, directory: Path, extra: str = "", speed: float = SPEED, tick: str = "1 s") -> None:
        self.directory = directory
        self.speed = speed
        self.pins = directory / "pins"
        self.w1 = directory / "w1"
        self.run_directory = directory / "run"
        self.state_directory = directory / "state"
        for made in (self.pins, self.w1):
            made.mkdir()
        self.file = directory / "house.toml"
        text = (ROOT / "config" / "one-loop.toml").read_text(encoding="utf-8")
        self.text = f"""{text}
[board]
pin_factory = "mock"
w1_devices = "{self.w1}"
sample_every = "2 s"
read_deadline = "30 s"

[service]
tick = "{tick}"
lease = "{LEASE if speed == SPEED else "3 min"}"
runtime_directory = "{self.run_directory}"
state_directory = "{self.state_directory}"

[setpoints]
cooling = true

[fans]
minimum_run = "5 min"
minimum_rest = "1 min"
starts_per_hour = 12
useful_difference = "5 K"

[pump]
drain_down = "1 min"
minimum_rest = "30 s"
{extra}"""
        self.file.write_text(self.text, encoding="utf-8")
        settings = tomllib.loads(self.text)
        self.fan_pin = settings["loops"]["bed"]["fan_pin"]
        self.pump_pin = settings["sumps"]["pit"]["pump_pin"]
        self.float_pin = settings["sumps"]["pit"]["float_pin"]
        self.ids = {name: probe["id"] for name, probe in settings["probes"].items()}
        self.notify = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.notify.bind(str(directory / "notify"))
        self.notify.settimeout(PATIENCE_S)
        self.process: subprocess.Popen[str] | None = None
        self.log = directory / "log"
        self.watchdog_s = 3.0
        self.dry()
        self.temperatures(roof=20.0, soil=12.0)

    def temperatures(self, **values_c: float) -> None:
        """What the probes read from now on."""
        for name, value_c in values_c.items():
            folder = self.w1 / self.ids[name]
            folder.mkdir(exist_ok=True)
            beside = folder / "new"
            beside.write_text(w1_slave(value_c))
            beside.replace(folder / "w1_slave")

    def hang_bus(self) -> None:
        """Make the next probe read hang for ever, as a stuck bus does."""
        for name in self.ids:
            path = self.w1 / self.ids[name] / "w1_slave"
            path.unlink()
            os.mkfifo(path)

    def wet(self) -> None:
        """Lift the float: the contact opens and the pull-up wins."""
        self._drive(self.float_pin, "1")

    def dry(self) -> None:
        """Let the float hang: the contact is closed to ground."""
        self._drive(self.float_pin, "0")

    def _drive(self, pin: int, level: str) -> None:
        beside = self.pins / f"{pin}.tmp"
        beside.write_text(level)
        beside.replace(self.pins / f"{pin}.in")

    def command(self, *arguments: str) -> list[str]:
        """The program's command line on this bench."""
        places = [f"RUNTIME_DIRECTORY={self.run_directory}", f"STATE_DIRECTORY={self.state_directory}"]
        program = [sys.executable, "-m", "tests.process.board", str(self.pins), str(self.speed)]
        return ["env", *places, *program, *arguments]

    def start(self) -> None:
        """Start the daemon and wait until it says that it is ready."""
        self.launch()
        self.expect_notice("READY=1")

    def launch(self) -> None:
        """Start the daemon without waiting for anything."""
        environment = os.environ | {
            "NOTIFY_SOCKET": str(self.directory / "notify"),
            "WATCHDOG_USEC": str(round(self.watchdog_s * 1e6)),
        }
        with self.log.open("a", encoding="utf-8") as log:
            self.process = subprocess.Popen(
                self.command("run", str(self.file)), cwd=ROOT, env=environment, stderr=log, text=True
            )

    def expect_notice(self, wanted: str) -> None:
        """Wait for a message to the service manager."""
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            if wanted in self.notify.recv(4096).decode():
                return
        raise AssertionError(f"{wanted} never came; log:\n{self.log.read_text(encoding='utf-8')}")

    def notices(self) -> list[str]:
        """Messages that wait now."""
        self.notify.setblocking(False)
        found = []
        try:
            while True:
                found.append(self.notify.recv(4096).decode())
        except BlockingIOError:
            return found
        finally:
            self.notify.settimeout(PATIENCE_S)

    def is_on(self, pin: int) -> bool | None:
        """What a pin is driven to, None if nobody ever drove it."""
        path = self.pins / f"{pin}.out"
        return path.read_text() == "1" if path.exists() else None

    def until(self, true: Callable[[], bool], what: str, patience_s: float = PATIENCE_S) -> float:
        """Wait until something is so; returns the real seconds it took."""
        began_s = time.monotonic()
        while not true():
            if time.monotonic() - began_s > patience_s:
                tail = self.log.read_text(encoding="utf-8")[-4000:]
                raise AssertionError(f"not within {patience_s} s: {what}; log:\n{tail}")
            time.sleep(0.01)
        return time.monotonic() - began_s

    def signal(self, number: signal.Signals) -> None:
        """Send a signal to the daemon."""
        assert self.process is not None
        self.process.send_signal(number)

    def wait(self) -> int:
        """Wait for the daemon to end; returns its exit code."""
        assert self.process is not None
        return self.process.wait(timeout=PATIENCE_S)

    def safe(self) -> subprocess.CompletedProcess[str]:
        """What the service manager runs after the daemon has ended, however it ended."""
        return subprocess.run(
            self.command("safe", str(self.file)), cwd=ROOT, capture_output=True, text=True, check=False
        )

    def kill(self) -> None:
        """Kill -9."""
        self.signal(signal.SIGKILL)
        self.wait()

    def status(self) -> str:
        """The status file's text, empty while it is missing."""
        path = self.run_directory / "status.json"
        return path.read_text(encoding="utf-8") if path.exists() else ""

    def close(self) -> None:
        """Stop whatever still runs."""
        if self.process is not None and self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        self.notify.close()


def bench_in(directory: Path, extra: str = "", speed: float = SPEED, tick: str = "1 s") -> Iterator[Bench]:
    """A bench that is cleaned up afterwards."""
    bench = Bench(directory, extra, speed, tick)
    try:
        yield bench
    finally:
        bench.close()
