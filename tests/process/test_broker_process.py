"""The whole daemon against a real broker that comes and goes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from tests.broker import brokers
from tests.process.bench import Bench, bench_in

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

pytestmark = [pytest.mark.process, pytest.mark.broker]
__all__ = ["brokers"]


@pytest.fixture
def broker(brokers: Any) -> Any:
    """A real Mosquitto on a free loopback port, open to all."""
    return brokers.open_to_all()


@pytest.fixture
def bench(tmp_path: Path, broker: Any) -> Iterator[Bench]:
    """A bench whose daemon publishes to that broker."""
    directory = tmp_path / "bench"
    directory.mkdir()
    extra = f'\n[mqtt]\nhost = "127.0.0.1"\nport = {broker.port}\npublish_every = "5 s"\n'
    yield from bench_in(directory, extra=extra)


def latest(recorder: Any, topic: str) -> dict[str, Any] | None:
    """The newest payload of a topic, None if there was none."""
    heard = [message for message in recorder.heard(topic) if message.payload]
    return heard[-1].json() if heard else None


def test_status_arrives_survives_a_broker_restart_and_ends_with_the_will(bench: Bench, broker: Any) -> None:
    """Status is published, comes back after the broker was away, and a killed daemon leaves online=false."""
    bench.start()
    recorder = broker.recorder()
    bench.until(lambda: (latest(recorder, "hypocaust/home/online") or {}).get("online") is True, "online")
    bench.until(lambda: latest(recorder, "hypocaust/home/status") is not None, "status")
    broker.stop()
    bench.temperatures(roof=35.0, soil=14.0)
    bench.until(lambda: bench.is_on(bench.fan_pin) is True, "fan on without a broker")
    broker.start()
    again = broker.recorder()
    bench.until(lambda: latest(again, "hypocaust/home/loop/bed") is not None, "loop after the restart", 60.0)
    bench.until(lambda: (latest(again, "hypocaust/home/loop/bed") or {}).get("fan_on") is True, "fan told")
    bench.kill()
    bench.until(lambda: (latest(again, "hypocaust/home/online") or {}).get("online") is False, "will", 60.0)
