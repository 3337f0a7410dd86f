"""The signal that needs no network, on the pins of a real process: every way to end drops it."""

from __future__ import annotations

import signal
from typing import TYPE_CHECKING

import pytest

from controller.settings.load import load
from tests.process.bench import SPEED, Bench, bench_in

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

pytestmark = pytest.mark.process
WELL, LAMP = 25, 26


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """A bench with a signal and a lamp."""
    yield from bench_in(tmp_path, extra=f"\n[signal]\npin = {WELL}\ntoday_pin = {LAMP}\n")


def well(bench: Bench) -> None:
    """Start the daemon and wait until it signals that all is well."""
    bench.start()
    assert bench.is_on(WELL) is False
    bench.until(lambda: bench.is_on(WELL) is True, "all well")
    assert bench.is_on(LAMP) is False


def test_an_alarm_to_act_on_now_drops_it_without_any_network(bench: Bench) -> None:
    """A roof of 70 °C is a fire signature: the signal drops and the lamp lights within two ticks."""
    well(bench)
    bench.temperatures(roof=70.0, soil=14.0)
    bench.until(lambda: bench.is_on(WELL) is False, "call")
    bench.until(lambda: bench.is_on(LAMP) is True, "lamp")


def test_a_stop_a_hang_and_a_kill_drop_it(bench: Bench) -> None:
    """Hung, it is off within the lease and on again after the next good ticks; killed, ``safe`` drops it."""
    well(bench)
    lease_s = load(bench.file).service.lease_s / SPEED
    (bench.pins / "hang").touch()
    bench.until(lambda: bench.is_on(WELL) is False, "call of a hanging program", patience_s=lease_s + 2.0)
    (bench.pins / "hang").unlink()
    bench.until(lambda: bench.is_on(WELL) is True, "all well again")
    bench.kill()
    assert bench.is_on(WELL) is True  # the pin may stay as it was; what follows the kill drops it
    done = bench.safe()
    assert (done.returncode, "signal:all-well (GPIO 25)" in done.stdout) == (0, True), done
    assert bench.is_on(WELL) is False
    well(bench)
    bench.signal(signal.SIGTERM)
    assert bench.wait() == 0
    assert bench.is_on(WELL) is False
