"""The whole daemon while something else than its broker answers (P9)."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.false_broker import ACCEPTED, CONNACK, PINGRESP, PUBLISH, FalseBroker, flood, garbage, header, huge
from tests.process.bench import Bench, bench_in

if TYPE_CHECKING:
    from collections.abc import Iterator

pytestmark = pytest.mark.process
HELLO = ACCEPTED["5"]


@pytest.fixture
def broker() -> Iterator[FalseBroker]:
    """A false broker that tries everything in turn."""
    attacks = (huge(CONNACK), huge(PUBLISH, HELLO), flood(header(PINGRESP, 0), HELLO), garbage)
    made = FalseBroker(*attacks)
    yield made
    made.close()


@pytest.fixture
def bench(tmp_path: Path, broker: FalseBroker) -> Iterator[Bench]:
    """A bench whose daemon takes it for its broker."""
    extra = f'\n[mqtt]\nhost = "127.0.0.1"\nport = {broker.port}\npublish_every = "5 s"\n'
    yield from bench_in(tmp_path, extra=extra)


def most_memory_bytes(bench: Bench) -> int:
    """The most memory the daemon has had so far, as the kernel counts it."""
    assert bench.process is not None
    found = re.search(r"VmHWM:\s*(\d+) kB", Path(f"/proc/{bench.process.pid}/status").read_text())
    assert found is not None
    return int(found[1]) * 1024


def test_a_false_broker_costs_neither_memory_nor_control(bench: Bench, broker: FalseBroker) -> None:
    """Packets of 100 MB, floods and garbage, two rounds of them: a few MB, and water still stops the fan."""
    bench.temperatures(roof=35.0, soil=14.0)
    bench.start()
    bench.until(lambda: bench.is_on(bench.fan_pin) is True, "fan on")
    at_first_bytes = most_memory_bytes(bench)
    bench.until(lambda: broker.played >= 8, "two rounds of attacks", 90.0)
    assert most_memory_bytes(bench) - at_first_bytes < 8_000_000
    bench.wet()
    assert bench.until(lambda: bench.is_on(bench.fan_pin) is False, "fan off", patience_s=5.0) < 1.0
    bench.until(lambda: bench.is_on(bench.pump_pin) is True, "pump on")
    assert bench.process is not None
    assert bench.process.poll() is None
    assert "the connection was dropped" in bench.log.read_text(encoding="utf-8")
