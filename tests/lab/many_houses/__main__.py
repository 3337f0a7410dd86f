"""How many houses one broker carries: ``python -m tests.lab.many_houses [--houses 200] [--page FILE]``.

Starts a Mosquitto and that many controllers' publishers and links in one process, lets each tick every ten
seconds at a moment of its own, kills the broker, starts it again after a while, and writes down messages,
bytes and processor time of both sides, and how the houses came back.
"""

from __future__ import annotations

import argparse
import logging
import os
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Self

import structlog

from tests.broker import Broker, Brokers, program
from tests.lab.many_houses.houses import Houses, example_tick
from tests.lab.pages import PRODUCTS, made, page_option, write_page

TICK_S = 10.0
PAGE = PRODUCTS / "many-houses.md"
HZ = os.sysconf("SC_CLK_TCK")
LONGEST_RETURN_S = 300.0


def cpu_s(process: int) -> float:
    """Processor time of a process so far (proc(5), stat)."""
    fields = Path(f"/proc/{process}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / HZ


def sums(broker: Broker) -> tuple[float, ...]:
    """Messages and bytes the broker has received so far, as it counts them itself."""
    command = [program("mosquitto_sub"), "-h", broker.host, "-p", str(broker.port), "-C", "1", "-t"]
    return tuple(
        float(subprocess.check_output([*command, f"$SYS/broker/{what}/received"]))
        for what in ("messages", "bytes")
    )


HEAD = """\
# Many houses on one broker

Written by `python -m tests.lab.many_houses`: publisher, outbox and link of each controller as they are, the
messages of the example house, one Mosquitto, all on one machine.

| what | measured |
|---|---|"""


class Ticking:
    """Lets the houses tick, each at its own moment within ten seconds."""

    def __init__(self, houses: Houses) -> None:
        self._houses = houses
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._work, daemon=True)
        self.late_s = 0.0

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()

    def _work(self) -> None:
        began_s = time.monotonic()
        number = 0
        every = self._houses.all
        while not self._stop.is_set():
            due_s = began_s + number * TICK_S / len(every)
            wait_s = due_s - time.monotonic()
            if wait_s > 0.0:
                self._stop.wait(wait_s)
            self.late_s = max(self.late_s, -wait_s)
            self._houses.observe([every[number % len(every)]])
            number += 1


def returned(houses: Houses, since: list[int]) -> list[float]:
    """Seconds after the broker's return at which each house was accepted again, in order."""
    began_s = time.monotonic()
    times: list[float] = []
    while len(times) < len(houses.all) and time.monotonic() - began_s < LONGEST_RETURN_S:
        back = sum(h.sender.connections() > before for h, before in zip(houses.all, since, strict=True))
        times += [time.monotonic() - began_s] * (back - len(times))
        time.sleep(0.02)
    return times


def busiest(times: list[float], span_s: float = 1.0) -> int:
    """The most that came back within any such span."""
    return max(sum(start <= t < start + span_s for t in times) for start in times)


def play(options: argparse.Namespace) -> list[str]:
    """Rows of the table."""
    rows: list[str] = []

    def say(what: str, value: str) -> None:
        rows.append(f"| {what} | {value} |")
        print(rows[-1], flush=True)

    with tempfile.TemporaryDirectory() as name:
        brokers = Brokers(Path(name))
        broker = brokers.open_to_all("log_type error", "sys_interval 1", "max_connections -1")
        try:
            began_s = time.monotonic()
            with Houses(options.houses, example_tick(), broker.port) as houses, Ticking(houses) as ticking:
                while houses.connected() < options.houses:
                    time.sleep(0.05)
                say("controllers connected", f"{houses.connected()}")
                time.sleep(70.0)  # the first messages of all, which tell everything, are out
                began_s, before = time.monotonic(), sums(broker)
                used = (cpu_s(broker.process_id), time.process_time())
                time.sleep(options.seconds)
                after, passed_s = sums(broker), time.monotonic() - began_s
                say("messages a second", f"{(after[0] - before[0]) / passed_s:.1f}")
                say("bytes a second", f"{(after[1] - before[1]) / passed_s:.0f}")
                say("broker, share of one core", f"{(cpu_s(broker.process_id) - used[0]) / passed_s:.2%}")
                own = (time.process_time() - used[1]) / passed_s
                say("all controllers' messages and links together, share of one core", f"{own:.1%}")
                say("the same for one controller", f"{own / options.houses:.3%}")
                say("latest tick", f"{ticking.late_s:.2f} s")
                for away_s in options.away:
                    back = [h.sender.connections() for h in houses.all]
                    broker.kill()
                    time.sleep(away_s)
                    broker.start()
                    times = returned(houses, back)
                    half_s, all_s = times[len(times) // 2], times[-1]
                    say(
                        f"broker away for {away_s:.0f} s: back",
                        f"{len(times)}; half after {half_s:.1f} s, all after {all_s:.1f} s, "
                        f"at most {busiest(times)} in one second",
                    )
                say("letters still waiting", f"{sum(h.sender.waiting() for h in houses.all)}")
        finally:
            brokers.close()
    return rows


def main() -> int:
    """Play, print, and write the page."""
    parser = argparse.ArgumentParser(prog="python -m tests.lab.many_houses", description=__doc__)
    parser.add_argument("--houses", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=120.0, help="how long the steady state is measured")
    parser.add_argument("--away", type=float, nargs="*", default=[5.0, 90.0], help="seconds without a broker")
    page_option(parser, PAGE)
    options = parser.parse_args()
    when = made()
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.ERROR))
    rows = play(options)
    text = "\n".join((HEAD, *rows, ""))
    write_page(options.page, text, when)
    return 0


if __name__ == "__main__":
    sys.exit(main())
