"""The ways to a phone in ``config/calls/``, with the real files, a real broker and the real program."""

from __future__ import annotations

import os
import signal
import subprocess
from typing import TYPE_CHECKING, Any

import pytest

from tests.broker import brokers, program, run, until
from tests.process.bench import ROOT, Bench, bench_in

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

pytestmark = [pytest.mark.process, pytest.mark.broker]
__all__ = ["brokers"]
CALLS = ROOT / "config" / "calls"


def published(broker: Any, topic: str, payload: str, *further: str) -> None:
    """Publish a retained message with Mosquitto's own program."""
    where = ("-h", broker.host, "-p", str(broker.port), *further)
    run(program("mosquitto_pub"), *where, "-r", "-q", "1", "-t", topic, "-m", payload)


def test_the_bridge_hands_on_the_house_and_lets_nothing_in(brokers: Any) -> None:
    """The file as it stands, but for addresses and names: out over TLS, nothing back, nothing else."""
    away = brokers.with_tls()
    lines = (CALLS / "bridge.conf").read_text(encoding="utf-8")
    lines = lines.replace("broker.example.org:8883", f"127.0.0.1:{away.port}")
    lines = lines.replace("/etc/ssl/certs/ca-certificates.crt", away.ca_file)
    here = brokers.open_to_all(*(line for line in lines.splitlines() if not line.startswith("#")))
    there, inside = away.recorder(), here.recorder()
    published(here, "another/topic", "secret")
    published(here, "hypocaust/fellside/online", '{"online":true}')
    heard = there.wait("hypocaust/fellside/online")
    assert heard.json() == {"online": True}
    published(away, "hypocaust/fellside/alarm/fire", "forged", "--cafile", away.ca_file)
    there.wait("hypocaust/fellside/alarm/fire")
    published(here, "hypocaust/fellside/day", "{}")
    there.wait("hypocaust/fellside/day")
    inside.wait("hypocaust/fellside/day")
    assert "hypocaust/fellside/alarm/fire" not in inside.topics()
    assert "another/topic" not in there.topics()


@pytest.fixture
def broker(brokers: Any) -> Any:
    """A real Mosquitto on a free loopback port, open to all."""
    return brokers.open_to_all()


@pytest.fixture
def bench(tmp_path: Path, broker: Any) -> Iterator[Bench]:
    """A bench whose daemon publishes to that broker."""
    (tmp_path / "bench").mkdir()
    extra = f'\n[mqtt]\nhost = "127.0.0.1"\nport = {broker.port}\npublish_every = "5 s"\n'
    yield from bench_in(tmp_path / "bench", extra=extra)


class Listener:
    """``call.sh`` with a command that writes every call into a file."""

    def __init__(self, broker: Any, file: Path, silence_s: float) -> None:
        self._file = file
        file.touch()
        words = ("bash", str(CALLS / "call.sh"), "home", "sh", "-c", f"cat >> {file}")
        settings = {"BROKER": f"-h {broker.host} -p {broker.port}", "SILENCE_S": str(silence_s)}
        self._process = subprocess.Popen(words, env=os.environ | settings, start_new_session=True)

    def calls(self) -> list[str]:
        """Every call so far, one line each."""
        return self._file.read_text(encoding="utf-8").splitlines()

    def wait(self, words: str) -> None:
        """Wait for a call with these words."""
        until(lambda: any(words in call for call in self.calls()), f'a call with "{words}" in {self.calls()}')

    def close(self) -> None:
        """End it with all it has started."""
        os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait()


def test_alarms_the_end_and_silence_call(bench: Bench, broker: Any, tmp_path: Path) -> None:
    """A fire calls; a killed controller calls by its will, and is heard again once it is back."""
    bench.start()
    listener = Listener(broker, tmp_path / "calls", 20.0)
    try:
        bench.temperatures(roof=70.0, soil=14.0)
        listener.wait("home: ACT NOW, fire: roof reads 70.0 °C. Keep out")
        bench.kill()
        listener.wait("home: the controller has ended (connection lost)")
        bench.start()
        listener.wait("home: heard again")
        assert sum("ACT NOW, fire" in call for call in listener.calls()) <= 2  # again after a reconnection
    finally:
        listener.close()


def test_silence_calls(broker: Any, tmp_path: Path) -> None:
    """A retained status is no sign of life: without another one a call comes, once."""
    published(broker, "hypocaust/home/status", '{"seq":1}')
    listener = Listener(broker, tmp_path / "calls", 1.0)
    try:
        listener.wait("home: nothing heard for 1.0 s")
        published(broker, "hypocaust/home/status", '{"seq":2}')
        listener.wait("home: heard again")
        until(lambda: len(listener.calls()) >= 3, "silence again")
        assert [call.split(": ", 1)[1][:7] for call in listener.calls()[:3]] == [
            "nothing",
            "heard a",
            "nothing",
        ]
    finally:
        listener.close()
