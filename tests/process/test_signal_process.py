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
CONTACT = 5


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """A bench with a signal and a lamp."""
    for bench in bench_in(tmp_path, extra=f"\n[signal]\npin = {WELL}\ntoday_pin = {LAMP}\n"):
        text = bench.text.replace("fan_pin =", f"feedback_pin = {CONTACT}\nfan_pin =", 1)
        bench.file.write_text(text, encoding="utf-8")
        drive(bench, CONTACT, "1")
        bench.temperatures(roof=15.0, soil=14.0)  # nothing to bank: the fan rests
        yield bench


def drive(bench: Bench, pin: int, level: str) -> None:
    """Put a level on an input from outside."""
    beside = bench.pins / f"{pin}.tmp"
    beside.write_text(level)
    beside.replace(bench.pins / f"{pin}.in")


def well(bench: Bench) -> None:
    """Start the daemon and wait until it signals that all is well."""
    bench.start()
    assert bench.is_on(WELL) is False
    bench.until(lambda: bench.is_on(WELL) is True, "all well")
    assert bench.is_on(LAMP) is False


def test_an_alarm_to_act_on_now_drops_it_without_any_network(bench: Bench) -> None:
    """A roof of 70 °C is a fire signature: signal and lamp turn, and log and status say why."""
    well(bench)
    bench.temperatures(roof=70.0, soil=14.0)
    bench.until(lambda: bench.is_on(WELL) is False, "call")
    bench.until(lambda: bench.is_on(LAMP) is True, "lamp")
    words = "calls a person; alarms to act on now: 1, the first: fire"
    bench.until(lambda: words in bench.log.read_text(encoding="utf-8"), "its reason in the log")
    bench.until(lambda: words in bench.status(), "its reason in the status")


def test_a_fan_left_in_hand_lights_the_lamp_and_in_a_flood_it_calls(bench: Bench) -> None:
    """Its contact closes without a command: something to do today. With water in the sump: at once."""
    well(bench)
    drive(bench, CONTACT, "0")
    bench.until(lambda: bench.is_on(LAMP) is True, "lamp")
    assert "fan-unasked" in bench.status()
    assert bench.is_on(WELL) is True
    bench.wet()
    bench.until(lambda: bench.is_on(WELL) is False, "call")
    assert "it blows into water, sump pit is wet" in bench.status()


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
