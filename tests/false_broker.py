"""Something on a loopback port that accepts connections like a broker and then misbehaves, within bounds."""

from __future__ import annotations

import contextlib
import itertools
import random
import socket
import threading
import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import ssl
    from collections.abc import Callable, Mapping

CONNACK, PUBLISH, PUBACK, SUBACK, PINGRESP, AUTH = 0x20, 0x30, 0x40, 0x90, 0xD0, 0xF0
ACCEPTED: Mapping[str, bytes] = {"3.1.1": b"\x20\x02\x00\x00", "5": b"\x20\x03\x00\x00\x00"}
HUGE_BYTES = 100_000_000
PATIENCE_S = 30.0


def header(kind: int, length: int) -> bytes:
    """The beginning of a packet (MQTT 5, sections 2.1.1 and 1.5.5)."""
    coded = bytearray([kind])
    while True:
        length, part = divmod(length, 128)
        coded.append(part | (0x80 if length else 0))
        if not length:
            return bytes(coded)


def huge(kind: int, before: bytes = b"") -> Callable[[socket.socket], None]:
    """Announces one packet of 100 MB and sends as much of it as is taken."""

    def play(connection: socket.socket) -> None:
        connection.sendall(before + header(kind, HUGE_BYTES))
        for _ in range(HUGE_BYTES // 1_000_000):
            connection.sendall(bytes(1_000_000))

    return play


def flood(packet: bytes, before: bytes = b"") -> Callable[[socket.socket], None]:
    """Sends one short packet over and over."""

    def play(connection: socket.socket) -> None:
        connection.sendall(before)
        for _ in range(HUGE_BYTES // 100_000):
            connection.sendall(packet * (100_000 // len(packet)))

    return play


def drip(data: bytes, before: bytes = b"") -> Callable[[socket.socket], None]:
    """Sends a byte now and then, never a whole packet."""

    def play(connection: socket.socket) -> None:
        connection.sendall(before)
        for byte in data:
            connection.sendall(bytes([byte]))
            time.sleep(0.02)

    return play


def garbage(connection: socket.socket) -> None:
    """Sends bytes of any kind."""
    dice = random.Random(7)  # noqa: S311 - repeatable
    for _ in range(100):
        connection.sendall(dice.randbytes(100_000))


class FalseBroker:
    """Plays one attack after the other, one a connection, over and over."""

    def __init__(
        self, *attacks: Callable[[socket.socket], None], trust: ssl.SSLContext | None = None
    ) -> None:
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._listener.settimeout(0.2)
        self._trust = trust
        self._attacks = attacks
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._serve)
        self.port = int(self._listener.getsockname()[1])
        self.played = 0
        self._thread.start()

    def _serve(self) -> None:
        for attack in itertools.cycle(self._attacks):
            while not self._over.is_set():
                with contextlib.suppress(TimeoutError):
                    self._one(self._listener.accept()[0], attack)
                    self.played += 1
                    break
            if self._over.is_set():
                return

    def _one(self, raw: socket.socket, attack: Callable[[socket.socket], None]) -> None:
        with contextlib.suppress(OSError), contextlib.ExitStack() as kept:
            kept.enter_context(raw)
            raw.settimeout(PATIENCE_S)
            connection = raw
            if self._trust is not None:
                connection = kept.enter_context(self._trust.wrap_socket(raw, server_side=True))
            connection.recv(4096)
            attack(connection)
            while connection.recv(4096):  # until the other side hangs up
                pass

    def close(self) -> None:
        """Stop listening."""
        self._over.set()
        self._thread.join()
        self._listener.close()
