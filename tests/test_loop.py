"""The loop: what is control ends it with every output off; nothing else stops a tick or alters an output."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import pytest
import structlog

from controller import loop as looping
from controller.decision.driven import NO_PINS
from controller.decision.state import Need
from controller.equipment import OutputId
from controller.faults import FaultCode
from controller.loop import ControlLoop, Parts
from controller.readings.gather import Gatherer
from controller.readings.reading import Level, RawLevel, RawTemperature
from controller.readings.said import Act, Said
from controller.record.memory import to_memory
from controller.record.promises import PromiseWatch
from controller.record.water_watch import WaterWatch
from controller.simulator.plant.clock import SimClock
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, MutableMapping
    from typing import NoReturn

    from controller.decision.driven import Pins
    from controller.readings.reading import RawSample
    from controller.record.tick import TickRecord

TICK_S = 20.0
FAILS_FROM_S = HOUR_S
LENGTH_S = 2.5 * HOUR_S


class PartError(Exception):
    """A part fails."""


class Rig:
    """The real loop in a house whose day is written down: sun, water, a fire, and a person who clears it."""

    def __init__(self) -> None:
        self.clock = SimClock(datetime(2026, 3, 1, 20, tzinfo=UTC))
        self.began_s = self.clock.monotonic_s()
        self.driven: list[dict[OutputId, bool]] = []
        self.saved: list[dict[str, Any]] = []
        self.urgent: list[dict[str, Any]] = []
        self.offs = 0
        self.log: list[tuple[str, str | None]] = []
        self.seen: list[TickRecord] = []
        self.failing: set[str] = set()
        self.said: tuple[Said, ...] = ()
        self.ceiling_c, self.bench_c = 27.0, 22.0
        self.parts = Parts(
            self.clock,
            self.port("settings", lambda: HOUSE),
            Gatherer(HOUSE),
            self,
            self,
            self,
            watchers=[self],
            findings=[self.port("a source", tuple)],
            cleared=self.port("requests", frozenset),
            said=self.port("what people say", lambda: self.said),
            memory=self,
            date_of=self.port("date", lambda wall: wall.date().isoformat()),
        )
        self.loop = ControlLoop(self.parts)
        self.loop._log = structlog.wrap_logger(None, processors=[self._logged])

    def _logged(self, _logger: object, _method: str, event: MutableMapping[str, Any]) -> NoReturn:
        """Keep what is logged."""
        self.log.append((event["event"], event.get("part")))
        raise structlog.DropEvent

    @property
    def passed_s(self) -> float:
        """Time since the start."""
        return self.clock.monotonic_s() - self.began_s

    def port(self, name: str, works: Callable[..., Any]) -> Callable[..., Any]:
        """Something the loop calls, which fails while its name says so."""

        def called(*args: Any) -> Any:
            self.fail_if(name)
            return works(*args)

        return called

    def fail_if(self, name: str) -> None:
        """Fail if this is what fails now."""
        if name in self.failing:
            raise PartError

    def latest(self) -> Mapping[str, RawSample]:
        """A warm roof over cool ground."""
        self.fail_if("temperatures")
        at_s = self.clock.monotonic_s()
        values_c = {"ceiling": self.ceiling_c, "bench": self.bench_c, "outlet": 16.0, "outdoor": 8.0}
        moves_c = 0.0625 * (self.passed_s // MINUTE_S % 4)
        return {
            name: RawTemperature(values_c.get(probe.place, 14.0) + moves_c, at_s)
            for name, probe in HOUSE.probes.items()
        }

    def look(self) -> Mapping[str, list[RawLevel]]:
        """Water for two minutes in the second hour."""
        self.fail_if("floats")
        wet = 0.0 <= self.passed_s - 1.25 * HOUR_S < 2 * MINUTE_S
        return {"main": [RawLevel(Level.WET if wet else Level.DRY, self.clock.monotonic_s())]}

    def lost(self) -> None:
        """Nothing ever goes off by itself."""

    def drive(self, commands: Mapping[OutputId, bool], _now_mono_s: float) -> Pins:
        """Keep what is driven."""
        self.fail_if("outputs")
        self.driven.append(dict(commands))
        return NO_PINS

    def all_off(self) -> None:
        """Count it."""
        self.offs += 1

    def save(self, data: dict[str, Any], *, urgent: bool) -> None:
        """Keep what is remembered."""
        self.fail_if("save")
        self.saved.append(data)
        if urgent:
            self.urgent.append(data)

    def observe(self, tick: TickRecord) -> None:
        """Keep the tick."""
        self.seen.append(tick)
        self.fail_if("watcher")

    def alive(self) -> bool:
        """As a port has it."""
        return True

    def close(self) -> None:
        """As a port has it."""

    def run(self, for_s: float) -> None:
        """Tick for a while."""
        until_s = self.passed_s + for_s
        while self.passed_s < until_s:
            self.loop.tick()
            self.clock.wait(self.parts.wake, TICK_S)

    def failed(self) -> set[str]:
        """Which parts the alarms say have failed."""
        alarms = self.seen[-1].diagnosis.alarms
        return {alarm.subject for alarm in alarms if alarm.code.value == "part-failed"}


def played(fails: Callable[[Rig], object] | None = None) -> Rig:
    """A rig that has run for its whole time, with something failing from its middle on."""
    rig = Rig()
    rig.loop._state = rig.loop._state._replace(need=Need(2.0, rig.began_s))
    rig.run(FAILS_FROM_S)
    if fails is not None:
        fails(rig)
    rig.run(LENGTH_S - FAILS_FROM_S)
    return rig


@pytest.fixture(scope="module")
def undisturbed() -> Rig:
    """The twin in which nothing fails; its fans and its pump have something to do after the middle."""
    rig = played()
    later = rig.driven[int(FAILS_FROM_S / TICK_S) :]
    assert {on for commands in later for output, on in commands.items() if output.kind == "fan"} == {
        True,
        False,
    }
    assert any(commands[OutputId.pump("main")] for commands in later)
    assert rig.failed() == set()
    assert rig.loop.broken == ()
    return rig


@pytest.mark.parametrize(
    ("port", "named"),
    [
        ("settings", "settings"),
        ("a source", "Rig.port.<locals>.called"),
        ("requests", "requests"),
        ("what people say", "what people say"),
        ("date", "sums of the day"),
        ("save", "memory"),
        ("watcher", "Rig"),
    ],
)
def test_a_port_that_is_no_control_may_fail_for_ever(undisturbed: Rig, port: str, named: str) -> None:
    """Outputs are those of the undisturbed twin, tick by tick, and an alarm names what failed."""
    rig = played(lambda rig: rig.failing.add(port))
    assert rig.driven == undisturbed.driven
    assert rig.failed() == {named}
    assert rig.offs == 0
    assert (
        rig.log == [("part_failed", named)] * 2
    )  # it fails for an hour and a half, and is logged once an hour
    rig.failing.clear()
    rig.run(HOUR_S + 2 * MINUTE_S)
    assert rig.failed() == set()


def test_nothing_that_people_say_changes_an_output(undisturbed: Rig) -> None:
    """Everything that can be said, in every tick: the same outputs, tick by tick, as where nobody speaks."""
    everything = (
        *(Said(Act.SEEN, code.value) for code in FaultCode),
        Said(Act.EMPTY),
        Said(Act.DONE, "floats"),
    )
    rig = played(lambda rig: setattr(rig, "said", everything))
    assert rig.driven == undisturbed.driven
    assert rig.failed() == set()
    assert rig.seen[-1].diagnosis.evidence.attendance.empty_until is not None


def test_what_was_said_is_on_its_way_to_the_card_by_the_next_tick() -> None:
    """Once, as urgent, and not with every tick after it; a start within the boot knows it again."""
    rig = Rig()
    rig.run(10 * MINUTE_S)
    rig.said = (Said(Act.EMPTY),)
    rig.run(TICK_S)
    rig.said = ()
    urgent = len(rig.urgent)
    rig.run(10 * MINUTE_S)
    assert len(rig.urgent) == urgent + 1
    assert rig.urgent[-1]["empty_until"] is not None
    again = ControlLoop(rig.parts, (rig.saved[-1], True))
    assert again._evidence.attendance.empty_until is not None


@pytest.mark.parametrize(
    ("part", "named"),
    [
        ("heat_now_w", "heat"),
        ("add_tick", "sums of the day"),
        ("to_memory", "memory"),
        ("worth_saving", "memory"),
        ("hints", "diagnosis"),
        ("learn", "diagnosis"),
        ("decided_signals", "signals"),
    ],
)
def test_counting_remembering_and_learning_may_fail_for_ever(
    monkeypatch: pytest.MonkeyPatch, undisturbed: Rig, part: str, named: str
) -> None:
    """A defect in what only counts, remembers or learns alters no output either, and is still reported."""

    def broken(*_: object, **__: object) -> object:
        raise PartError

    rig = played(lambda _: monkeypatch.setattr(looping, part, broken))
    assert rig.driven == undisturbed.driven
    assert rig.failed() == {named}


@pytest.mark.parametrize(
    ("part", "step"),
    [
        (WaterWatch, "follow"),
        (PromiseWatch, "_check_fire"),
        (PromiseWatch, "_check_change"),
        (PromiseWatch, "_check_running_fan"),
    ],
)
def test_a_promise_watch_that_fails_ends_no_tick_and_cries_no_wolf_afterwards(
    monkeypatch: pytest.MonkeyPatch, undisturbed: Rig, part: type, step: str
) -> None:
    """Wherever it fails the outputs stay as they are; once it works again it finds nothing broken."""

    def broken(*_: object) -> None:
        raise PartError

    rig = played(lambda _: monkeypatch.setattr(part, step, broken))
    assert rig.driven == undisturbed.driven
    assert rig.failed() == {"promise watch"}
    monkeypatch.undo()
    rig.run(HOUR_S + 2 * MINUTE_S)
    assert rig.failed() == set()
    assert rig.loop.broken == ()


def test_a_log_that_cannot_be_written_ends_no_tick(monkeypatch: pytest.MonkeyPatch, undisturbed: Rig) -> None:
    """Not even while something else fails that would have to be logged."""

    def full(*_: object, **__: object) -> None:
        raise BrokenPipeError

    def fails(rig: Rig) -> None:
        rig.failing.add("watcher")
        monkeypatch.setattr(rig.loop, "_log", structlog.wrap_logger(None, processors=[full]))

    rig = played(fails)
    assert rig.driven == undisturbed.driven
    assert rig.failed() == {"Rig"}


def test_a_wall_clock_that_fails_is_a_clock_that_is_not_set(
    monkeypatch: pytest.MonkeyPatch, undisturbed: Rig
) -> None:
    """Only durations count for control."""

    def broken() -> datetime:
        raise PartError

    rig = played(lambda rig: monkeypatch.setattr(rig.clock, "wall_utc", broken))
    assert rig.driven == undisturbed.driven
    assert "time of day" in rig.failed()


@pytest.mark.parametrize("port", ["temperatures", "floats", "outputs"])
def test_control_that_fails_ends_with_every_output_off(port: str) -> None:
    """What cannot be read, decided or driven must not be guessed."""
    rig = Rig()
    rig.run(MINUTE_S)
    rig.failing.add(port)
    with pytest.raises(PartError):
        rig.loop.tick()
    assert rig.offs == 1


@pytest.mark.parametrize("hottest_c", [64.0, 91.0, 124.0])
def test_a_start_during_a_fire_is_survived_and_told(hottest_c: float) -> None:
    """Readings as hot as a probe can give are remembered like all others."""
    rig = Rig()
    rig.ceiling_c = rig.bench_c = hottest_c
    rig.run(10 * MINUTE_S)
    assert ("fire" in {alarm.code.value for alarm in rig.seen[-1].diagnosis.alarms}) is (hottest_c > 65.0)
    assert rig.failed() == set()
    assert (rig.saved[-1]["fire"] is not None) is (hottest_c > 65.0)


def test_what_the_memory_refuses_is_put_aside_with_an_alarm() -> None:
    """One impossible number costs its own record, not the motors' and not the latch."""
    rig = Rig()
    rig.run(MINUTE_S)
    fans = rig.loop._state.fans
    rig.loop._state = rig.loop._state._replace(
        need=Need(-500.0, rig.clock.monotonic_s()),
        fans={**fans, "north": fans["north"]._replace(failed_runs=-1)},
    )
    kept = to_memory(rig.loop._state, rig.loop._evidence, rig.clock.monotonic_s())
    assert kept.refused == ("coldest_c", "fans north")
    rig.run(2 * MINUTE_S)
    assert rig.failed() == {"memory"}
    assert "coldest_c, fans north" in rig.seen[-1].diagnosis.alarms[0].detail
    assert set(rig.saved[-1]["outputs"]) == {str(output) for output in rig.driven[-1]}
    again = ControlLoop(rig.parts, (rig.saved[-1], True))
    assert again._state.need.coldest_c is None
    assert again._failed == {}


def test_a_memory_that_is_refused_at_the_start_is_told() -> None:
    """The program begins as after the loss of its memory, and a person hears of it."""
    rig = Rig()
    rig.loop = ControlLoop(rig.parts, ({"version": 1}, True))
    rig.run(TICK_S)
    assert rig.failed() == {"memory"}
