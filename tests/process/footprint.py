"""What the running program takes from a small board: bytes written to the card a day, and resident memory.

``python -m tests.process.footprint --days 0.5 --starts 22`` runs ``hypocaust run`` on the example house: 13
probes in files, pins in files, a real Mosquitto and history, on a clock that runs faster (``--speed``). The
roof is warmed and cooled so that fans start as often a day as asked. Printed are, from the kernel's figures
for that process (proc(5), ``io`` and ``status``), what it handed over to be written and what it keeps
resident.

The runtime directory is in memory, as on a board. The state directory is flushed twice a simulated minute:
the kernel does so in real time (``dirty_expire_centisecs``), and otherwise writes that lie minutes apart
would count as one. Blocks that the file system writes for itself (its journal) are in nobody's figure. Let
``--python`` be one with the locked packages alone: that is what a board runs. The program has the unit's own
environment for Python and the heap; its bytecode is compiled beforehand, as the unit's install steps do.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.broker import Brokers
from tests.process.bench import ROOT, w1_slave
from tests.process.month import DAY_S, house, resident_kb

MEMORY_DIRECTORY = "/dev/shm"  # noqa: S108 - a file system in memory is meant
FLUSH_S = 30.0
HOUR_S = 3600.0
# What the steps at the head of the unit compile, and what stands in for the board here.
COMPILE = (
    "import compileall, re, sysconfig\n"
    "found = map(sysconfig.get_path, ('stdlib', 'purelib'))\n"
    "for path in (*found, 'controller', 'tests/process'):\n"
    "    compileall.compile_dir(path, quiet=2, rx=re.compile('/tests?/'))"
)
MEGABYTE = 1e6
# Our own bars for a board with 512 MB and a memory card.
MOST_WRITTEN_MB_A_DAY, MOST_RESIDENT_MB = 5.0, 48.0


def written_bytes(process: int) -> int:
    """Bytes that a process caused to be sent to storage (proc(5), write_bytes)."""
    text = Path(f"/proc/{process}/io").read_text(encoding="ascii")
    return int(text.split("write_bytes: ")[1].split()[0])


def resident_mb(process: int) -> float:
    """Resident memory of a process in thousands of the kernel's kB."""
    return resident_kb(process) / 1000.0


def bench_house(directory: Path, port: int) -> tuple[Path, dict[str, str]]:
    """The example house on file pins and file probes; its settings file, and the identity of each probe."""
    path = house(directory, port)
    text = path.read_text(encoding="utf-8")
    text = text.replace('pin_factory = "lgpio"', 'pin_factory = "mock"')
    text = re.sub(r'w1_devices = ".*?"', f'w1_devices = "{directory / "w1"}"', text)
    path.write_text(text, encoding="utf-8")
    return path, dict(re.findall(r'^\[probes\.([\w-]+)\]\nid = "(.*?)"', text, re.MULTILINE))


class Weather:
    """Writes what the probes read: a mild house, and a roof that is hot for half of each cycle."""

    def __init__(self, bus: Path, ids: dict[str, str], starts_a_day: float, loops: int = 3) -> None:
        self._bus = bus
        self._ids = ids
        self._cycle_s = DAY_S * loops / starts_a_day if starts_a_day else None

    def show(self, passed_s: float) -> None:
        """Every probe's file as it is at this time; each wanders a little, so that no reading repeats."""
        hot = self._cycle_s is not None and passed_s % self._cycle_s > self._cycle_s / 2.0
        for number, (name, probe_id) in enumerate(self._ids.items()):
            mild_c = 14.0 + number / 4.0 + (passed_s / 300.0 * (number + 3) % 16.0) / 16.0
            air = name.startswith("ceiling") or (name.endswith("outlet") and hot)
            value_c = (31.0 if name.startswith("ceiling") else 17.0) if air and hot else min(mild_c, 15.0)
            folder = self._bus / probe_id
            folder.mkdir(parents=True, exist_ok=True)
            beside = folder / "new"
            beside.write_text(w1_slave(value_c), encoding="ascii")
            beside.replace(folder / "w1_slave")


def flush(directory: Path) -> None:
    """Send what waits for the card to it."""
    for file in directory.iterdir():
        try:
            handle = os.open(file, os.O_RDONLY)
        except FileNotFoundError:
            continue
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def as_in_the_unit(directory: Path) -> dict[str, str]:
    """This environment, with what the unit sets for interpreter and heap; bytecode goes to a place here."""
    unit = (ROOT / "systemd" / "hypocaust.service").read_text(encoding="utf-8")
    set_there = dict(re.findall(r"^Environment=((?:PYTHON|MALLOC_)\w+)=(.*)$", unit, re.MULTILINE))
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return kept | set_there | {"PYTHONPYCACHEPREFIX": str(directory / "pycache")}


def starts_in(journal: Path) -> int:
    """How often a pin was switched on."""
    lines = journal.read_text(encoding="ascii").splitlines() if journal.exists() else []
    return sum(line.endswith(" 1") for line in lines)


def watch(directory: Path, options: argparse.Namespace, port: int) -> tuple[float, float]:
    """Run for the days asked for; MB written a day, and MB resident at the end."""
    state = directory / "state"
    path, ids = bench_house(directory, port)
    weather = Weather(directory / "w1", ids, options.starts)
    weather.show(0.0)
    with tempfile.TemporaryDirectory(dir=MEMORY_DIRECTORY) as runtime:
        environment = as_in_the_unit(directory) | {
            "RUNTIME_DIRECTORY": runtime,
            "STATE_DIRECTORY": str(state),
        }
        subprocess.run([options.python, "-c", COMPILE], cwd=ROOT, env=environment, check=True)
        pins, said = Path(runtime) / "pins", Path(runtime) / "log"
        pins.mkdir()
        (pins / "24.in").write_text("0", encoding="ascii")
        command = [options.python, "-m", "tests.process.board", str(pins), str(options.speed)]
        with (
            said.open("w", encoding="utf-8") as log,
            subprocess.Popen([*command, "run", str(path)], cwd=ROOT, env=environment, stderr=log) as process,
        ):
            try:
                while not (Path(runtime) / "status.json").exists():
                    assert process.poll() is None, said.read_text(encoding="utf-8")
                    time.sleep(0.1)
                began_s, began_bytes = time.monotonic(), written_bytes(process.pid)
                said_s = 0.0
                while (passed_s := (time.monotonic() - began_s) * options.speed) < options.days * DAY_S:
                    assert process.poll() is None, said.read_text(encoding="utf-8")[-3000:]
                    weather.show(passed_s)
                    flush(state)
                    if passed_s - said_s >= options.every_h * HOUR_S:
                        said_s = passed_s
                        written_mb = (written_bytes(process.pid) - began_bytes) / MEGABYTE
                        print(
                            f"hour {passed_s / HOUR_S:6.1f}  {resident_mb(process.pid):6.2f} MB resident"
                            f"  {written_mb:6.2f} MB written  {starts_in(pins / 'journal')} starts",
                            flush=True,
                        )
                    time.sleep(FLUSH_S / options.speed)
                written = written_bytes(process.pid) - began_bytes
                resident = resident_mb(process.pid)
            finally:
                process.terminate()
    return written / MEGABYTE / options.days, resident


def main() -> int:
    """Run and print; 0 only if both bars hold."""
    parser = argparse.ArgumentParser(prog="python -m tests.process.footprint", description=__doc__)
    parser.add_argument("--days", type=float, default=1.0)
    parser.add_argument("--speed", type=float, default=100.0)
    parser.add_argument("--starts", type=float, default=22.0, help="fan starts a day")
    parser.add_argument("--every-h", type=float, default=2.0, help="simulated hours between two lines")
    parser.add_argument(
        "--python",
        default=sys.executable,
        help="the Python that runs the program; the measure is one with the locked packages alone",
    )
    parser.add_argument("--on", default=None, help="directory on the disk to write to")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=options.on) as name:
        brokers = Brokers(Path(name))
        broker = brokers.open_to_all("log_type none")
        try:
            written_mb, resident_mb = watch(Path(name), options, broker.port)
        finally:
            brokers.close()
    print(f"written: {written_mb:.2f} MB a day, allowed {MOST_WRITTEN_MB_A_DAY:.0f}")
    print(f"resident: {resident_mb:.1f} MB, allowed {MOST_RESIDENT_MB:.0f}")
    return 0 if written_mb <= MOST_WRITTEN_MB_A_DAY and resident_mb <= MOST_RESIDENT_MB else 1


if __name__ == "__main__":
    sys.exit(main())
