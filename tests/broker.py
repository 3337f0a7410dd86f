"""A real MQTT broker for tests, and a client that writes down what it hears.

Import the ``brokers`` fixture into a ``conftest.py``. It starts Mosquitto on a free loopback port; nothing is
shared between two brokers.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import socket
import ssl
import subprocess
import threading
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

LONGEST_WAIT_S = 120.0  # on a slow machine with other work; nothing is measured with it
MISSING = "These tests need the {0} program. On Debian and relatives: apt-get install mosquitto openssl"


def program(name: str) -> str:
    """Where a program is; a clear failure instead of a silent skip if it is missing."""
    found = shutil.which(name) or shutil.which(name, path="/usr/sbin:/usr/local/sbin")
    if found is None:
        pytest.fail(MISSING.format(name), pytrace=False)
    return found


def until(condition: Callable[[], Any], what: str) -> None:
    """Poll for an event; fail with ``what`` if it does not come."""
    end_s = time.monotonic() + LONGEST_WAIT_S
    while not condition():
        if time.monotonic() > end_s:
            pytest.fail(f"did not happen within {LONGEST_WAIT_S:.0f} s: {what}")
        time.sleep(0.02)


def free_port() -> int:
    """A TCP port that nobody uses just now."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])


@dataclass(frozen=True)
class Heard:
    """One message as a subscriber got it."""

    topic: str
    payload: bytes
    retain: bool
    qos: int
    expires_s: int | None

    def json(self) -> Any:
        """The payload, parsed."""
        return json.loads(self.payload)


class Recorder:
    """Subscribes to everything and keeps what comes."""

    def __init__(self, broker: Broker, name: str, user: str = "", password: str = "") -> None:
        self._news = threading.Condition()
        self._heard: list[Heard] = []
        self._listening = threading.Event()
        self._client = paho.Client(
            CallbackAPIVersion.VERSION2, client_id=name, protocol=MQTTProtocolVersion.MQTTv5
        )
        if user:
            self._client.username_pw_set(user, password)
        if broker.ca_file:
            self._client.tls_set_context(ssl.create_default_context(cafile=broker.ca_file))
        self._client.on_connect = lambda client, *_: client.subscribe("#", qos=1)
        self._client.on_subscribe = lambda *_: self._listening.set()
        self._client.on_message = self._note
        self._client.reconnect_delay_set(1, 1)
        self._client.connect(broker.host, broker.port)
        self._client.loop_start()
        assert self._listening.wait(LONGEST_WAIT_S), "the recorder could not subscribe"

    def _note(self, _client: Any, _data: Any, message: Any) -> None:
        expires_s = getattr(message.properties, "MessageExpiryInterval", None)
        with self._news:
            heard = Heard(message.topic, message.payload, message.retain, message.qos, expires_s)
            self._heard.append(heard)
            self._news.notify_all()

    def heard(self, topic: str) -> list[Heard]:
        """Everything heard so far on one topic."""
        with self._news:
            return [heard for heard in self._heard if heard.topic == topic]

    def topics(self) -> set[str]:
        """Every topic heard so far."""
        with self._news:
            return {heard.topic for heard in self._heard}

    def wait(self, topic: str, fits: Callable[[Heard], bool] = lambda _: True) -> Heard:
        """The first message on ``topic`` that fits; fail if none comes."""

        def found() -> list[Heard]:
            return [heard for heard in self._heard if heard.topic == topic and fits(heard)]

        with self._news:
            if not self._news.wait_for(found, LONGEST_WAIT_S):
                heard = [message.payload for message in self._heard if message.topic == topic]
                pytest.fail(f"no such message on {topic}; heard {heard}")
            return found()[0]

    def close(self) -> None:
        """Stop listening."""
        self._client.disconnect()
        self._client.loop_stop()


class Broker:
    """One Mosquitto process with its own port and directory."""

    host = "127.0.0.1"

    def __init__(self, directory: Path, *, config: tuple[str, ...], ca_file: str = "") -> None:
        self.port = free_port()
        self.ca_file = ca_file
        self._log = directory / "broker.log"
        self._config = directory / "broker.conf"
        self._process: subprocess.Popen[bytes] | None = None
        self._recorders: list[Recorder] = []
        lines = [f"listener {self.port} {self.host}", "log_type all", "log_dest stderr", *config]
        if os.geteuid() == 0:
            lines.append("user root")  # else it drops to a user that cannot read the test's directory
        self._config.write_text("\n".join(lines) + "\n")

    def start(self) -> None:
        """Start it and wait until it accepts connections."""
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(
                [program("mosquitto"), "-c", str(self._config)], stdout=log, stderr=log
            )
        until(self._accepts, f"Mosquitto accepts connections; its log:\n{self.log()}")

    @property
    def process_id(self) -> int:
        """The process that runs it."""
        assert self._process is not None
        return self._process.pid

    def stop(self) -> None:
        """Stop it, running or paused."""
        if self._process is not None:
            self._process.send_signal(signal.SIGCONT)
            self._process.terminate()
            self._process.wait(LONGEST_WAIT_S)
            self._process = None

    def kill(self) -> None:
        """End it on the spot: what it had not read yet is lost."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(LONGEST_WAIT_S)
            self._process = None

    def pause(self) -> None:
        """Freeze it: connections stay open and nothing is answered."""
        assert self._process is not None
        self._process.send_signal(signal.SIGSTOP)

    def resume(self) -> None:
        """Let it go on."""
        assert self._process is not None
        self._process.send_signal(signal.SIGCONT)

    def log(self) -> str:
        """What it logged so far."""
        return self._log.read_text(errors="replace") if self._log.exists() else ""

    def recorder(self, user: str = "", password: str = "") -> Recorder:
        """A client that hears everything from now on, and all that is retained."""
        # One name twice would make the broker throw the first one out.
        recorder = Recorder(self, f"recorder-{len(self._recorders) + 1}", user, password)
        self._recorders.append(recorder)
        return recorder

    def close(self) -> None:
        """End everything that belongs to it."""
        for recorder in self._recorders:
            recorder.close()
        self.stop()

    def _accepts(self) -> bool:
        try:
            socket.create_connection((self.host, self.port), timeout=1.0).close()
        except OSError:
            return False
        return True


class Brokers:
    """Makes brokers of each kind and ends them after the test."""

    def __init__(self, directory: Path) -> None:
        self._directory = directory
        self._made: list[Broker] = []

    def open_to_all(self, *further: str) -> Broker:
        """A broker that lets anybody in, with further lines of configuration."""
        return self._start("open", config=("allow_anonymous true", *further))

    def with_password(self, user: str, password: str, *access_rules: str) -> Broker:
        """A broker that asks for a password and, if there are any, follows access rules."""
        directory = self._folder("password")
        passwords, rules = directory / "passwords", directory / "rules"
        run(program("mosquitto_passwd"), "-b", "-c", str(passwords), user, password)
        config = ["allow_anonymous false", f"password_file {passwords}"]
        if access_rules:
            rules.write_text("\n".join((f"user {user}", *access_rules)) + "\n")
            config.append(f"acl_file {rules}")
        return self._start("password", config=tuple(config))

    def with_tls(self, *, valid_from: str = "20250101000000Z") -> Broker:
        """A broker with a certificate of a throwaway authority, made out to 127.0.0.1."""
        directory = self._folder("tls")
        make_certificates(directory, valid_from)
        config = (
            "allow_anonymous true",
            f"certfile {directory / 'broker.crt'}",
            f"keyfile {directory / 'broker.key'}",
        )
        return self._start("tls", config=config, ca_file=str(directory / "ca.crt"))

    def close(self) -> None:
        """End all."""
        for broker in self._made:
            broker.close()

    def _folder(self, name: str) -> Path:
        folder = self._directory / name
        folder.mkdir(exist_ok=True)
        return folder

    def _start(self, name: str, *, config: tuple[str, ...], ca_file: str = "") -> Broker:
        broker = Broker(self._folder(name), config=config, ca_file=ca_file)
        self._made.append(broker)
        broker.start()
        return broker


def run(*command: str) -> None:
    """Run a program; what it said is in the failure if it fails."""
    done = subprocess.run(command, capture_output=True, text=True, timeout=LONGEST_WAIT_S, check=False)
    assert done.returncode == 0, f"{' '.join(command)}:\n{done.stderr}"


AUTHORITY = """\
[ca]
default_ca = throwaway
[throwaway]
database = {0}/index
new_certs_dir = {0}
rand_serial = yes
certificate = {0}/ca.crt
private_key = {0}/ca.key
default_md = sha256
policy = anything
x509_extensions = broker
[anything]
commonName = supplied
[broker]
subjectAltName = IP:127.0.0.1
authorityKeyIdentifier = keyid
"""


def make_certificates(directory: Path, valid_from: str) -> None:
    """A throwaway authority and a broker certificate signed by it, with the openssl program."""
    openssl = program("openssl")
    key = ("-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes")
    (directory / "index").write_text("")
    (directory / "ca.cnf").write_text(AUTHORITY.format(directory))
    authority = (
        "-subj",
        "/CN=throwaway authority",
        "-keyout",
        f"{directory}/ca.key",
        "-out",
        f"{directory}/ca.crt",
    )
    run(openssl, "req", "-x509", "-days", "3650", *key, *authority)
    asked = (
        "-subj",
        "/CN=127.0.0.1",
        "-keyout",
        f"{directory}/broker.key",
        "-out",
        f"{directory}/broker.csr",
    )
    run(openssl, "req", *key, *asked)
    signing = (
        "-config",
        f"{directory}/ca.cnf",
        "-in",
        f"{directory}/broker.csr",
        "-out",
        f"{directory}/broker.crt",
    )
    run(openssl, "ca", "-batch", "-notext", *signing, "-startdate", valid_from, "-enddate", "20491231235959Z")


@pytest.fixture
def brokers(tmp_path: Path) -> Iterator[Brokers]:
    """Makes real brokers on loopback and ends them after the test."""
    made = Brokers(tmp_path)
    yield made
    made.close()
