"""A stock collector shows what the controller publishes, with the file that is shipped for it."""

from __future__ import annotations

import shutil
import subprocess
import urllib.error
import urllib.request
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.broker import free_port, until
from tests.lab.many_houses.houses import Houses
from tests.telemetry import ticks

if TYPE_CHECKING:
    from tests.broker import Brokers

SHIPPED = Path(__file__).parents[2] / "config" / "collector" / "mqtt-exporter.yaml"
PROGRAM = "prometheus-mqtt-exporter"


@pytest.mark.broker
@pytest.mark.skipif(shutil.which(PROGRAM) is None, reason=f"needs Debian's package {PROGRAM}")
def test_the_shipped_file_turns_messages_into_metrics(brokers: Brokers, tmp_path: Path) -> None:
    """Numbers arrive under the name of house and part; what cannot be believed is missing, never zero."""
    broker, port = brokers.open_to_all(), free_port()
    text = SHIPPED.read_text(encoding="utf-8")
    assert "tcp://localhost:1883" in text
    shipped = tmp_path / "exporter.yaml"
    shipped.write_text(text.replace("localhost:1883", f"127.0.0.1:{broker.port}"), encoding="utf-8")
    page = f"http://127.0.0.1:{port}/metrics"
    options = ("-config", str(shipped), "-listen-address", "127.0.0.1", "-listen-port", str(port))

    def shown() -> str:
        try:
            with urllib.request.urlopen(page) as answer:
                return str(answer.read().decode())
        except urllib.error.URLError:
            return ""

    def line(metric: str, sensor: str) -> float | None:
        start = f'{metric}{{sensor="garden-000/{sensor}"'
        found = [row for row in shown().splitlines() if row.startswith(start)]
        return float(found[0].split()[1]) if found else None

    with subprocess.Popen([PROGRAM, *options], stderr=subprocess.DEVNULL) as exporter:
        try:
            until(lambda: "mqtt2prometheus_connected 1" in shown(), "the exporter hears the broker")
            with Houses(1, ticks.tick(), broker.port) as houses:
                until(lambda: houses.connected() == 1, "the house is connected")
                houses.observe(houses.all)
                until(lambda: line("hypocaust_fan_on", "loop/north") == 1.0, "the fan is shown")
                until(
                    lambda: (
                        line("hypocaust_temperature_celsius", "temperature/south-soil") is None
                        and line("hypocaust_temperature_celsius", "temperature/bench") == 24.04
                    ),
                    "the probes are shown, and the silent one is not",
                )
                assert line("hypocaust_heat_watts", "loop/north") == pytest.approx(2412.4, abs=0.5)
                assert line("hypocaust_heat_watts", "loop/south") is None
                assert line("hypocaust_pump_on", "sump/low-corner") == 0.0
        finally:
            exporter.terminate()
