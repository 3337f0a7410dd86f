"""Controllers as a broker sees them: the real publisher, outbox, sending thread and link, and no greenhouse.

What they publish is one tick of the example house (13 probes, 3 loops), taken from a rehearsal and repeated
every ten seconds under each site's own name.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Self
from unittest.mock import patch

from controller.clock import SystemClock
from controller.rehearsal import run as rehearsing
from controller.settings.load import load
from controller.telemetry.build import Program
from controller.telemetry.publisher import Publisher
from controller.telemetry.sender import Sender

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.record.tick import TickRecord
    from controller.settings.schema import Settings

ROOT = Path(__file__).parents[3]
REHEARSED_DAYS = 0.5


class _Last:
    """A history that keeps the newest tick and nothing else."""

    tick: TickRecord

    def observe(self, tick: TickRecord) -> None:
        """Keep it."""
        self.tick = tick

    def write_now(self) -> bool:
        """Nothing to write."""
        return True

    def close(self) -> None:
        """Nothing to close."""

    def findings(self) -> tuple[()]:
        """Nothing was lost."""
        return ()


def example_tick() -> TickRecord:
    """A tick at noon of the example house."""
    kept = _Last()
    plan = rehearsing.Rehearsal(
        load(ROOT / "config" / "house.toml"), "carolina", None, REHEARSED_DAYS, history=Path("unused")
    )
    with patch.object(rehearsing, "_history", lambda *_: kept):
        rehearsing.rehearse(plan)
    return kept.tick


@dataclass
class House:
    """One controller's way to the broker."""

    settings: Settings
    publisher: Publisher
    sender: Sender
    seq: int = 0

    def observe(self, tick: TickRecord, now_mono_s: float) -> None:
        """What the loop does at the end of a tick."""
        self.seq += 1
        self.publisher.observe(tick._replace(seq=self.seq, now_mono_s=now_mono_s, settings=self.settings))


class Houses:
    """Many of them; use it with ``with``, which ends their threads.

    Args:
        count: how many.
        tick: what each reports.
        port: where the broker listens on loopback.
    """

    def __init__(self, count: int, tick: TickRecord, port: int) -> None:
        self.tick = tick
        self.clock = SystemClock()
        self._began_s = self.clock.monotonic_s()
        self.all = [self._house(number, port) for number in range(count)]

    def _house(self, number: int, port: int) -> House:
        base = self.tick.settings
        assert base.mqtt is not None
        site = base.site.model_copy(update={"name": f"garden-{number:03d}"})
        mqtt = base.mqtt.model_copy(update={"host": "127.0.0.1", "port": port, "client_id": ""})
        settings = base.model_copy(update={"site": site, "mqtt": mqtt})
        sender = Sender(mqtt, site.name, self.clock, random.Random(number))  # noqa: S311 - jitter
        program = Program("test", "a-boot", self.tick.now_mono_s)
        return House(settings, Publisher(sender, program, lambda: 0), sender)

    def __enter__(self) -> Self:
        for house in self.all:
            house.sender.start()
        return self

    def __exit__(self, *_: object) -> None:
        for house in self.all:
            house.sender.stop()

    def connected(self) -> int:
        """How many of them the broker has accepted."""
        return sum(house.sender.connected() for house in self.all)

    def observe(self, houses: Sequence[House]) -> None:
        """One tick of each of these houses."""
        passed_s = self.clock.monotonic_s() - self._began_s
        for house in houses:
            house.observe(self.tick, self.tick.now_mono_s + passed_s)
