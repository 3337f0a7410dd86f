"""Does the running program grow? A simulated month in some minutes, its resident memory noted every hour.

``python -m tests.process.month --days 30 --speed 1500`` runs ``hypocaust run --simulated`` on the example
house, publishing to a real Mosquitto, and prints resident memory by day and the slope of a straight line
through the second half; the first half fills caches. The simulated house and its numerics are in the figure,
so only the slope counts. How many ticks the machine managed is printed too.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from tests.broker import Brokers
from tests.process.bench import ROOT

if TYPE_CHECKING:
    from collections.abc import Sequence

HOUR_S, DAY_S = 3600.0, 86400.0
# More than this in a month would be felt on a board with 512 MB within a year (12 MB). Our own limit.
MOST_KB_A_DAY = 34.0


def resident_kb(process: int) -> int:
    """Resident memory of a process (proc(5), VmRSS)."""
    text = Path(f"/proc/{process}/status").read_text(encoding="ascii")
    return int(text.split("VmRSS:")[1].split()[0])


def slope(points: Sequence[tuple[float, float]]) -> float:
    """Slope of the straight line with the least squares through (x, y)."""
    mean_x = sum(x for x, _ in points) / len(points)
    mean_y = sum(y for _, y in points) / len(points)
    below = sum((x - mean_x) ** 2 for x, _ in points)
    return sum((x - mean_x) * (y - mean_y) for x, y in points) / below


def house(directory: Path, port: int) -> Path:
    """The example house with everything on: history, broker, thirteen probes."""
    text = (ROOT / "config" / "house.toml").read_text(encoding="utf-8")
    text = "\n".join(line for line in text.splitlines() if not line.startswith("password_file"))
    assert "[mqtt]" in text
    head, tail = text.split("[mqtt]")
    kept = [
        line for line in tail.splitlines() if not line.startswith(("host", "port", "user", "tls", "ca_file"))
    ]
    path = directory / "house.toml"
    path.write_text(f'{head}[mqtt]\nhost = "127.0.0.1"\nport = {port}\n' + "\n".join(kept), encoding="utf-8")
    return path


def watch(directory: Path, days: float, speed: float, port: int) -> list[tuple[float, float]]:
    """Run and note (days, kB) every simulated hour."""
    environment = os.environ | {
        "RUNTIME_DIRECTORY": str(directory / "run"),
        "STATE_DIRECTORY": str(directory / "state"),
    }
    command = [sys.executable, "-m", "controller", "run", str(house(directory, port)), "--simulated"]
    command += ["--start", "2026-01-01", "--speed", str(speed)]
    points: list[tuple[float, float]] = []
    with (
        (directory / "log").open("w", encoding="utf-8") as log,
        subprocess.Popen(command, cwd=ROOT, env=environment, stderr=log) as process,
    ):
        try:
            status = directory / "run" / "status.json"
            while not status.exists():
                assert process.poll() is None, (directory / "log").read_text(encoding="utf-8")
                time.sleep(0.1)
            began_s = time.monotonic()
            while (passed_s := (time.monotonic() - began_s) * speed) < days * DAY_S:
                assert process.poll() is None, (directory / "log").read_text(encoding="utf-8")[-3000:]
                points.append((passed_s / DAY_S, float(resident_kb(process.pid))))
                time.sleep(HOUR_S / speed)
            said = json.loads(status.read_text(encoding="utf-8"))
            due = round(days * DAY_S / 10.0)
            print(f"ticks: {said['seq']} of {due}; promises broken: {said['promises_broken']}")
        finally:
            process.terminate()
    sizes = {file.name: file.stat().st_size // 1000 for file in (directory / "state").iterdir()}
    print(f"files in kB: {sizes}")
    return points


def main() -> int:
    """Run, print memory by day and the slope; 0 only if it is flat."""
    parser = argparse.ArgumentParser(prog="python -m tests.process.month", description=__doc__)
    parser.add_argument("--days", type=float, default=30.0)
    parser.add_argument("--speed", type=float, default=1500.0)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        brokers = Brokers(Path(name))
        broker = brokers.open_to_all("log_type none")  # a month of messages is no log for anybody
        try:
            points = watch(Path(name), options.days, options.speed, broker.port)
        finally:
            brokers.close()
    per_day = max(len(points) // max(round(options.days), 1), 1)
    for day, resident in points[::per_day]:
        print(f"day {day:5.1f}  {resident / 1000.0:8.2f} MB")
    grows = slope(points[len(points) // 2 :])
    print(f"second half: {grows:+.1f} kB a day, allowed {MOST_KB_A_DAY:.0f}")
    return 0 if grows <= MOST_KB_A_DAY else 1


if __name__ == "__main__":
    sys.exit(main())
