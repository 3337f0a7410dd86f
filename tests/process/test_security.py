"""What somebody outside can see of the running daemon, and what its files and logs give away (P9)."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.broker import brokers
from tests.process.bench import Bench, bench_in
from tests.process.sockets import sockets_of

if TYPE_CHECKING:
    from collections.abc import Iterator

pytestmark = [pytest.mark.process, pytest.mark.broker]
__all__ = ["brokers"]
USER, CANARY = "house", "canary-7d1f-never-to-be-seen"


@pytest.fixture
def broker(brokers: Any) -> Any:
    """A real Mosquitto that asks for the canary."""
    return brokers.with_password(USER, CANARY)


@pytest.fixture
def bench(tmp_path: Path, broker: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bench]:
    """A bench whose daemon logs all it can and logs in with the canary."""
    monkeypatch.setenv("HYPOCAUST_LOG", "debug")
    directory = tmp_path / "bench"
    directory.mkdir()
    secret = tmp_path / "secret"
    secret.touch(mode=0o600)
    secret.write_text(f"{CANARY}\n", encoding="ascii")
    extra = f"""
[mqtt]
host = "127.0.0.1"
port = {broker.port}
user = "{USER}"
password_file = "{secret}"
publish_every = "5 s"
"""
    yield from bench_in(directory, extra=extra)


def published(bench: Bench, broker: Any) -> Any:
    """Start the daemon, make it work and talk; the client that heard it."""
    recorder = broker.recorder(USER, CANARY)
    bench.temperatures(roof=35.0, soil=14.0)
    bench.start()
    bench.until(lambda: recorder.heard("hypocaust/home/status"), "status")
    bench.wet()
    bench.until(lambda: bench.is_on(bench.pump_pin) is True, "pump on")
    return recorder


def test_the_daemon_holds_one_connection_and_listens_nowhere(bench: Bench, broker: Any) -> None:
    """The kernel knows one socket of the daemon, to the broker, and the broker no subscription of it."""
    published(bench, broker)
    assert bench.process is not None
    held = sockets_of(bench.process.pid)
    assert [(one.kind, one.peer_port) for one in held] == [("tcp", broker.port)]
    assert not any(one.listens for one in held)
    if shutil.which("ss") is not None:
        told = subprocess.run(["ss", "-Hlntuwp"], capture_output=True, text=True, check=True, timeout=30)
        assert f"pid={bench.process.pid}," not in told.stdout
    assert "Received SUBSCRIBE from hypocaust-home" not in broker.log()
    assert "Received SUBSCRIBE from recorder-1" in broker.log()
    with socket.create_server(("127.0.0.1", 0)) as listener:  # the look into the kernel is able to find one
        port = listener.getsockname()[1]
        assert any(one.listens for one in sockets_of(os.getpid())), port


def test_the_password_is_nowhere_but_in_its_file(bench: Bench, broker: Any, tmp_path: Path) -> None:
    """Not in the log at its most talkative, a file, a message, the command line or the environment."""
    recorder = published(bench, broker)
    assert bench.process is not None
    process = Path(f"/proc/{bench.process.pid}")
    for name in ("cmdline", "environ", "status", "comm"):
        assert CANARY.encode() not in (process / name).read_bytes()
    broker.stop()
    time.sleep(0.2)
    (tmp_path / "secret").chmod(0o640)
    broker.start()
    bench.until(
        lambda: "chmod 600" in bench.log.read_text(encoding="utf-8"), "the log asks for chmod 600", 60.0
    )
    bench.kill()
    for path in [*bench.run_directory.iterdir(), *bench.state_directory.iterdir(), bench.log]:
        assert CANARY.encode() not in path.read_bytes(), path
    for topic in recorder.topics():
        assert all(CANARY.encode() not in heard.payload for heard in recorder.heard(topic))
