"""The sampling thread: rounds, deadlines and a bus that hangs, on a clock moved by hand."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

import pytest

from controller.clock import SystemClock
from controller.readings.reading import RawFailure, RawSample, RawTemperature, Why
from controller.sensors.sampler import Sampler

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.sensors.conftest import HandClock

IDS = {"ceiling": "28-00000000000a", "soil": "28-00000000000b"}


class Bus:
    """A bus whose reads take as long as the test says."""

    def __init__(self, clock: HandClock) -> None:
        self.clock = clock
        self.takes_s = 0.75
        self.converted_at_s: float | None = None
        self.during: Callable[[str], None] = lambda _probe_id: None
        self.reads: list[tuple[str, float | None]] = []

    def convert_all(self) -> float | None:
        """What the test says."""
        return self.converted_at_s

    def read(self, probe_id: str, converted_at_s: float | None = None) -> RawSample:
        """Take some time, then answer 20 °C."""
        self.reads.append((probe_id, converted_at_s))
        self.during(probe_id)
        self.clock.now_s += self.takes_s
        return RawTemperature(20.0, self.clock.now_s)


@pytest.fixture
def bus(clock: HandClock) -> Bus:
    """A quick bus."""
    return Bus(clock)


@pytest.fixture
def sampler(bus: Bus, clock: HandClock) -> Sampler:
    """A sampler with a pause of 15 s and a deadline of 5 s, whose thread is not started."""
    return Sampler(bus, IDS, clock, 15.0, 5.0)


def test_nothing_before_the_first_round(sampler: Sampler) -> None:
    """A probe that was never read is absent."""
    assert sampler.latest() == {}


def test_a_round_reads_every_probe(sampler: Sampler, bus: Bus) -> None:
    """After a round each probe has a sample with its own time."""
    bus.converted_at_s = 999.0
    sampler.read_round()
    assert sampler.latest() == {
        "ceiling": RawTemperature(20.0, 1000.75),
        "soil": RawTemperature(20.0, 1001.5),
    }
    assert bus.reads == [("28-00000000000a", 999.0), ("28-00000000000b", 999.0)]


def test_samples_appear_one_by_one(sampler: Sampler, bus: Bus) -> None:
    """A fresh sample does not wait for the rest of its round."""
    seen = []
    bus.during = lambda _probe_id: seen.append(set(sampler.latest()))
    sampler.read_round()
    assert seen == [set(), {"ceiling"}]


def test_a_handed_out_result_never_changes(sampler: Sampler) -> None:
    """What a tick has taken stays as it was while the thread reads on."""
    sampler.read_round()
    taken = sampler.latest()
    before = dict(taken)
    sampler.read_round()
    assert taken == before
    assert sampler.latest() != before


def test_late_answer_is_silence(sampler: Sampler, bus: Bus) -> None:
    """An answer after the deadline is not used."""
    bus.takes_s = 5.1
    sampler.read_round()
    assert sampler.latest()["ceiling"] == RawFailure(Why.SILENT, 1005.1)


def test_hanging_read_shows_at_its_deadline(sampler: Sampler, bus: Bus, clock: HandClock) -> None:
    """While a read hangs its probe turns silent at the deadline and the others a pause later."""
    sampler.read_round()
    start_s = clock.now_s
    seen: dict[float, object] = {}

    def hang(probe_id: str) -> None:
        if probe_id == IDS["soil"]:
            begun_s = clock.now_s
            for after_s in (5.0, 5.1, 19.9, 20.0, 36.0):
                clock.now_s = begun_s + after_s
                seen[after_s] = {
                    name: sample.why if isinstance(sample, RawFailure) else sample.value_c
                    for name, sample in sampler.latest().items()
                }
            seen["at"] = sampler.latest()["soil"].at_mono_s - begun_s

    bus.during = hang
    sampler.read_round()
    assert seen[5.0] == {"ceiling": 20.0, "soil": 20.0}
    assert seen[5.1] == seen[19.9] == {"ceiling": 20.0, "soil": Why.SILENT}
    assert seen[20.0] == seen[36.0] == {"ceiling": Why.SILENT, "soil": Why.SILENT}
    assert seen["at"] == 35.0, "one failure per missed round"
    assert clock.now_s > start_s


def test_hanging_conversion_of_all_shows_too(
    sampler: Sampler, bus: Bus, clock: HandClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A bus that hangs in the conversion of all probes is noticed like one that hangs in a read."""
    seen = {}

    def hang() -> None:
        clock.now_s += 21.0
        seen.update(sampler.latest())

    monkeypatch.setattr(bus, "convert_all", hang)
    sampler.read_round()
    assert seen == dict.fromkeys(IDS, RawFailure(Why.SILENT, 1020.0))


def test_a_round_ends_early_when_told_to_stop(sampler: Sampler, bus: Bus) -> None:
    """Closing does not wait for the rest of a round."""
    bus.during = lambda _probe_id: sampler._stop.set()
    sampler.read_round()
    assert len(bus.reads) == 1


def test_recovered_bus_is_believed_again(sampler: Sampler, bus: Bus) -> None:
    """After a late answer the next round counts as usual."""
    bus.takes_s = 60.0
    sampler.read_round()
    bus.takes_s = 0.75
    sampler.read_round()
    assert {type(sample) for sample in sampler.latest().values()} == {RawTemperature}


class GatedBus:
    """A bus that hangs in its second read until it is let go."""

    def __init__(self) -> None:
        self.reached = threading.Event()
        self.go = threading.Event()
        self.reads = 0

    def convert_all(self) -> float | None:
        """Not offered."""
        return None

    def read(self, probe_id: str, _converted_at_s: float | None = None) -> RawSample:
        """Answer once, then hang."""
        self.reads += 1
        if self.reads > 1:
            self.reached.set()
            self.go.wait(60.0)
        return RawTemperature(float(len(probe_id)), 1.0)


def test_thread_stays_alive_over_a_hanging_bus_and_stops_when_told() -> None:
    """A hanging bus neither blocks who asks nor counts as a dead thread; closing ends the thread."""
    bus = GatedBus()
    sampler = Sampler(bus, IDS, SystemClock(), 0.01, 60.0)
    assert not sampler.alive()
    sampler.start()
    assert bus.reached.wait(30.0)
    assert set(sampler.latest()) == {"ceiling"}
    assert sampler.alive()
    bus.go.set()
    sampler.close()
    assert not sampler.alive()


def test_closing_does_not_wait_for_a_hanging_read(clock: HandClock) -> None:
    """Closing gives up on a hanging read after the deadline."""
    bus = GatedBus()
    sampler = Sampler(bus, IDS, clock, 15.0, 0.01)
    sampler.start()
    assert bus.reached.wait(30.0)
    sampler.close()
    assert sampler.alive()
    bus.go.set()
    sampler._thread.join(30.0)
    assert not sampler.alive()


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_broken_reader_is_seen_as_dead(bus: Bus, clock: HandClock) -> None:
    """A programming error ends the thread, and that is visible, so that the watchdog can act."""
    sampler = Sampler(bus, IDS, clock, 15.0, 5.0)

    def fail(_probe_id: str) -> None:
        raise ZeroDivisionError

    bus.during = fail
    sampler.start()
    sampler._thread.join(30.0)
    assert not sampler.alive()
