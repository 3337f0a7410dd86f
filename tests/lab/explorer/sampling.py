"""Tries whether keys leave out only what does not matter: random histories, random values for the rest."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

from controller.decision import decide as deciding
from controller.decision.command import Command, Decision, OutputChange
from controller.decision.decide import initial_state
from controller.decision.hints import LoopHint
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Doubt, EmptyingTrend, Need, Proof
from controller.diagnosis.evidence import no_evidence
from controller.diagnosis.learn import Diagnosis
from controller.equipment import OutputId
from controller.record.promises import PromiseWatch
from controller.record.tally import DayTally
from controller.record.tick import TickRecord
from tests.lab.explorer.monitor import Judged, unknown
from tests.lab.explorer.small_house import BELIEVED_TICKS, TICK_S, short_silences, snapshot_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from controller.decision.state import ControllerState, OutputState
    from controller.readings.snapshot import Snapshot
    from tests.lab.explorer.search import House
    from tests.lab.explorer.small_house import Seen

SOUND = Diagnosis(no_evidence((), 0.0), (), ())
OFF = Reason(ReasonCode.STARTED, {"rest_s": 0.0})


class ProjectionError(Exception):
    """Two states with one key went different ways, so the key leaves out something that matters."""


def disturbed(state: ControllerState, house: House, now_s: float, chance: random.Random) -> ControllerState:
    """A state with the same key and other values in everything the key leaves out."""

    def older(at_s: float, oldest: int) -> float:
        beyond = now_s - at_s >= oldest * TICK_S
        return at_s - TICK_S * chance.randrange(40) if beyond else at_s

    def motor(output: OutputState, oldest: int) -> OutputState:
        return output._replace(since_mono_s=older(output.since_mono_s, oldest))

    timers = house.timers
    outputs = dict(state.outputs)
    for fan in house.keys.fans:
        outputs[fan] = motor(outputs[fan], max(timers.fan_run, timers.fan_rest, timers.purge))
    for pump in house.keys.pumps:
        outputs[pump] = motor(
            outputs[pump], max(timers.exercise_every, 3 * timers.longest_run, timers.rest, 6)
        )
    return state._replace(
        outputs=outputs,
        fans={
            name: fan._replace(proof=chance.choice(list(Proof)), reason=OFF)
            for name, fan in state.fans.items()
        },
        sumps={
            name: sump._replace(
                last_water_s=older(sump.last_water_s, timers.drain_down),
                crowded=chance.randrange(5),
                trend=EmptyingTrend(
                    chance.choice([None, 50.0]), 20.0, chance.randrange(9), chance.randrange(5)
                ),
                wet_since_s=None if sump.wet_since_s is None else older(sump.wet_since_s, BELIEVED_TICKS),
                reason=Reason(chance.choice(list(ReasonCode)), {}),
                lockouts=(),
                doubt=chance.choice([None, *Doubt]),
            )
            for name, sump in state.sumps.items()
        },
        need=Need(chance.choice([None, chance.uniform(-15.0, 30.0)]), now_s - TICK_S),
        last_start_s=older(state.last_start_s, timers.stagger),
    )


def hinted(house: House, chance: random.Random) -> dict[str, LoopHint]:
    """Anything the diagnosis may say of loops without an outlet probe."""
    return {fan.name: LoopHint(chance.uniform(0.8, 1.2), chance.random() < 0.5) for fan in house.keys.fans}


class _Walk:
    """One random history: the concrete state, its key, the monitor, and the program's own promise watch."""

    def __init__(self, house: House, chance: random.Random) -> None:
        self.house, self.chance = house, chance
        self.now_s = TICK_S * chance.randrange(1, 1000)
        self.lose()

    def lose(self) -> None:
        """Start with unknown history."""
        house = self.house
        self.state = initial_state(house.settings, self.now_s)
        self.key = house.keys.key_of(self.state, self.now_s)
        self.judged: Judged = unknown(len(house.keys.fans), len(house.keys.pumps))
        self.watch = PromiseWatch()
        self.record: TickRecord | None = None

    def restart(self) -> None:
        """Restart with the memory."""
        self._stopped(self.house.restarted, "a restart")

    def trip(self) -> None:
        """The lease runs out."""
        self._stopped(self.house.tripped, "a lease that ran out", trip=True)

    def _stopped(
        self, after: Callable[[ControllerState, float], ControllerState], what: str, *, trip: bool = False
    ) -> None:
        """Everything went off, which the promise watch has seen."""
        house = self.house
        if self.record is not None:
            for name, water in self.watch.water.sumps.items():
                pumped = self.record.decision.commands[OutputId.pump(name)].on
                water.unread(pumped, self.now_s)
            silences = {name: water.silence for name, water in self.watch.water.sumps.items()}
            commands = self.record.decision.commands
            changes = [OutputChange(output, on=False, reason=OFF) for output, c in commands.items() if c.on]
            off = Decision({output: Command(on=False, reason=OFF) for output in commands}, tuple(changes))
            self.record = self.record._replace(decision=off)
            self.watch.observe(self.record)
            for name, silence in silences.items():
                self.watch.water.sumps[name].silence = silence
        again = after(house.keys.state_of(self.key), 0.0)
        self.judged = house.monitor.stopped(self.judged, trip=trip)
        self.state = after(self.state, self.now_s)
        self._compare(house.keys.key_of(again, 0.0), house.keys.key_of(self.state, self.now_s), what)

    def tick(self, seen: Seen, snapshot_at_one: Snapshot) -> None:
        """Decide once three times over: the history, the state its key stands for, and a disturbed one."""
        house = self.house
        by_key, after_key = deciding.decide(
            snapshot_at_one, house.keys.state_of(self.key), house.settings, TICK_S
        )
        other = disturbed(self.state, house, self.now_s, self.chance)
        if house.keys.key_of(other, self.now_s) != self.key:
            raise ProjectionError("disturbing a state has changed its key; the trial itself is wrong")
        self.now_s += TICK_S
        snapshot = snapshot_of(seen, house.settings, self.now_s)
        decision, after = deciding.decide(snapshot, self.state, house.settings, self.now_s)
        by_other, after_other = deciding.decide(
            snapshot, other, house.settings, self.now_s, hints=hinted(house, self.chance)
        )
        wanted = _ons(by_key)
        if _ons(decision) != wanted or _ons(by_other) != wanted:
            raise ProjectionError(f"one key, different commands after {seen}")
        key = house.keys.key_of(after_key, TICK_S)
        self._compare(key, house.keys.key_of(after, self.now_s), str(seen))
        self._compare(key, house.keys.key_of(after_other, self.now_s), str(seen))
        self.judged, broken = house.judge(self.judged, seen, decision)
        self.state = after
        self.record = TickRecord(
            1, self.now_s, house.settings, snapshot, decision, after, SOUND, {}, DayTally()
        )  # fmt: skip
        # The share of P16 presupposes rests as short as a settings file allows; the monitor knows these.
        broken += [one.detail for one in self.watch.observe(self.record) if one.promise != "P16"]
        if broken:
            raise ProjectionError(f"broken in a random history: {broken}")

    def _compare(self, key: bytes, other: bytes, what: str) -> None:
        if key != other:
            raise ProjectionError(f"one key, different keys after {what}: {list(key)} and {list(other)}")
        self.key = key


def _ons(decision: Decision) -> list[bool]:
    return [command.on for command in decision.commands.values()]


def try_keys(house: House, walks: int, ticks: int, seed: int) -> int:
    """Walk at random and compare at every tick; returns the number of comparisons.

    Args:
        house: the house.
        walks: histories.
        ticks: steps of each.
        seed: of the chance.

    Raises:
        ProjectionError: the key leaves out something that matters, or a promise was broken on the way.
    """
    with short_silences(house.timers):
        return _tried(house, walks, ticks, random.Random(seed))  # noqa: S311 - chance, not secrecy


def _tried(house: House, walks: int, ticks: int, chance: random.Random) -> int:
    for _ in range(walks):
        walk = _Walk(house, chance)
        seen, snapshot = chance.choice(house.seen)
        for _ in range(ticks):
            drawn = chance.random()
            if drawn < 0.02:
                walk.lose()
            elif drawn < 0.08:
                walk.restart()
            elif drawn < 0.12:
                walk.trip()
            else:
                if drawn > 0.5:  # weather and water last a while
                    seen, snapshot = chance.choice(house.seen)
                walk.tick(seen, snapshot)
    return walks * ticks
