"""Breadth first over every state that can be reached, each step judged by the monitor."""

from __future__ import annotations

import json
import time
from array import array
from dataclasses import dataclass, field
from itertools import pairwise, product
from typing import TYPE_CHECKING

from controller.decision import decide as deciding
from controller.decision.decide import initial_state
from controller.decision.driven import Lost, after_loss
from controller.diagnosis.evidence import no_evidence
from controller.record import memory, restoring
from tests.lab.explorer.keys import Keys
from tests.lab.explorer.monitor import Judged, Monitor, Motor, Sump, unknown
from tests.lab.explorer.small_house import (
    TICK_S,
    Air,
    Seen,
    Timers,
    Water,
    short_silences,
    small_house,
    snapshot_of,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from controller.decision.command import Decision
    from controller.decision.state import ControllerState

RESTART, REBOOT, LOST = "restart with its memory", "reboot with its memory", "restart, memory lost"
TRIP = "no tick for longer than the lease"


@dataclass(slots=True)
class Found:
    """What a search has seen.

    Attributes:
        states: different states reached.
        steps: steps judged.
        depth: steps to the state that is furthest from a start.
        broken: what is broken at the end of the shortest way there, empty if nothing is.
        path: that way, a line a step.
        wall_s: how long it took.
        complete: whether every reachable state was looked at.
    """

    states: int = 0
    steps: int = 0
    depth: int = 0
    broken: list[str] = field(default_factory=list)
    path: list[str] = field(default_factory=list)
    wall_s: float = 0.0
    complete: bool = False


class House:
    """One small house: its settings, what it may see, and how a state goes on."""

    def __init__(
        self,
        loops: dict[str, str],
        timers: Timers,
        airs: tuple[Air, ...] = tuple(Air),
        waters: tuple[Water, ...] = tuple(Water),
    ) -> None:
        self.timers = timers
        self.settings = small_house(loops, timers)
        self.keys = Keys(self.settings, timers)
        sumps = list(self.settings.sumps)
        self.monitor = Monitor(timers, [sumps.index(loop.sump) for loop in self.settings.loops.values()])
        seen = [
            Seen(air, water, cleared)
            for air, water, cleared in product(airs, product(waters, repeat=len(sumps)), (False, True))
            # Clearing a fire is tried in one way. A float that nobody has looked at yet is seen after starts;
            # that it may be so at any time only adds to what is tried.
            if (not cleared or (air is Air.HOT and set(water) == {Water.DRY} and Air.FIRE in airs))
            and (Water.NOT_YET not in water or (len(set(water)) == 1 and air in (Air.HOT, Air.FIRE)))
        ]
        self.seen = [(one, snapshot_of(one, self.settings, TICK_S)) for one in seen]

    def start(self) -> bytes:
        """The state after a start of unknown history."""
        state = initial_state(self.settings, 0.0)
        judged = unknown(len(self.keys.fans), len(self.keys.pumps))
        return self.keys.key_of(state, 0.0) + _judged_bytes(judged)

    def unpacked(self, packed: bytes) -> tuple[bytes, Judged]:
        """The decision's key, and what the monitor remembers."""
        cut = 2 + 4 * len(self.keys.fans) + 10 * len(self.keys.pumps)
        fans, pumps = len(self.keys.fans), len(self.keys.pumps)
        return packed[:cut], _judged_of(packed[cut:], fans, pumps)

    def steps(self, packed: bytes) -> Iterator[tuple[Seen | str, bytes, list[str]]]:
        """Everything that can happen next: what it is, the state it leads to, and what is broken by it."""
        key, judged = self.unpacked(packed)
        state = self.keys.state_of(key)
        for seen, snapshot in self.seen:
            decision, after = deciding.decide(snapshot, state, self.settings, TICK_S)
            judged_after, broken = self.judge(judged, seen, decision)
            yield seen, self.keys.key_of(after, TICK_S) + _judged_bytes(judged_after), broken
        for what, same_boot in ((RESTART, True), (REBOOT, False)):
            stopped = self.monitor.stopped(judged, same_boot=same_boot)
            again = self.keys.key_of(self.restarted(state, 0.0, same_boot), 0.0)
            yield what, again + _judged_bytes(stopped), []
        yield LOST, self.start(), []
        tripped = self.keys.key_of(self.tripped(state, 0.0), 0.0)
        yield TRIP, tripped + _judged_bytes(self.monitor.stopped(judged, trip=True)), []

    def tripped(self, state: ControllerState, now_s: float) -> ControllerState:
        """The state after the lease has run out and everything went off, before the next decision."""
        at_once = Lost(frozenset(), 0.0, now_s)  # of the time without decisions as little as of a restart's
        return after_loss(state, at_once, self.settings, now_s)[0]

    def restarted(self, state: ControllerState, now_s: float, same_boot: bool = True) -> ControllerState:
        """The state after a restart at once, by way of the file the memory is kept in.

        After a power cut of any length the state is the same, since nothing is taken to have aged, and the
        monitor's ages are only older, which never makes it stricter; so one reboot stands for all.
        """
        kept = memory.to_memory(state, no_evidence(self.settings.loops, now_s), now_s)
        data = json.loads(json.dumps(kept.data))
        return restoring.restored(initial_state(self.settings, now_s), data, same_boot, now_s)

    def judge(self, judged: Judged, seen: Seen, decision: Decision) -> tuple[Judged, list[str]]:
        """The monitor's view of one decision."""
        fans = [decision.commands[output].on for output in self.keys.fans]
        pumps = [decision.commands[output].on for output in self.keys.pumps]
        return self.monitor.judge(judged, seen, fans, pumps)


def explore(
    house: House, most_states: int | None = None, told: Callable[[str], object] | None = None
) -> Found:
    """Look at every reachable state, or stop at the first broken promise.

    Args:
        house: the house.
        most_states: stop after the level at which this many are known, None for never.
        told: called with a line on every finished level.
    """
    with short_silences(house.timers):
        return _explored(house, most_states, told)


def _explored(house: House, most_states: int | None, told: Callable[[str], object] | None) -> Found:
    begun_s = time.perf_counter()
    found = Found()
    queue, parents = [house.start()], array("l", [-1])
    known = set(queue)
    at, level_ends = 0, 1
    while at < len(queue):
        for _, after, broken in house.steps(queue[at]):
            found.steps += 1
            if after not in known:
                known.add(after)
                queue.append(after)
                parents.append(at)
            if broken:
                found.broken, found.path = broken, _path(house, queue, parents, at, after)
                found.depth += 1
                return _finished(found, queue, begun_s)
        at += 1
        if at == level_ends and at < len(queue):
            found.depth += 1
            level_ends = len(queue)
            if told is not None:
                told(f"{found.depth} steps away: {len(queue)} states, {found.steps} steps tried")
            if most_states is not None and len(queue) >= most_states:
                return _finished(found, queue, begun_s)
    found.complete = True
    return _finished(found, queue, begun_s)


def _finished(found: Found, queue: list[bytes], begun_s: float) -> Found:
    found.states, found.wall_s = len(queue), time.perf_counter() - begun_s
    return found


def _path(house: House, queue: list[bytes], parents: array[int], at: int, last: bytes) -> list[str]:
    """The way from the start to a state, in words."""
    way = [last]
    while at >= 0:
        way.append(queue[at])
        at = parents[at]
    way.reverse()
    lines = ["start, history unknown"]
    for before, after in pairwise(way):
        what, commands = _step_between(house, before, after)
        lines.append(f"tick {len(lines)}: {what}{commands}")
    return lines


def _step_between(house: House, before: bytes, after: bytes) -> tuple[str, str]:
    ways = [(what, broken) for what, to, broken in house.steps(before) if to == after]
    what, broken = max(ways, key=lambda way: len(way[1]))
    _, judged = house.unpacked(after)
    on = [f"fan {n + 1}" for n, motor in enumerate(judged.fans) if motor.on]
    on += [f"pump {n + 1}" for n, motor in enumerate(judged.pumps) if motor.on]
    told = f"; on: {', '.join(on)}" if on else "; all off"
    return str(what), told + "".join(f"; BROKEN {words}" for words in broken)


def _judged_bytes(judged: Judged) -> bytes:
    parts: list[int] = [judged.last_start, judged.fire]
    for motor in (*judged.fans, *judged.pumps):
        parts += motor
    for sump in judged.sumps:
        parts += (sump.dry_for, sump.dry_on, sump.only_dry, _kept(sump.rested), _kept(sump.wet))
        parts += (_kept(sump.lost), sump.excused)
    return bytes(parts)


def _kept(count: int | None) -> int:
    return 0 if count is None else 1 + count


def _count(kept: int) -> int | None:
    return kept - 1 if kept else None


def _judged_of(packed: bytes, fans: int, pumps: int) -> Judged:
    parts = iter(packed)
    last_start, fire = next(parts), bool(next(parts))
    motors = [Motor(bool(next(parts)), next(parts), next(parts)) for _ in range(fans + pumps)]
    sumps = []
    for _ in range(pumps):
        dry_for, dry_on, only_dry = next(parts), next(parts), bool(next(parts))
        rested, wet, lost = (_count(next(parts)) for _ in range(3))
        sumps.append(Sump(dry_for, dry_on, only_dry, rested, wet, lost, next(parts)))
    return Judged(tuple(motors[:fans]), tuple(motors[fans:]), tuple(sumps), last_start, fire)
