"""Mosquitto with configuration, accounts and certificate of ``config/broker/``, as they are shipped.

Only the directories and the port numbers are others. Import the ``shipped`` fixture into a ``conftest.py``.
"""

from __future__ import annotations

import getpass
import os
import socket
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.broker import LONGEST_WAIT_S, Broker, free_port, program

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

ROOT = Path(__file__).parents[1]
SCRIPT = ROOT / "config" / "broker" / "make-accounts.sh"
# What Debian 12 and 13 have in /etc/mosquitto/mosquitto.conf, with our directories.
DEBIAN = """\
pid_file {0}/mosquitto.pid
persistence true
persistence_location {0}/
log_dest file {0}/broker.log
include_dir {0}/conf.d
"""
PORTS = {"plain": 1883, "tls": 8883, "page": 8080, "phones": 8443}


def make_accounts(etc: Path, *options: str, env: Mapping[str, str] | None = None) -> str:
    """Run the script on directories of our own; returns what it says."""
    (etc / "conf.d").mkdir(parents=True, exist_ok=True)
    (etc / "house").mkdir(exist_ok=True)
    command = [str(SCRIPT), "--etc", str(etc), "--house", str(etc / "house"), "--owner", getpass.getuser()]
    path = f"{os.environ['PATH']}:/usr/sbin"
    done = subprocess.run(
        [*command, *options],
        capture_output=True,
        text=True,
        timeout=LONGEST_WAIT_S,
        check=False,
        env={**os.environ, "PATH": path, **(env or {})},
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


class Shipped(Broker):
    """A broker that is configured as shipped, with two houses and a viewer.

    Attributes:
        etc: its directory of settings.
        viewer: the viewer's password.
        tls: port of MQTT over TLS.
        page: port of the page, and of MQTT over WebSockets without encryption.
        phones: port of MQTT over WebSockets and TLS.
    """

    def __init__(self, directory: Path, *options: str) -> None:
        self.etc = directory
        said = make_accounts(directory, "--site", "fellside", "--site", "lowfield", *options)
        self.viewer = said.split("its password is ")[-1].split(" ")[0]
        super().__init__(directory, config=())
        ports = {name: free_port() for name in PORTS}
        self.port, self.tls, self.page, self.phones = ports.values()
        self.authority = str(directory / "hypocaust" / "ca.crt")
        settings = directory / "conf.d" / "hypocaust.conf"
        lines = settings.read_text(encoding="utf-8")
        for name, port in PORTS.items():
            lines = lines.replace(f"listener {port}", f"listener {ports[name]}")
        settings.write_text(lines, encoding="utf-8")
        as_root = "user root\n" if os.geteuid() == 0 else ""
        self._config.write_text(DEBIAN.format(directory) + as_root, encoding="utf-8")

    def _accepts(self) -> bool:
        try:
            for port in (self.port, self.tls, self.page, self.phones):
                socket.create_connection(("localhost", port), timeout=1.0).close()
        except OSError:
            return False
        return True

    def password(self, site: str) -> str:
        """The password of a house's controller."""
        return (self.etc / "house" / f"mqtt-password-{site}").read_text(encoding="utf-8").strip()

    def publish(self, user: str, password: str, topic: str, payload: str) -> bool:
        """Publish a retained message with Mosquitto's own program; returns whether the broker took it."""
        where = ("-h", self.host, "-p", str(self.port), "-u", user, "-P", password, "-V", "5")
        done = subprocess.run(
            [program("mosquitto_pub"), *where, "-r", "-q", "1", "-t", topic, "-m", payload],
            capture_output=True,
            text=True,
            timeout=LONGEST_WAIT_S,
            check=False,
        )
        return done.returncode == 0 and "not authorized" not in (done.stderr + done.stdout).lower()


@pytest.fixture
def shipped(tmp_path: Path) -> Iterator[Shipped]:
    """A running broker as shipped."""
    broker = Shipped(tmp_path / "broker")
    broker.start()
    yield broker
    broker.close()
