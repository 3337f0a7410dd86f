"""Those who watch and fail: a card that cannot be written or hangs, a broker that is not there, a defect."""

from __future__ import annotations

from typing import TYPE_CHECKING, NoReturn, Protocol

from controller import __version__
from controller.clock import SystemClock
from controller.history.writer import BACKLOG_ROWS, HistoryWriter, pause_s
from controller.telemetry.build import Program
from controller.telemetry.publisher import Publisher
from controller.telemetry.sender import Sender
from tests.lab.campaign.troubles import TroubleKind

if TYPE_CHECKING:
    from pathlib import Path

    from controller.clock import Clock
    from controller.faults import Finding
    from controller.record.tick import TickRecord
    from controller.settings.schema import Mqtt, Settings

CLOSED_PORT = 1  # nobody listens there
PATIENCE_S = 5.0


class Sink(Protocol):
    """A watcher of ticks that has a fault of its own."""

    def observe(self, tick: TickRecord) -> None:
        """Take note of a tick."""

    def findings(self) -> tuple[Finding, ...]:
        """What is wrong with it."""

    def overfull(self) -> str | None:
        """What has grown beyond its bound, in words."""

    def close(self) -> None:
        """The fault is over."""


class RaisingSink:
    """A watcher with a defect."""

    def observe(self, tick: TickRecord) -> NoReturn:
        """Fail."""
        raise RuntimeError(f"no tick is to this watcher's liking, {tick.seq} neither")

    def findings(self) -> tuple[Finding, ...]:
        """None."""
        return ()

    def overfull(self) -> str | None:
        """Never."""
        return None

    def close(self) -> None:
        """Nothing to do."""


class HistorySink:
    """The real history on a card that fails at once, or never answers."""

    def __init__(self, directory: Path, clock: Clock, *, hangs: bool) -> None:
        in_the_way = directory / "no-directory"
        in_the_way.write_text("a file where a directory should be", encoding="ascii")
        self._writer = HistoryWriter(in_the_way / "history.sqlite3", clock, "boot")
        self._clock = clock
        self._hangs = hangs
        self._next_s = clock.monotonic_s()
        if hangs:
            self._writer._busy_since_s = clock.monotonic_s()  # a write began and does not come back

    def observe(self, tick: TickRecord) -> None:
        """Keep the rows; write as the history's own thread would."""
        self._writer.observe(tick)
        if not self._hangs and tick.now_mono_s >= self._next_s:
            self._writer.write_if_due()
            self._next_s = tick.now_mono_s + pause_s(60.0, self._writer._failures)

    def findings(self) -> tuple[Finding, ...]:
        """What the history says."""
        return self._writer.findings()

    def overfull(self) -> str | None:
        """More rows than it may keep."""
        rows = len(self._writer._backlog)
        return f"P14: {rows} rows of history in memory" if rows > BACKLOG_ROWS else None

    def close(self) -> None:
        """The rows are lost."""


class BrokerSink:
    """The real sender and publisher with a broker that refuses the connection."""

    def __init__(self, mqtt: Mqtt, site: str, now_s: float) -> None:
        self._mqtt = mqtt.model_copy(
            update={"host": "127.0.0.1", "port": CLOSED_PORT, "tls": False, "password_file": ""}
        )
        self._sender = Sender(self._mqtt, site, SystemClock())
        self._publisher = Publisher(self._sender, Program(__version__, "boot", now_s))
        self._sender.start()
        clock = SystemClock()
        until_s = clock.monotonic_s() + PATIENCE_S
        while not self._sender.findings() and clock.monotonic_s() < until_s:
            clock.wait(self._sender._stop, 0.01)

    def observe(self, tick: TickRecord) -> None:
        """Post what is due."""
        self._publisher.observe(tick)

    def findings(self) -> tuple[Finding, ...]:
        """What the sender says."""
        return self._sender.findings()

    def overfull(self) -> str | None:
        """More letters than it may keep."""
        waiting = self._sender.waiting()
        return f"P14: {waiting} letters in the outbox" if waiting > self._mqtt.outbox_limit else None

    def close(self) -> None:
        """End its thread."""
        self._sender.stop()


def failing_sink(kind: TroubleKind, directory: Path, clock: Clock, settings: Settings) -> Sink | None:
    """The sink that a trouble makes fail; None if it is another kind of trouble."""
    match kind:
        case TroubleKind.WATCHER_RAISES:
            return RaisingSink()
        case TroubleKind.HISTORY_UNWRITABLE | TroubleKind.HISTORY_HANGS:
            return HistorySink(directory, clock, hangs=kind is TroubleKind.HISTORY_HANGS)
        case TroubleKind.BROKER_DOWN if settings.mqtt is not None:
            return BrokerSink(settings.mqtt, settings.site.name, clock.monotonic_s())
        case _:
            return None
