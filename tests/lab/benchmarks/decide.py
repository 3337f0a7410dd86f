"""How long one decision and one promise check take: ``python -m tests.lab.benchmarks.decide``.

The house is that of the example settings, in the states it spends its life in. Each figure is the fastest of
several rounds, because everything that disturbs a measurement makes it slower.
"""

from __future__ import annotations

from functools import partial
from timeit import repeat
from typing import TYPE_CHECKING

from controller.decision.decide import decide
from controller.readings.reading import Level
from controller.record.memory import to_memory
from controller.record.promises import PromiseWatch
from tests.decision.world import HOUR_S, World

if TYPE_CHECKING:
    from collections.abc import Callable

CALLS = 2000
ROUNDS = 5


def quiet() -> World:
    """A mild night: nothing is wanted."""
    return World()


def banking() -> World:
    """A sunny winter noon: three fans bank heat."""
    world = World()
    world.remember_need(2.0)
    world.sunny()
    world.run(HOUR_S)
    return world


def flooded() -> World:
    """Water in the sump in frost: the pump runs, fans are locked, alarms stand."""
    world = World()
    world.frosty()
    world.level["main"] = Level.WET
    world.run(HOUR_S)
    return world


def microseconds(call: Callable[[], object]) -> float:
    """The time of one call in µs."""
    return min(repeat(call, number=CALLS, repeat=ROUNDS)) / CALLS * 1e6


def main() -> None:
    """Measure and print."""
    print(f"{'':10}{'decide µs':>12}{'promises µs':>14}{'memory µs':>12}")
    for name, world in (("quiet", quiet()), ("banking", banking()), ("flooded", flooded())):
        snapshot, state, now_s, record = world.snapshot(), world.state, world.now_s + 10.0, world.record
        assert record is not None
        watch = PromiseWatch()
        watch.observe(record)
        decide_us = microseconds(partial(decide, snapshot, state, world.settings, now_s))
        watch_us = microseconds(partial(watch.observe, record))
        memory_us = microseconds(partial(to_memory, state, world.evidence, now_s))
        print(f"{name:10}{decide_us:12.1f}{watch_us:14.1f}{memory_us:12.1f}")


if __name__ == "__main__":
    main()
