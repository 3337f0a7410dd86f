"""How fast a rehearsal is, piece by piece, and how it grows: ``python -m tests.lab.benchmarks.rehearsal``.

The real rehearsal runs with a stopwatch around each piece, put there from outside for as long as it is
measured. What a stopwatch itself takes is measured first and taken off. Each piece is given as the fastest of
several rounds, because everything that disturbs a measurement makes it slower. The last lines come from
rounds without any stopwatch. All times are processor time, so that other programs count little. Prints;
asserts nothing, because machines differ.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import subprocess
import sys
import time
from collections import defaultdict
from contextlib import ExitStack, contextmanager
from datetime import datetime
from functools import wraps
from tempfile import TemporaryDirectory
from timeit import repeat
from typing import TYPE_CHECKING, Any
from unittest.mock import patch

from controller import loop
from controller.outputs.bank import OutputBank
from controller.readings.gather import Gatherer
from controller.record.promises import PromiseWatch
from controller.rehearsal.journal import Journal
from controller.rehearsal.run import Rehearsal, rehearse
from controller.rehearsal.tracker import Tracker
from controller.simulator.plant.plant import SimulatedPlant
from controller.simulator.plant.probes import SimulatedProbes
from controller.simulator.plant.wiring import SimulatedFloats
from tests.decision.world import FILE, HOUSE
from tests.simulator.garden import finer_model, weather

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from controller.settings.schema import Loop, Settings
    from controller.simulator.house.model import Model

SPRING = datetime(2026, 3, 1)  # noqa: DTZ001 - the rehearsal takes it for local time of the weather
YEAR_S, DAY_S = 365.0 * 86_400.0, 86_400.0
ROUNDS = 3
MINUTES = 1440
CALLS = 20_000
PACES_S = (60.0, 300.0, 600.0)
STEPS = 10_000_000
# What a year is set against, because machines differ: a plain script that only counts.
EMPTY_LOOP = compile(f"step = 0\nwhile step < {STEPS}:\n    step += 1", "empty loop", "exec")

PIECES: dict[str, tuple[tuple[Any, str], ...]] = {
    "sensors": ((SimulatedProbes, "latest"), (SimulatedFloats, "look")),
    "readings": ((Gatherer, "gather"),),
    "decision": ((loop, "decide"),),
    "promises": ((PromiseWatch, "observe"),),
    "accounting": ((loop, "add_tick"), (loop, "heat_now_w")),
    "outputs": ((OutputBank, "drive"), (OutputBank, "findings")),
    "house + ground": ((SimulatedPlant, "advance_to_edge"),),
    "tracking": ((Tracker, "passed"), (Journal, "note")),
}


class Stopwatches:
    """Seconds and calls of each piece."""

    def __init__(self) -> None:
        self.seconds: defaultdict[str, float] = defaultdict(float)
        self.calls: defaultdict[str, int] = defaultdict(int)

    def around(self, piece: str, call: Callable[..., Any]) -> Callable[..., Any]:
        """The same call, timed."""

        @wraps(call)
        def timed(*args: Any, **options: Any) -> Any:
            began_s = time.process_time()
            result = call(*args, **options)
            self.seconds[piece] += time.process_time() - began_s
            self.calls[piece] += 1
            return result

        return timed

    @contextmanager
    def running(self) -> Iterator[None]:
        """Time every piece while this lasts."""
        with ExitStack() as stack:
            for piece, calls in PIECES.items():
                for owner, name in calls:
                    stack.enter_context(patch.object(owner, name, self.around(piece, getattr(owner, name))))
            yield

    def clear(self) -> None:
        """Begin anew."""
        self.seconds.clear()
        self.calls.clear()


def overhead_s() -> tuple[float, float]:
    """What a stopwatch adds in all to a call, and how much of that it counts as the call's own."""
    watches = Stopwatches()

    def nothing(_first: object, _second: object) -> None:
        return

    timed = watches.around("", nothing)
    bare_s = min(repeat(lambda: nothing(1, 2), timer=time.process_time, number=CALLS, repeat=ROUNDS)) / CALLS
    whole_s = min(repeat(lambda: timed(1, 2), timer=time.process_time, number=CALLS, repeat=ROUNDS)) / CALLS
    return whole_s - bare_s, watches.seconds[""] / watches.calls[""]


def empty_loop_s() -> float:
    """Seconds the empty loop takes, the fastest of several rounds."""
    return min(
        repeat(lambda: exec(EMPTY_LOOP, {}), timer=time.process_time, number=1, repeat=ROUNDS)  # noqa: S102
    )


def rehearsed(
    settings: Settings, days: float, begin: Callable[[], None], pace_s: float = PACES_S[0]
) -> tuple[float, int]:
    """Rehearse; the seconds from the first tick to the last, and how many ticks there were.

    Args:
        settings: the house.
        days: how long.
        begin: called when everything is loaded, compiled and settled.
        pace_s: longest time between two ticks.
    """
    began_s: list[float] = []
    ended_s = 0.0

    def progress(_share: float) -> None:
        nonlocal ended_s
        if not began_s:
            begin()
            began_s.append(time.process_time())
        ended_s = time.process_time()

    summary = rehearse(Rehearsal(settings, "carolina", SPRING, days, pace_s=pace_s), progress).summary
    return ended_s - began_s[0], summary.promises.checked_ticks


def measure(settings: Settings, days: float) -> tuple[float, float, dict[str, float]]:
    """Seconds a tick takes, ticks in a simulated day, and the seconds of each piece."""
    added_s, counted_s = overhead_s()
    watches = Stopwatches()
    rounds: list[dict[str, float]] = []
    plain_s: list[float] = []
    ticks = 0
    for _ in range(ROUNDS):
        took_s, ticks = rehearsed(settings, days, lambda: None)
        plain_s.append(took_s / ticks)
        with watches.running():
            took_s, ticks = rehearsed(settings, days, watches.clear)
        pieces = {
            piece: (watches.seconds[piece] - counted_s * watches.calls[piece]) / ticks for piece in PIECES
        }
        whole_s = (took_s - added_s * sum(watches.calls.values())) / ticks
        rounds.append(pieces | {"rest": whole_s - sum(pieces.values())})
    fastest = {piece: min(each[piece] for each in rounds) for piece in rounds[0]}
    return min(plain_s), ticks / days, fastest


def house_with(loops: int) -> Settings:
    """The example house with only its first loops, or with copies of them that share their tubes."""
    names, copies = list(HOUSE.loops), -(-loops // len(HOUSE.loops))
    kept: dict[str, Loop] = {}
    probes = {name: probe for name, probe in HOUSE.probes.items() if probe.loop is None}
    for number in range(loops):
        source = names[number % len(names)]
        name = source if number < len(names) else f"{source}-{number}"
        kept[name] = HOUSE.loops[source].model_copy(update={"tubes": HOUSE.loops[source].tubes // copies})
        probes |= {
            probe_name.replace(source, name): probe.model_copy(update={"loop": name})
            for probe_name, probe in HOUSE.probes.items()
            if probe.loop == source
        }
    return HOUSE.model_copy(update={"loops": kept, "probes": probes})


def minute_s(plant: SimulatedPlant) -> float:
    """Seconds that a simulated minute of house and ground takes, of a day."""
    began_s = time.process_time()
    for _ in range(MINUTES):
        plant.advance(60.0)
    return (time.process_time() - began_s) / MINUTES


def house_and_ground(settings: Settings, model: Model | None = None) -> tuple[float, float, int]:
    """Seconds a minute of the house and of the ground takes, parted by stopping the ground; and cells."""
    plant = SimulatedPlant(settings, weather(), SPRING, model=model)
    plant.advance(DAY_S)
    both_s = min(minute_s(plant) for _ in range(ROUNDS))
    plant.model.whole.ground.pace.step_s = math.inf
    house_s = min(minute_s(plant) for _ in range(ROUNDS))
    return house_s, max(both_s - house_s, 0.0), plant.model.temp_c.size


def starts_s() -> tuple[float, float]:
    """Wall seconds of a rehearsal of minutes, when everything has to be compiled and when it has been."""
    took_s = []
    with TemporaryDirectory() as cache:
        for _ in range(2):
            began_s = time.perf_counter()
            told(0.01, {"XDG_CACHE_HOME": cache})
            took_s.append(time.perf_counter() - began_s)
    return took_s[0], took_s[1]


def told(days: float, environment: dict[str, str]) -> Any:
    """The summary of a rehearsal in a process of its own."""
    command = [sys.executable, "-m", "controller", "rehearse", str(FILE), "--start", "2026-03-01", "--json"]
    done = subprocess.run(
        [*command, "--days", str(days)], env=os.environ | environment, capture_output=True, check=True
    )
    return json.loads(done.stdout)


def print_ticks(loops: list[int], days: float) -> None:
    """One column for each number of loops, a row for each piece."""
    columns = [measure(house_with(number), days) for number in loops]
    apart = [house_and_ground(house_with(number)) for number in loops]
    for (_, _, pieces), (house_s, ground_s, _) in zip(columns, apart, strict=True):
        both_s = pieces.pop("house + ground")
        pieces["house"], pieces["ground"] = (
            both_s * part_s / (house_s + ground_s) for part_s in (house_s, ground_s)
        )
    print(f"{'µs a tick':24}" + "".join(f"{f'{number} loops':>12}" for number in loops))
    for piece in columns[0][2]:
        print(f"{piece:24}" + "".join(f"{pieces[piece] * 1e6:12.1f}" for _, _, pieces in columns))
    print(f"{'whole, undisturbed':24}" + "".join(f"{tick_s * 1e6:12.1f}" for tick_s, _, _ in columns))
    years = [ticks_a_day * YEAR_S / DAY_S * tick_s for tick_s, ticks_a_day, _ in columns]
    print(f"{'seconds a year':24}" + "".join(f"{year_s:12.1f}" for year_s in years))
    print(f"{'years an hour':24}" + "".join(f"{3600.0 / year_s:12.1f}" for year_s in years))


def print_paces(days: float) -> None:
    """A line for each pace: a year, and how often the empty loop, timed beside it, goes into that."""
    print(f"{'pace':>8}{'loop, s':>10}{'year, s':>10}{'ratio':>8}{'µs a tick':>12}   ({days:g} days played)")
    for pace_s in PACES_S:
        before_s = empty_loop_s()
        took_s, ticks = rehearsed(HOUSE, days, lambda: None, pace_s)
        loop_s = 0.5 * (before_s + empty_loop_s())
        year_s = took_s * YEAR_S / DAY_S / days
        figures = f"{loop_s:10.2f}{year_s:10.1f}{year_s / loop_s:8.1f}{took_s / ticks * 1e6:12.1f}"
        print(f"{pace_s / 60.0:4.0f} min{figures}")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.lab.benchmarks.rehearsal", description="Times the rehearsal."
    )
    parser.add_argument("--days", type=float, default=20.0, help="days to rehearse in each round")
    parser.add_argument(
        "--loops", type=int, nargs="+", default=[1, 2, 3, 6], help="how many loops the house has"
    )
    parser.add_argument(
        "--year", type=float, default=365.0, metavar="DAYS", help="days played at each pace for a year"
    )
    parser.add_argument("--paces", action="store_true", help="only the year at each pace")
    asked = parser.parse_args()
    print_paces(asked.year)
    if asked.paces:
        return
    print_ticks(asked.loops, asked.days)
    for refine in (1, 2):
        house_s, ground_s, cells = house_and_ground(HOUSE, finer_model(SPRING, step_s=60.0, refine=refine))
        print(f"{cells} cells: house {house_s * 1e6:.1f} µs, ground {ground_s * 1e6:.1f} µs a minute")
    first_s, again_s = starts_s()
    print(f"start: {first_s:.1f} s to compile first, {again_s:.1f} s ever after")


if __name__ == "__main__":
    main()
