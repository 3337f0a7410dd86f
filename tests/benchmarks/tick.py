"""How long one rehearsed tick takes, piece by piece: ``python -m tests.benchmarks.tick``.

The real rehearsal runs with a stopwatch around each piece, put there from outside for as long as it is
measured. What a stopwatch itself takes is measured first and taken off. Each piece is given as the fastest of
several rounds, because everything that disturbs a measurement makes it slower. The last lines come from
rounds without any stopwatch. All times are processor time, so that other programs count little. Prints;
asserts nothing, because machines differ.
"""

from __future__ import annotations

import argparse
import time
from collections import defaultdict
from contextlib import ExitStack, contextmanager
from datetime import datetime
from functools import wraps
from timeit import repeat
from typing import TYPE_CHECKING, Any
from unittest.mock import patch

from controller import loop
from controller.decision.promises import PromiseWatch
from controller.outputs.bank import OutputBank
from controller.readings.gather import Gatherer
from controller.simulator.journal import Journal
from controller.simulator.plant import SimulatedPlant
from controller.simulator.probes import SimulatedProbes
from controller.simulator.run import Rehearsal, rehearse
from controller.simulator.tracker import Tracker
from controller.simulator.wiring import SimulatedFloats
from tests.decision.world import HOUSE

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from controller.settings.schema import Settings

SPRING = datetime(2026, 3, 1)  # noqa: DTZ001 - the rehearsal takes it for local time of the weather
YEAR_S, DAY_S = 365.0 * 86_400.0, 86_400.0
ROUNDS = 3
CALLS = 20_000

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


def rehearsed(settings: Settings, days: float, begin: Callable[[], None]) -> tuple[float, int]:
    """Rehearse; the seconds from the first tick to the last, and how many ticks there were.

    Args:
        settings: the house.
        days: how long.
        begin: called when everything is loaded, compiled and settled.
    """
    began_s: list[float] = []
    ended_s = 0.0

    def progress(_share: float) -> None:
        nonlocal ended_s
        if not began_s:
            begin()
            began_s.append(time.process_time())
        ended_s = time.process_time()

    summary = rehearse(Rehearsal(settings, "carolina", SPRING, days), progress).summary
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
    """The example house with only its first loops."""
    kept = dict(list(HOUSE.loops.items())[:loops])
    probes = {name: probe for name, probe in HOUSE.probes.items() if probe.loop is None or probe.loop in kept}
    return HOUSE.model_copy(update={"loops": kept, "probes": probes})


def main() -> None:
    """Measure and print one column for each number of loops."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.tick", description="Times one tick.")
    parser.add_argument("--days", type=float, default=20.0, help="days to rehearse in each round")
    parser.add_argument(
        "--loops", type=int, nargs="+", default=[len(HOUSE.loops)], choices=range(1, len(HOUSE.loops) + 1),
        help="how many of the example's loops to keep",
    )  # fmt: skip
    asked = parser.parse_args()
    columns = [measure(house_with(loops), asked.days) for loops in asked.loops]
    print(f"{'µs a tick':24}" + "".join(f"{f'{loops} loops':>12}" for loops in asked.loops))
    for piece in (*PIECES, "rest"):
        print(f"{piece:24}" + "".join(f"{pieces[piece] * 1e6:12.1f}" for _, _, pieces in columns))
    print(f"{'whole, undisturbed':24}" + "".join(f"{tick_s * 1e6:12.1f}" for tick_s, _, _ in columns))
    print(f"{'ticks a second':24}" + "".join(f"{1.0 / tick_s:12.0f}" for tick_s, _, _ in columns))
    years = [ticks_a_day * YEAR_S / DAY_S * tick_s for tick_s, ticks_a_day, _ in columns]
    print(f"{'seconds a year':24}" + "".join(f"{year_s:12.1f}" for year_s in years))
    print(f"{'years an hour':24}" + "".join(f"{3600.0 / year_s:12.1f}" for year_s in years))


if __name__ == "__main__":
    main()
