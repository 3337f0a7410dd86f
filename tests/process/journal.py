"""The pins' own record over all starts of the program, and the motor limits that show in it (P4, P11)."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from controller.faults import HOUR_S

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from controller.settings.schema import Settings

# The bench's accuracy in real seconds: a decision is older than the pin by a write to the memory
# file and a turn of the scheduler. Everything in here runs faster than real, and this grows with it.
ACCURACY_S = 0.1


class Level(NamedTuple):
    """One write to a pin: real monotonic seconds, by whom, and the level."""

    at_s: float
    process: int
    pin: int
    on: bool


class Limits(NamedTuple):
    """What is promised of one motor, in the program's own seconds."""

    rest_s: float
    starts_per_hour: int


def limits_of(settings: Settings) -> dict[int, Limits]:
    """The limits of every output, by pin."""
    fans, pump = settings.fans, settings.pump
    found = {
        loop.fan_pin: Limits(fans.minimum_rest_s, fans.starts_per_hour) for loop in settings.loops.values()
    }
    for sump in settings.sumps.values():
        found[sump.pump_pin] = Limits(pump.minimum_rest_s, pump.starts_per_hour)
    return found


def read(path: Path) -> list[Level]:
    """Every write so far, oldest first."""
    if not path.exists():
        return []
    lines = (line.split() for line in path.read_text(encoding="ascii").splitlines())
    return sorted(Level(float(at), int(process), int(pin), level == "1") for at, process, pin, level in lines)


def starts(levels: Sequence[Level]) -> dict[int, list[tuple[float, float | None]]]:
    """By pin: when each run began, and when the run before it ended (None before the first)."""
    found: dict[int, list[tuple[float, float | None]]] = defaultdict(list)
    is_on: dict[int, bool] = {}
    ended_s: dict[int, float] = {}
    for level in levels:
        before = is_on.get(level.pin, False)
        if level.on and not before:
            found[level.pin].append((level.at_s, ended_s.get(level.pin)))
        elif before and not level.on:
            ended_s[level.pin] = level.at_s
        is_on[level.pin] = level.on
    return found


def broken(levels: Sequence[Level], settings: Settings, speed: float) -> list[str]:
    """Every motor limit that did not hold, over all starts of the program together."""
    found: list[str] = []
    limits, slack_s = limits_of(settings), ACCURACY_S * speed
    motors = starts(levels)
    for pin, runs in motors.items():
        began = [at_s * speed for at_s, _ in runs]
        for at_s, ended_s in runs:
            if ended_s is not None and (at_s - ended_s) * speed < limits[pin].rest_s - slack_s:
                found.append(
                    f"P4: pin {pin} rested {(at_s - ended_s) * speed:.1f} s of {limits[pin].rest_s:.0f} s"
                )
        most = limits[pin].starts_per_hour
        for first, last in zip(began, began[most:], strict=False):
            if last - first < HOUR_S - slack_s:
                found.append(f"P4: pin {pin} started {most + 1} times within {last - first:.0f} s")
    every = sorted(at_s * speed for runs in motors.values() for at_s, _ in runs)
    for first, second in pairwise(every):
        if second - first < settings.fans.stagger_s - slack_s:
            found.append(f"P11: two motors started within {second - first:.1f} s")
    return found
